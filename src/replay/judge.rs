//! Better, same, worse or unclear: by paired draws.

use super::run::Outcome;
use crate::quantity::Interval;
use crate::stats::resample::interval;

/// A difference counts when it survives this share of the paired draws.
const SURVIVES: f64 = 0.8;
/// Nights and full charges: one in ten days is worth a job.
const WORTH_SHARE: f64 = 0.1;
/// A bank full every other day is full often enough.
const FULL_ENOUGH: f64 = 0.5;
/// Below this share of days with a full charge a bank counts as never full.
pub(super) const NEVER_FULL: f64 = 0.15;
/// Lowest charge counts where it comes this close to the reserve, share,
const NEAR_RESERVE: f64 = 0.1;
/// and differs by this much: what a replay is good for.
const WORTH_CHARGE: f64 = 0.05;

/// What a difference must reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Worth {
    /// Energy worth a job, Wh a day.
    pub(super) wh: f64,
    /// The owner's reserve, share.
    pub(super) reserve: f64,
    /// Days lived.
    pub(super) days: f64,
}

/// How one replay compares with another.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sign {
    Better,
    Same,
    Worse,
    Mixed,
}

/// `better`, `same`, `worse` or `unclear` for an option against the system as it is, draw by draw.
pub(super) fn change(was: &[Outcome], now: &[Outcome], worth: &Worth) -> &'static str {
    let signs: Vec<Sign> = was
        .iter()
        .zip(now)
        .map(|(a, b)| compare(a, b, worth))
        .collect();
    let share = |wanted: Sign| {
        signs.iter().filter(|s| **s == wanted).count() as f64 / signs.len().max(1) as f64
    };
    [
        (Sign::Better, "better"),
        (Sign::Worse, "worse"),
        (Sign::Same, "same"),
    ]
    .into_iter()
    .find(|(sign, _)| share(*sign) >= SURVIVES)
    .map_or("unclear", |(_, word)| word)
}

fn compare(was: &Outcome, now: &Outcome, worth: &Worth) -> Sign {
    let enough = |o: &Outcome| o.full_share.min(FULL_ENOUGH);
    let near = was.lowest.min(now.lowest) < worth.reserve + NEAR_RESERVE;
    let gains = [
        (was.unserved_wh - now.unserved_wh) / worth.wh.max(1.0),
        (was.nights_below - now.nights_below) / worth.days.max(1.0) / WORTH_SHARE,
        (enough(now) - enough(was)) / WORTH_SHARE,
        if near {
            (now.lowest - was.lowest) / WORTH_CHARGE
        } else {
            0.0
        },
    ];
    let up = gains.iter().any(|g| *g >= 1.0);
    let down = gains.iter().any(|g| *g <= -1.0);
    match (up, down) {
        (true, false) => Sign::Better,
        (false, true) => Sign::Worse,
        (false, false) => Sign::Same,
        (true, true) => Sign::Mixed,
    }
}

/// How short a system is of what its owner needs, in jobs worth doing: unserved energy, nights below the
/// reserve, days without a full charge. It ranks options and is never printed.
pub(super) fn shortness(outcome: &Outcome, worth: &Worth) -> f64 {
    outcome.unserved_wh / worth.wh.max(1.0)
        + outcome.nights_below / worth.days.max(1.0) / (2.0 * WORTH_SHARE)
        + (NEVER_FULL - outcome.full_share).max(0.0) / (2.0 * WORTH_SHARE)
}

/// A figure with the interval of its draws.
pub(super) fn figure(value: f64, draws: &[Outcome], of: fn(&Outcome) -> f64) -> Interval {
    let values: Vec<f64> = draws.iter().map(of).collect();
    match interval(&values, 0.9) {
        Some((low, high)) => Interval::new(value, low, high),
        None => Interval::exact(value),
    }
}

/// Share of the paired draws in which `now` is less short than `was`.
pub(super) fn ahead(was: &[Outcome], now: &[Outcome], worth: &Worth) -> f64 {
    let wins = was
        .iter()
        .zip(now)
        .filter(|(a, b)| shortness(b, worth) < shortness(a, worth))
        .count();
    wins as f64 / was.len().max(1) as f64
}

/// Whether a difference of that share of draws is more than noise.
pub(super) fn survives(share: f64) -> bool {
    share >= SURVIVES
}

#[cfg(test)]
mod tests {
    use super::*;

    const WORTH: Worth = Worth {
        wh: 50.0,
        reserve: 0.2,
        days: 10.0,
    };

    fn lacking(wh: f64) -> Outcome {
        Outcome {
            unserved_wh: wh,
            full_share: 0.3,
            lowest: 0.6,
            ..Outcome::default()
        }
    }

    #[test]
    fn a_difference_counts_when_it_survives_four_draws_in_five() {
        let was = vec![lacking(200.0); 10];
        let mut now = vec![lacking(100.0); 8];
        now.extend(vec![lacking(190.0); 2]);
        assert_eq!(change(&was, &now, &WORTH), "better");
        now[0] = lacking(190.0);
        assert_eq!(change(&was, &now, &WORTH), "unclear");
        assert_eq!(change(&was, &vec![lacking(180.0); 10], &WORTH), "same");
        assert_eq!(change(&was, &vec![lacking(400.0); 10], &WORTH), "worse");
    }

    #[test]
    fn what_helps_here_and_hurts_there_is_unclear() {
        let was = vec![lacking(200.0); 10];
        let mixed = Outcome {
            full_share: 0.0,
            ..lacking(0.0)
        };
        assert_eq!(change(&was, &vec![mixed; 10], &WORTH), "unclear");
    }

    #[test]
    fn a_bank_full_often_enough_gains_nothing_by_more() {
        let full = |share| Outcome {
            full_share: share,
            ..lacking(0.0)
        };
        let (was, now) = (vec![full(0.6); 5], vec![full(1.0); 5]);
        assert_eq!(change(&was, &now, &WORTH), "same");
        assert_eq!(change(&vec![full(0.1); 5], &now, &WORTH), "better");
    }
}
