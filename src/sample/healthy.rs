//! Cases in which nothing is wrong.

use super::dice::Dice;
use super::parts::{barge, busy, cable, day, lead, lithium, panel, stop};
use super::scenario::{BankSpec, ControllerSpec, Engine, InverterSpec, Scenario};
use crate::design::Chemistry;

/// More sun than it needs.
pub(super) fn healthy_summer(seed: u64, dice: &mut Dice) -> Scenario {
    let mut s = barge("healthy-summer", seed, dice);
    s.system = "Camper Moosbeere";
    s.story = "A camper beside a forest lake in summer: more sun than it needs.";
    s.first_day = day(2026, 6, 8);
    s.days = 12;
    s.weather = "ccfcbcfc";
    s.air_c = (19.0, 6.0);
    s.plan_air_c = 19.0;
    s.sun_hours = 5.4;
    s.stops = vec![stop(0, 51.87, 13.97, 60.0, chrono_tz::Europe::Berlin, "")];
    s.bank = lithium(200.0, 0.85);
    s
}

/// Short days and small use, with a tilted array.
pub(super) fn healthy_winter(seed: u64, dice: &mut Dice) -> Scenario {
    let mut s = barge("healthy-winter", seed, dice);
    s.system = "Ski hut Rimfrost";
    s.story = "A ski hut in December: short days, a tilted array, small use.";
    s.first_day = day(2025, 12, 5);
    s.days = 12;
    s.weather = "cobfocbocf";
    s.air_c = (5.0, 3.0);
    s.plan_air_c = 5.0;
    s.sun_hours = 1.3;
    s.record_low_c = -28.0;
    s.stops = vec![stop(0, 56.6, 14.2, 160.0, chrono_tz::Europe::Stockholm, "")];
    (s.array.tilt_deg, s.array.mounting, s.array.noct_c) = (60.0, "rack", 45.0);
    s.bank.start_soc = 0.8;
    s.loads.truncate(2);
    s.inverter = None;
    s
}

/// A grey stretch that the bank carries.
pub(super) fn healthy_overcast(seed: u64, dice: &mut Dice) -> Scenario {
    let mut s = barge("healthy-overcast", seed, dice);
    s.days = 9;
    s.weather = "oooobooco";
    s.loads.retain(|l| !l.inverter);
    s.inverter = None;
    s
}

/// 24 V flooded lead with temperature compensation.
pub(super) fn healthy_flooded(seed: u64, dice: &mut Dice) -> Scenario {
    let mut s = barge("healthy-flooded-24", seed, dice);
    s.system = "Joinery shed Eschenhof";
    s.story = "A joinery shed with forklift cells: 24 V flooded lead.";
    s.nominal_v = 24.0;
    s.first_day = day(2026, 5, 4);
    s.days = 14;
    s.weather = "cfcbcofccb";
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
pub(super) fn healthy_pwm(seed: u64, dice: &mut Dice) -> Scenario {
    let mut s = barge("healthy-pwm", seed, dice);
    s.system = "Day boat Libelle";
    s.story = "A day boat with two small panels on a switching controller.";
    s.first_day = day(2026, 5, 16);
    s.days = 12;
    s.weather = "cfbccofc";
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
    };
    s.bank = lead(Chemistry::Agm, 160.0, 0.88);
    s.inverter = None;
    s.loads.remove(2);
    s.loads[0].power_w = 32.0;
    s
}

/// Two legs into another time zone; the logger keeps UTC.
pub(super) fn healthy_travelling(seed: u64, dice: &mut Dice) -> Scenario {
    let mut s = barge("healthy-travelling", seed, dice);
    s.system = "Van Wegwarte";
    s.story = "A van from the Vistula to the Lithuanian coast: two legs, two time zones.";
    s.first_day = day(2026, 7, 1);
    s.days = 12;
    s.weather = "cfcbfcoc";
    s.air_c = (20.0, 5.0);
    s.plan_air_c = 20.0;
    s.sun_hours = 5.2;
    s.stops = vec![
        stop(0, 53.1, 18.0, 60.0, chrono_tz::Europe::Warsaw, ""),
        stop(
            4,
            53.9,
            21.8,
            120.0,
            chrono_tz::Europe::Warsaw,
            "Masurian lakes",
        ),
        stop(
            8,
            55.3,
            21.0,
            5.0,
            chrono_tz::Europe::Vilnius,
            "Curonian spit",
        ),
    ];
    for place in &mut s.stops {
        place.lean = (dice.range(-1.5, 1.5), dice.range(-1.5, 1.5));
    }
    (s.array.mounting, s.array.noct_c) = ("flush", 58.0);
    s.logging.utc = true;
    s.engine = vec![
        Engine {
            day: 4,
            start_h: 9.0,
            hours: 1.5,
            current_a: 25.0,
        },
        Engine {
            day: 8,
            start_h: 8.0,
            hours: 2.0,
            current_a: 25.0,
        },
    ];
    s
}

/// 48 V with everything behind the inverter.
pub(super) fn healthy_cabin(seed: u64, dice: &mut Dice) -> Scenario {
    let mut s = barge("healthy-cabin-48", seed, dice);
    s.system = "Cabin Tannhaeher";
    s.story = "A cabin on 48 V with a roof full of panels.";
    s.nominal_v = 48.0;
    s.first_day = day(2026, 4, 6);
    s.days = 14;
    s.weather = "cbfcocfbc";
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

/// A row every quarter of an hour, from a busy crew.
pub(super) fn quarter_hours(seed: u64, dice: &mut Dice) -> Scenario {
    let mut s = barge("healthy-quarter-hours", seed, dice);
    s.days = 14;
    busy(&mut s, 120.0, 5.0);
    (s.logging.bank_step_s, s.logging.controller_step_s) = (900, 900);
    s.logging.clock_s = (0, 0);
    s
}
