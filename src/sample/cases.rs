//! The cases: systems of our own, healthy or with one thing wrong, and the barge that shows the main job.

use chrono::NaiveDate;
use chrono_tz::Tz;

use super::dice::Dice;
use super::scenario::{
    ArraySpec, BankSpec, CableSpec, ControllerSpec, Engine, Faults, InverterSpec, LoadSpec,
    Logging, PanelSpec, Pattern, Scenario, Shade, Stop,
};
use crate::design::Chemistry;

/// A case that can be simulated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Case {
    /// Name, as `--case` takes it.
    pub name: &'static str,
    /// One line on what happens.
    pub about: &'static str,
}

const fn case(name: &'static str, about: &'static str) -> Case {
    Case { name, about }
}

/// Every case; the first is the default.
pub(super) const CASES: [Case; 17] = [
    case(
        "barge-september",
        "a joint that eats voltage, then half the array gone: 24 days in autumn",
    ),
    case("healthy-summer", "nothing wrong; full by midday every day"),
    case("healthy-winter", "nothing wrong; a northern December"),
    case("healthy-overcast", "nothing wrong; a grey week"),
    case(
        "healthy-flooded-24",
        "nothing wrong; 24 V flooded lead in a workshop",
    ),
    case(
        "healthy-pwm",
        "nothing wrong; a switching controller and an AGM bank",
    ),
    case(
        "healthy-travelling",
        "nothing wrong; a van that crosses a time zone",
    ),
    case(
        "healthy-quarter-hours",
        "nothing wrong; rows every 15 minutes",
    ),
    case("healthy-cabin-48", "nothing wrong; a 48 V cabin"),
    case("drop-joint", "a poor joint between controller and bank"),
    case("string-out", "one of two strings drops out"),
    case(
        "shade-mast",
        "a mast shades the array on every clear morning",
    ),
    case("dirty-array", "an array that gives far less than its label"),
    case("load-heavy", "more used than was budgeted"),
    case(
        "controller-limit",
        "a controller that stops at too little current",
    ),
    case("short-absorption", "absorption cut short on a lead bank"),
    case(
        "false-full",
        "a meter that calls the bank full when it is not",
    ),
];

fn day(year: i32, month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(year, month, day).unwrap_or_default()
}

fn stop(
    from_day: u32,
    latitude: f64,
    longitude: f64,
    altitude_m: f64,
    zone: Tz,
    note: &'static str,
) -> Stop {
    Stop {
        from_day,
        latitude,
        longitude,
        altitude_m,
        zone,
        lean: (0.0, 0.0),
        note,
    }
}

/// A panel from its power and the voltage of its best point; the rest in the usual proportions.
fn panel(power_w: f64, vmp_v: f64) -> PanelSpec {
    let tenth = |x: f64| (x * 10.0).round() / 10.0;
    let imp_a = (power_w / vmp_v * 100.0).round() / 100.0;
    PanelSpec {
        power_w,
        vmp_v,
        imp_a,
        voc_v: tenth(vmp_v * 1.2),
        isc_a: (imp_a * 106.0).round() / 100.0,
        power_per_degree: -0.0036,
        voc_per_degree: -0.0028,
        fuse_a: 20.0,
    }
}

fn cable(
    run: &'static str,
    length_m: f64,
    size_mm2: f64,
    joints_mohm: f64,
    fuse_a: Option<f64>,
    ampacity_a: f64,
) -> CableSpec {
    CableSpec {
        run,
        length_m,
        size_mm2,
        joints_mohm,
        fuse_a,
        ampacity_a: Some(ampacity_a),
    }
}

fn load(
    name: &'static str,
    power_w: f64,
    hours: f64,
    when: &'static str,
    pattern: Pattern,
) -> LoadSpec {
    LoadSpec {
        name,
        power_w,
        hours,
        when,
        inverter: false,
        pattern,
        factor: 1.0,
    }
}

fn through_inverter(load: LoadSpec) -> LoadSpec {
    LoadSpec {
        inverter: true,
        ..load
    }
}

/// A lithium bank of four cells for 12 V.
fn lithium(rated_ah: f64, start_soc: f64) -> BankSpec {
    BankSpec {
        chemistry: Chemistry::Lfp,
        rated_ah,
        true_ah: rated_ah,
        cells: 4,
        r0_ohm: 0.8 / rated_ah,
        reserve_pct: 20.0,
        full_current: 0.04,
        max_days_between_full: 30.0,
        max_charge_a: rated_ah / 2.0,
        cut_off_v: 11.5,
        start_soc,
    }
}

