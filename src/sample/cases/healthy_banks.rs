//! Sound systems with banks of every kind, on small and large voltages.

use super::charging::lead_yard;
use crate::design::Chemistry;
use crate::sample::draw::Draw;
use crate::sample::parts::{busy, cable, day, lead, lithium, panel, roomy_barge, stop};
use crate::sample::scenario::{BankSpec, ControllerSpec, Engine, Equalise, InverterSpec, Scenario};

/// 24 V flooded lead with temperature compensation.
pub(super) fn healthy_flooded(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.system = "Joinery shed Eschenhof";
    s.story = "A joinery shed with forklift cells: 24 V flooded lead.";
    s.nominal_v = 24.0;
    s.first_day = day(2026, 5, 4);
    s.days = 14;
    s.weather = "cfcbcofccb".into();
    s.sun_hours = 4.6;
    s.stops = vec![stop(0, 50.1, 11.4, 420.0, chrono_tz::Europe::Berlin, "")];
    (
        s.array.series,
        s.array.tilt_deg,
        s.array.mounting,
        s.array.noct_c,
    ) = (2, 30.0, "gap", 48.0);
    s.bank = BankSpec {
        cells: 12,
        r0_ohm: 0.0045,
        cut_off_v: 22.8,
        ..lead(Chemistry::Flooded, 240.0, 0.85)
    };
    s.controller = ControllerSpec {
        max_input_v: 150.0,
        absorption_v: 28.8,
        absorption_h: 4.0,
        float_v: 27.2,
        compensation_mv: -24.0,
        ..s.controller
    };
    s
}

/// A switching controller on panels made for it.
pub(super) fn healthy_pwm(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.system = "Day boat Libelle";
    s.story = "A day boat with two small panels on a switching controller.";
    s.first_day = day(2026, 5, 16);
    s.days = 12;
    s.weather = "cfbccofc".into();
    s.sun_hours = 4.8;
    s.stops = vec![stop(0, 52.4, 13.0, 30.0, chrono_tz::Europe::Berlin, "")];
    s.array.panel = panel(100.0, 18.2);
    s.controller = ControllerSpec {
        pwm: true,
        max_input_v: 50.0,
        max_output_a: 20.0,
        efficiency: 0.98,
        absorption_v: 14.4,
        absorption_h: 3.0,
        float_v: 13.6,
        compensation_mv: -20.0,
        max_input_a: None,
        equalise: None,
    };
    s.bank = lead(Chemistry::Agm, 160.0, 0.88);
    s.inverter = None;
    s.loads.remove(2);
    s.loads[0].power_w = 32.0;
    s
}

/// 48 V with everything behind the inverter.
pub(super) fn healthy_cabin(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.system = "Cabin Tannhaeher";
    s.story = "A cabin on 48 V with a roof full of panels.";
    s.nominal_v = 48.0;
    s.first_day = day(2026, 4, 6);
    s.days = 14;
    s.weather = "cbfcocfbc".into();
    s.air_c = (9.0, 5.0);
    s.plan_air_c = 9.0;
    s.sun_hours = 4.2;
    s.stops = vec![stop(0, 47.3, 11.0, 950.0, chrono_tz::Europe::Vienna, "")];
    (s.array.series, s.array.strings, s.array.tilt_deg) = (4, 2, 35.0);
    s.array.facing_deg = 165.0;
    s.array.panel = panel(400.0, 34.2);
    s.bank = BankSpec {
        cells: 16,
        r0_ohm: 0.011,
        cut_off_v: 46.0,
        max_charge_a: 100.0,
        ..lithium(280.0, 0.7)
    };
    s.controller = ControllerSpec {
        max_input_v: 250.0,
        max_output_a: 70.0,
        efficiency: 0.97,
        absorption_v: 56.4,
        float_v: 54.0,
        ..s.controller
    };
    s.cables = vec![
        cable("array-controller", 18.0, 6.0, 4.0, None, 45.0),
        cable("controller-battery", 2.0, 35.0, 1.5, Some(100.0), 150.0),
        cable("battery-loads", 2.0, 50.0, 1.5, Some(150.0), 190.0),
    ];
    s.inverter = Some(InverterSpec {
        efficiency: 0.92,
        idle_w: 25.0,
        hours: 24.0,
    });
    for load in &mut s.loads {
        load.power_w *= 4.0;
        load.inverter = true;
    }
    s
}

