//! What stands between two places of a journey: panels lean towards the noon sun or away from it by as much
//! as nobody notices, and each place has its own air. A day at a place that was never seen well is compared
//! with days elsewhere, and is that much less sure.

use crate::design::Design;
use crate::expect::clear::{Clear, DayScale, WELL};
use crate::expect::grid::Grid;
use crate::expect::offer::Offer;
use crate::expect::{Air, stop_of_day};
use crate::physics::{plane, sun};

/// Lean that nobody notices, degrees (trade reference, decision 3).
pub const LEAN_DEG: f64 = 3.0;

/// Widens the bands of days at places of which no day was well.
pub fn widen(clear: &mut Clear, design: &Design, grid: &Grid, offers: &[Offer], air: Air) {
    if design.place.legs.is_empty() {
        return;
    }
    let healthy = clear.healthy;
    let is_well = |scale: &DayScale| scale.ratio * (1.0 + scale.band) >= WELL * healthy;
    let mut well: Vec<usize> = clear
        .days
        .iter()
        .enumerate()
        .filter(|(_, scale)| scale.as_ref().is_some_and(is_well))
        .map(|(day, _)| stop_of_day(design, grid, day))
        .collect();
    well.dedup();
    for (day, scale) in clear.days.iter_mut().enumerate() {
        if let Some(scale) = scale.as_mut()
            && !well.contains(&stop_of_day(design, grid, day))
        {
            scale.band = scale
                .band
                .hypot(by_lean(design, grid, offers, day))
                .hypot(air.below.hypot(air.above));
        }
    }
}

/// What a lean at either place does to the light about noon, share.
fn by_lean(design: &Design, grid: &Grid, offers: &[Offer], day: usize) -> f64 {
    let highest = grid.day(day).max_by(|a, b| {
        let height = |m: &usize| offers[*m].elevation_deg;
        height(a).total_cmp(&height(b))
    });
    let Some((noon, array)) = highest.zip(design.arrays.first()) else {
        return 0.0;
    };
    let at = grid.middle_of(noon);
    let spot = design.place.at(at as i64);
    let sun = sun::position(at, spot.latitude_deg, spot.longitude_deg);
    let tilt = spot.tilt_deg.unwrap_or(array.tilt_deg);
    let facing = spot.facing_deg.unwrap_or(array.facing_deg);
    let cosine = plane::cos_incidence(&sun, tilt, facing).clamp(0.1, 1.0);
    let slant = (1.0 - cosine * cosine).sqrt() / cosine;
    std::f64::consts::SQRT_2 * LEAN_DEG.to_radians() * slant
}
