//! The sky as those controllers show it that took all there was while another held its voltage, stood at its limit
//! or had its arrays in the shade: all stand under the same one.
//!
//! Arrays look their own ways and are not equally clean: how much brighter the sky seems to some of them than
//! to all is learned from the moments that all of them followed.

use std::collections::BTreeMap;

use crate::account::instrument::GAIN;
use crate::account::sky::CAP;
use crate::expect::regime::beside_held;
use crate::expect::{Branch, Expectation, Regime};
use crate::quantity::Interval;
use crate::stats::quantile::quantile;

/// A bank that takes so many times its full current is being charged.
const CHARGES: f64 = 1.5;
/// Moments of a half hour.
const HALF_HOUR: usize = 6;
/// Half hours that must show both before the scale between some and all is learned.
const LEAST: usize = 4;
/// Half the 90 % range of that scale where it was not learned, share (assumed: dirt of one array and not of
/// another, and a lean).
const UNTOLD: f64 = 0.1;
/// Less than this share of the clear sky's output speaks for no more than itself.
const LEAST_SHARE: f64 = 0.1;
/// Below this height of the sun planes differ too much, degrees.
const LOWEST_DEG: f64 = 8.0;
/// Share of a moment in which they must have been read.
const LEAST_COVER: f64 = 0.5;

/// Controllers, by a bit for each by its place among the branches.
type Group = u32;

/// Shares of the clear sky by the controllers that followed it beside ruled ones.
pub(super) struct BesideRuled {
    /// By moment, who followed while another did not.
    who: Vec<Option<Group>>,
    /// Of each such group: what it shows over what all show.
    scale: BTreeMap<Group, Interval>,
}

impl BesideRuled {
    /// `None` where the controllers were not logged apart; `seen` is the sky's share where all followed it.
    /// `full_a` is the current below which the bank is full, A.
    pub(super) fn of(expected: &Expectation, seen: &[Option<f64>], full_a: f64) -> Option<Self> {
        let branches = &expected.branches;
        if branches.is_empty() || expected.signals.harvest.is_none() {
            return None;
        }
        let filled = filled(expected);
        let who: Vec<Option<Group>> = (0..expected.grid.moments)
            .map(|m| followers(expected, &filled, full_a, m))
            .collect();
        let mut scale = BTreeMap::new();
        for some in who.iter().flatten() {
            scale
                .entry(*some)
                .or_insert_with(|| learned(expected, seen, *some));
        }
        Some(Self { who, scale })
    }

    /// The share by moment, where the array is `well`.
    pub(super) fn shares(
        &self,
        expected: &Expectation,
        well: impl Fn(usize) -> bool,
    ) -> Vec<Option<Interval>> {
        let share = |(m, who): (usize, &Option<Group>)| {
            let some = (*who).filter(|_| well(m))?;
            let shown = shown_by(expected, some, m)?;
            let scale = self.scale.get(&some)?;
            let by = |scale: f64| (shown / scale.max(1e-3)).clamp(0.0, CAP);
            let value = by(scale.value);
            // However steady the scale: what is wrong with either meter is not seen by it.
            let off = |other: f64| (value - other).hypot(GAIN * value);
            let (below, above) = (off(by(scale.high)), off(by(scale.low)));
            Some(Interval::new(value, value - below, value + above))
        };
        self.who.iter().enumerate().map(share).collect()
    }
}

/// By branch and moment, whether it held its voltage earlier that day.
fn filled(expected: &Expectation) -> Vec<Vec<bool>> {
    let grid = &expected.grid;
    let of = |branch: &Branch| {
        let mut filled = vec![false; grid.moments];
        for day in 0..grid.dates.len() {
            let mut before = false;
            for m in grid.day(day) {
                filled[m] = before;
                before |= branch.regimes[m] == Regime::Held;
            }
        }
        filled
    };
    expected.branches.iter().map(of).collect()
}

