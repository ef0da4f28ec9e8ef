//! The absorption voltage a bank should be held at: as the design states it, else as usual for its
//! chemistry, at the bank's temperature; and the highest it bears.

use chrono::Datelike;

use crate::account::charging_temperature::{COLDER_C, HOTTER_C};
use crate::design::{Chemistry, Design, defaults};
use crate::expect::Expectation;
use crate::physics::bank;

/// Temperatures beyond these are compensated no further, C.
const COMPENSATED_C: (f64, f64) = (-20.0, 50.0);
/// A level this close to the float voltage may be it, V per 12 V: as near as a bank must come to count as
/// held (trade reference 6.1).
const NEAR_FLOAT_V: f64 = 0.15;
/// Compensation a bank's limit is taken at, V per degree and 12 V: the middle for lead (trade reference 6.1).
const LIMIT_V_PER_C: f64 = -0.024;

/// The lowest and the highest voltage that would be right, V.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Right {
    /// Lowest.
    pub low_v: f64,
    /// Highest.
    pub high_v: f64,
    /// Whether the design states it, rather than the chemistry's usual range.
    pub stated: bool,
    /// Least and most that temperature compensation adds.
    pub shift_v: (f64, f64),
}

/// Whether the design states a key rather than leaving it to a default.
fn states(design: &Design, key: &str) -> bool {
    !design.assumed.iter().any(|a| a.key == key)
}

/// What is usual for the chemistry at 25 C, V for the whole bank.
pub fn usual(design: &Design) -> (f64, f64) {
    let (low, high) = bank::absorption_cell_v(design.battery.chemistry);
    let cells = design.cells();
    (low * cells, high * cells)
}

/// The design's absorption voltages at 25 C, lowest and highest of its controllers, V; `None` where it
/// states none.
fn stated(design: &Design) -> Option<(f64, f64)> {
    let volts = || design.controllers.iter().map(|c| c.absorption_v);
    states(design, "controller.absorption").then(|| {
        (
            volts().fold(f64::INFINITY, f64::min),
            volts().fold(f64::NEG_INFINITY, f64::max),
        )
    })
}

/// The right absorption voltage on a day (index) with the bank at a temperature, where that was logged.
/// Where it was not, every temperature that the month allows is allowed for; where the design does not
/// state the compensation, none at all is allowed for too.
pub fn right(design: &Design, expected: &Expectation, day: usize, bank_c: Option<f64>) -> Right {
    let stated = stated(design);
    let (low, high) = stated.unwrap_or_else(|| usual(design));
    let v_per_c = design.controllers[0].compensation_v_per_c;
    let (cold, hot) = temperatures(design, expected, day, bank_c);
    let mut shifts = vec![shift(v_per_c, cold), shift(v_per_c, hot)];
    if !states(design, "controller.compensation") {
        shifts.push(0.0);
    }
    let down_v = shifts.iter().copied().fold(f64::INFINITY, f64::min);
    let up_v = shifts.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Right {
        low_v: low + down_v,
        high_v: high + up_v,
        stated: stated.is_some(),
        shift_v: (down_v, up_v),
    }
}

/// The highest voltage the bank bears day after day, V: a lithium cell's own limit; for lead the upper end
/// of what is usual (or what the design states, where that is more: the maker knows) at the bank's
/// temperature, or at the coldest the month allows where that was not logged.
pub fn bearable_v(design: &Design, expected: &Expectation, day: usize, bank_c: Option<f64>) -> f64 {
    let chemistry = design.battery.chemistry;
    let most = daily_v(design);
    if !chemistry.is_lead() {
        return most;
    }
    let (cold, _) = temperatures(design, expected, day, bank_c);
    let stated = stated(design).map_or(0.0, |range| range.1);
    most.max(stated) + shift(LIMIT_V_PER_C * design.nominal_v() / 12.0, cold)
}

/// The highest voltage the bank bears day after day at 25 C, V.
pub fn daily_v(design: &Design) -> f64 {
    design.cells() * daily_cell_v(design.battery.chemistry)
}

/// The highest voltage a cell bears day after day, V: flooded lead bears more while it is equalised.
fn daily_cell_v(chemistry: Chemistry) -> f64 {
    match chemistry {
        // Trade reference 6.1: to 15.0 V for six cells.
        Chemistry::Flooded => 15.0 / 6.0,
        other => bank::max_cell_v(other),
    }
}

fn shift(v_per_c: f64, c: f64) -> f64 {
    v_per_c * (c.clamp(COMPENSATED_C.0, COMPENSATED_C.1) - 25.0)
}

/// The coldest and the hottest the bank may have been, C.
fn temperatures(
    design: &Design,
    expected: &Expectation,
    day: usize,
    bank_c: Option<f64>,
) -> (f64, f64) {
    if let Some(c) = bank_c {
        return (c, c);
    }
    let month = expected.grid.dates.get(day).map_or(0, Datelike::month0) as usize;
    let air = design.plan.air_c.get(month).copied().unwrap_or(25.0);
    (air - COLDER_C, air + HOTTER_C)
}

/// Whether a level may be the float voltage rather than absorption: within 0.15 V per 12 V of it, at the
/// temperatures that `right` allows for. Without a logged stage nobody can tell the two apart.
pub fn is_float(design: &Design, right: &Right, level_v: f64) -> bool {
    let near = NEAR_FLOAT_V * design.nominal_v() / 12.0;
    let chemistry = design.battery.chemistry;
    let usual = defaults::charge_settings(chemistry, design.nominal_v(), design.cells() as u32);
    design
        .controllers
        .iter()
        .filter_map(|c| c.float_v)
        .chain(usual.float_v)
        .any(|float| {
            level_v >= float + right.shift_v.0 - near && level_v <= float + right.shift_v.1 + near
        })
}
