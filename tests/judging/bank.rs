//! Capacity, resistance, charge balance and state of charge of the bank.

use ampledger::physics::rest_voltage::rest_cell_v;
use ampledger::report::model::{Finding, Severity};

use crate::plant::{Judged, Minute, More, Plant};

/// A made-up bank that is charged until noon, held full for forty minutes where the day says so, and
/// drawn from for the rest.
struct Bank {
    /// What it truly holds, Ah.
    holds_ah: f64,
    /// What comes out again of what goes in.
    efficiency: f64,
    /// Its own resistance, mohm.
    mohm: f64,
    /// What the ammeter shows beside the truth, A.
    offset_a: f64,
}

const SOUND: Bank = Bank {
    holds_ah: 200.0,
    efficiency: 0.995,
    mohm: 3.0,
    offset_a: 0.0,
};
const HOLD: std::ops::Range<usize> = 720..760;
const CHARGE: std::ops::Range<usize> = 420..720;

impl Bank {
    /// Minutes of a log: `draw` gives the loads, A, at a day and a minute; `full` the days on which the
    /// bank is filled before noon.
    fn log(
        &self,
        plant: &Plant,
        draw: impl Fn(usize, usize) -> f64,
        full: impl Fn(usize) -> bool,
    ) -> Vec<Minute> {
        let lead = plant.design.battery.chemistry.is_lead();
        let cells = if lead { 6.0 } else { 4.0 };
        let hours = CHARGE.len() as f64 / 60.0;
        let mut left = 0.6;
        let mut charge_a = 0.0;
        let mut minutes = Vec::new();
        for at in 0..plant.days * 1440 {
            let (day, minute) = (at / 1440, at % 1440);
            let load_a = draw(day, minute);
            if minute == CHARGE.start {
                charge_a = (1.0 - left) * self.holds_ah / self.efficiency / hours;
            }
            let held = HOLD.contains(&minute) && full(day);
            let bank_a = match (held, CHARGE.contains(&minute) && full(day)) {
                (true, _) => 0.5,
                (_, true) => charge_a,
                _ => -load_a,
            };
            let stored = if held {
                0.0
            } else {
                bank_a.max(0.0) * self.efficiency - (-bank_a).max(0.0)
            };
            left = (left + stored / 60.0 / self.holds_ah).clamp(0.0, 1.0);
            let rest_v = cells * rest_cell_v(plant.design.battery.chemistry, left);
            let bank_v = if held {
                14.15
            } else {
                rest_v + bank_a * self.mohm / 1000.0
            };
            minutes.push(Minute {
                charge_v: bank_v,
                charge_a: if bank_a > 0.0 { bank_a + load_a } else { 0.0 },
                bank_v,
                bank_a: bank_a + self.offset_a,
                more: More::default(),
            });
        }
        minutes
    }
}

fn judged<'a>(plant: &'a Plant, minutes: &[Minute]) -> Judged<'a> {
    plant.judge(|day, minute| minutes[day * 1440 + minute])
}

fn interval(finding: &Finding, key: &str) -> (f64, f64, f64) {
    let figure = |end: &str| finding.evidence[key][end].as_f64().unwrap();
    (figure("value"), figure("low"), figure("high"))
}

/// What the report says of a kind that was not found: fine or unknown.
fn said(judged: &Judged, kind: &str) -> (Option<String>, Option<String>) {
    let found = judged.look();
    assert!(
        found.findings.iter().all(|f| f.kind != kind),
        "{kind} found: {:?}",
        found.findings
    );
    (
        found
            .checked
            .into_iter()
            .find(|c| c.kind == kind)
            .map(|c| c.text),
        found
            .unknown
            .into_iter()
            .find(|u| u.kind == kind)
            .map(|u| u.text),
    )
}

/// Ampere out of the bank so that it falls to a share of what it holds between noon and seven o'clock.
fn down_to(left: f64, holds_ah: f64) -> f64 {
    (1.0 - left) * holds_ah / ((1440.0 - 760.0 + 420.0) / 60.0)
}

