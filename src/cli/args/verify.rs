//! What `verify` takes.

use std::ffi::OsString;

use clap::Args;

use super::{OutputArgs, PageArgs};

/// `verify`
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Verify {
    /// Guitar file (.toml) or the name of a shipped sample; left out: the first sample
    #[arg(long, value_name = "FILE|NAME", help_heading = "Input")]
    pub guitar: Option<OsString>,
    /// Whose knobs are turned, in a guitar with several volume or tone knobs
    #[arg(long, value_name = "NAME", help_heading = "Input")]
    pub knobs: Option<String>,
    /// The position of the selector that was measured, in a guitar of several pickups
    #[arg(long, value_name = "NAME", help_heading = "Input")]
    pub position: Option<String>,
    /// Another pot, cable or wiring than the file has (repeatable), as recommend would try it: volume=500k
    #[arg(long, value_name = "KEY=VALUE", help_heading = "Input")]
    pub changed: Vec<String>,
    /// What was soldered in (repeatable), e.g. bleed="120k || 1n"; `none` takes out what the file has there
    #[arg(long, value_name = "SLOT=NETWORK", help_heading = "Input")]
    pub with: Vec<String>,
    /// Response sweep of the finished guitar: frequency_hz, level_db (repeatable, all at one gain)
    #[arg(long, value_name = "FILE", required = true, help_heading = "Input")]
    pub measured: Vec<OsString>,
    /// Which column is which, by name or by number from 1: frequency=1,reading=2
    #[arg(long, value_name = "COLUMN=NAME,…", help_heading = "Input")]
    pub columns: Option<String>,
    /// Volume position of each sweep, 0 to 10 as on the knob; one for all, or as many as sweeps
    #[arg(long, value_name = "KNOB,…", default_value = "10", help_heading = "Input")]
    pub volume: String,
    /// Tone position of each sweep, 0 to 10 as on the knob
    #[arg(long, value_name = "KNOB,…", default_value = "10", help_heading = "Input")]
    pub tone: String,
    /// The exciter coil had no integrator: levels that rise by 6 dB an octave are put right first
    #[arg(long, help_heading = "Input")]
    pub slope: bool,
    /// Target file (.toml), the name of a shipped target, or a phrase in quotes; left out: no target is judged
    #[arg(long, value_name = "FILE|NAME|PHRASE", help_heading = "Input")]
    pub target: Option<OsString>,
    /// Tolerances, instead of those of the file and the usual ones: R=1%,C=5%,pickup=5%,volume=20%,tone=20%,taper=33%,cable=10%
    #[arg(long, value_name = "WHAT=SHARE,…", help_heading = "Tolerances")]
    pub tolerance: Vec<String>,
    /// Seed of the guitars drawn within tolerance; left out: always the same
    #[arg(long, value_name = "N", default_value_t = 0, help_heading = "Tolerances")]
    pub random_seed: u64,
    /// Page
    #[command(flatten)]
    pub page: PageArgs,
    /// Output
    #[command(flatten)]
    pub output: OutputArgs,
}

const EXAMPLES: &str = "Examples:
  knobwright verify --guitar my-guitar.toml --measured full.csv
  knobwright verify --guitar my-guitar.toml --measured full.csv --measured half.csv --volume 10,5
  knobwright verify --with bleed=\"120k || 1n\" --measured half.csv --volume 5 --target \"keep highs\"

Exit status: 0 done, 1 the target is missed as measured, 2 bad input.";
