//! `compare`

use std::ffi::OsString;

use clap::Args;

use super::{ComparePlotArgs, GuitarArgs, OutputArgs, PageArgs};

/// `compare`
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Compare {
    /// The guitar
    #[command(flatten)]
    pub guitar: GuitarArgs,
    /// A build by name (repeatable), e.g. "bench: bleed=120k || 1n; tone=22n"; slots not named stay as they are, `none` leaves one empty
    #[arg(long, value_name = "NAME: SLOT=NETWORK; …", help_heading = "Input")]
    pub build: Vec<String>,
    /// Leave out the guitar as it is
    #[arg(long, help_heading = "Input")]
    pub without_present: bool,
    /// Hold the builds against this: a target file (.toml), the name of a shipped target, or a phrase in quotes
    #[arg(long, value_name = "FILE|NAME|PHRASE", help_heading = "Input")]
    pub target: Option<OsString>,
    /// Volume positions, 0 to 10 as on the knob; neither knob given: the target's positions, or full and half volume
    #[arg(long, value_name = "KNOB,…", help_heading = "Input")]
    pub volume: Option<String>,
    /// Tone positions, 0 to 10 as on the knob
    #[arg(long, value_name = "KNOB,…", help_heading = "Input")]
    pub tone: Option<String>,
    /// Picture
    #[command(flatten)]
    pub plot: ComparePlotArgs,
    /// Page
    #[command(flatten)]
    pub page: PageArgs,
    /// Output
    #[command(flatten)]
    pub output: OutputArgs,
}

const EXAMPLES: &str = "Examples:
  knobwright compare --build \"bench: bleed=120k || 1n\" --build \"drawer: bleed=100k + 1n5\"
  knobwright compare --build \"small: tone=22n\" --build \"large: tone=47n\" --tone 10,5,0
  knobwright compare --build \"bench: bleed=120k || 1n\" --target \"keep highs\" --plot bench.svg

Exit status: 0 done, 2 bad input.";
