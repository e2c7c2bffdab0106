//! What can be typed. Nothing here does anything.

mod batch;
mod compare;
mod identify;
mod page;
mod plot;
mod tolerance;
mod verify;

use std::ffi::OsString;
use std::path::PathBuf;

mod kit;

pub use batch::Batch;
pub use kit::{AimWord, Kit, PiecesWord};

use clap::{Args, Parser, Subcommand, ValueEnum};

pub use self::identify::{Identify, PeakWord};
pub use self::tolerance::Tolerance;
pub use self::verify::Verify;
pub use compare::Compare;
pub use page::PageArgs;
pub use plot::{ComparePlotArgs, CompareView, PlotArgs, RecommendPlotArgs, RecommendView};

/// Picks the resistors and capacitors around a passive electric guitar's knobs
#[derive(Debug, Parser)]
#[command(version, about, max_term_width = 100, help_expected = true)]
pub struct Cli {
    /// What to do
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Search standard or stocked parts for the best builds of a guitar (the main job)
    Recommend(Recommend),
    /// Look into one build: how many built guitars meet the target, and which value costs most
    Tolerance(Tolerance),
    /// Hold builds of your own side by side: what differs, what sounds the same
    Compare(Compare),
    /// Find a pickup's values, or a pot's taper, from measurements
    Identify(Box<Identify>),
    /// Hold the measured response of a finished guitar against the prediction
    Verify(Verify),
    /// Print a guitar's response at given knob positions
    Response(Response),
    /// Print the clauses a phrase or target stands for, as TOML
    Target(TargetOf),
    /// Print a guitar file to start from, each value with how to find it out
    Guitar(GuitarFile),
    /// List standard values, find the nearest, decode a marking
    Values(Values),
    /// Choose the few stock values that serve most of many guitars
    Kit(Kit),
    /// Answer for many guitars: a build sheet for each, one list for all
    Batch(Batch),
    /// Check guitar, target, stock and catalogue files, or list what is shipped
    Check(Check),
    /// Print a chapter of the guide: wiring drawn, files, phrases and more
    Guide(Guide),
    /// Anything else is a wish for `recommend`
    #[command(external_subcommand)]
    Wish(Vec<OsString>),
}

/// The guitar and what is fitted in it.
#[derive(Debug, Default, Args)]
pub struct GuitarArgs {
    /// Guitar file (.toml), the name of a shipped sample, or a kind of pickup in quotes: humbucker, "single coil", "hot humbucker" and others
    /// (check --list); left out: the first sample
    #[arg(long, value_name = "FILE|NAME|KIND", help_heading = "Input")]
    pub guitar: Option<OsString>,
    /// Whose knobs are turned, in a guitar with several volume or tone knobs: neck, bridge, volume, "neck tone" (check names them)
    #[arg(long, value_name = "NAME", help_heading = "Input")]
    pub knobs: Option<String>,
    /// Positions of the selector, in a guitar of several pickups; left out: all in which these knobs do something
    #[arg(long, value_name = "NAME,…", help_heading = "Input")]
    pub position: Option<String>,
    /// Fit this before anything else (repeatable), e.g. bleed="120k || 1n"; `none` takes out what is there
    #[arg(long, value_name = "SLOT=NETWORK", help_heading = "Input")]
    pub with: Vec<String>,
    /// A what-if case (repeatable, replacing the file's): cable=900p,input=220k changes both; keys: cable, input, input_capacitance,
    /// volume, tone, inductance (of several pickups "neck inductance"); `as-is` changes nothing. Only the cases given count, and a margin is the smallest over them
    #[arg(long, value_name = "KEY=VALUE,…|as-is", help_heading = "Input")]
    pub case: Vec<String>,
}

/// Who reads a table.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub enum CsvFor {
    /// Commas between cells, decimal points, full precision
    #[default]
    Program,
    /// Semicolons between cells, decimal commas, rounded
    SpreadsheetComma,
}