#[test]
fn half_a_lithium_bank_is_found_between_full_and_its_knee() {
    let plant = Plant::new("lfp", 5);
    let bank = Bank {
        holds_ah: 100.0,
        ..SOUND
    };
    let draw = down_to(0.03, 100.0);
    let judged = judged(&plant, &bank.log(&plant, |_, _| draw, |_| true));
    let found = judged.found("capacity-low").unwrap();
    let (value, low, high) = interval(&found, "capacity_ah");
    assert!((value - 100.0).abs() < 5.0, "{value}");
    assert!(
        low < 100.0 && high > 100.0 && high < 115.0,
        "{low} to {high}"
    );
    assert_eq!(found.evidence["rated_ah"], 200.0);
    assert_eq!(found.severity, Severity::Fix);
}

#[test]
fn a_sound_lithium_bank_run_down_to_its_knee_is_fine() {
    let plant = Plant::new("lfp", 5);
    let draw = down_to(0.03, 200.0);
    let judged = judged(&plant, &SOUND.log(&plant, |_, _| draw, |_| true));
    let (fine, _) = said(&judged, "capacity-low");
    assert!(fine.unwrap().contains("of its 200 Ah"));
}

#[test]
fn the_flat_middle_of_lithium_gives_no_capacity_but_a_lower_bound() {
    let plant = Plant::new("lfp", 5);
    let bank = Bank {
        holds_ah: 120.0,
        ..SOUND
    };
    let draw = down_to(0.45, 120.0);
    let judged = judged(&plant, &bank.log(&plant, |_, _| draw, |_| true));
    let (_, unknown) = said(&judged, "capacity-low");
    let unknown = unknown.unwrap();
    assert!(unknown.contains("at least 6"), "{unknown}");
}

#[test]
fn a_bank_that_was_never_full_has_no_capacity() {
    let plant = Plant::new("lfp", 5);
    let judged = judged(&plant, &SOUND.log(&plant, |_, _| 1.5, |_| false));
    let (_, unknown) = said(&judged, "capacity-low");
    assert!(unknown.unwrap().contains("never truly full"));
}

/// Lead that is drawn from heavily in the evening and rests from midnight on, with a small load.
fn evening(heavy_a: f64) -> impl Fn(usize, usize) -> f64 {
    move |_, minute| match minute {
        760..1440 => heavy_a,
        0..420 => 0.6,
        _ => 0.0,
    }
}

#[test]
fn a_worn_lead_bank_is_found_at_rest_and_lies_inside_its_interval() {
    let plant = Plant::new("agm", 6);
    let bank = Bank {
        holds_ah: 80.0,
        efficiency: 0.94,
        ..SOUND
    };
    let judged = judged(&plant, &bank.log(&plant, evening(5.0), |_| true));
    let found = judged.found("capacity-low").unwrap();
    let (_, low, high) = interval(&found, "capacity_ah");
    assert!(low < 80.0 && high > 80.0 && high < 160.0, "{low} to {high}");
}

#[test]
fn lead_under_load_is_not_read_by_its_voltage() {
    let plant = Plant::new("agm", 6);
    let bank = Bank {
        holds_ah: 80.0,
        efficiency: 0.94,
        ..SOUND
    };
    // Ten ampere again and again, all night long: no rest.
    let draw = |_, minute: usize| if minute % 40 < 20 { 10.5 } else { 0.0 };
    let judged = judged(&plant, &bank.log(&plant, draw, |_| true));
    let (_, unknown) = said(&judged, "capacity-low");
    assert!(unknown.is_some());
}

#[test]
fn cold_lead_is_not_taken_for_worn_lead() {
    let plant = Plant::new("agm", 6);
    let bank = Bank {
        holds_ah: 145.0,
        efficiency: 0.94,
        ..SOUND
    };
    let mut minutes = bank.log(&plant, evening(9.0), |_| true);
    for minute in &mut minutes {
        minute.more.bank_c = Some(-2.0);
    }
    said(&judged(&plant, &minutes), "capacity-low");
}

