//! Changes that would break something are not weighed, and what else speaks against one is said.
//!
//! Arithmetic only: local code, the data sheets and a qualified person decide.

use crate::design::{Array, Design, Method, Run};
use crate::physics::panel::string_voltage_v;
use crate::physics::protection::{BRIGHT_SKY_MARGIN, CONTINUOUS_MARGIN, least_fuse_a};

/// Above this a string counts as a shock hazard, V (trade reference 8.1).
const TOUCH_V: f64 = 60.0;
/// Strings side by side from which each needs its own fuse (trade reference 8.3).
const FUSED_STRINGS: u32 = 3;
/// Colder than any place a system stands in, C.
const COLDEST_C: f64 = -60.0;
/// Cells on a hot day, C (trade reference 8.2).
const HOT_CELLS_C: f64 = 70.0;

/// What speaks against a changed design that does not against the one there is.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Objections {
    /// Reasons not to do it at all.
    pub(super) refused: Vec<String>,
    /// What to look at before doing it.
    pub(super) remarks: Vec<String>,
}

/// Looks for what a change breaks. What the design breaks already is not held against the change.
pub(super) fn objections(was: &Design, now: &Design) -> Objections {
    let mut found = Objections::default();
    for array in &now.arrays {
        let before = was.arrays.iter().find(|a| a.name == array.name);
        if before == Some(array) && was.controllers == now.controllers && was.plan == now.plan {
            continue;
        }
        string_voltage(now, array, &mut found);
        array_current(now, array, &mut found);
        heat(now, array, &mut found);
    }
    let more = |f: fn(&Design) -> f64| f(now) > f(was) * 1.001;
    if more(charging_a) || now.cables != was.cables || now.battery != was.battery {
        charging(was, now, &mut found);
    }
    if more(|d| d.battery.capacity_ah) {
        found.remarks.push(
            "a second battery must match the first in kind, age and wiring, with a fuse of its own"
                .to_owned(),
        );
    }
    if now.battery.chemistry != was.battery.chemistry {
        found.remarks.push(
            "another chemistry needs its own charging voltages everywhere, the alternator included"
                .to_owned(),
        );
    }
    found
}

fn string_voltage(design: &Design, array: &Array, found: &mut Objections) {
    let controller = &design.controllers[array.controller];
    let Some(voc) = array.panel.voc_v else {
        found
            .remarks
            .push("the string's cold voltage cannot be checked: the design has no voc".to_owned());
        return;
    };
    let at = |cell_c| {
        string_voltage_v(
            voc,
            array.panels_in_series,
            array.panel.voc_per_degree,
            cell_c,
        )
    };
    let coldest = design.plan.record_low_c.unwrap_or(25.0);
    let volts = at(coldest);
    if let Some(limit) = controller.max_input_v {
        if volts > limit {
            found.refused.push(format!(
                "{} panels in series reach {volts:.0} V on a morning of {coldest:.0} C, and the controller bears {limit:.0} V",
                array.panels_in_series
            ));
        } else if design.plan.record_low_c.is_none() && at(COLDEST_C) > limit {
            found.remarks.push(format!(
                "no record_low is stated: at 25 C the string has {volts:.0} V of the {limit:.0} V the controller bears, and more in the cold"
            ));
        } else if design.plan.record_low_c.is_some() && volts > 0.95 * limit {
            found.remarks.push(format!(
                "on a morning of {coldest:.0} C the string comes within 5 % of the controller's {limit:.0} V"
            ));
        }
    }
    if volts > TOUCH_V {
        found
            .remarks
            .push(format!("{volts:.0} V is a shock hazard"));
    }
}

