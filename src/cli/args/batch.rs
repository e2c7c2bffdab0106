//! `batch`

use std::ffi::OsString;
use std::path::PathBuf;

use clap::Args;

use super::{CsvFor, LotArgs};

/// `batch`
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Batch {
    /// Guitar files (.toml), folders of them, catalogues (.csv, a guitar a row) or shipped names; left out: the first shipped catalogue
    #[arg(long, value_name = "FILE|DIR|CSV|NAME", num_args = 1.., help_heading = "Input")]
    pub guitars: Vec<OsString>,
    /// Target file (.toml), the name of a shipped target, or a phrase in quotes; left out: the default target
    #[arg(long, value_name = "FILE|NAME|PHRASE", help_heading = "Input")]
    pub target: Option<OsString>,
    /// A network with free parts for a slot (repeatable); left out: the target decides
    #[arg(long, value_name = "SLOT=NETWORK", help_heading = "Search")]
    pub search: Vec<String>,
    /// Search only what this stock list (.csv) holds, such as a bag, instead of a series (repeatable)
    #[arg(long, value_name = "FILE|NAME", help_heading = "Search")]
    pub stock: Vec<OsString>,
    /// Built guitars
    #[command(flatten)]
    pub lot: LotArgs,
    /// How many guitars are worked on side by side; left out: one a core
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024), help_heading = "Search")]
    pub threads: Option<u16>,
    /// Write a build sheet of each guitar into this folder, named after the guitar
    #[arg(long, value_name = "FOLDER", help_heading = "Output")]
    pub sheets: Option<PathBuf>,
    /// Write the list of all guitars and their parts to this file; left out: on the screen
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    pub csv: Option<PathBuf>,
    /// Who reads the CSV: a program, or a spreadsheet of a country with decimal commas
    #[arg(long, value_enum, value_name = "READER", default_value_t = CsvFor::Program, help_heading = "Output")]
    pub csv_for: CsvFor,
    /// No progress bar and no remarks
    #[arg(long, help_heading = "Output")]
    pub quiet: bool,
}

const EXAMPLES: &str = "Examples:
  knobwright batch --guitars my-guitars.csv --stock bag.csv --sheets sheets --csv orders.csv
  knobwright batch --guitars my-guitars/ --target \"less mud\" --builds 0

Exit status: 0 the wish is met on every guitar, 1 it is not, 2 bad input.";
