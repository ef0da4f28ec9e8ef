//! Faults of wiring: a run that resists, a run or a fuse the design chose badly.

use crate::sample::draw::Draw;
use crate::sample::labels::ARRAY_DROP_LIMIT_PCT;
use crate::sample::parts::roomy_barge;
use crate::sample::scenario::Scenario;

fn fortnight(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    s
}

/// Resistance beyond the design's of the size asked for, mohm.
fn excess_mohm(s: &Scenario, draw: &Draw, kind: &str) -> f64 {
    let half = 0.5 * 1000.0 * s.run_ohm("controller-battery");
    let per_12v = draw.fault(kind) * s.nominal_v / 12.0;
    per_12v.max(draw.size * half)
}

/// A poor joint between controller and bank.
pub(super) fn drop_joint(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = fortnight(case, draw);
    s.faults.joint = Some((excess_mohm(&s, draw, "drop-battery-cable"), 0));
    s
}

/// A joint that comes loose in the second week.
pub(super) fn drop_rising(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = fortnight(case, draw);
    s.faults.joint = Some((excess_mohm(&s, draw, "drop-rising"), 7));
    s
}

/// A poor joint that the log cannot show, since the controller's voltage is not in it.
pub(super) fn joint_unseen(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = drop_joint(case, draw);
    s.logging.charge_volts = false;
    s
}

/// An array far away on a thin cable.
pub(super) fn thin_array_cable(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = fortnight(case, draw);
    let aim_pct = ARRAY_DROP_LIMIT_PCT + draw.fault("drop-array-cable");
    let joints = s.cables[0].joints_mohm;
    let now = 1000.0 * s.cables[0].ohm() - joints;
    let wanted = 1000.0 * s.run_ohm("array-controller") * aim_pct / s.array_drop_pct() - joints;
    let length = s.cables[0].length_m * wanted / now;
    s.cables[0].length_m = (length * 10.0).round() / 10.0;
    s
}

/// A cable on the roof whose ampacity, hot and bundled, lies below what the panels give.
pub(super) fn cable_too_small(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = fortnight(case, draw);
    let amps = s.array.short_circuit_a() / (1.0 + draw.fault("cable-undersized"));
    s.cables[0].ampacity_a = Some((amps * 10.0).round() / 10.0);
    s
}

/// A fuse that lets more through than its cable bears.
pub(super) fn fuse_too_large(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = fortnight(case, draw);
    let fuse_a = s.cables[1].fuse_a.unwrap_or(80.0);
    let amps = fuse_a / (1.0 + draw.fault("fuse-unsuitable"));
    s.cables[1].ampacity_a = Some((amps * 10.0).round() / 10.0);
    s
}

/// A string whose open voltage in the record cold is more than the controller bears.
pub(super) fn cold_voltage(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = fortnight(case, draw);
    let limit = s.cold_voc_v() / (1.0 + draw.fault("cold-voltage-over-limit"));
    s.controller.max_input_v = (limit * 10.0).round() / 10.0;
    s
}

/// A converting controller whose input bears less than the panels' short-circuit current.
pub(super) fn input_too_small(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = fortnight(case, draw);
    let amps = s.array.short_circuit_a() / (1.0 + draw.fault("controller-undersized"));
    s.controller.max_input_a = Some((amps * 10.0).round() / 10.0);
    s
}

/// A switching controller rated below what its panels may bring.
pub(super) fn switch_too_small(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = super::healthy_banks::healthy_pwm(case, draw);
    let amps = 1.25 * s.array.short_circuit_a() / (1.0 + draw.fault("controller-undersized"));
    s.controller.max_output_a = (amps * 10.0).round() / 10.0;
    s
}
