//! Faults of use: more than was budgeted, something always on, more than the sun brings.

use crate::sample::draw::Draw;
use crate::sample::fit;
use crate::sample::parts::{busy, day, lithium, roomy_barge, stop};
use crate::sample::run::run;
use crate::sample::scenario::{BankSpec, Scenario};

/// More used than was budgeted, by everything alike.
pub(super) fn load_heavy(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    let aim = s.budget_wh() * (1.0 + draw.fault("load-over-budget"));
    let mut factor = 1.0;
    for _ in 0..2 {
        s.faults.heavy_use = Some(factor);
        factor *= aim / fit::mean(&run(&s), |d| d.load).max(1.0);
    }
    s.faults.heavy_use = Some(factor);
    s
}

/// Something always on that no budget knows of.
pub(super) fn standby(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    // Through the night a lithium bank stands at 13.2 V per 12 V.
    let volts = 1.1 * s.nominal_v;
    s.faults.standby_w = Some(draw.fault("standby-high") * s.nominal_v / 12.0 * volts);
    s
}

/// A grey November that gives less than was planned for and less than is used.
pub(super) fn sun_limited(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 14;
    s.first_day = day(2026, 11, 2);
    s.weather = "o".into();
    (s.array.tilt_deg, s.array.mounting, s.array.noct_c) = (50.0, "rack", 45.0);
    s.air_c = (8.0, 2.5);
    s.plan_air_c = 8.0;
    s.system = "Reed cutter's boat Canna";
    s.story = "A reed cutter's boat on the Po in November: a fortnight of fog.";
    s.stops = vec![stop(0, 45.1, 9.8, 40.0, chrono_tz::Europe::Rome, "")];
    s.loads.retain(|l| !l.inverter);
    s.inverter = None;
    s.nominal_v = 24.0;
    s.array.series = 2;
    s.bank = BankSpec {
        cells: 8,
        r0_ohm: 0.006,
        cut_off_v: 23.0,
        ..lithium(400.0, 0.95)
    };
    s.controller.max_input_v = 150.0;
    (s.controller.absorption_v, s.controller.float_v) = (28.4, 27.0);
    fit::scale_to_deficit(&mut s, draw.fault("use-exceeds-harvest"));
    fit::plan_sun(&mut s, 0.7);
    s
}

/// A crew that budgeted more than its sun brings, and uses what it budgeted.
pub(super) fn hungry_crew(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 10;
    s.weather = "cfcfccfcfc".into();
    s.array.strings = 1;
    s.bank = lithium(700.0, 0.95);
    busy(&mut s, 110.0, 5.0);
    fit::scale_to_deficit(&mut s, draw.fault("use-exceeds-harvest"));
    fit::plan_sun(&mut s, 1.0);
    s
}