/// A lead bank of six cells for 12 V.
fn lead(chemistry: Chemistry, rated_ah: f64, start_soc: f64) -> BankSpec {
    BankSpec {
        chemistry,
        rated_ah,
        true_ah: rated_ah,
        cells: 6,
        r0_ohm: 0.7 / rated_ah,
        reserve_pct: 50.0,
        full_current: 0.02,
        max_days_between_full: 14.0,
        max_charge_a: rated_ah / 4.0,
        cut_off_v: 11.4,
        start_soc,
    }
}

/// The barge of the default case without its faults: the base the other cases are cut from.
fn barge(case: &'static str, seed: u64, dice: &mut Dice) -> Scenario {
    Scenario {
        case,
        system: "Workshop barge Pepermunt",
        story: "A workshop barge on the Frisian lakes: two roof panels, one lithium bank.",
        nominal_v: 12.0,
        first_day: day(2026, 9, 2),
        days: 24,
        weather: "ccfcccfbcocfbocccfoccbcf",
        air_c: (15.0, 4.0),
        plan_air_c: 15.0,
        sun_hours: 3.7,
        record_low_c: -12.0,
        stops: vec![stop(0, 53.03, 5.66, 0.0, chrono_tz::Europe::Amsterdam, "")],
        array: ArraySpec {
            panel: panel(310.0, 32.6),
            series: 1,
            strings: 2,
            tilt_deg: 0.0,
            facing_deg: 180.0,
            mounting: "gap",
            noct_c: 50.0,
            allowance: 0.90,
            true_scale: 0.90 * dice.range(0.975, 1.025),
        },
        controller: ControllerSpec {
            pwm: false,
            max_input_v: 100.0,
            max_output_a: 50.0,
            efficiency: 0.96,
            absorption_v: 14.2,
            absorption_h: 1.0,
            float_v: 13.5,
            compensation_mv: 0.0,
        },
        bank: lithium(280.0, 0.90),
        cables: vec![
            cable("array-controller", 6.0, 6.0, 2.0, None, 45.0),
            cable("controller-battery", 1.8, 16.0, 2.5, Some(60.0), 90.0),
            cable("battery-loads", 3.0, 16.0, 3.0, Some(60.0), 90.0),
        ],
        inverter: Some(InverterSpec {
            efficiency: 0.88,
            idle_w: 9.0,
            hours: 3.0,
        }),
        loads: vec![
            load(
                "compressor fridge",
                48.0,
                9.0,
                "always",
                Pattern::Cycle(34.0),
            ),
            load(
                "cabin lights",
                22.0,
                4.0,
                "night",
                Pattern::Block(18.5, 19.5),
            ),
            through_inverter(load(
                "laptop and bench tools",
                95.0,
                3.0,
                "day",
                Pattern::Block(9.0, 15.0),
            )),
            load("router and alarms", 6.0, 24.0, "always", Pattern::Always),
            load("water pump", 60.0, 0.4, "always", Pattern::Block(7.0, 9.0)),
        ],
        quiet: (0, 0, 1.0),
        engine: vec![],
        events: vec![],
        upgrade: ("a third panel", 240.0, "\"array.strings_in_parallel\" = 3"),
        faults: Faults::default(),
        logging: Logging {
            bank_step_s: 60,
            controller_step_s: 300,
            clock_s: (4, 17),
            gaps: vec![],
            gains: (
                dice.range(-0.004, 0.004),
                dice.range(-0.0015, 0.0015),
                dice.range(-0.0015, 0.0015),
            ),
            volts_apart: dice.range(-0.02, 0.02),
            utc: false,
        },
        seed,
    }
}

/// The default case: quiet days at first that the bank fills on in spite of a poor joint; then
/// everyday use, which it no longer does; then one of two strings drops out.
fn barge_september(seed: u64, dice: &mut Dice) -> Scenario {
    let mut s = barge("barge-september", seed, dice);
    s.bank.max_days_between_full = 10.0;
    s.quiet = (0, 5, 0.12);
    s.loads[2].hours = 4.5;
    s.loads[2].power_w = 110.0;
    s.faults.joint = Some((dice.range(26.0, 34.0), 0));
    s.faults.strings_out = Some((0.5, 14, u32::MAX));
    s.engine = [13, 18, 21]
        .map(|day| Engine {
            day,
            start_h: 9.5,
            hours: 1.2,
            current_a: 40.0,
        })
        .to_vec();
    s.events = vec![
        (5, "crew came aboard"),
        (14, "moved to the outer berth in a gale"),
    ];
    s
}

