//! How much of a level a lean of the array can feign: a vehicle or a boat hardly ever stands level.

use crate::design::{Design, Spot};
use crate::expect::Expectation;
use crate::expect::between_stops::LEAN_DEG;
use crate::expect::offer::{clear_offer, typical_bank_v};

/// Most moments the effect is reckoned on.
const MOST: usize = 12;

/// Largest change of the clear-sky output by an unnoticed lean toward or away from the sun's side of
/// the sky, share, over the given moments.
pub fn band(design: &Design, expected: &Expectation, moments: &[usize]) -> f64 {
    let step = moments.len().div_ceil(MOST).max(1);
    let sum = |lean_deg: f64| -> f64 {
        moments
            .iter()
            .step_by(step)
            .map(|m| {
                let at = expected.grid.middle_of(*m);
                let (leaned, spot) = lean(design, design.place.at(at as i64), lean_deg);
                clear_offer(&leaned, &spot, at, 15.0, typical_bank_v(design)).output_w
            })
            .sum()
    };
    let level = sum(0.0);
    if level <= 0.0 {
        return 0.0;
    }
    [LEAN_DEG, -LEAN_DEG]
        .map(|lean_deg| (sum(lean_deg) / level - 1.0).abs())
        .into_iter()
        .fold(0.0, f64::max)
}

/// The design and the place with every array leaned toward its own side, a flat one toward the equator.
fn lean(design: &Design, spot: &Spot, lean_deg: f64) -> (Design, Spot) {
    let equator = if spot.latitude_deg >= 0.0 { 180.0 } else { 0.0 };
    let turn = |tilt: f64, facing: f64| {
        let facing = if tilt.abs() < 1.0 { equator } else { facing };
        let tilt = tilt + lean_deg;
        if tilt < 0.0 {
            (-tilt, (facing + 180.0) % 360.0)
        } else {
            (tilt, facing)
        }
    };
    let mut design = design.clone();
    for array in &mut design.arrays {
        (array.tilt_deg, array.facing_deg) = turn(array.tilt_deg, array.facing_deg);
    }
    let mut spot = spot.clone();
    if let (Some(tilt), Some(array)) = (spot.tilt_deg, design.arrays.first()) {
        let (tilt, facing) = turn(tilt, spot.facing_deg.unwrap_or(array.facing_deg));
        (spot.tilt_deg, spot.facing_deg) = (Some(tilt), Some(facing));
    }
    (design, spot)
}
