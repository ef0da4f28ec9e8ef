//! What runs round the clock.

use ampledger::design::When;
use ampledger::design::system::{Charger, Load};

use crate::plant::{Judged, Minute, Plant, following, resting};

fn load(name: &str, power_w: f64, hours: f64) -> Load {
    Load {
        name: name.to_owned(),
        power_w,
        quantity: 1.0,
        hours,
        when: When::Always,
        through_inverter: false,
    }
}

/// A design with half an ampere round the clock and a fridge of 4 A.
fn plant(days: usize) -> Plant {
    let mut plant = Plant::new("lfp", days);
    plant.design.loads = vec![load("router", 6.0, 24.0), load("fridge", 48.0, 9.0)];
    plant
}

/// The sun by day; by night so many ampere all the time and the fridge for a share of every 40 minutes.
fn night(plant: &Plant, always_a: f64, fridge: f64) -> impl Fn(usize, usize) -> Minute + '_ {
    move |day, minute| {
        let watts = plant.clear_w(day, minute);
        let mut made = if watts > 1.0 {
            following(watts, 6.0)
        } else {
            resting()
        };
        let cycle = (minute + 7 * day) % 40;
        let fridge_a = if (cycle as f64) < 40.0 * fridge {
            3.6
        } else {
            0.0
        };
        made.bank_a = made.charge_a - always_a - fridge_a;
        made
    }
}

fn said(judged: &Judged) -> (Option<String>, Option<String>) {
    let found = judged.look();
    let kind = "standby-high";
    assert!(
        found.findings.iter().all(|f| f.kind != kind),
        "{:?}",
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

#[test]
fn an_ampere_more_than_planned_is_found_between_the_cycles_of_a_fridge() {
    let plant = plant(6);
    let judged = plant.judge(night(&plant, 1.5, 0.4));
    let found = judged.found("standby-high").unwrap();
    let standby = found.evidence["standby_a"].as_f64().unwrap();
    assert!((standby - 1.5).abs() < 0.05, "{standby}");
    assert_eq!(found.evidence["budget_a"], 0.5);
    let lost = found.lost_wh_per_day.unwrap();
    // One ampere for 24 h at 13.2 V.
    assert!((lost.value - 317.0).abs() < 15.0, "{lost:?}");
}

#[test]
fn what_was_planned_is_fine() {
    let plant = plant(6);
    let (fine, _) = said(&plant.judge(night(&plant, 0.5, 0.4)));
    let fine = fine.unwrap();
    assert!(fine.contains("0.5 A"), "{fine}");
}

#[test]
fn a_little_more_than_planned_is_left_alone() {
    let plant = plant(6);
    assert!(said(&plant.judge(night(&plant, 0.8, 0.4))).0.is_some());
}

#[test]
fn a_fridge_that_never_stops_is_not_called_standby() {
    let plant = plant(6);
    let (_, unknown) = said(&plant.judge(night(&plant, 0.5, 1.0)));
    assert!(unknown.unwrap().contains("without a break"));
}

#[test]
fn rows_a_quarter_of_an_hour_apart_still_show_the_floor() {
    let plant = plant(6);
    let mut judged = plant.judge(night(&plant, 1.5, 0.4));
    judged.keep_every(15);
    let found = judged.found("standby-high").unwrap();
    let standby = found.evidence["standby_a"].as_f64().unwrap();
    assert!((standby - 1.5).abs() < 0.15, "{standby}");
}

#[test]
fn an_engine_that_charges_at_night_leaves_nothing_to_read() {
    let mut plant = plant(6);
    plant.design.chargers = vec![Charger {
        name: "engine".to_owned(),
        kind: "alternator".to_owned(),
        current_a: Some(30.0),
        hours: None,
    }];
    let quiet = night(&plant, 1.5, 0.0);
    let judged = plant.judge(|day, minute| {
        let mut made = quiet(day, minute);
        if minute < 300 {
            made.bank_a += 30.0;
        }
        made
    });
    let (_, unknown) = said(&judged);
    assert!(unknown.unwrap().contains("without charging"));
}

#[test]
fn three_nights_are_too_few() {
    let plant = plant(3);
    let (_, unknown) = said(&plant.judge(night(&plant, 1.5, 0.4)));
    assert!(unknown.unwrap().contains("only 3 nights"));
}

#[test]
fn without_a_budget_the_floor_is_told_and_nobody_blamed() {
    let mut plant = plant(6);
    plant.design.loads.clear();
    let (_, unknown) = said(&plant.judge(night(&plant, 1.5, 0.4)));
    assert!(unknown.unwrap().contains("1.5 A"));
}

#[test]
fn a_load_of_all_night_hours_is_planned_for() {
    let mut plant = plant(6);
    plant.design.loads.push(Load {
        when: When::Night,
        ..load("anchor light and heater", 15.0, 10.0)
    });
    assert!(said(&plant.judge(night(&plant, 1.7, 0.4))).0.is_some());
}

#[test]
fn a_meter_beside_the_truth_is_not_called_standby() {
    // Full every noon, so that the zero error can be solved: 0.6 A of the 1.1 A are the meter's.
    let plant = plant(8);
    let judged = plant.judge(|day, minute| {
        let mut made = match minute {
            720..760 => Minute {
                charge_v: 14.15,
                charge_a: 1.0,
                bank_v: 14.15,
                bank_a: 0.5,
                ..Minute::default()
            },
            660..720 => Minute {
                charge_v: 13.5,
                charge_a: 12.3,
                bank_v: 13.4,
                bank_a: 11.8,
                ..Minute::default()
            },
            _ => resting(),
        };
        if made.bank_a < 0.0 {
            made.bank_a = -0.5
                - if (day + minute / 300) % 3 == 0 {
                    0.1
                } else {
                    0.0
                };
        }
        made.bank_a -= 0.6;
        made
    });
    let found = judged.look();
    assert!(
        found.findings.iter().all(|f| f.kind != "standby-high"),
        "{:?}",
        found.findings
    );
}
