//! Faults of the array: strings, dirt, shadow, a breaker.

use crate::sample::draw::Draw;
use crate::sample::parts::{busy, panel, roomy_barge};
use crate::sample::scenario::{Scenario, Shade};

/// A fortnight of use the sound array could just carry: what a fault takes is missed.
fn used_to_the_brim(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    busy(&mut s, 150.0, 6.0);
    s
}

/// Strings of a parallel array drop out on the seventh day: the whole number of at most eight that
/// comes nearest to the share asked for.
pub(super) fn string_out(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = used_to_the_brim(case, draw);
    let share = draw.fault("array-part-out").min(0.75);
    let (out, strings) = (2..=8_u32)
        .flat_map(|of| (1..of).map(move |out| (out, of)))
        .min_by(|a, b| {
            let off = |x: &(u32, u32)| (f64::from(x.0) / f64::from(x.1) - share).abs();
            off(a).total_cmp(&off(b))
        })
        .unwrap_or((1, 2));
    s.array.panel = panel((620.0 / f64::from(strings)).round(), 32.6);
    s.array.strings = strings;
    s.faults.strings_out = Some((f64::from(out) / f64::from(strings), 6, u32::MAX));
    s
}

/// A mast south-east of the array.
pub(super) fn shade_mast(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = used_to_the_brim(case, draw);
    let from = draw.dice.range(110.0, 130.0);
    s.faults.shade = Some(Shade {
        azimuth_from: from,
        azimuth_to: from + draw.dice.range(28.0, 42.0),
        below_deg: 60.0,
        sections: draw.fault("shade-repeating").min(1.0),
    });
    s
}

/// Far less than the label, the whole trip long.
pub(super) fn dirty_array(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = used_to_the_brim(case, draw);
    let left = (1.0 - draw.fault("array-weak")).max(0.3);
    s.faults.dirt = Some(left * s.array.allowance / s.array.true_scale);
    s
}

/// Sunny days without anything from the array: as many as the size says.
pub(super) fn array_dark(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    let days = draw.size.round().clamp(1.0, 6.0) as u32;
    s.faults.strings_out = Some((1.0, 6, 6 + days));
    s
}

/// A breaker that someone opened for hours of one clear day.
pub(super) fn breaker_off(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = used_to_the_brim(case, draw);
    let half = 0.5 * draw.fault("array-dark").min(9.0);
    let middle = draw.dice.range(12.5, 14.0);
    s.faults.breaker_off = Some((5, middle - half, middle + half));
    s
}
