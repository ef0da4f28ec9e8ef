//! A controller whose arrays gave nothing while another's gave what the sky let it: seen only where the
//! controllers were logged apart, and then under any sky, for all stand under the same one.

use std::ops::Range;

use crate::account::episode::{Of, Reduction};
use crate::calendar::Calendar;
use crate::design::Design;
use crate::expect::{Expectation, Folded, Regime};
use crate::quantity::Interval;

/// A moment counts where the clear sky would give a branch this share of its label power.
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

/// What a branch would give under a clear sky, W a moment, beside what it gave.
struct Branch<'a> {
    controller: usize,
    clear_w: Vec<f32>,
    gave: &'a Folded,
}

/// What a day says of a branch.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Day {
    Dead { hours: f64 },
    Well,
    Silent,
}

/// The spells in which a controller's arrays gave nothing.
pub fn find(design: &Design, calendar: &Calendar, expected: &Expectation) -> Vec<Reduction> {
    let logged = &expected.signals.branches;
    if logged.len() < 2 {
        return Vec::new();
    }
    let branches: Vec<Branch> = logged
        .iter()
        .map(|(controller, gave)| Branch {
            controller: *controller,
            clear_w: expected.clear_w_of(design, calendar, |array| array.controller == *controller),
            gave,
        })
        .collect();
    (0..branches.len())
        .flat_map(|one| spells(expected, &branches, one))
        .collect()
}

fn spells(expected: &Expectation, branches: &[Branch], one: usize) -> Vec<Reduction> {
    let days = expected.grid.dates.len();
    let mut found: Vec<Reduction> = Vec::new();
    let mut open: Option<Reduction> = None;
    let mut earliest = 0;
    for day in 0..days {
        match day_of(expected, branches, one, expected.grid.day(day)) {
            Day::Silent => {}
            Day::Well => {
                found.extend(open.take());
                earliest = day + 1;
            }
            Day::Dead { hours } => {
                let spell = open.get_or_insert_with(|| {
                    Reduction::opened(day, earliest, Of::Branch(branches[one].controller))
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
        spell.left = left_without(expected, branches, one, &spell.shown_on);
    }
    found
}

/// What the other branches have of the days' clear sky, share.
fn left_without(
    expected: &Expectation,
    branches: &[Branch],
    one: usize,
    days: &[usize],
) -> Interval {
    let moments = || days.iter().flat_map(|day| expected.grid.day(*day));
    let all: f64 = moments().map(|m| expected.offers[m].output_w).sum();
    let own: f64 = moments().map(|m| f64::from(branches[one].clear_w[m])).sum();
    let left = 1.0 - own / all.max(1.0);
    Interval::new(left, left - SHARE_ERROR, (left + SHARE_ERROR).min(1.0))
}

/// What a day shows, by its moments in which the bank took all there was.
fn day_of(expected: &Expectation, branches: &[Branch], one: usize, moments: Range<usize>) -> Day {
    let label = |branch: &Branch| branch.clear_w.iter().fold(0.0_f32, |most, w| most.max(*w));
    let least = LEAST_SHARE * f64::from(label(&branches[one]));
    let counts = |m: &usize| {
        expected.regimes[*m] == Regime::Following
            && f64::from(branches[one].clear_w[*m]) > least
            && branches.iter().all(|b| b.gave.coverage(*m) > 0.5)
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
            .flat_map(|b| fit.iter().map(|m| f64::from(b.clear_w[*m])))
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
