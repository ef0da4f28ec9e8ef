//! Clocks against the sun, and against each other.

use std::path::Path;

use ampledger::design::{Design, read::read_text};
use ampledger::expect::offer;
use ampledger::mapping::Role;
use ampledger::report::model::{Finding, Severity};

use crate::plant::{Judged, Minute, More, Plant, following, resting};

/// A minute with the power of a clear sky, or less.
fn with(watts: f64) -> Minute {
    if watts > 0.0 {
        following(watts, 8.0)
    } else {
        resting()
    }
}

/// Clear-sky power, stamped so many minutes late.
fn stamped_late(plant: &Plant, late: i64) -> Judged<'_> {
    plant.judge(|day, minute| with(power(&plant.design, plant, day, minute as i64 - late)))
}

/// Clear-sky power of a design at a minute counted from midnight of a day.
fn power(design: &Design, plant: &Plant, day: usize, minute: i64) -> f64 {
    let at = plant.calendar.start_of(plant.first) + (day as i64 * 1440 + minute) * 60;
    offer::clear_offer(design, design.place.at(at), at as f64 + 30.0, 15.0, 13.3).output_w
}

fn shift(finding: &Finding) -> f64 {
    finding.evidence["shift_min"].as_f64().unwrap()
}

#[test]
fn an_hour_late_and_an_hour_early_are_found() {
    let plant = Plant::new("lfp", 5);
    for late in [60, -60, 120] {
        let judged = stamped_late(&plant, late);
        let off = judged.found("clock-off").unwrap();
        assert!(
            (shift(&off) + late as f64).abs() < 5.0,
            "{late}: {}",
            shift(&off)
        );
        assert_eq!(off.severity, Severity::Fix);
        assert_eq!(off.days.len(), 5);
        assert!(off.summary.contains("time zone"), "{}", off.summary);
    }
}

/// A stage column's number where the controller holds its voltage at float.
const FLOAT: f64 = 5.0;

#[test]
fn an_hour_late_is_found_on_a_bank_that_was_full_by_noon() {
    let plant = Plant::new("lfp", 5);
    // From noon to six the bank stands above float by itself and takes nothing; then the loads draw on the sun.
    let judged = plant.judge(|day, minute| {
        let watts = power(&plant.design, &plant, day, minute as i64 - 60);
        let mut made = match minute {
            720..1080 => Minute {
                charge_v: 13.5,
                bank_v: 13.5,
                bank_a: -3.0,
                ..Minute::default()
            },
            1080.. => with(watts.min(60.0)),
            _ => with(watts),
        };
        made.more.stage = Some(if minute < 720 { 3.0 } else { FLOAT });
        made
    });
    let off = judged.found("clock-off").expect("the clock is missed");
    assert!((-75.0..=-30.0).contains(&shift(&off)), "{}", shift(&off));
}

#[test]
fn half_an_hour_is_found_and_a_quarter_is_left_to_lean() {
    let plant = Plant::new("lfp", 5);
    let off = stamped_late(&plant, 32);
    assert!((shift(&off.found("clock-off").unwrap()) + 32.0).abs() < 5.0);
    for late in [0, 12, -12] {
        let judged = stamped_late(&plant, late);
        assert!(judged.found("clock-off").is_none(), "{late}");
        assert!(judged.fine("clock-off").unwrap().contains("are possible"));
    }
}

#[test]
fn a_van_that_leans_or_a_slope_nobody_told_of_has_no_wrong_clock() {
    for (latitude, tilt, facing) in [
        (48.0, 8.0, 90.0),
        (48.0, 8.0, 270.0),
        (48.0, 35.0, 270.0),
        (58.0, 20.0, 270.0),
        (30.0, 35.0, 90.0),
    ] {
        let mut plant = Plant::new("lfp", 5);
        plant.design.place.base.latitude_deg = latitude;
        let mut leaning = plant.design.clone();
        leaning.arrays[0].tilt_deg = tilt;
        leaning.arrays[0].facing_deg = facing;
        let judged = plant.judge(|day, minute| with(power(&leaning, &plant, day, minute as i64)));
        assert!(
            judged.found("clock-off").is_none(),
            "{latitude} {tilt} {facing}"
        );
    }
}

#[test]
fn an_array_that_faces_east_as_designed_has_no_wrong_clock() {
    let mut plant = Plant::new("lfp", 5);
    plant.design.arrays[0].tilt_deg = 50.0;
    plant.design.arrays[0].facing_deg = 90.0;
    assert!(stamped_late(&plant, 0).found("clock-off").is_none());
}

#[test]
fn a_hill_in_the_east_and_a_full_bank_in_the_afternoon_are_no_wrong_clock() {
    let plant = Plant::new("lfp", 5);
    let hidden = plant.judge(|day, minute| match minute {
        0..460 => resting(),
        _ => with(plant.clear_w(day, minute)),
    });
    assert!(hidden.found("clock-off").is_none());
    let full = plant.judge(|day, minute| match minute {
        720.. => with(plant.clear_w(day, minute).min(40.0)),
        _ => with(plant.clear_w(day, minute)),
    });
    assert!(full.found("clock-off").is_none());
}

