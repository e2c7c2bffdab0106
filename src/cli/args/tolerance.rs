//! What `tolerance` takes.

use std::ffi::OsString;

use clap::Args;

use super::{GuitarArgs, HookupWord, JointWord, LotArgs, OutputArgs, PageArgs};

/// `tolerance`
#[derive(Debug, Args)]
#[command(after_help = EXAMPLES)]
pub struct Tolerance {
    /// The guitar
    #[command(flatten)]
    pub guitar: GuitarArgs,
    /// Target file (.toml), the name of a shipped target, or a phrase in quotes; left out: the default target
    #[arg(long, value_name = "FILE|NAME|PHRASE", help_heading = "Input")]
    pub target: Option<OsString>,
    /// Fit this in the build that is looked into (repeatable), e.g. bleed="120k || 1n"; left out: the build that recommend lists first
    #[arg(long, value_name = "SLOT=NETWORK", help_heading = "Input")]
    pub build: Vec<String>,
    /// Rewire the tone control of the build
    #[arg(long, value_enum, help_heading = "Input")]
    pub hookup: Option<HookupWord>,
    /// Join the tone control of the build here
    #[arg(long, value_enum, help_heading = "Input")]
    pub joined_at: Option<JointWord>,
    /// Built guitars
    #[command(flatten)]
    pub lot: LotArgs,
    /// Worker threads; left out: one a core
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024), help_heading = "Tolerances")]
    pub threads: Option<u16>,
    /// Page
    #[command(flatten)]
    pub page: PageArgs,
    /// Output
    #[command(flatten)]
    pub output: OutputArgs,
}

const EXAMPLES: &str = "Examples:
  knobwright tolerance
  knobwright tolerance --guitar my-guitar.toml --build bleed=\"120k || 1n\"
  knobwright tolerance --build bleed=\"120k || 1n\" --tolerance volume=5%,bleed.C=2%

Exit status: 0 done, 2 bad input.";
