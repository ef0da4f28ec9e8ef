//! A controller whose arrays gave nothing while another's gave what the sky let it: seen only where the
//! controllers were logged apart, and then under any sky, for all stand under the same one.

use std::ops::Range;

use crate::account::episode::{Of, Reduction};
use crate::account::planes::left_of;
use crate::expect::{Branch, Expectation, Regime};
use crate::quantity::Interval;

/// A moment counts where the clear sky would give a branch this share of its brightest.
const LEAST_SHARE: f64 = 0.1;
/// Hours that a day must have of them to say anything.
const LEAST_H: f64 = 2.0;
/// The others must give this share of a clear sky's output: under less, a weak sky and a dead array
/// look alike to a controller that needs some light to wake.
const OTHERS_GIVE: f64 = 0.15;
/// A dead one gives less than this share of what it would at the others' level,
const DEAD: f64 = 0.05;
/// and one that is well more than this.
const WELL: f64 = 0.3;
/// A spell must show on so many days,
const LEAST_DAYS: usize = 2;
/// or for so many hours on one.
const LONG_H: f64 = 4.0;
/// Half the 90 % range of the share that a branch has of a day's offer.
const SHARE_ERROR: f64 = 0.03;

/// A controller whose arrays gave nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Dark {
    /// Its place in the design.
    pub controller: usize,
    /// What the others have of the clear-sky offer by moment, share.
    rest: Vec<f32>,
}

impl Dark {
    fn new(branch: &Branch) -> Self {
        Self {
            controller: branch.controller,
            rest: branch.share.iter().map(|own| 1.0 - own).collect(),
        }
    }

    /// What is left of the whole array's output in a moment, share.
    pub fn left_at(&self, moment: usize) -> Interval {
        left_of(f64::from(self.rest[moment]))
    }
}

/// What a day says of a branch.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Day {
    Dead { hours: f64 },
    Well,
    Silent,
}

/// The spells in which a controller's arrays gave nothing.
pub fn find(expected: &Expectation) -> Vec<Reduction> {
    (0..expected.branches.len())
        .flat_map(|one| spells(expected, one))
        .collect()
}

fn spells(expected: &Expectation, one: usize) -> Vec<Reduction> {
    let days = expected.grid.dates.len();
    let mut found: Vec<Reduction> = Vec::new();
    let mut open: Option<Reduction> = None;
    let mut earliest = 0;
    let brightest = (0..expected.grid.moments)
        .map(|m| expected.branches[one].clear_w(&expected.offers, m))
        .fold(0.0, f64::max);
    let least_w = LEAST_SHARE * brightest;
    for day in 0..days {
        match day_of(expected, one, least_w, expected.grid.day(day)) {
            Day::Silent => {}
            Day::Well => {
                found.extend(open.take());
                earliest = day + 1;
            }
            Day::Dead { hours } => {
                let spell = open.get_or_insert_with(|| {
                    Reduction::opened(
                        day,
                        earliest,
                        Of::Branch(Dark::new(&expected.branches[one])),
                    )
                });
                spell.last = day;
                spell.shown_on.push(day);
                spell.clear_h += hours;
            }
        }
    }
    if let Some(mut spell) = open {
        // Nothing says it ended.
        spell.last = days.saturating_sub(1);
        found.push(spell);
    }
    found.retain(|s| s.shown_on.len() >= LEAST_DAYS || s.clear_h >= LONG_H);
    for spell in &mut found {
        spell.left = left_without(expected, one, &spell.shown_on);
    }
    found
}

/// What the other branches have of the days' clear sky, share.
fn left_without(expected: &Expectation, one: usize, days: &[usize]) -> Interval {
    let moments = || days.iter().flat_map(|day| expected.grid.day(*day));
    let all: f64 = moments().map(|m| expected.offers[m].output_w).sum();
    let own: f64 = moments()
        .map(|m| expected.branches[one].clear_w(&expected.offers, m))
        .sum();
    let left = 1.0 - own / all.max(1.0);
    Interval::new(left, left - SHARE_ERROR, (left + SHARE_ERROR).min(1.0))
}

/// What a day shows, by its moments in which nothing but the sun ruled any of them, brighter than `least_w`.
fn day_of(expected: &Expectation, one: usize, least_w: f64, moments: Range<usize>) -> Day {
    let branches = &expected.branches;
    let sun_rules =
        |b: &Branch, m: usize| matches!(b.regimes[m], Regime::Following | Regime::Disconnected);
    let counts = |m: &usize| {
        expected.regimes[*m] == Regime::Following
            && branches[one].clear_w(&expected.offers, *m) > least_w
            && branches
                .iter()
                .all(|b| sun_rules(b, *m) && b.gave.coverage(*m) > 0.5)
    };
    let fit: Vec<usize> = moments.filter(counts).collect();
    let level = |of: &dyn Fn(usize) -> bool| {
        let some = || {
            branches
                .iter()
                .enumerate()
                .filter(|(k, _)| of(*k))
                .map(|(_, b)| b)
        };
        let gave: f64 = some()
            .flat_map(|b| fit.iter().filter_map(|m| b.gave.mean(*m)))
            .sum();
        let clear: f64 = some()
            .flat_map(|b| fit.iter().map(move |m| b.clear_w(&expected.offers, *m)))
            .sum();
        gave / clear.max(1.0)
    };
    let hours = fit.len() as f64 * expected.grid.step_h();
    let (own, others) = (level(&|k| k == one), level(&|k| k != one));
    if hours < LEAST_H || others < OTHERS_GIVE {
        Day::Silent
    } else if own < DEAD * others {
        Day::Dead { hours }
    } else if own > WELL * others {
        Day::Well
    } else {
        Day::Silent
    }
}