#[test]
fn two_days_are_too_few_and_a_log_of_the_bank_alone_cannot_tell() {
    let plant = Plant::new("lfp", 2);
    let judged = stamped_late(&plant, 60);
    assert!(judged.found("clock-off").is_none());
    let plant = Plant::new("lfp", 5);
    let mut timeline = plant.timeline(|day, minute| with(plant.clear_w(day, minute)));
    timeline.channels.retain(|c| {
        matches!(
            c.role,
            Role::BatteryVoltage | Role::BatteryCurrent | Role::BatteryPower
        )
    });
    let judged = plant.judge_timeline(timeline);
    assert!(judged.found("clock-off").is_none());
    assert!(
        judged
            .unknown("clock-off")
            .unwrap()
            .contains("first and last light")
    );
}

/// A trip whose second half lies 15 degrees further east, in the next zone.
fn trip(leg: &str) -> Plant {
    let text = format!(
        r#"
[system]
nominal = "12 V"
[place]
latitude = 48.0
longitude = 0.0
timezone = "UTC"
{leg}
[array.panel]
power = "400 W"
vmp = "36 V"
[battery]
chemistry = "lfp"
capacity = "200 Ah"
"#
    );
    let mut plant = Plant::new("lfp", 8);
    plant.design = read_text(&text, Path::new("made.toml"), Path::new(".")).unwrap();
    plant.calendar = plant.design.place.calendar();
    plant
}

const LEG: &str = "[[place.leg]]\nfrom = 2026-06-14\nlongitude = 15.0\nlatitude = 48.0\ntimezone = \"Etc/GMT-1\"\n";

#[test]
fn a_leg_into_another_zone_is_no_wrong_clock_but_one_left_out_looks_like_one() {
    let travelled = trip(LEG);
    let judge = |plant: &Plant, kind: &str| {
        let start = travelled.calendar.start_of(travelled.first);
        let judged = plant.judge(|day, minute| {
            let at = start + (day * 1440 + minute) as i64 * 60;
            let design = &travelled.design;
            let spot = design.place.at(at);
            with(offer::clear_offer(design, spot, at as f64 + 30.0, 15.0, 13.3).output_w)
        });
        judged.found(kind)
    };
    assert!(judge(&travelled, "clock-off").is_none());
    let untold = trip("");
    let off = judge(&untold, "clock-off").unwrap();
    assert!(shift(&off) > 20.0, "{}", shift(&off));
    assert!(
        off.also_possible
            .iter()
            .any(|a| a.contains("leg of the trip"))
    );
}

/// Broken sky and a fridge, the bank's log so many minutes late, each log by its own name.
fn two_logs(plant: &Plant, late: usize) -> Judged<'_> {
    let minute_of = |day: usize, minute: usize| -> Minute {
        let cloud = if (day * 7 + minute / 11 * 5).is_multiple_of(3) {
            0.4
        } else {
            1.0
        };
        let fridge = if minute % 47 < 15 { 4.0 } else { 0.0 };
        let mut m = with(cloud * plant.clear_w(day, minute));
        m.bank_a -= fridge;
        let sag = fridge * 0.01;
        (m.bank_v, m.charge_v) = (m.bank_v - sag, m.charge_v - sag);
        m
    };
    let mut timeline = plant.timeline(|day, minute| {
        let now = minute_of(day, minute);
        let at = (day * 1440 + minute).saturating_sub(late);
        let bank = minute_of(at / 1440, at % 1440);
        Minute {
            bank_v: bank.bank_v,
            bank_a: bank.bank_a,
            more: More::default(),
            ..now
        }
    });
    for channel in &mut timeline.channels {
        let of_bank = matches!(
            channel.role,
            Role::BatteryVoltage | Role::BatteryCurrent | Role::BatteryPower
        );
        channel.source = if of_bank { "bank" } else { "roof" }.to_owned();
    }
    plant.judge_timeline(timeline)
}

#[test]
fn two_logs_a_few_minutes_apart_are_told_by_their_steps() {
    let plant = Plant::new("lfp", 5);
    let judged = two_logs(&plant, 7);
    let apart = judged.found("clock-off").unwrap();
    assert!((shift(&apart) + 7.0).abs() < 0.6, "{}", shift(&apart));
    assert_eq!(apart.severity, Severity::Watch);
    assert!(apart.r#where.contains("\"bank\""), "{}", apart.r#where);
    let together = two_logs(&plant, 0);
    assert!(together.found("clock-off").is_none());
    assert!(
        together
            .fine("clock-off")
            .unwrap()
            .contains("agree within 1 min")
    );
}

#[test]
fn two_logs_that_keep_one_wrong_time_are_shifted_together_and_judged_by_no_hour() {
    let plant = Plant::new("lfp", 5);
    // Both an hour late.
    let mut timeline = two_logs(&plant, 0).timeline;
    timeline.start += 3600;
    let judged = plant.judge_timeline(timeline);
    let off = judged.found("clock-off").expect("the clock is missed");
    assert!((shift(&off) + 60.0).abs() < 20.0, "{}", shift(&off));
    let then = &off.next_check.then;
    assert!(then.contains("\"roof\" and of \"bank\""), "{then}");
    assert!(judged.fine("shade-repeating").is_none());
    assert!(judged.unknown("shade-repeating").unwrap().contains("clock"));
}