fn healthy_summer(seed: u64, dice: &mut Dice) -> Scenario {
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

fn healthy_winter(seed: u64, dice: &mut Dice) -> Scenario {
    let mut s = barge("healthy-winter", seed, dice);
    s.system = "Ski hut Rimfrost";
    s.story = "A ski hut in December: short days, a tilted array, small use.";
    s.first_day = day(2025, 12, 5);
    s.days = 12;
    s.weather = "cobfocbocf";
    s.air_c = (2.0, 3.0);
    s.plan_air_c = 2.0;
    s.sun_hours = 1.3;
    s.record_low_c = -28.0;
    s.stops = vec![stop(0, 56.6, 14.2, 160.0, chrono_tz::Europe::Stockholm, "")];
    (s.array.tilt_deg, s.array.mounting, s.array.noct_c) = (60.0, "rack", 45.0);
    s.bank.start_soc = 0.8;
    s.loads.truncate(2);
    s.inverter = None;
    s
}

fn healthy_overcast(seed: u64, dice: &mut Dice) -> Scenario {
    let mut s = barge("healthy-overcast", seed, dice);
    s.days = 9;
    s.weather = "cooobooco";
    s.bank.start_soc = 0.9;
    s
}

fn healthy_flooded(seed: u64, dice: &mut Dice) -> Scenario {
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

fn healthy_pwm(seed: u64, dice: &mut Dice) -> Scenario {
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

fn healthy_travelling(seed: u64, dice: &mut Dice) -> Scenario {
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

fn healthy_cabin(seed: u64, dice: &mut Dice) -> Scenario {
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

/// A sunny lead-acid system for faults of charging.
fn lead_yard(case: &'static str, seed: u64, dice: &mut Dice) -> Scenario {
    let mut s = healthy_pwm(seed, dice);
    s.case = case;
    s.system = "Beekeeper's wagon";
    s.story = "A beekeeper's wagon: two panels in series, an AGM bank.";
    s.days = 14;
    s.array.panel = panel(180.0, 20.1);
    (s.array.series, s.array.strings) = (2, 1);
    s.controller.pwm = false;
    s.controller.max_input_v = 100.0;
    s.controller.max_output_a = 30.0;
    s.controller.efficiency = 0.96;
    s.bank.start_soc = 0.8;
    s.loads[0].power_w = 48.0;
    s
}

fn faulty(case: &'static str, seed: u64, dice: &mut Dice) -> Scenario {
    let mut s = match case {
        "short-absorption" | "false-full" => lead_yard(case, seed, dice),
        _ => barge(case, seed, dice),
    };
    s.days = 14;
    match case {
        "drop-joint" => s.faults.joint = Some((dice.range(18.0, 45.0), 0)),
        "string-out" => {
            s.bank.start_soc = 0.6;
            s.faults.strings_out = Some((0.5, 6, u32::MAX));
        }
        "shade-mast" => {
            let from = dice.range(105.0, 125.0);
            s.bank.start_soc = 0.5;
            s.faults.shade = Some(Shade {
                azimuth_from: from,
                azimuth_to: from + dice.range(20.0, 35.0),
                below_deg: 60.0,
                sections: dice.range(0.5, 0.67),
            });
        }
        "dirty-array" => {
            s.bank.start_soc = 0.5;
            s.faults.dirt = Some(dice.range(0.62, 0.76));
        }
        "load-heavy" => s.faults.heavy_use = Some(dice.range(1.4, 1.8)),
        "controller-limit" => {
            s.bank.start_soc = 0.5;
            s.faults.limit_a = Some(dice.range(9.0, 13.0).round());
        }
        "short-absorption" => s.faults.absorption_min = Some(dice.range(8.0, 20.0).round()),
        "false-full" => {
            s.weather = "bobcobcofbco";
            s.faults.false_full = Some((13.1, 0.05, 3.0));
        }
        _ => {}
    }
    s
}

/// The scenario of a case name, or `None` where there is no such case.
pub(super) fn scenario(name: &str, seed: u64) -> Option<Scenario> {
    let found = CASES.iter().find(|c| c.name == name)?;
    let mut dice = Dice::new(seed, 0);
    let dice = &mut dice;
    Some(match found.name {
        "barge-september" => barge_september(seed, dice),
        "healthy-summer" => healthy_summer(seed, dice),
        "healthy-winter" => healthy_winter(seed, dice),
        "healthy-overcast" => healthy_overcast(seed, dice),
        "healthy-flooded-24" => healthy_flooded(seed, dice),
        "healthy-pwm" => healthy_pwm(seed, dice),
        "healthy-travelling" => healthy_travelling(seed, dice),
        "healthy-quarter-hours" => {
            let mut s = barge("healthy-quarter-hours", seed, dice);
            s.days = 14;
            (s.logging.bank_step_s, s.logging.controller_step_s) = (900, 900);
            s.logging.clock_s = (0, 0);
            s
        }
        "healthy-cabin-48" => healthy_cabin(seed, dice),
        other => faulty(other, seed, dice),
    })
}
