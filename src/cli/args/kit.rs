//! `kit`

use std::ffi::OsString;

use clap::{Args, ValueEnum};

use super::{CsvFor, OutputArgs, PageArgs};

/// `kit`
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Kit {
    /// Guitar files (.toml), folders of them, catalogues (.csv, a guitar a row) or shipped names; left out: the first shipped catalogue
    #[arg(long, value_name = "FILE|DIR|CSV|NAME", num_args = 1.., help_heading = "Input")]
    pub guitars: Vec<OsString>,
    /// Target file (.toml), the name of a shipped target, or a phrase in quotes (repeatable: each guitar counts once for each target it
    /// meets); left out: the default target
    #[arg(long, value_name = "FILE|NAME|PHRASE", help_heading = "Input")]
    pub target: Vec<OsString>,
    /// A network with free parts for a slot (repeatable); left out: bleed="R || C"
    #[arg(long, value_name = "SLOT=NETWORK", help_heading = "Search")]
    pub search: Vec<String>,
    /// How many values the kit holds, by part, or how many ready-made networks: networks=4; left out: R=3,C=3
    #[arg(long, value_name = "PART=N,…|networks=N", help_heading = "Search")]
    pub choose: Option<String>,
    /// From which margin on a guitar counts as served, such as "0.5 dB"
    #[arg(
        long,
        value_name = "DB",
        default_value = "0 dB",
        allow_hyphen_values = true,
        help_heading = "Search"
    )]
    pub at_least: String,
    /// Count a guitar as served only by a network that works in this share of builds, such as 90%
    #[arg(long, value_name = "SHARE", help_heading = "Search")]
    pub yield_at_least: Option<String>,
    /// What the bag may cost, one piece of each value, in the stock list's currency
    #[arg(long, value_name = "PRICE", requires = "stock", help_heading = "Search")]
    pub budget: Option<f64>,
    /// Tell what to order for so many bags
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1_000_000), help_heading = "Output")]
    pub bags: Option<u32>,
    /// Also write a card to go into the bag (.html): the parts and their marks, how they are joined, which guitar takes what
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    pub card: Option<std::path::PathBuf>,
    /// Who reads the CSV: a program, or a spreadsheet of a country with decimal commas
    #[arg(long, value_enum, value_name = "READER", default_value_t = CsvFor::Program, help_heading = "Output")]
    pub csv_for: CsvFor,
    /// Also write the bag, its growth, its groups and the guitars as tables into this folder: bag.csv, growth.csv, groups.csv, guitars.csv
    #[arg(long, value_name = "FOLDER", help_heading = "Output")]
    pub tables: Option<std::path::PathBuf>,
    /// Values that are in the bag already and count among those chosen (repeatable), e.g. R=150k or R=100k,220k
    #[arg(long, value_name = "PART=VALUE,…", help_heading = "Search")]
    pub fixed: Vec<String>,
    /// How many pieces of a value the bag may hold: as many as a guitar takes, or one
    #[arg(long, value_enum, default_value_t = PiecesWord::AsNeeded, help_heading = "Search")]
    pub pieces: PiecesWord,
    /// What the kit is to be best at
    #[arg(long, value_enum, default_value_t = AimWord::Coverage, help_heading = "Search")]
    pub aim: AimWord,
    /// With --aim margin: in the mean, margins below this count as this, in dB
    #[arg(
        long,
        value_name = "DB",
        default_value = "-6 dB",
        allow_hyphen_values = true,
        help_heading = "Search"
    )]
    pub floor: String,
    /// Seconds the whole command may take, to within one; then the best kit found is printed, with what is not proved or was left out
    #[arg(long, value_name = "SECONDS", default_value_t = 30.0, help_heading = "Search")]
    pub time_limit: f64,
    /// Series of standard values by part, e.g. R=E24,C=E12 (the default)
    #[arg(long, value_name = "PART=SERIES,…", help_heading = "Search")]
    pub values: Vec<String>,
    /// Ranges by part, ends included, e.g. R=1k..1M,bleed.C=100p..22n
    #[arg(long, value_name = "PART=LOW..HIGH,…", help_heading = "Search")]
    pub range: Vec<String>,
    /// Choose only from this stock list (.csv), instead of a series (repeatable: several drawers)
    #[arg(long, value_name = "FILE|NAME", help_heading = "Search", conflicts_with = "values")]
    pub stock: Vec<OsString>,
    /// Worker threads; left out: one a core
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024), help_heading = "Search")]
    pub threads: Option<u16>,
    /// Page
    #[command(flatten)]
    pub page: PageArgs,
    /// Output
    #[command(flatten)]
    pub output: OutputArgs,
}

/// How many pieces of a value a bag can hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum PiecesWord {
    /// As many as any guitar that is served takes
    AsNeeded,
    /// One: a network that takes a value twice is not to be had
    One,
}

/// What a kit can be best at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum AimWord {
    /// Most guitars that meet the target, then the largest sum of margins to spare
    Coverage,
    /// The largest worst margin, then the largest mean margin
    Margin,
}

const EXAMPLES: &str = "Examples:
  knobwright kit
  knobwright kit --guitars my-guitars.csv --stock my-drawers.csv --choose R=2,C=3
  knobwright kit --guitars my-guitars/ --target \"keep highs\" --fixed R=150k
  knobwright kit --choose networks=4 --aim margin --format json

Exit status: 0 done, 1 no guitar is served, 2 bad input.";