/// How many guitars are built, and how far their values are off.
#[derive(Debug, Args)]
pub struct LotArgs {
    /// How many built guitars to draw for a yield; 0 draws none
    #[arg(long, value_name = "N", default_value_t = 10_000, value_parser = clap::value_parser!(u32).range(0..=10_000_000), help_heading = "Tolerances")]
    pub builds: u32,
    /// Tolerances, instead of those of the files and the usual ones (resistor 5 %, capacitor 10 %, pot 20 % and its taper a third, pickup 5 %, cable 10 %):
    /// R=1%,C=5%,bleed.C=10%,pickup=5%,volume=20%,taper=33%,cable=10%
    #[arg(long, value_name = "WHAT=SHARE,…", help_heading = "Tolerances")]
    pub tolerance: Vec<String>,
    /// How values lie inside their tolerance
    #[arg(long, value_enum, default_value_t = LawWord::Uniform, help_heading = "Tolerances")]
    pub law: LawWord,
    /// Stop drawing when a yield is known to so much either way, e.g. 1%
    #[arg(long, value_name = "SHARE", help_heading = "Tolerances")]
    pub precision: Option<String>,
    /// Seed of the built guitars; left out: always the same guitars
    #[arg(long, value_name = "N", default_value_t = 0, help_heading = "Tolerances")]
    pub random_seed: u64,
}

/// How values lie inside their tolerance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum LawWord {
    /// Every value inside is as likely
    Uniform,
    /// Gaussian, the tolerance at three standard deviations
    Normal,
}

/// What ranks builds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum RankWord {
    /// The margin with every value on its mark
    Margin,
    /// The share of built guitars that meet the target
    Yield,
}

/// Where the result goes.
#[derive(Debug, Args)]
pub struct OutputArgs {
    /// Form of the result
    #[arg(long, value_enum, default_value_t = Format::Table, help_heading = "Output")]
    pub format: Format,
    /// Write the result to this file, whole or not at all
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    pub output: Option<PathBuf>,
    /// Print nothing but the result
    #[arg(long, help_heading = "Output")]
    pub quiet: bool,
}

/// Forms of a result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// Text for people
    Table,
    /// SI units, full precision
    Json,
    /// For spreadsheets
    Csv,
}

/// How a tone control can be wired.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum HookupWord {
    /// The track up to the wiper in series with the tone network
    Rheostat,
    /// The whole track in series with the tone network, a bypass network across its upper part
    Shelf,
}

/// Where a tone control can be joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum JointWord {
    /// The volume control's input lug
    Pickup,
    /// The volume control's output ('50s wiring)
    Wiper,
}

