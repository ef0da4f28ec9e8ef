//! Rules about how the bank is charged: temperature, current, voltage.

mod cells;
mod current;
mod drained;
mod runaway;
mod temperature;
mod voltage;

use ampledger::account::Accounts;
use ampledger::design::Method;
use ampledger::expect::Expectation;
use ampledger::mapping::Role;
use ampledger::report::model::{Confidence, Severity};
use ampledger::timeline::stage;
use chrono::NaiveDate;

use crate::plant::{Judged, Minute, Plant, following, resting};

/// Judges a log in which some columns are missing.
fn judge_without<'a>(
    plant: &'a Plant,
    missing: &[Role],
    make: impl Fn(usize, usize) -> Minute,
) -> Judged<'a> {
    let mut timeline = plant.timeline(make);
    timeline.channels.retain(|c| !missing.contains(&c.role));
    let last = plant.first + chrono::Duration::days(plant.days as i64 - 1);
    let expected = Expectation::new(&plant.design, &plant.calendar, &timeline, plant.first, last);
    let accounts = Accounts::new(&plant.design, &plant.calendar, &timeline, &expected);
    Judged {
        plant,
        timeline,
        expected,
        accounts,
    }
}

fn is_unknown(judged: &Judged, kind: &str) -> bool {
    judged.look().unknown.iter().any(|u| u.kind == kind)
}

fn fine_text(judged: &Judged, kind: &str) -> String {
    let found = judged.look();
    let checked = found.checked.iter().find(|c| c.kind == kind);
    checked.map_or_else(
        || {
            panic!(
                "{kind} is not fine: {:?} {:?}",
                found.findings, found.unknown
            )
        },
        |c| c.text.clone(),
    )
}

fn figure(judged: &Judged, kind: &str, key: &str) -> f64 {
    let finding = judged.found(kind).expect(kind);
    finding.evidence[key].as_f64().expect(key)
}

/// Charging until eleven, then held at a level with a current that falls from 15 A to 1 A in five hours.
fn held(plant: &Plant, level_v: f64) -> impl Fn(usize, usize) -> Minute + '_ {
    move |day, minute| {
        let clear = plant.clear_w(day, minute);
        if !(660..960).contains(&minute) {
            return following(clear, 6.0);
        }
        let bank_a = 1.0 + 14.0 * (-(minute as f64 - 660.0) / 90.0).exp();
        Minute {
            charge_v: level_v + 0.003 * bank_a,
            charge_a: bank_a + 3.0,
            bank_v: level_v,
            bank_a,
            ..Minute::default()
        }
    }
}

/// With the stage that goes with it.
fn staged(plant: &Plant, level_v: f64, held_as: f64) -> impl Fn(usize, usize) -> Minute + '_ {
    let make = held(plant, level_v);
    move |day, minute| {
        let mut m = make(day, minute);
        m.more.stage = Some(match minute {
            660..960 => held_as,
            300..1200 => stage::BULK,
            _ => stage::OFF,
        });
        m
    }
}

fn with_temperature(
    make: impl Fn(usize, usize) -> Minute,
    c: impl Fn(usize) -> f64,
) -> impl Fn(usize, usize) -> Minute {
    move |day, minute| {
        let mut m = make(day, minute);
        m.more.bank_c = Some(c(minute));
        m
    }
}