/// A load of 12 A for ten minutes of every hour.
fn kettle(_: usize, minute: usize) -> f64 {
    if minute % 60 < 10 { 12.5 } else { 0.5 }
}

#[test]
fn a_high_resistance_shows_at_load_steps() {
    let plant = Plant::new("lfp", 5);
    let bank = Bank {
        mohm: 25.0,
        ..SOUND
    };
    let judged = judged(&plant, &bank.log(&plant, kettle, |_| true));
    let found = judged.found("battery-resistance-high").unwrap();
    let (value, low, high) = interval(&found, "resistance_mohm");
    assert!(
        (value - 25.0).abs() < 1.0 && low <= 25.0 && high >= 25.0,
        "{value}"
    );
    // A table's most for 200 Ah is 4 mohm; the nights of June are allowed a little cold.
    let typical = found.evidence["typical_mohm"].as_f64().unwrap();
    assert!((4.0..5.5).contains(&typical), "{typical}");
}

#[test]
fn an_ordinary_resistance_is_fine() {
    let plant = Plant::new("lfp", 5);
    let judged = judged(&plant, &SOUND.log(&plant, kettle, |_| true));
    let (fine, _) = said(&judged, "battery-resistance-high");
    assert!(fine.unwrap().contains("3.0"));
}

#[test]
fn resistance_is_not_told_from_two_meters_nor_from_rows_far_apart() {
    let plant = Plant::new("lfp", 5);
    let bank = Bank {
        mohm: 25.0,
        ..SOUND
    };
    let minutes = bank.log(&plant, kettle, |_| true);
    let mut apart = judged(&plant, &minutes);
    apart.rename_source(ampledger::mapping::Role::BatteryVoltage, "other");
    let (_, unknown) = said(&apart, "battery-resistance-high");
    assert!(unknown.unwrap().contains("one meter"));
    let mut coarse = judged(&plant, &minutes);
    coarse.set_step(900.0);
    let (_, unknown) = said(&coarse, "battery-resistance-high");
    assert!(unknown.unwrap().contains("900 s apart"));
}

/// Days of very different use: what a loss and a zero error can be told apart by.
fn uneven(day: usize, _: usize) -> f64 {
    [1.0, 6.0, 2.0, 8.0, 1.5, 7.0, 3.0, 9.0, 1.0, 5.0][day % 10]
}

#[test]
fn a_zero_error_of_the_meter_is_solved_from_full_charges() {
    for offset_a in [0.35, -0.25] {
        let plant = Plant::new("lfp", 10);
        let bank = Bank { offset_a, ..SOUND };
        let judged = judged(&plant, &bank.log(&plant, uneven, |_| true));
        let found = judged.found("current-offset").unwrap();
        let shown = found.evidence["offset_a"].as_f64().unwrap();
        assert!((shown - offset_a).abs() < 0.04, "{shown} for {offset_a}");
        said(&judged, "charge-loss-high");
    }
}

#[test]
fn a_loss_of_charge_is_told_from_a_zero_error_by_days_that_differ() {
    let plant = Plant::new("lfp", 10);
    let bank = Bank {
        efficiency: 0.85,
        ..SOUND
    };
    let judged = judged(&plant, &bank.log(&plant, uneven, |_| true));
    let found = judged.found("charge-loss-high").unwrap();
    let (value, low, high) = interval(&found, "charge_efficiency");
    assert!(
        (value - 0.85).abs() < 0.04 && low < 0.85 && high > 0.85,
        "{value}"
    );
    said(&judged, "current-offset");
}

#[test]
fn a_lead_bank_on_days_alike_is_accused_of_nothing() {
    // A fifth of the charge goes missing: a tired bank or a meter 0.3 A beside the truth, who can say?
    let plant = Plant::new("agm", 10);
    let bank = Bank {
        efficiency: 0.82,
        ..SOUND
    };
    let judged = judged(&plant, &bank.log(&plant, |_, _| 2.2, |_| true));
    said(&judged, "current-offset");
    let (_, unknown) = said(&judged, "charge-loss-high");
    assert!(
        unknown
            .unwrap()
            .contains("zero error of the meter would look the same")
    );
}

