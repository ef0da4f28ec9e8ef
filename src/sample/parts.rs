//! What cases are put together from: labels, banks, loads, and one whole healthy system.

use chrono::NaiveDate;
use chrono_tz::Tz;

use super::draw::Draw;
use super::run::{USUAL_HAZE, USUAL_LOCKER_C};
use super::scenario::{
    ArraySpec, BankSpec, CableSpec, ControllerSpec, Faults, InverterSpec, LoadSpec, Logging,
    PanelSpec, Pattern, Scenario, Stop,
};
use crate::design::Chemistry;

/// A date.
pub(super) fn day(year: i32, month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(year, month, day).unwrap_or_default()
}

/// A place without lean.
pub(super) fn stop(
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
pub(super) fn panel(power_w: f64, vmp_v: f64) -> PanelSpec {
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

/// A cable run with its ampacity.
pub(super) fn cable(
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

/// A load on the bank itself, used as budgeted.
pub(super) fn load(
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

/// The same load behind the inverter.
pub(super) fn through_inverter(load: LoadSpec) -> LoadSpec {
    LoadSpec {
        inverter: true,
        ..load
    }
}

/// A lithium bank of four cells for 12 V.
pub(super) fn lithium(rated_ah: f64, start_soc: f64) -> BankSpec {
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
        sound_share: usual_sound_share(Chemistry::Lfp),
    }
}

/// Share of a charging current that a new bank of a kind stores while it is not nearly full.
fn usual_sound_share(chemistry: Chemistry) -> f64 {
    match chemistry {
        Chemistry::Lfp | Chemistry::Nmc => 0.995,
        Chemistry::Agm | Chemistry::Gel => 0.98,
        Chemistry::Flooded => 0.95,
    }
}

/// Resistance of a sound bank of six cells times its capacity, ohm Ah.
fn lead_ohm(chemistry: Chemistry) -> f64 {
    if chemistry == Chemistry::Flooded {
        0.65
    } else {
        0.45
    }
}

/// A lead bank of six cells for 12 V.
pub(super) fn lead(chemistry: Chemistry, rated_ah: f64, start_soc: f64) -> BankSpec {
    BankSpec {
        chemistry,
        rated_ah,
        true_ah: rated_ah,
        cells: 6,
        r0_ohm: lead_ohm(chemistry) / rated_ah,
        reserve_pct: 50.0,
        full_current: 0.02,
        max_days_between_full: 14.0,
        max_charge_a: rated_ah / 4.0,
        cut_off_v: 11.4,
        start_soc,
        sound_share: usual_sound_share(chemistry),
    }
}

/// A converting controller for 12 V lithium.
fn converter() -> ControllerSpec {
    ControllerSpec {
        pwm: false,
        max_input_v: 100.0,
        max_input_a: None,
        max_output_a: 50.0,
        efficiency: 0.96,
        absorption_v: 14.2,
        absorption_h: 1.0,
        float_v: 13.5,
        compensation_mv: 0.0,
        equalise: None,
    }
}

/// What a small crew uses.
fn household() -> Vec<LoadSpec> {
    vec![
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
    ]
}

/// A bank monitor and a controller log with ordinary meter errors.
fn loggers(dice: &mut super::dice::Dice) -> Logging {
    Logging {
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
        bank: true,
        controller: true,
        charge_volts: true,
        loads: false,
    }
}

/// The barge of the default case without its faults.
pub(super) fn barge(case: &'static str, draw: &mut Draw) -> Scenario {
    let true_scale = 0.90 * draw.dice.range(0.975, 1.025);
    let logging = loggers(&mut draw.dice);
    Scenario {
        case,
        system: "Workshop barge Pepermunt",
        story: "A workshop barge on the Frisian lakes: two roof panels, one lithium bank.",
        nominal_v: 12.0,
        first_day: day(2026, 9, 2),
        days: 24,
        weather: "ccfcccfbcocfbocccfoccbcf".into(),
        haze: USUAL_HAZE,
        air_c: (15.0, 4.0),
        locker_c: USUAL_LOCKER_C,
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
            true_scale,
        },
        controller: converter(),
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
        loads: household(),
        quiet: (0, 0, 1.0),
        engine: vec![],
        events: vec![],
        upgrade: ("one more string of panels", 240.0),
        faults: Faults::default(),
        logging,
        seed: draw.seed,
    }
}

/// The barge with a controller and a fuse that have room for all its panels can give: the base the
/// other cases are cut from.
pub(super) fn roomy_barge(case: &'static str, draw: &mut Draw) -> Scenario {
    let mut s = barge(case, draw);
    s.controller.max_output_a = 60.0;
    s.cables[1] = cable("controller-battery", 1.8, 16.0, 2.5, Some(80.0), 100.0);
    s
}

/// Budgets (and uses) the bench tools at this power for so many hours: a busier crew.
pub(super) fn busy(s: &mut Scenario, watts: f64, hours: f64) {
    if let Some(tools) = s.loads.iter_mut().find(|l| l.inverter) {
        (tools.power_w, tools.hours) = (watts, hours);
    }
    if let Some(inverter) = &mut s.inverter {
        inverter.hours = hours;
    }
}
