//! The state of charge as logged: what a replay starts from and is held against.

use crate::account::Accounts;
use crate::expect::Expectation;

/// A counted figure less sure than this is not taken where a meter's stands beside it, points.
const SURE_PCT: f64 = 12.0;
/// And without a meter not beyond this, points.
const LOOSE_PCT: f64 = 25.0;

/// So long without readings and counted charge is a guess, moments: two hours.
pub const GAP: usize = 24;

/// State of charge by moment, share, and where it comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Reference {
    /// By moment.
    pub soc: Vec<Option<f64>>,
    /// In words.
    pub from: &'static str,
}

impl Reference {
    /// Counted from full charges where that is sure, else the meter's own figure where the meter can be
    /// believed, else counted less surely, else the meter's all the same.
    pub fn new(expected: &Expectation, accounts: &Accounts, meter_believed: bool) -> Self {
        let moments = expected.grid.moments;
        let charge = &accounts.charge;
        let counted = |limit: f64| -> Vec<Option<f64>> {
            (0..moments)
                .map(|m| {
                    charge.counted_pct[m]
                        .filter(|_| charge.counted_error_pct[m] <= limit)
                        .map(|p| p / 100.0)
                })
                .collect()
        };
        let known = |list: &[Option<f64>]| list.iter().flatten().count();
        let sure = counted(SURE_PCT);
        let read = (0..moments)
            .filter(|m| expected.signals.coverage(*m) > 0.5)
            .count();
        if 10 * known(&sure) >= 9 * read && read > 0 && !long_gap(expected) {
            return Self {
                soc: sure,
                from: "charge counted between full charges",
            };
        }
        let metered = |from| Self {
            soc: (0..moments)
                .map(|m| {
                    let shown = expected.signals.soc.as_ref()?.mean(m)?;
                    Some((shown / 100.0).clamp(0.0, 1.0))
                })
                .collect(),
            from,
        };
        let meter = metered("the meter's own state of charge");
        if meter_believed && known(&meter.soc) > 0 {
            return meter;
        }
        let loose = Self {
            soc: counted(LOOSE_PCT),
            from: "charge counted between full charges",
        };
        if known(&loose.soc) > 0 {
            return loose;
        }
        // Better than nothing to begin with; how well the replay then follows the log is told beside it.
        metered("the meter's own state of charge, which was found wrong: take levels for a guess")
    }

    /// The same charge in a bank that holds less or more: `ratio` is the old capacity against the new one. What
    /// is missing from a full charge stays what it is.
    pub fn of_another_bank(&mut self, ratio: f64) {
        for soc in self.soc.iter_mut().flatten() {
            *soc = (1.0 - (1.0 - *soc) * ratio).clamp(0.0, 1.0);
        }
    }

    /// The first state of charge known, and the moment.
    pub fn first(&self) -> Option<(usize, f64)> {
        self.soc
            .iter()
            .enumerate()
            .find_map(|(m, soc)| soc.map(|s| (m, s)))
    }
}

/// Whether the bank went unread for long enough to make counting across it a guess.
fn long_gap(expected: &Expectation) -> bool {
    let mut unread = 0;
    (0..expected.grid.moments).any(|m| {
        unread = if expected.signals.coverage(m) > 0.2 {
            0
        } else {
            unread + 1
        };
        unread >= GAP
    })
}
