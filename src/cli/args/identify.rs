//! What `identify` takes.

use std::ffi::OsString;

use clap::{Args, ValueEnum};

use super::{OutputArgs, PageArgs, PlotArgs};

/// What a peak is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum PeakWord {
    /// The pickup's impedance is largest there
    Impedance,
    /// The pickup's output is largest there
    Response,
}

/// `identify`
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Identify {
    /// Impedance sweep of the pickup alone: frequency_hz, magnitude_ohm and, if there is one, phase_deg (repeatable; 470p=FILE with a
    /// capacitor added)
    #[arg(long, value_name = "[C=]FILE", help_heading = "Measurements")]
    pub impedance: Vec<OsString>,
    /// Response sweep: frequency_hz, level_db and, if there is one, phase_deg, at any gain (repeatable; 470p=FILE with a capacitor added
    /// across the pickup)
    #[arg(long, value_name = "[C=]FILE", help_heading = "Measurements")]
    pub response: Vec<OsString>,
    /// Impedance sweep at the jack of the guitar given, with no amplifier: fits pickup and cable together (repeatable)
    #[arg(long, value_name = "[C=]FILE", requires = "guitar", help_heading = "Measurements")]
    pub jack: Vec<OsString>,
    /// A resonance with a known capacitor across the pickup (repeatable, at least two), e.g. 470p=4.14k
    #[arg(long, value_name = "C=FREQUENCY", conflicts_with_all = ["impedance", "response", "jack"], help_heading = "Measurements")]
    pub peak: Vec<String>,
    /// What the peaks are peaks of: the pickup's impedance, or its response (a coil over it); they lie apart by some percent
    #[arg(long, value_name = "WHAT", value_enum, default_value_t = PeakWord::Impedance, requires = "peak", help_heading = "Measurements")]
    pub peak_of: PeakWord,
    /// Ohmmeter readings of a pot, from the lug where the wiper stands at 0 to the wiper, e.g. 0=0,2=1.9k,5=31k,10=243k
    #[arg(long, value_name = "KNOB=OHMS,…", conflicts_with_all = ["impedance", "response", "jack", "peak", "known", "guitar"], help_heading = "Measurements")]
    pub pot_points: Option<String>,
    /// Which column is which, by name or by number from 1: frequency=1,reading=2,phase=3
    #[arg(long, value_name = "COLUMN=NAME,…", help_heading = "Measurements")]
    pub columns: Option<String>,
    /// What the jig has in parallel with the pickup (or jack) in impedance sweeps and peaks, e.g. 1M,30p; it is taken out
    #[arg(long, value_name = "R,C", help_heading = "Circuit")]
    pub jig: Option<String>,
    /// What loads the pickup in response sweeps, e.g. 1M,470p; `unknown,470p` finds the resistance too
    #[arg(long, value_name = "R,C", help_heading = "Circuit")]
    pub load: Option<String>,
    /// Guitar file or shipped sample: its controls are what a response or jack sweep was taken through, and --output keeps all of it but
    /// the pickup
    #[arg(long, value_name = "FILE|NAME", help_heading = "Circuit")]
    pub guitar: Option<OsString>,
    /// The pickup of the guitar given that was measured by itself, in a guitar with several: neck; the file written has the others as they were
    #[arg(long, value_name = "NAME", requires = "guitar", help_heading = "Circuit")]
    pub pickup: Option<String>,
    /// Fit this in the guitar before anything else (repeatable), e.g. bleed="120k || 1n"
    #[arg(long, value_name = "SLOT=NETWORK", requires = "guitar", help_heading = "Circuit")]
    pub with: Vec<String>,
    /// Volume position of each response or jack sweep, 0 to 10 as on the knob; one for all, or as many as sweeps
    #[arg(long, value_name = "KNOB,…", default_value = "10", help_heading = "Circuit")]
    pub volume: String,
    /// Tone position of each response or jack sweep, 0 to 10 as on the knob
    #[arg(long, value_name = "KNOB,…", default_value = "10", help_heading = "Circuit")]
    pub tone: String,
    /// Values that are known (repeatable): resistance=7.9k as a multimeter reads it; also inductance, capacitance, cable
    #[arg(long, value_name = "VALUE=…", help_heading = "Fit")]
    pub known: Vec<String>,
    /// Responses tilt by an unknown slope (an integrator, or none): fit it along
    #[arg(long, requires = "response", help_heading = "Fit")]
    pub slope: bool,
    /// Let outliers count less
    #[arg(long, help_heading = "Fit")]
    pub robust: bool,
    /// Show every model, not only the one chosen
    #[arg(long, help_heading = "Output")]
    pub models: bool,
    /// A picture of the sweeps and their fit
    #[command(flatten)]
    pub plot: PlotArgs,
    /// Page
    #[command(flatten)]
    pub page: PageArgs,
    /// Output; with --output and the table form the file is a guitar file
    #[command(flatten)]
    pub output: OutputArgs,
}

const EXAMPLES: &str = "Examples:
  knobwright identify --impedance sweep.csv --jig 1M,30p
  knobwright identify --impedance sweep.csv --output my-guitar.toml
  knobwright identify --peak 470p=4.14k --peak 2n2=2.09k --known resistance=6k
  knobwright identify --response coil.csv --load 1M,470p --known resistance=6k
  knobwright identify --response bare.csv --response 470p=loaded.csv --load 1M,30p
  knobwright identify --pot-points 0=0,2=1.9k,5=31k,10=243k

With --output and no other form, a guitar file is written beside what is printed. Exit status: 0 done, 2 bad input.";