/// Who followed the sun in a moment in which another held its voltage, stood at its limit or was in the shade, as
/// far as they have enough of the arrays.
fn followers(
    expected: &Expectation,
    filled: &[Vec<bool>],
    full_a: f64,
    moment: usize,
) -> Option<Group> {
    let shaded = expected.shade.on_part(moment);
    let all_shaded = shaded.is_none() && expected.shade.over(moment).is_some();
    let held = expected.regimes[moment] == Regime::Held;
    let ruled = held || expected.regimes[moment] == Regime::Limited || shaded.is_some();
    if !ruled || all_shaded || expected.offers[moment].elevation_deg <= LOWEST_DEG {
        return None;
    }
    let bank_a = expected.signals.bank_a.as_ref();
    let charges = bank_a.is_some_and(|a| a.mean(moment).is_some_and(|a| a > CHARGES * full_a));
    // All charge one bank: where another holds it, one that shows no voltage, or has filled it that day and may
    // float at a voltage nobody told of, is no witness.
    let credible = |k: usize, b: &Branch| {
        let volts = b.regulated_v.as_ref().and_then(|v| v.mean(moment));
        !held || volts.is_some() && (charges || !filled[k][moment])
    };
    let follows = |(k, b): &(usize, &Branch)| {
        b.regimes[moment] == Regime::Following
            && credible(*k, b)
            && shaded != Some(b.controller)
            && !beside_held(&b.regimes, moment, expected.signals.reach())
            && b.gave.coverage(moment) > LEAST_COVER
    };
    let each = expected.branches.iter().enumerate();
    let (some, share) = each
        .filter(follows)
        .fold((0, 0.0), |(some, share), (k, branch)| {
            (some | 1 << k, share + branch.share[moment])
        });
    (f64::from(share) >= LEAST_SHARE).then_some(some)
}

/// What some of the controllers show of the clear sky on an array that is well, share.
fn shown_by(expected: &Expectation, some: Group, moment: usize) -> Option<f64> {
    let (mut gave, mut clear) = (0.0, 0.0);
    for (k, branch) in expected.branches.iter().enumerate() {
        if some & 1 << k != 0 {
            gave += branch.gave.mean(moment)?;
            clear += branch.clear_w(&expected.offers, moment);
        }
    }
    (clear > 0.0).then(|| gave / (clear * expected.clear.healthy))
}

/// What some show over what all show, by half hours in which all followed, single clouds being over one array
/// before the other: from the brighter half of them, for in weak light the zero errors of two meters are a large
/// part of either.
fn learned(expected: &Expectation, seen: &[Option<f64>], some: Group) -> Interval {
    let both = |m: usize| {
        // A controller that was at its limit for a while followed the sun for the rest alone.
        let free = expected.at_limit(m).is_none();
        let all = seen[m].filter(|share| free && *share > 0.0)?;
        Some((
            expected.offers[m].output_w,
            shown_by(expected, some, m)?,
            all,
        ))
    };
    let half_hour = |from: usize| {
        let within = from..(from + HALF_HOUR).min(seen.len());
        let read: Vec<(f64, f64, f64)> = within.filter_map(both).collect();
        let light: f64 = read.iter().map(|(clear_w, _, _)| clear_w).sum();
        let shown: f64 = read.iter().map(|(clear_w, some, _)| clear_w * some).sum();
        let all: f64 = read.iter().map(|(clear_w, _, all)| clear_w * all).sum();
        (2 * read.len() >= HALF_HOUR && all > 0.0).then(|| (light, shown / all))
    };
    let starts = (0..seen.len()).step_by(HALF_HOUR);
    let mut ratios: Vec<(f64, f64)> = starts.filter_map(half_hour).collect();
    ratios.sort_by(|a, b| b.0.total_cmp(&a.0));
    ratios.truncate(ratios.len().div_ceil(2));
    let ratios: Vec<f64> = ratios.into_iter().map(|(_, ratio)| ratio).collect();
    if ratios.len() < LEAST {
        return Interval::new(1.0, 1.0 - UNTOLD, 1.0 + UNTOLD);
    }
    let point = |share: f64| quantile(&ratios, share).unwrap_or(1.0);
    Interval::new(point(0.5), point(0.05), point(0.95))
}
