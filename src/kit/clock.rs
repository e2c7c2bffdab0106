//! When the time for a kit is over: one end for the whole job, and shares of what is left for its parts.

use std::time::{Duration, Instant};

/// What cannot be left out altogether (some guitars' margins, a first kit) may take this much longer than a limit says.
const GRACE: Duration = Duration::from_millis(300);

/// When the time is over, if ever.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Clock {
    end: Option<Instant>,
}

impl Clock {
    /// Time without end.
    pub const ENDLESS: Self = Self { end: None };

    /// A clock that begins to run now; a limit beyond what an instant can hold is none.
    #[must_use]
    pub fn new(limit: Option<Duration>) -> Self {
        Self {
            end: limit.and_then(|limit| Instant::now().checked_add(limit)),
        }
    }

    /// Whether the time is over.
    #[must_use]
    pub fn is_over(self) -> bool {
        self.end.is_some_and(|end| Instant::now() >= end)
    }

    /// Whether it is over even for what cannot be left out.
    #[must_use]
    pub fn is_over_for_good(self) -> bool {
        self.end.is_some_and(|end| end.elapsed() >= GRACE)
    }

    /// A clock for a part of the job: a share of what is left, from 0 to 1.
    #[must_use]
    pub fn share(self, share: f64) -> Self {
        let now = Instant::now();
        Self {
            end: self
                .end
                .map(|end| now + end.saturating_duration_since(now).mul_f64(share.clamp(0.0, 1.0))),
        }
    }
}