#[test]
fn a_sound_bank_and_an_honest_meter_balance() {
    let plant = Plant::new("lfp", 10);
    let judged = judged(&plant, &SOUND.log(&plant, uneven, |_| true));
    let (fine, _) = said(&judged, "current-offset");
    assert!(fine.unwrap().contains("rests at zero"));
    let (fine, _) = said(&judged, "charge-loss-high");
    assert!(
        fine.unwrap()
            .contains("of the charge put in came out again")
    );
}

#[test]
fn lead_left_on_float_for_days_is_no_zero_error() {
    let plant = Plant::new("flooded", 10);
    let bank = Bank {
        efficiency: 0.88,
        ..SOUND
    };
    let mut minutes = bank.log(&plant, |_, _| 0.4, |_| true);
    // An ampere of gassing from noon to six.
    for (at, minute) in minutes.iter_mut().enumerate() {
        if (760..1080).contains(&(at % 1440)) {
            (minute.bank_a, minute.charge_a) = (1.0, 1.4);
            (minute.bank_v, minute.charge_v) = (13.5, 13.5);
        }
    }
    said(&judged(&plant, &minutes), "current-offset");
}

#[test]
fn a_current_into_the_bank_every_night_is_a_zero_error_unless_something_may_charge() {
    let mut plant = Plant::new("lfp", 6);
    let bank = Bank {
        offset_a: 0.5,
        ..SOUND
    };
    let minutes = bank.log(&plant, |_, _| 0.2, |day| day == 0);
    let found = judged(&plant, &minutes).found("current-offset").unwrap();
    let shown = found.evidence["offset_a"].as_f64().unwrap();
    assert!((0.28..0.55).contains(&shown), "{shown}");
    plant
        .design
        .chargers
        .push(ampledger::design::system::Charger {
            name: "quay".to_owned(),
            kind: "shore".to_owned(),
            current_a: None,
            hours: None,
        });
    said(&judged(&plant, &minutes), "current-offset");
}

/// A meter that counts from a full bank with a capacity of its own.
fn with_meter(minutes: &mut [Minute], set_ah: f64, drift_a: f64) {
    let mut ah = set_ah;
    for (at, minute) in minutes.iter_mut().enumerate() {
        ah = (ah + (minute.bank_a + drift_a) / 60.0).clamp(0.0, set_ah);
        if HOLD.contains(&(at % 1440)) && minute.bank_v >= 14.1 {
            ah = set_ah;
        }
        minute.more.soc = Some(100.0 * ah / set_ah);
    }
}

#[test]
fn a_meter_set_to_another_capacity_is_named_with_it() {
    let plant = Plant::new("lfp", 6);
    let mut minutes = SOUND.log(&plant, |_, _| 4.0, |_| true);
    with_meter(&mut minutes, 110.0, 0.0);
    let found = judged(&plant, &minutes).found("soc-unreliable").unwrap();
    let (value, _, high) = interval(&found, "set_capacity_ah");
    assert!((value - 110.0).abs() < 3.0 && high < 160.0, "{value}");
    assert!(found.evidence["worst_error_pct"].as_f64().unwrap() > 15.0);
    assert_eq!(found.evidence["false_full"].as_array().unwrap().len(), 0);
}

#[test]
fn a_meter_that_strays_from_the_charge_counted_is_found() {
    let plant = Plant::new("lfp", 8);
    let mut minutes = SOUND.log(&plant, |_, _| 1.0, |day| day == 0);
    with_meter(&mut minutes, 200.0, 0.5);
    let found = judged(&plant, &minutes).found("soc-unreliable").unwrap();
    let worst = found.evidence["worst_error_pct"].as_f64().unwrap();
    // Half an ampere for a week is 42 % of 200 Ah.
    assert!((30.0..50.0).contains(&worst), "{worst}");
}