/// `recommend`
#[derive(Debug, Args)]
#[command(after_help = RECOMMEND_EXAMPLES)]
pub struct Recommend {
    /// The guitar
    #[command(flatten)]
    pub guitar: GuitarArgs,
    /// Target file (.toml), the name of a shipped target, or a phrase in quotes; left out: the default target
    #[arg(long, value_name = "FILE|NAME|PHRASE", help_heading = "Input")]
    pub target: Option<OsString>,
    /// The wish in plain words, instead of --target: knobwright recommend less mud
    #[arg(value_name = "WISH", conflicts_with = "target")]
    pub wish: Vec<String>,
    /// Rewire the tone control for the builds
    #[arg(long, value_enum, help_heading = "Search")]
    pub hookup: Option<HookupWord>,
    /// Join the tone control here for the builds
    #[arg(long, value_enum, help_heading = "Search")]
    pub joined_at: Option<JointWord>,
    /// Also try other pots, another cable or wiring beside what is searched (repeatable): volume=500k,1M  no_load=true  cable=300p
    #[arg(long = "try", value_name = "KEY=VALUE,…", help_heading = "Search")]
    pub tries: Vec<String>,
    /// A network with free parts for a slot (repeatable), e.g. bleed="R || C"; left out: the target decides
    #[arg(long, value_name = "SLOT=NETWORK", help_heading = "Search")]
    pub search: Vec<String>,
    /// Series of standard values by part, e.g. R=E24,C=E12 (the default)
    #[arg(long, value_name = "PART=SERIES,…", help_heading = "Search")]
    pub values: Vec<String>,
    /// Ranges by part, ends included, e.g. R=1k..1M,bleed.C=100p..22n
    #[arg(long, value_name = "PART=LOW..HIGH,…", help_heading = "Search")]
    pub range: Vec<String>,
    /// Search only what this stock list (.csv) holds, instead of a series (repeatable: the pieces of all lists add up)
    #[arg(long, value_name = "FILE|NAME", help_heading = "Search", conflicts_with = "values")]
    pub stock: Vec<OsString>,
    /// Let two stocked parts in series or in parallel stand for one; only with --stock
    #[arg(long, requires = "stock", help_heading = "Search")]
    pub pairs: bool,
    /// How many builds to list
    #[arg(long, value_name = "N", default_value_t = 10, value_parser = clap::value_parser!(u16).range(1..=1000), help_heading = "Output")]
    pub top: u16,
    /// Print everything there is: what was searched, every row and figure, every reason
    #[arg(long, help_heading = "Output")]
    pub explain: bool,
    /// Allow more than 20 million candidates
    #[arg(long, help_heading = "Search")]
    pub large: bool,
    /// Let builds spoil what the target does not speak of: dead knobs, lost bass, another volume
    #[arg(long, help_heading = "Search")]
    pub at_any_price: bool,
    /// What ranks the builds: the margin with every value on its mark, or the yield
    #[arg(long, value_enum, default_value_t = RankWord::Margin, help_heading = "Search")]
    pub rank_by: RankWord,
    /// Built guitars
    #[command(flatten)]
    pub lot: LotArgs,
    /// Also write a build sheet of the answer: parts, wiring, drawing, checks; Markdown for .md, HTML for .html
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    pub sheet: Option<PathBuf>,
    /// Worker threads; left out: one a core
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024), help_heading = "Search")]
    pub threads: Option<u16>,
    /// Picture
    #[command(flatten)]
    pub plot: RecommendPlotArgs,
    /// Page
    #[command(flatten)]
    pub page: PageArgs,
    /// Output
    #[command(flatten)]
    pub output: OutputArgs,
}

const RECOMMEND_EXAMPLES: &str = "Examples:
  knobwright recommend
  knobwright recommend less mud
  knobwright recommend --guitar my-guitar.toml --target \"keep highs within 2 dB from full to quarter volume\"
  knobwright recommend --guitar my-guitar.toml --target \"which cap for less mud?\"
  knobwright recommend --guitar my-guitar.toml --case cable=300p --case cable=900p,input=220k
  knobwright recommend --stock my-drawers.csv --stock small-workshop --pairs --format csv --output to-solder.csv
  knobwright recommend --guitar my-guitar.toml --sheet build.html
  knobwright recommend --guitar my-guitar.toml --page answer.html
  knobwright recommend --try no_load=true --try volume=500k,1M
  knobwright recommend --search bleed=\"R1 + (R2 || C)\" --values R=E96 --format json

Exit status: 0 the target is met, 1 it is missed, 2 bad input.";

/// `response`
#[derive(Debug, Args)]
pub struct Response {
    /// The guitar
    #[command(flatten)]
    pub guitar: GuitarArgs,
    /// Volume positions, 0 to 10 as on the knob
    #[arg(long, value_name = "KNOB,…", default_value = "10", help_heading = "Input")]
    pub volume: String,
    /// Tone positions, 0 to 10 as on the knob
    #[arg(long, value_name = "KNOB,…", default_value = "10", help_heading = "Input")]
    pub tone: String,
    /// Positions of one knob by its name, in a guitar of several pickups (repeatable): "neck volume=10,5", blend=0; the others stand where
    /// they do nothing
    #[arg(long, value_name = "NAME=KNOB,…", help_heading = "Input")]
    pub knob: Vec<String>,
    /// Lowest frequency
    #[arg(long, value_name = "HZ", default_value = "80", help_heading = "Input")]
    pub from: String,
    /// Highest frequency
    #[arg(long, value_name = "HZ", default_value = "8000", help_heading = "Input")]
    pub to: String,
    /// Points per octave
    #[arg(long, value_name = "N", default_value_t = 12, value_parser = clap::value_parser!(u16).range(1..=1000), help_heading = "Input")]
    pub points_per_octave: u16,
    /// These frequencies, instead of a grid
    #[arg(long, value_name = "HZ,…", conflicts_with_all = ["from", "to", "points_per_octave"], help_heading = "Input")]
    pub frequencies: Option<String>,
    /// Picture
    #[command(flatten)]
    pub plot: PlotArgs,
    /// Page
    #[command(flatten)]
    pub page: PageArgs,
    /// Output
    #[command(flatten)]
    pub output: OutputArgs,
}

