//! Faults of charging: limits and settings of controllers, and meters that call full what is not.

use super::healthy_banks::healthy_pwm;
use crate::sample::draw::Draw;
use crate::sample::fit;
use crate::sample::parts::{busy, day, lithium, panel, roomy_barge};
use crate::sample::scenario::{Engine, Scenario};
use crate::sample::wrong::FalseFull;

/// A sunny system with an AGM bank.
pub(super) fn lead_yard(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = healthy_pwm(case, draw);
    s.system = "Beekeeper's wagon";
    s.story = "A beekeeper's wagon: two panels in series, an AGM bank.";
    s.days = 14;
    s.array.panel = panel(180.0, 20.1);
    (s.array.series, s.array.strings) = (2, 1);
    s.controller.pwm = false;
    s.controller.max_input_v = 100.0;
    s.controller.max_output_a = 40.0;
    s.controller.efficiency = 0.96;
    s.bank.start_soc = 0.8;
    s.loads[0].power_w = 48.0;
    s
}

/// The same with more panels, and so much use by night that the sun is high when the bank comes to its
/// voltage.
pub(super) fn deep_yard(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = lead_yard(case, draw);
    s.array.strings = 2;
    s.controller.max_output_a = 60.0;
    fit::scale_loads(&mut s, 2.4);
    s
}

/// A controller that stops below what a clear noon brings, while the use takes all there is.
pub(super) fn controller_limit(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    s.first_day = day(2026, 6, 8);
    s.weather = "ccfccbcc".into();
    (s.air_c, s.plan_air_c) = ((19.0, 5.0), 19.0);
    s.sun_hours = 5.2;
    s.bank = lithium(460.0, 0.6);
    busy(&mut s, 150.0, 6.0);
    fit::scale_to_offer(&mut s);
    let share = draw.fault("controller-limiting").min(0.8);
    let limit = fit::clear_noon_a(&s) * (1.0 - share);
    s.faults.limit_a = Some((limit * 10.0).round() / 10.0);
    s
}

/// Absorption that ends at too high a current: the array is large enough to reach it.
pub(super) fn short_absorption(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = deep_yard(case, draw);
    s.bank.start_soc = 0.6;
    let full_a = s.bank.full_current * s.bank.rated_ah;
    let aim_a = full_a * draw.fault("absorption-short");
    s.faults.absorption_ends_a = Some(fit::bisect(
        &s,
        (0.5 * aim_a, 3.0 * aim_a),
        aim_a,
        |s, amps| s.faults.absorption_ends_a = Some(amps),
        |o| o.extremes.ending_a().unwrap_or(0.0),
    ));
    s
}

/// An absorption voltage below the usual range (AGM: 14.2 V) and below the design's.
pub(super) fn set_low(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = lead_yard(case, draw);
    s.faults.set_v = Some(hundredth(14.2 - draw.fault("charge-voltage-low")));
    s
}

/// An absorption voltage above the usual range (AGM: 14.7 V) and above the design's.
pub(super) fn set_high(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = lead_yard(case, draw);
    s.faults.set_v = Some(hundredth(14.7 + draw.fault("charge-voltage-high")));
    s
}

/// A meter that calls the bank full while points are missing.
pub(super) fn false_full(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    s.weather = "bobcobcofbco".into();
    busy(&mut s, 120.0, 5.0);
    s.faults.false_full = Some(FalseFull {
        volts: 13.0,
        current_share: 0.06,
        minutes: 3.0,
        from_points: draw.fault("soc-unreliable"),
    });
    s
}

/// A converting controller that reads too little, and so holds more than it shows.
pub(super) fn meter_offset(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    s.controller.absorption_v = 14.0;
    s.faults.controller_reads_low_v = Some(hundredth(draw.fault("meter-offset")));
    s
}

/// An engine's charger too strong for an AGM bank.
pub(super) fn strong_engine(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = lead_yard(case, draw);
    s.weather = "fobcof".into();
    s.bank.start_soc = 0.6;
    s.engine = [1, 3, 6, 9]
        .map(|day| Engine {
            day,
            start_h: 7.0,
            hours: 1.5,
            current_a: 55.0,
        })
        .to_vec();
    limit_below_highest(&mut s, draw);
    s
}

/// An array too large for a small lithium bank.
pub(super) fn large_array(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    s.bank = lithium(120.0, 0.6);
    busy(&mut s, 120.0, 5.0);
    limit_below_highest(&mut s, draw);
    s
}

/// The bank's label allows less than the highest current of the trip, by the size asked for.
fn limit_below_highest(s: &mut Scenario, draw: &Draw) {
    let highest = crate::sample::run::run(s).extremes.bank_a;
    let limit = highest / (1.0 + draw.fault("charge-current-high"));
    s.bank.max_charge_a = (limit * 10.0).round() / 10.0;
}

fn hundredth(x: f64) -> f64 {
    (x * 100.0).round() / 100.0
}
