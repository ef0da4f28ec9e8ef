//! Cases with something wrong: the default one with a chain of two faults, the others with one each,
//! of a size drawn by the seed.

use super::dice::Dice;
use super::healthy::healthy_pwm;
use super::parts::{barge, busy, panel, stop};
use super::scenario::{Engine, Scenario, Shade};

/// The default case: quiet days at first that the bank fills on in spite of a poor joint; then
/// everyday use, which it no longer does; then one of two strings drops out.
pub(super) fn barge_september(seed: u64, dice: &mut Dice) -> Scenario {
    let mut s = barge("barge-september", seed, dice);
    s.bank.max_days_between_full = 10.0;
    s.quiet = (0, 5, 0.12);
    busy(&mut s, 110.0, 4.1);
    s.faults.joint = Some((dice.range(30.0, 38.0), 0));
    s.faults.strings_out = Some((0.5, 14, u32::MAX));
    s.engine = [13, 18, 20, 22]
        .map(|day| Engine {
            day,
            start_h: 9.5,
            hours: 1.5,
            current_a: 40.0,
        })
        .to_vec();
    s.events = vec![
        (5, "crew came aboard"),
        (14, "moved to the outer berth in a gale"),
    ];
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

/// The case of that name; `None` where it is none of these.
pub(super) fn faulty(case: &'static str, seed: u64, dice: &mut Dice) -> Option<Scenario> {
    let mut s = match case {
        "short-absorption" | "false-full" | "set-low" => lead_yard(case, seed, dice),
        _ => barge(case, seed, dice),
    };
    s.days = 14;
    // Use the healthy array could just carry: what the fault takes is missed.
    match case {
        "shade-mast" | "dirty-array" => busy(&mut s, 150.0, 6.0),
        "string-out" | "controller-limit" | "current-offset" | "clock-off" | "log-gaps" => {
            busy(&mut s, 120.0, 5.0);
        }
        _ => {}
    }
    match case {
        "drop-joint" => s.faults.joint = Some((dice.range(18.0, 45.0), 0)),
        "string-out" => s.faults.strings_out = Some((0.5, 6, u32::MAX)),
        "shade-mast" => s.faults.shade = Some(mast(dice)),
        "dirty-array" => s.faults.dirt = Some(dice.range(0.60, 0.74)),
        "load-heavy" => s.faults.heavy_use = Some(dice.range(1.5, 1.9)),
        "controller-limit" => s.faults.limit_a = Some(dice.range(8.0, 11.0).round()),
        "short-absorption" => s.faults.absorption_min = Some(dice.range(6.0, 15.0).round()),
        "set-low" => s.faults.set_low_v = Some((dice.range(0.5, 0.8) * 10.0).round() / 10.0),
        "false-full" => {
            s.weather = "bobcobcofbco";
            s.faults.false_full = Some((13.0, 0.06, 3.0));
        }
        "capacity-low" => {
            busy(&mut s, 120.0, 5.0);
            s.weather = "cocofcocbfco";
            s.bank.true_ah = (s.bank.rated_ah * dice.range(0.5, 0.62)).round();
        }
        "current-offset" => {
            s.faults.shunt_offset_a = Some((dice.range(0.25, 0.45) * 100.0).round() / 100.0)
        }
        "clock-off" => s.logging.clock_s = (3_600, 3_600),
        "log-gaps" => s.logging.gaps = gaps(dice),
        "sun-limited" => november(&mut s),
        "drop-rising" => s.faults.joint = Some((dice.range(25.0, 40.0), 7)),
        "meter-offset" => s.logging.volts_apart = (dice.range(0.12, 0.22) * 100.0).round() / 100.0,
        "array-dark" => s.faults.strings_out = Some((1.0, 6, 8)),
        "cold-charge" => frost(&mut s),
        _ => return None,
    }
    Some(s)
}

/// A mast south-east of the array.
fn mast(dice: &mut Dice) -> Shade {
    let from = dice.range(110.0, 130.0);
    Shade {
        azimuth_from: from,
        azimuth_to: from + dice.range(28.0, 42.0),
        below_deg: 60.0,
        sections: dice.range(0.6, 0.95),
    }
}

/// Stretches the logger slept through: parts of days and two whole ones.
fn gaps(dice: &mut Dice) -> Vec<(u32, f64, f64)> {
    vec![
        (2, dice.range(8.0, 10.0), dice.range(14.0, 16.0)),
        (5, 0.0, 25.0),
        (6, 0.0, 25.0),
        (9, dice.range(6.0, 8.0), dice.range(17.0, 19.0)),
    ]
}

/// A frosty March: the bank stands in an unheated locker.
fn frost(s: &mut Scenario) {
    s.first_day = super::parts::day(2026, 3, 3);
    s.weather = "ccfcbc";
    s.air_c = (-6.0, 4.0);
    s.plan_air_c = 2.0;
    s.sun_hours = 2.2;
}

/// A November the plan knows of: nothing is wrong but the sun.
fn november(s: &mut Scenario) {
    s.first_day = super::parts::day(2026, 11, 2);
    s.weather = "ocoobofoobocof";
    s.air_c = (8.0, 2.5);
    s.plan_air_c = 8.0;
    s.sun_hours = 1.1;
    s.stops = vec![stop(0, 53.03, 5.66, 0.0, chrono_tz::Europe::Amsterdam, "")];
    s.loads.retain(|l| !l.inverter);
    s.inverter = None;
    s.bank.start_soc = 0.95;
}
