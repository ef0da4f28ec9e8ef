//! The current a controller stops at, whether the design says so or the log shows it.

use crate::design::Design;
use crate::expect::grid::{Folded, Grid};
use crate::expect::offer::Offer;
use crate::expect::regime::{LIMIT_SHARE, Regime};
use crate::expect::{Branch, Expectation};

/// Moments at one level within this are a flat top, share (trade reference 3.4: 2 %).
const FLAT: f64 = 0.02;
/// A flat top must fill this many moments in all: an hour and a half.
const LEAST_MOMENTS: usize = 18;
/// On at least this many days.
const LEAST_DAYS: usize = 3;
/// What the clear sky offered must differ by this much between the moments of a flat top, share: the
/// noons of clear days are as flat as a limit, and as high day after day.
const UNLIKE_NOON: f64 = 0.10;

/// The limit of all controllers together, A: the level the charging current stood at, at the very
/// top and on several days, else the design's; infinity where there is neither. A sun that happens to
/// be even does not stop at one and the same current day after day.
pub fn limit_a(design: &Design, grid: &Grid, charge_a: Option<&Folded>, offers: &[Offer]) -> f64 {
    let rated: f64 = design
        .controllers
        .iter()
        .map(|c| c.max_output_a.unwrap_or(f64::INFINITY))
        .sum();
    match charge_a.and_then(|amps| flat_top(grid, amps, offers, design)) {
        Some(seen) => seen.min(rated),
        None => rated,
    }
}

/// The controllers that were at their limit in some part of a moment, together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AtLimit {
    /// What they give there, W.
    pub limit_w: f64,
    /// What a clear sky offers to their arrays as designed, W.
    pub clear_w: f64,
    /// The share of a clear sky, on an array that is well, from which on they give no more.
    pub least_sky: f64,
}

/// A controller, or all of them where they were not logged apart, in a moment.
struct Side<'a> {
    regime: Regime,
    limit_a: f64,
    charge_a: Option<&'a Folded>,
    regulated_v: Option<&'a Folded>,
    share: f64,
}

impl<'a> Side<'a> {
    fn of(branch: &'a Branch, moment: usize) -> Self {
        Self {
            regime: branch.regimes[moment],
            limit_a: branch.limit_a,
            charge_a: branch.charge_a.as_ref(),
            regulated_v: branch.regulated_v.as_ref(),
            share: f64::from(branch.share[moment]),
        }
    }
}

impl Expectation {
    fn sides(&self, moment: usize) -> Vec<Side<'_>> {
        if self.branches.is_empty() {
            return vec![Side {
                regime: self.regimes[moment],
                limit_a: self.limit_a,
                charge_a: self.signals.charge_a.as_ref(),
                regulated_v: self.signals.regulated_v(),
                share: 1.0,
            }];
        }
        let branches = self.branches.iter();
        branches.map(|branch| Side::of(branch, moment)).collect()
    }

    /// What one side gives at its limit in a moment, beside what a clear sky offers it; `None` where no
    /// limit is known.
    fn limit_of(&self, side: &Side<'_>, moment: usize) -> Option<AtLimit> {
        let limit_w = side.limit_a * side.regulated_v?.mean(moment)?;
        let clear_w = side.share * self.offers[moment].output_w;
        limit_w.is_finite().then(|| AtLimit {
            limit_w,
            clear_w,
            least_sky: limit_w / (clear_w * self.clear.healthy).max(1e-9),
        })
    }

    /// The controllers that reached their limit in a moment; `None` where none did.
    pub fn at_limit(&self, moment: usize) -> Option<AtLimit> {
        let reached = |side: &Side<'_>| {
            let amps = side.charge_a?;
            let touched = amps.high(moment) >= LIMIT_SHARE * side.limit_a;
            touched.then(|| self.limit_of(side, moment)).flatten()
        };
        let sides = self.sides(moment);
        sides.iter().filter_map(reached).reduce(|sum, one| AtLimit {
            limit_w: sum.limit_w + one.limit_w,
            clear_w: sum.clear_w + one.clear_w,
            least_sky: sum.least_sky.max(one.least_sky),
        })
    }

    /// What each controller that held its voltage in a moment would have given at most, as far as it is known: the
    /// rest of its arrays' offer is its limit's, full bank or not.
    pub fn most_while_held(&self, moment: usize) -> Vec<AtLimit> {
        let sides = self.sides(moment);
        let ruled = |side: &&Side<'_>| matches!(side.regime, Regime::Held | Regime::Limited);
        let known = sides.iter().filter(ruled);
        known
            .filter_map(|side| self.limit_of(side, moment))
            .collect()
    }

    /// The share of a clear sky at which the first of the controllers stands at its limit; `None` where no
    /// limit is known.
    pub fn limiting_sky(&self, moment: usize) -> Option<f64> {
        let sides = self.sides(moment);
        let least = sides
            .iter()
            .filter_map(|side| self.limit_of(side, moment))
            .map(|limit| limit.least_sky);
        least.min_by(f64::total_cmp)
    }
}

fn flat_top(grid: &Grid, amps: &Folded, offers: &[Offer], design: &Design) -> Option<f64> {
    // Flat by itself: within a moment the readings hardly move, and the next moment is the same.
    let flat: Vec<(usize, f64)> = (0..grid.moments.saturating_sub(1))
        .filter_map(|m| {
            let (now, next) = (amps.mean(m)?, amps.mean(m + 1)?);
            let still = amps.high(m) - amps.low(m) <= FLAT * now || !amps.high(m).is_finite();
            let bright = offers[m].output_w > 0.2 * design.array_w();
            (bright && still && (next - now).abs() <= 0.01 * now && now > 1.0).then_some((m, now))
        })
        .collect();
    let top = flat.iter().map(|f| f.1).fold(0.0, f64::max);
    let at_top: Vec<usize> = flat
        .iter()
        .filter(|f| f.1 >= (1.0 - FLAT) * top)
        .map(|f| f.0)
        .collect();
    let highest = (0..grid.moments)
        .filter_map(|m| amps.mean(m))
        .fold(0.0, f64::max);
    let lowest = (0..grid.moments)
        .filter_map(|m| amps.mean(m))
        .fold(f64::INFINITY, f64::min);
    let mut days: Vec<usize> = at_top.iter().map(|m| grid.day_of(*m)).collect();
    days.dedup();
    let offered = |pick: fn(f64, f64) -> f64, from: f64| {
        at_top.iter().map(|m| offers[*m].output_w).fold(from, pick)
    };
    let spread = offered(f64::max, 0.0) / offered(f64::min, f64::INFINITY);
    let found = at_top.len() >= LEAST_MOMENTS
        && spread >= 1.0 + UNLIKE_NOON
        && days.len() >= LEAST_DAYS
        // A current that never falls, night or day, is a stuck reading.
        && lowest < 0.5 * top
        // A current that was passed elsewhere is no limit.
        && highest <= (1.0 + FLAT) * top;
    found.then_some(top)
}
