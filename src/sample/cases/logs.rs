//! Faults of meters and loggers: the plant is sound, the log is not.

use crate::sample::draw::Draw;
use crate::sample::fit;
use crate::sample::parts::{busy, lithium, roomy_barge};
use crate::sample::scenario::Scenario;

/// A fortnight of use that the array carries.
fn carried(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    busy(&mut s, 120.0, 5.0);
    s
}

/// A logger that slept through the middle of days, for the share of daylight asked for.
pub(super) fn log_gaps(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = carried(case, draw);
    let outcome = crate::sample::run::run(&s);
    let daylight_h = fit::mean(&outcome, |d| d.daylight_h()) * f64::from(s.days);
    let mut left_h = daylight_h * draw.fault("log-gaps").min(0.6);
    let mut day = 2;
    while left_h > 0.0 && day < s.days {
        let from = draw.dice.range(7.5, 9.0);
        let hours = left_h.min(draw.dice.range(7.0, 9.0));
        s.logging.gaps.push((day, from, from + hours));
        left_h -= hours;
        day += 2;
    }
    s
}

/// Both loggers' clocks run ahead. The bank wants all there is, so that whole days follow the sun.
pub(super) fn clock_off(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = carried(case, draw);
    s.bank = lithium(460.0, 0.6);
    fit::scale_to_offer(&mut s);
    let ahead_s = (60.0 * draw.fault("clock-off")).round() as i64;
    s.logging.clock_s = (ahead_s, ahead_s);
    s
}

/// Both loggers' clocks run behind.
pub(super) fn clock_behind(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = clock_off(case, draw);
    s.logging.clock_s = (-s.logging.clock_s.0, -s.logging.clock_s.1);
    s
}

/// The bank monitor's clock alone runs ahead or behind.
pub(super) fn clock_apart(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = clock_off(case, draw);
    let sign = if draw.sign() < 0.0 { -1 } else { 1 };
    s.logging.clock_s = (sign * s.logging.clock_s.0, 17);
    s
}

/// A bank monitor that logs discharge as positive.
pub(super) fn shunt_reversed(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = carried(case, draw);
    s.faults.shunt_reversed = true;
    s
}

/// A shunt that reads beside the truth, up or down.
pub(super) fn current_offset(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = carried(case, draw);
    let amps = draw.sign() * draw.fault("current-offset");
    s.faults.shunt_offset_a = Some((amps * 100.0).round() / 100.0);
    s
}

/// A shunt that reads a share too much or too little, beside a controller that logs its output and
/// the loads.
pub(super) fn logs_disagree(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = carried(case, draw);
    s.logging.loads = true;
    s.faults.shunt_gain = Some(draw.sign() * draw.fault("logs-disagree"));
    s
}