#[test]
fn an_honest_meter_is_believed_and_so_is_one_beside_a_gap() {
    let plant = Plant::new("lfp", 8);
    let mut minutes = SOUND.log(&plant, |_, _| 4.0, |_| true);
    with_meter(&mut minutes, 200.0, 0.0);
    let (fine, _) = said(&judged(&plant, &minutes), "soc-unreliable");
    assert!(fine.unwrap().contains("points of the charge counted"));
    // Half a day of heavy use that the log slept through; the meter did not.
    let mut gappy = SOUND.log(
        &plant,
        |_, minute| if minute > 900 { 12.0 } else { 4.0 },
        |day| day != 3,
    );
    with_meter(&mut gappy, 200.0, 0.0);
    let judged = plant.judge_with_gap(
        |day, minute| gappy[day * 1440 + minute],
        2 * 1440 + 900..3 * 1440 + 300,
    );
    said(&judged, "soc-unreliable");
}

#[test]
fn a_meter_that_never_moves_is_no_evidence() {
    let plant = Plant::new("lfp", 6);
    let mut minutes = SOUND.log(&plant, |_, _| 4.0, |_| true);
    for minute in &mut minutes {
        minute.more.soc = Some(100.0);
    }
    let (_, unknown) = said(&judged(&plant, &minutes), "soc-unreliable");
    assert!(unknown.unwrap().contains("never moves"));
}

#[test]
fn a_meter_that_promises_charge_at_the_knee_is_a_consequence_of_a_worn_bank() {
    let plant = Plant::new("lfp", 5);
    let bank = Bank {
        holds_ah: 90.0,
        ..SOUND
    };
    let draw = down_to(0.03, 90.0);
    let mut minutes = bank.log(&plant, |_, _| draw, |_| true);
    with_meter(&mut minutes, 200.0, 0.0);
    let judged = judged(&plant, &minutes);
    let found = judged.found("soc-unreliable").unwrap();
    let worst = found.evidence["worst_error_pct"].as_f64().unwrap();
    // 87 Ah drawn of a bank it takes for 200 Ah: it says 56 % where 3 % are left.
    assert!((worst - 53.0).abs() < 5.0, "{worst}");
    assert_eq!(found.part_of.as_deref(), Some("capacity-low"));
}

#[test]
fn a_cold_lithium_bank_that_sags_is_not_at_its_knee() {
    let plant = Plant::new("lfp", 5);
    let mut minutes = SOUND.log(&plant, |_, _| 6.0, |_| true);
    with_meter(&mut minutes, 200.0, 0.0);
    for minute in &mut minutes {
        minute.more.bank_c = Some(-12.0);
        if minute.bank_a < -5.0 {
            minute.bank_v -= 0.45;
        }
    }
    let judged = judged(&plant, &minutes);
    said(&judged, "capacity-low");
    said(&judged, "soc-unreliable");
}

#[test]
fn lead_that_gives_back_half_is_found_and_says_so() {
    let plant = Plant::new("agm", 10);
    let bank = Bank {
        efficiency: 0.5,
        ..SOUND
    };
    let judged = judged(
        &plant,
        &bank.log(&plant, |d, m| 0.8 * uneven(d, m), |_| true),
    );
    let found = judged.found("charge-loss-high").unwrap();
    let (value, low, high) = interval(&found, "charge_efficiency");
    assert!(
        low < 0.5 && high > 0.5 && high < 0.9,
        "{low} {value} {high}"
    );
    assert!(found.lost_wh_per_day.unwrap().low > 0.0);
}

#[test]
fn a_bank_that_sags_through_a_high_resistance_is_not_at_its_knee() {
    let plant = Plant::new("lfp", 5);
    let bank = Bank {
        mohm: 42.0,
        ..SOUND
    };
    let draw = |_, minute: usize| if minute % 60 < 15 { 12.5 } else { 4.0 };
    let mut minutes = bank.log(&plant, draw, |_| true);
    with_meter(&mut minutes, 200.0, 0.0);
    let judged = judged(&plant, &minutes);
    assert!(judged.found("battery-resistance-high").is_some());
    said(&judged, "capacity-low");
    said(&judged, "soc-unreliable");
}
