//! Where a page to hand over goes.

use std::path::PathBuf;

use clap::Args;

/// The page.
#[derive(Debug, Args)]
pub struct PageArgs {
    /// Also write one page to hand over (.html): it opens from disk in any browser, with tables that sort, curves and
    /// pictures where there are any, and all it takes to run it again
    #[arg(long, value_name = "FILE", help_heading = "Output")]
    pub page: Option<PathBuf>,
}