fn array_current(design: &Design, array: &Array, found: &mut Objections) {
    let controller = &design.controllers[array.controller];
    let Some(isc) = array.panel.isc_a else { return };
    let bright = BRIGHT_SKY_MARGIN * isc * f64::from(array.strings_in_parallel);
    if let Some(limit) = controller.max_input_a
        && bright > limit
    {
        found.refused.push(format!(
            "{} strings can bring {bright:.0} A, and the controller's input bears {limit:.0} A",
            array.strings_in_parallel
        ));
    }
    if controller.method == Method::Pwm
        && let Some(limit) = controller.max_output_a
        && bright > limit
    {
        found.refused.push(format!(
            "{} strings can bring {bright:.0} A, and a controller that only switches bears {limit:.0} A",
            array.strings_in_parallel
        ));
    }
    panels_cable(design, array, bright, found);
    if array.strings_in_parallel >= FUSED_STRINGS {
        found.remarks.push(format!(
            "{} strings side by side need a fuse each",
            array.strings_in_parallel
        ));
    }
}

/// The panels' cable and its fuse under a bright sky's current, A. Codes that count it as lasting for hours
/// ask for a quarter more: that is said and not refused.
fn panels_cable(design: &Design, array: &Array, bright_a: f64, found: &mut Objections) {
    let Some(cable) = design.cable(Run::ArrayController, array.controller) else {
        return;
    };
    for (what, limit) in [("cable", cable.ampacity_a), ("fuse", cable.fuse_a)] {
        let Some(limit) = limit else { continue };
        let lasting_a = CONTINUOUS_MARGIN * bright_a;
        if bright_a > limit {
            found.refused.push(format!(
                "the panels' {what} is good for {limit:.0} A and would carry up to {bright_a:.0} A"
            ));
        } else if lasting_a > limit {
            found.remarks.push(format!(
                "the panels' {what} is good for {limit:.0} A, and codes may ask for {lasting_a:.0} A"
            ));
        }
    }
}

fn heat(design: &Design, array: &Array, found: &mut Objections) {
    let controller = &design.controllers[array.controller];
    let Some(vmp) = array
        .panel
        .vmp_v
        .filter(|_| controller.method == Method::Mppt)
    else {
        return;
    };
    let factor = 1.0 + 1.2 * array.panel.voc_per_degree * (HOT_CELLS_C - 25.0);
    let hot = vmp * f64::from(array.panels_in_series) * factor;
    let needed = controller.absorption_v + 1.0;
    if hot < needed {
        found.refused.push(format!(
            "on a hot day a string of {} works at {hot:.0} V, too little to charge to {:.1} V",
            array.panels_in_series, controller.absorption_v
        ));
    }
}

/// Highest charging current of the sun's side, A.
fn charging_a(design: &Design) -> f64 {
    let volts = design.nominal_v();
    let limit: f64 = design
        .controllers
        .iter()
        .map(|c| c.max_output_a.unwrap_or(f64::INFINITY))
        .sum();
    (design.array_w() / volts).min(limit)
}

fn charging(was: &Design, now: &Design, found: &mut Objections) {
    let amps = charging_a(now);
    if let Some(limit) = now.battery.max_charge_a
        && amps > limit
        && charging_a(was) <= was.battery.max_charge_a.unwrap_or(f64::INFINITY)
    {
        found.refused.push(format!(
            "the controller could charge with {amps:.0} A, and the bank bears {limit:.0} A"
        ));
    }
    let Some(cable) = now.cable(Run::ControllerBattery, 0) else {
        return;
    };
    let before = was.cable(Run::ControllerBattery, 0);
    let broken_before = |limit: fn(&crate::design::Cable) -> Option<f64>, amps: f64| {
        before.and_then(limit).is_some_and(|l| l < amps)
    };
    let needed = least_fuse_a(amps);
    if let Some(fuse) = cable.fuse_a
        && needed > fuse * 1.001
        && !broken_before(|c| c.fuse_a, least_fuse_a(charging_a(was)))
    {
        found.refused.push(format!(
            "the fuse between controller and bank ({fuse:.0} A) is too small for {amps:.0} A that flow for hours ({needed:.0} A)"
        ));
    }
    if let Some(ampacity) = cable.ampacity_a
        && amps > ampacity
        && !broken_before(|c| c.ampacity_a, charging_a(was))
    {
        found.refused.push(format!(
            "the cable between controller and bank is good for {ampacity:.0} A and would carry {amps:.0} A"
        ));
    }
}
