//! What the terminal is like, and the progress bar.

use std::io::{IsTerminal, stderr, stdout};
use std::time::Duration;

use console::Term;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use knobwright::progress::Progress;

/// Lines are this wide unless a terminal says otherwise.
const WIDTH: usize = 80;
/// A terminal may be wider than lines are good to read.
const WIDEST: usize = 100;

/// Nor narrower than a table can be told apart in.
const NARROWEST: usize = 40;

/// Width of text for standard output.
pub fn width() -> usize {
    if !stdout().is_terminal() {
        return WIDTH;
    }
    let own = Term::stdout().size_checked().map(|(_, columns)| usize::from(columns));
    width_of(own, std::env::var("COLUMNS").ok().as_deref())
}

/// The width on a terminal: its own, else what COLUMNS says, else the usual one.
fn width_of(own: Option<usize>, named: Option<&str>) -> usize {
    let known = |columns: &usize| *columns > 0;
    let named = || named.and_then(|columns| columns.trim().parse().ok()).filter(known);
    own.filter(known)
        .or_else(named)
        .map_or(WIDTH, |columns| columns.clamp(NARROWEST, WIDEST))
}

/// Whether the terminal can do no more than print: no colours, no bar.
fn is_dumb() -> bool {
    std::env::var_os("TERM").is_some_and(|name| name == "dumb")
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
    !is_dumb() && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty())
}

/// A progress bar on standard error, only on a terminal.
pub struct Bar(ProgressBar);

impl Bar {
    /// A bar, hidden when quiet, off a terminal, or on one that cannot draw over a line.
    pub fn new(quiet: bool) -> Self {
        let target = if quiet || is_dumb() || !stderr().is_terminal() {
            ProgressDrawTarget::hidden()
        } else {
            ProgressDrawTarget::stderr_with_hz(8)
        };
        let bar = ProgressBar::with_draw_target(Some(0), target);
        if let Ok(style) = ProgressStyle::with_template("{bar:30} {percent:>3} %  {eta} left") {
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

#[cfg(test)]
mod tests {
    use super::width_of;

    #[test]
    fn the_terminal_knows_its_width_before_the_environment_does() {
        assert_eq!(width_of(Some(60), Some("90")), 60);
        assert_eq!(width_of(None, Some("90")), 90);
        assert_eq!(width_of(Some(0), Some("90")), 90);
        for unknown in [None, Some(""), Some("0"), Some("-1"), Some("wide")] {
            assert_eq!(width_of(None, unknown), 80, "{unknown:?}");
        }
        assert_eq!((width_of(Some(10), None), width_of(Some(500), None)), (40, 100));
    }
}
