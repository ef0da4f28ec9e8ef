//! Sound systems seen through different logs.

use crate::sample::draw::Draw;
use crate::sample::parts::{busy, roomy_barge};
use crate::sample::scenario::Scenario;

/// A row every quarter of an hour, from a busy crew.
pub(super) fn quarter_hours(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    busy(&mut s, 120.0, 5.0);
    (s.logging.bank_step_s, s.logging.controller_step_s) = (900, 900);
    s.logging.clock_s = (0, 0);
    s
}

/// Rows every ten seconds.
pub(super) fn ten_seconds(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 6;
    (s.logging.bank_step_s, s.logging.controller_step_s) = (10, 10);
    s.logging.clock_s = (0, 1);
    s
}

/// The bank monitor's log alone.
pub(super) fn bank_log(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    s.logging.controller = false;
    s
}

/// The controller's log alone.
pub(super) fn controller_log(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    s.logging.bank = false;
    s
}

/// A controller that does not log its output voltage.
pub(super) fn one_voltage(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    s.logging.charge_volts = false;
    s
}

/// Stamps in UTC, on an island far west of it.
pub(super) fn utc(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.system = "Weather post Wolkenstein";
    s.story = "A weather post in the Azores whose loggers keep UTC.";
    s.days = 14;
    s.air_c = (20.0, 2.5);
    s.plan_air_c = 20.0;
    s.sun_hours = 4.6;
    s.record_low_c = 2.0;
    s.stops = vec![crate::sample::parts::stop(
        0,
        38.6,
        -28.1,
        40.0,
        chrono_tz::Atlantic::Azores,
        "",
    )];
    s.logging.utc = true;
    s
}
