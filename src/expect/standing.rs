//! Levels at which the voltage stood still whatever came from the array: levels a controller held.
//!
//! A voltage that stands still is not yet held: a half-full lithium bank stands still by itself, and so
//! does a large bank beside a small array. Held it is where the array's current came and went without the
//! voltage, and without the bank where its current was logged: the controller then gave what was used.

use crate::design::Design;
use crate::expect::grid::{Folded, Grid};
use crate::expect::offer::{Offer, PRODUCTIVE_DEG};
use crate::expect::setpoints::{compensation_v, least_held_v};
use crate::expect::signals::Signals;
use crate::physics::bank::internal_resistance_mohm;
use crate::stats::quantile::median;

/// Moments looked at together: three quarters of an hour, in which a fridge comes on and goes off.
const WINDOW: usize = 9;
/// A voltage stands still within this, V per 12 V: two steps of a meter that shows hundredths, with the
/// sinking of a set point as the bank warms.
const STILL_V: f64 = 0.04;
/// Levels within this of one another are one, V per 12 V.
pub(super) const SAME_V: f64 = 0.06;
/// The array's current came and went if it changed by this share of its highest,
const CAME_AND_WENT: f64 = 0.15;
/// and by this share of the bank's capacity an hour: less is the meters' own.
const LEAST_RATE: f64 = 0.003;
/// The bank had no part in it if its own current changed by no more than this share of that.
const WITHOUT_BANK: f64 = 0.4;
/// Windows of one day that make a level: one begun each five minutes of a quarter of an hour.
const LEAST_WINDOWS: usize = 4;
/// Days that make a level known on days that do not show it.
const LEAST_DAYS: usize = 3;

/// The levels seen.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Standing {
    /// By day: the levels of that day, V as they stood.
    by_day: Vec<Vec<f64>>,
    /// Levels of at least [`LEAST_DAYS`] days, V at 25 C.
    of_the_trip: Vec<f64>,
}

impl Standing {
    /// Looks for them by day, in the voltage that shows what the controller regulates; `absorbed` is each
    /// day's first moment at absorption. None without a harvest of its own in the log.
    pub(super) fn new(
        design: &Design,
        grid: &Grid,
        signals: &Signals,
        offers: &[Offer],
        absorbed: &[Option<usize>],
    ) -> Self {
        let (Some(volts), Some(harvest)) = (signals.terminal_v(), &signals.harvest) else {
            return Self::default();
        };
        let seen = Seen {
            design,
            volts,
            harvest,
            bank_a: signals.bank_a.as_ref(),
            least_v: least_held_v(design),
            absorbed,
        };
        let same_v = SAME_V * design.nominal_v() / 12.0;
        let mut at_25 = Vec::new();
        let by_day: Vec<Vec<f64>> = (0..grid.dates.len())
            .map(|day| {
                let stood = seen.stood(grid, offers, day);
                let levels = clusters(stood.iter().map(|(v, _)| *v).collect(), same_v);
                let made = levels.into_iter().filter(|l| l.len() >= LEAST_WINDOWS);
                let made: Vec<f64> = made.filter_map(|l| median(&l)).collect();
                at_25.extend(made.iter().filter_map(|level| {
                    let near = |(v, _): &&(f64, usize)| (v - level).abs() <= same_v;
                    let (_, moment) = stood.iter().find(near)?;
                    Some(level - compensation_v(design, signals, *moment))
                }));
                made
            })
            .collect();
        let of_the_trip = clusters(at_25, same_v)
            .into_iter()
            .filter(|l| l.len() >= LEAST_DAYS)
            .filter_map(|l| median(&l))
            .collect();
        Self {
            by_day,
            of_the_trip,
        }
    }

    /// The levels that may be held on a day, V, `shift` being what compensation adds to a set point.
    pub(super) fn on(&self, day: usize, shift: f64) -> impl Iterator<Item = f64> + '_ {
        let own = self.by_day.get(day).into_iter().flatten().copied();
        own.chain(self.of_the_trip.iter().map(move |level| level + shift))
    }
}

/// What the levels are read from.
struct Seen<'a> {
    design: &'a Design,
    volts: &'a Folded,
    harvest: &'a Folded,
    bank_a: Option<&'a Folded>,
    /// Below this a bank stands by itself, V, unless it was at absorption that day.
    least_v: f64,
    /// Each day's first moment at absorption.
    absorbed: &'a [Option<usize>],
}

impl Seen<'_> {
    /// The windows of a day in which the voltage stood whatever came: where, V, and their first moment.
    fn stood(&self, grid: &Grid, offers: &[Offer], day: usize) -> Vec<(f64, usize)> {
        let moments = grid.day(day);
        let last = (moments.end + 1).saturating_sub(WINDOW).max(moments.start);
        (moments.start..last)
            .filter(|from| {
                let ends = [*from, from + WINDOW - 1];
                ends.iter()
                    .all(|m| offers[*m].elevation_deg > PRODUCTIVE_DEG)
            })
            .filter_map(|from| {
                let absorbed = self.absorbed[day].is_some_and(|since| since < from);
                let level = self.window(from)?;
                (absorbed || level >= self.least_v).then_some((level, from))
            })
            .collect()
    }

    /// The level of a window, V; `None` where it did not stand, or stood by itself.
    fn window(&self, from: usize) -> Option<f64> {
        let of = |series: &Folded| -> Option<Vec<f64>> {
            (from..from + WINDOW).map(|m| series.mean(m)).collect()
        };
        let volts = of(self.volts)?;
        let stirred_v = spread(&volts);
        if stirred_v > STILL_V * self.design.nominal_v() / 12.0 {
            return None;
        }
        let amps: Vec<f64> = of(self.harvest)?
            .iter()
            .zip(&volts)
            .map(|(w, v)| w / v.max(1.0))
            .collect();
        let changed = spread(&amps);
        let most = amps.iter().copied().fold(0.0, f64::max);
        let capacity = self.design.battery.capacity_ah;
        if changed < CAME_AND_WENT * most || changed < LEAST_RATE * capacity {
            return None;
        }
        let held = match self.bank_a {
            Some(bank) => spread(&of(bank)?) <= WITHOUT_BANK * changed,
            None => {
                // Had the bank taken it, its voltage would have gone with it.
                let (least, _) = internal_resistance_mohm(
                    self.design.battery.chemistry,
                    capacity,
                    self.design.nominal_v(),
                );
                stirred_v <= 0.5 * least / 1000.0 * changed
            }
        };
        held.then(|| median(&volts)).flatten()
    }
}

/// From the lowest to the highest.
fn spread(values: &[f64]) -> f64 {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    high - low
}

/// Values ascending, parted where the next is further than `same` from the first of its group.
fn clusters(mut values: Vec<f64>, same: f64) -> Vec<Vec<f64>> {
    values.sort_by(f64::total_cmp);
    let mut groups: Vec<Vec<f64>> = Vec::new();
    for value in values {
        match groups.last_mut() {
            Some(group) if value - group[0] <= 2.0 * same => group.push(value),
            _ => groups.push(vec![value]),
        }
    }
    groups
}
