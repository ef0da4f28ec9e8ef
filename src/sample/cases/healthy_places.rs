//! Sound systems in different places and seasons.

use crate::sample::draw::Draw;
use crate::sample::parts::{day, lithium, roomy_barge, stop};
use crate::sample::scenario::{Engine, Scenario};

/// More sun than it needs.
pub(super) fn healthy_summer(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.system = "Camper Moosbeere";
    s.story = "A camper beside a forest lake in summer: more sun than it needs.";
    s.first_day = day(2026, 6, 8);
    s.days = 12;
    s.weather = "ccfcbcfc".into();
    s.air_c = (19.0, 6.0);
    s.plan_air_c = 19.0;
    s.sun_hours = 5.4;
    s.stops = vec![stop(0, 51.87, 13.97, 60.0, chrono_tz::Europe::Berlin, "")];
    s.bank = lithium(200.0, 0.85);
    s
}

/// Short days and small use, with a tilted array.
pub(super) fn healthy_winter(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.system = "Ski hut Rimfrost";
    s.story = "A ski hut in December: short days, a tilted array, small use.";
    s.first_day = day(2025, 12, 5);
    s.days = 12;
    s.weather = "cobfocbocf".into();
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
pub(super) fn healthy_overcast(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.days = 9;
    s.weather = "oooobooco".into();
    s.loads.retain(|l| !l.inverter);
    s.inverter = None;
    s
}

/// Two legs into another time zone; the logger keeps UTC.
pub(super) fn healthy_travelling(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.system = "Van Wegwarte";
    s.story = "A van from the Vistula to the Lithuanian coast: two legs, two time zones.";
    s.first_day = day(2026, 7, 1);
    s.days = 12;
    s.weather = "cfcbfcoc".into();
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
        place.lean = (draw.dice.range(-1.5, 1.5), draw.dice.range(-1.5, 1.5));
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

/// Autumn south of the line, with panels that look north.
pub(super) fn healthy_southern(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = roomy_barge(case, draw);
    s.system = "Shearers' hut Kowhai";
    s.story = "A shearers' hut in the south of New Zealand: panels that look north.";
    s.first_day = day(2026, 3, 3);
    s.days = 12;
    s.weather = "cfbcocfcbc".into();
    s.air_c = (13.0, 5.0);
    s.plan_air_c = 13.0;
    s.sun_hours = 4.4;
    s.record_low_c = -8.0;
    s.stops = vec![stop(
        0,
        -45.0,
        169.9,
        320.0,
        chrono_tz::Pacific::Auckland,
        "",
    )];
    (s.array.tilt_deg, s.array.facing_deg) = (30.0, 0.0);
    (s.array.mounting, s.array.noct_c) = ("rack", 45.0);
    s
}

/// So little use in high summer that the bank is full by noon every day.
pub(super) fn full_by_noon(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = healthy_summer(case, draw);
    s.system = "Beach trailer Strandhafer";
    s.story = "A beach trailer in June: hardly any use, full by noon every day.";
    s.weather = "ccfccfbc".into();
    s.stops = vec![stop(0, 54.7, 8.6, 2.0, chrono_tz::Europe::Berlin, "")];
    s.loads.retain(|l| !l.inverter);
    s.inverter = None;
    s.bank.start_soc = 0.9;
    s
}
