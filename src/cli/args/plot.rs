//! Where a picture goes and what it shows.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

/// Where a picture goes.
#[derive(Debug, Args)]
pub struct PlotArgs {
    /// Draw a picture as well: a file ending in .svg or .png, or `-` for text below the result
    #[arg(long, value_name = "FILE|-", help_heading = "Picture")]
    pub plot: Option<PathBuf>,
}

/// What a picture of a recommendation shows.
#[derive(Debug, Args)]
pub struct RecommendPlotArgs {
    /// Where it goes
    #[command(flatten)]
    pub to: PlotArgs,
    /// What the picture shows
    #[arg(long, value_enum, default_value_t = RecommendView::Knobs, requires = "plot", help_heading = "Picture")]
    pub plot_kind: RecommendView,
    /// Draw at this knob position only (a tone left out is at full); builds stand at the best one's worst position unless told
    #[arg(long, value_name = "VOLUME[,TONE]", requires = "plot", help_heading = "Picture")]
    pub plot_at: Option<String>,
    /// The two values of a landscape, e.g. bleed.R1,bleed.C; left out: the last two of the best build
    #[arg(long, value_name = "PART,PART", requires = "plot", help_heading = "Picture")]
    pub plot_values: Option<String>,
}

/// What a picture of a comparison shows.
#[derive(Debug, Args)]
pub struct ComparePlotArgs {
    /// Where it goes
    #[command(flatten)]
    pub to: PlotArgs,
    /// What the picture shows
    #[arg(long, value_enum, default_value_t = CompareView::Builds, requires = "plot", help_heading = "Picture")]
    pub plot_kind: CompareView,
    /// Draw at this knob position (a tone left out is at full); left out: where the build that does best is worst, or the last position compared
    #[arg(long, value_name = "VOLUME[,TONE]", requires = "plot", help_heading = "Picture")]
    pub plot_at: Option<String>,
}

/// Pictures of a recommendation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum RecommendView {
    /// The best build at every knob position of the target
    Knobs,
    /// The best builds and the present one at one knob position
    Builds,
    /// How far the best build is from what the target compares with, and how far it may be
    Deviation,
    /// The margin over two values of the best build
    Landscape,
}

/// Pictures of a comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum CompareView {
    /// Every build at one knob position
    Builds,
    /// How far each is from what the target compares with, and how far it may be
    Deviation,
}