/// A gel bank with its lower voltages.
pub(super) fn healthy_gel(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = lead_yard(case, draw);
    s.system = "Bird hide Rohrsaenger";
    s.story = "A bird hide by a lake: two panels in series, a gel bank.";
    s.bank = lead(Chemistry::Gel, 200.0, 0.85);
    s.controller.absorption_v = 14.1;
    s.controller.float_v = 13.5;
    s.controller.compensation_mv = -24.0;
    s
}

/// Flooded cells that are equalised on one planned day.
pub(super) fn healthy_equalised(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = lead_yard(case, draw);
    s.system = "Lock keeper's cabin Haubentaucher";
    s.story = "A lock keeper's cabin: flooded cells, equalised on the sixth day.";
    s.bank = lead(Chemistry::Flooded, 220.0, 0.85);
    s.weather = "cfccccfbcc".into();
    s.controller.absorption_v = 14.6;
    s.controller.float_v = 13.5;
    s.controller.compensation_mv = -24.0;
    s.controller.equalise = Some(Equalise {
        volts: 15.5,
        hours: 1.5,
        day: 5,
    });
    s.events = vec![(5, "equalised after topping up with water")];
    s
}

/// Seven cells of another lithium chemistry for 24 V.
pub(super) fn healthy_nmc(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.system = "Electric skiff Teichhuhn";
    s.story = "An electric skiff at its berth: seven lithium cells in series for 24 V.";
    s.nominal_v = 24.0;
    s.days = 14;
    s.array.series = 2;
    s.bank = BankSpec {
        chemistry: Chemistry::Nmc,
        cells: 7,
        r0_ohm: 0.012,
        cut_off_v: 22.4,
        ..lithium(160.0, 0.8)
    };
    s.controller.max_input_v = 150.0;
    s.controller.absorption_v = 29.2;
    s.controller.float_v = 28.7;
    busy(&mut s, 150.0, 5.0);
    s
}

/// A small bank that a busy crew cycles deep every day, and that is full again on most.
pub(super) fn healthy_busy(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.system = "Film crew's van Distelfink";
    s.story = "A film crew's van in June: a small lithium bank that goes deep each night.";
    s.first_day = day(2026, 6, 3);
    s.days = 14;
    s.weather = "ccfcfbccfc".into();
    s.air_c = (18.0, 5.0);
    s.plan_air_c = 18.0;
    s.sun_hours = 5.2;
    s.stops = vec![stop(0, 46.9, 3.2, 220.0, chrono_tz::Europe::Paris, "")];
    s.bank = lithium(130.0, 0.9);
    busy(&mut s, 170.0, 5.0);
    s
}

/// More charge from the engine than from the sun.
pub(super) fn healthy_engine(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.system = "Canal boat Bachstelze";
    s.story = "A canal boat in March that runs its engine most mornings.";
    s.first_day = day(2026, 3, 16);
    s.days = 12;
    s.weather = "fobcofboc".into();
    s.air_c = (9.0, 3.0);
    s.plan_air_c = 9.0;
    s.sun_hours = 2.6;
    s.stops = vec![stop(0, 52.9, -2.6, 60.0, chrono_tz::Europe::London, "")];
    s.bank.start_soc = 0.7;
    busy(&mut s, 150.0, 5.0);
    s.engine = (0..12)
        .filter(|day| day % 4 != 3)
        .map(|day| Engine {
            day,
            start_h: 8.0 + 0.25 * f64::from(day % 3),
            hours: 2.5,
            current_a: 45.0,
        })
        .collect();
    s
}
