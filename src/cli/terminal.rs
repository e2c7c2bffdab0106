//! What the terminal is like, and the progress bar.

use std::io::{IsTerminal, stderr, stdout};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use knobwright::progress::Progress;

/// Lines are this wide unless a terminal says otherwise.
const WIDTH: usize = 80;
/// A terminal may be wider than lines are good to read.
const WIDEST: usize = 100;

/// Width of text for standard output.
pub fn width() -> usize {
    let columns = std::env::var("COLUMNS").ok().and_then(|columns| columns.parse::<usize>().ok());
    match columns {
        Some(columns) if stdout().is_terminal() => columns.clamp(40, WIDEST),
        _ => WIDTH,
    }
}

/// Whether errors are drawn in colour.
pub fn coloured_errors() -> bool {
    stderr().is_terminal() && colours_allowed()
}

/// Whether pictures on standard output are drawn in colour.
pub fn coloured_output() -> bool {
    stdout().is_terminal() && colours_allowed()
}

fn colours_allowed() -> bool {
    std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
}

/// A progress bar on standard error, only on a terminal.
pub struct Bar(ProgressBar);

impl Bar {
    /// A bar, hidden when quiet or off a terminal.
    pub fn new(quiet: bool) -> Self {
        let target = if quiet || !stderr().is_terminal() {
            ProgressDrawTarget::hidden()
        } else {
            ProgressDrawTarget::stderr_with_hz(8)
        };
        let bar = ProgressBar::with_draw_target(Some(0), target);
        if let Ok(style) = ProgressStyle::with_template("{bar:30} {percent:>3} %  {per_sec}  {eta} left") {
            bar.set_style(style);
        }
        bar.enable_steady_tick(Duration::from_millis(200));
        Self(bar)
    }

    /// Takes the bar off the screen.
    pub fn clear(&self) {
        self.0.finish_and_clear();
    }

    /// Another handle to the same bar.
    pub fn handle(&self) -> ProgressBar {
        self.0.clone()
    }
}

impl Progress for Bar {
    fn expect(&self, steps: u64) {
        self.0.inc_length(steps);
    }

    fn advance(&self, steps: u64) {
        self.0.inc(steps);
    }
}