/// `guide`
#[derive(Debug, Args)]
pub struct Guide {
    /// The chapter; left out: what chapters there are
    #[arg(value_name = "CHAPTER")]
    pub chapter: Option<String>,
    /// Write the text to this file, whole or not at all
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    pub output: Option<PathBuf>,
}

/// `target`
#[derive(Debug, Args)]
pub struct TargetOf {
    /// A phrase in quotes, the name of a shipped target or a target file; left out: the default target
    #[arg(value_name = "PHRASE|NAME|FILE")]
    pub target: Option<OsString>,
    /// Write the TOML to this file, whole or not at all
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    pub output: Option<PathBuf>,
    /// Page
    #[command(flatten)]
    pub page: PageArgs,
}

/// `guitar`
#[derive(Debug, Args)]
#[command(after_help = GUITAR_EXAMPLES)]
pub struct GuitarFile {
    /// The name of a shipped sample, a kind of pickup such as humbucker or hot humbucker (check --list), or a guitar file (.toml), whose own
    /// comments are left behind; left out: the first sample
    #[arg(value_name = "NAME|KIND|FILE")]
    pub guitar: Vec<OsString>,
    /// Write the guitar file here, whole or not at all
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    pub output: Option<PathBuf>,
}

const GUITAR_EXAMPLES: &str = "Examples:
  knobwright guitar humbucker > my-guitar.toml
  knobwright guitar plover-bridge --output my-guitar.toml
  knobwright guitar my-guitar.toml";

/// `values`
#[derive(Debug, Args)]
#[command(after_help = VALUES_EXAMPLES)]
pub struct Values {
    /// Series of standard values: E3, E6, E12, E24, E48, E96 or E192
    #[arg(value_name = "SERIES", default_value = "E24")]
    pub series: String,
    /// List the values of this range, e.g. 1k..10k or 1n..10n; left out: one decade
    #[arg(long, value_name = "LOW..HIGH", help_heading = "Input")]
    pub range: Option<String>,
    /// Find the values of the series nearest to this one, e.g. 76.1k
    #[arg(long, value_name = "VALUE", conflicts_with = "range", help_heading = "Input")]
    pub nearest: Option<String>,
    /// Say what a marking on a part means, e.g. 223J, 102K100, 4k7, A500K, "yellow violet yellow gold"
    #[arg(long, value_name = "MARKING", conflicts_with_all = ["range", "nearest"], help_heading = "Input")]
    pub decode: Option<String>,
    /// Page
    #[command(flatten)]
    pub page: PageArgs,
    /// Output
    #[command(flatten)]
    pub output: OutputArgs,
}

const VALUES_EXAMPLES: &str = "Examples:
  knobwright values E12 --range 1n..22n
  knobwright values E24 --nearest 76.1k
  knobwright values --decode 223J
  knobwright values --decode \"yellow violet yellow gold\"";

/// `check`
#[derive(Debug, Args)]
pub struct Check {
    /// Guitar and target files (.toml), stock lists and catalogues (.csv)
    #[arg(value_name = "FILE", required_unless_present = "list")]
    pub files: Vec<PathBuf>,
    /// List the shipped guitars, targets, stock lists and catalogues
    #[arg(long)]
    pub list: bool,
}
