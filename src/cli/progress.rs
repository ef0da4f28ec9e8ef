//! How far long work has come, on a terminal and nowhere else.

use std::cell::Cell;
use std::time::{Duration, Instant};

use super::screen::{self, Manner};
use crate::log::Progress;

/// Work shorter than this says nothing.
const SHORT: Duration = Duration::from_secs(1);
/// Least time between two remarks.
const PAUSE: Duration = Duration::from_millis(200);

/// Shows how far the reading has come.
pub(super) struct Meter {
    /// When to say something next; `None` where nobody looks.
    next: Cell<Option<Instant>>,
    shown: Cell<bool>,
}

impl Meter {
    /// A meter that starts now.
    pub(super) fn new(manner: Manner) -> Self {
        let next = manner.is_watched().then(|| Instant::now() + SHORT);
        Self {
            next: Cell::new(next),
            shown: Cell::new(false),
        }
    }

    /// Shows the progress, where it is time to.
    pub(super) fn show(&self, progress: Progress) {
        let now = Instant::now();
        if self.next.get().is_some_and(|next| now >= next) {
            self.next.set(Some(now + PAUSE));
            self.shown.set(true);
            screen::remark(&words(progress));
        }
    }

    /// Takes the remark away.
    pub(super) fn clear(&self) {
        if self.shown.replace(false) {
            screen::remark("");
        }
    }
}

fn words(progress: Progress) -> String {
    let Progress { done, total, again } = progress;
    let percent = (done.min(total) * 100).checked_div(total).unwrap_or(100);
    let verb = if again { "Sorting" } else { "Reading" };
    format!("{verb} {:.0} MB: {percent} %", total as f64 / 1e6)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn progress_in_words() {
        let at = |done, total, again| words(Progress { done, total, again });
        assert_eq!(
            at(350_000_000, 1_400_000_000, false),
            "Reading 1400 MB: 25 %"
        );
        assert_eq!(at(9, 9, true), "Sorting 0 MB: 100 %");
        assert_eq!(at(5, 0, false), "Reading 0 MB: 100 %");
    }
}
