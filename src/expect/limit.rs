//! The current a controller stops at, whether the design says so or the log shows it.

use crate::design::Design;
use crate::expect::grid::{Folded, Grid};
use crate::expect::offer::Offer;

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
