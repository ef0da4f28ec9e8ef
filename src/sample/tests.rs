//! Trips as wholes: energy closes, truth closes, logs agree with truth, same seed same bytes.
#![allow(clippy::unwrap_used)]

use super::cases::{self, CASES};
use super::scenario::Scenario;
use super::*;
use crate::report::model::Entry;

fn options(case: &str, days: Option<u32>, seed: u64) -> SampleOptions {
    SampleOptions {
        case: Some(case.to_owned()),
        days,
        step_s: None,
        place: None,
        size: None,
        seed,
        force: false,
    }
}

fn short(case: &str, days: u32) -> Scenario {
    let mut s = cases::scenario(case, 3, None).unwrap();
    s.days = days;
    s
}

/// Six days of every case, made once for all tests.
fn trips() -> &'static [(&'static Case, Trip)] {
    static TRIPS: std::sync::OnceLock<Vec<(&'static Case, Trip)>> = std::sync::OnceLock::new();
    TRIPS.get_or_init(|| {
        CASES
            .iter()
            .map(|case| {
                let trip = simulate(None, &options(case.name, Some(6), 2)).unwrap();
                (case, trip)
            })
            .collect()
    })
}

fn close(a: f64, b: f64, scale: f64) -> bool {
    (a - b).abs() <= 1e-6 * scale
}

fn step(entries: &[Entry], name: &str) -> f64 {
    entries.iter().find(|e| e.name == name).unwrap().wh
}

#[test]
fn energy_is_kept_from_the_array_to_the_loads() {
    for case in CASES {
        let scenario = short(case.name, 5);
        let b = run::run(&scenario).balance;
        let output = b.array_j - b.array_cable_j - b.controller_j;
        let into = output - b.run_j + b.other_j;
        let spent = b.loads_j + b.stored_j + b.bank_lost_j;
        assert!(
            b.array_j > 0.0 && b.array_cable_j > 0.0 && b.controller_j > 0.0,
            "{}",
            case.name
        );
        assert!(
            close(into, spent, b.array_j),
            "{}: {into} against {spent}",
            case.name
        );
    }
}

#[test]
fn the_stored_energy_is_the_area_under_the_rest_voltage() {
    let mut scenario = short("healthy-overcast", 6);
    scenario.bank.start_soc = 0.8;
    let b = run::run(&scenario).balance;
    let mut bank = bank::Bank::new(&scenario.bank, &scenario.faults);
    let parts = 20_000;
    let width = (b.end_soc - 0.8) / f64::from(parts);
    let mut area_j = 0.0;
    for i in 0..parts {
        bank.soc = 0.8 + width * (f64::from(i) + 0.5);
        area_j += bank.rest_v() * width * scenario.bank.true_ah * 3600.0;
    }
    assert!(area_j.abs() > 1.0e5);
    assert!(
        (area_j - b.stored_j).abs() < 2e-3 * area_j.abs(),
        "{area_j} {}",
        b.stored_j
    );
    assert!(b.bank_lost_j > 0.0);
}

#[test]
fn accounts_and_days_close() {
    for (case, trip) in trips() {
        let truth = &trip.truth;
        let (steps, last) = truth.account.harvest.split_at(12);
        let sum: f64 = steps.iter().map(|e| e.wh).sum();
        assert!((sum - last[0].wh).abs() < 0.1, "{}: {sum}", case.name);
        let bank = &truth.account.bank;
        let left = step(bank, "harvested") + step(bank, "other_charge") + step(bank, "unexplained");
        let right: f64 = ["loads", "bank_cable", "bank_change", "bank_loss"]
            .iter()
            .map(|n| step(bank, n))
            .sum();
        assert!((left - right).abs() < 0.1, "{}: {left} {right}", case.name);
        for d in &truth.days {
            let rest =
                d.offered_wh - d.lost_wh - d.held_back_wh - d.unmeasured_wh + d.unexplained_wh;
            assert!(
                (rest - d.harvest_wh).abs() < 0.1,
                "{} {}",
                case.name,
                d.date
            );
            assert!(
                d.held_back_wh >= 0.0 && d.lost_wh >= 0.0,
                "{} {d:?}",
                case.name
            );
        }
        let flow: f64 = truth
            .days
            .iter()
            .map(|d| d.bank_in_wh - d.bank_out_wh)
            .sum();
        assert!((flow - step(bank, "bank_change") - step(bank, "bank_loss")).abs() < 0.1);
    }
}

#[test]
fn logs_agree_with_the_truth_within_their_meters() {
    // A shunt that is off reads something else than the truth: that is its fault.
    let shunt = ["current-offset", "current-reversed", "logs-disagree"];
    let sound = |c: &Case| !c.kinds.iter().any(|kind| shunt.contains(kind));
    for (case, trip) in trips().iter().filter(|t| sound(t.0)) {
        for s in &trip.truth.signals {
            // Gain up to 0.6 %, rounding, and what a row every few minutes misses of passing clouds.
            let allowed = 0.05 * (s.true_wh_in + s.true_wh_out) + 5.0;
            assert!(
                (s.true_wh_in - s.logged_wh_in).abs() < allowed,
                "{} {s:?}",
                case.name
            );
            assert!(
                (s.true_wh_out - s.logged_wh_out).abs() < allowed,
                "{} {s:?}",
                case.name
            );
        }
    }
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_does_not() {
    let one = simulate(None, &options("shade-mast", Some(3), 7)).unwrap();
    let two = simulate(None, &options("shade-mast", Some(3), 7)).unwrap();
    let other = simulate(None, &options("shade-mast", Some(3), 8)).unwrap();
    assert_eq!(one, two);
    assert_ne!(one.logs, other.logs);
}

#[test]
fn every_design_is_toml_and_every_figure_finite() {
    for (case, trip) in trips() {
        let read =
            crate::design::read::read_text(&trip.design, Path::new("design.toml"), Path::new("."));
        assert!(read.is_ok(), "{} {:?}", case.name, read.err());
        let design: toml::Table = trip.design.parse().unwrap();
        for key in [
            "system",
            "place",
            "array",
            "controller",
            "battery",
            "cable",
            "load",
            "plan",
            "option",
            "log",
        ] {
            assert!(design.contains_key(key), "{} {key}", case.name);
        }
        // JSON has no NaN: null is written for it. Only what was not seen may be null.
        let mut text = serde_json::to_string(&trip.truth).unwrap();
        for key in [
            "last_full",
            "days_since_full",
            "soc_low_pct",
            "soc_high_pct",
            "low_v",
            "high_v",
        ] {
            text = text.replace(&format!("\"{key}\":null"), "");
        }
        assert!(!text.contains(":null"), "{} {text}", case.name);
        let seen = trip.truth.days.iter().filter(|d| d.coverage > 0.0);
        assert!(
            seen.into_iter()
                .all(|d| d.soc_low_pct.is_some() && d.high_v.is_some())
        );
        for log in &trip.logs {
            let width = log.text.lines().next().unwrap().split(',').count();
            for line in log.text.lines().skip(1) {
                assert_eq!(line.split(',').count(), width, "{line}");
                let numbers = line
                    .split(',')
                    .skip(1)
                    .filter_map(|c| c.parse::<f64>().ok());
                assert!(numbers.into_iter().all(f64::is_finite), "{line}");
            }
        }
    }
}

#[test]
fn shade_takes_only_while_the_sun_is_in_its_sector() {
    let mut scenario = short("shade-mast", 4);
    let shaded = run::run(&scenario);
    let lost: f64 = shaded.days.iter().map(|d| -d.shade_step).sum();
    assert!(lost > 20.0, "{lost}");
    if let Some(shade) = &mut scenario.faults.shade {
        // Behind the northern horizon the sun is never seen from here in September.
        (shade.azimuth_from, shade.azimuth_to) = (0.0, 40.0);
    }
    let free = run::run(&scenario);
    assert_eq!(free.days.iter().map(|d| d.shade_step).sum::<f64>(), 0.0);
}

#[test]
fn a_healthy_case_has_no_faults_and_a_faulty_one_names_its_own() {
    for case in CASES {
        let truth = simulate(None, &options(case.name, None, 1)).unwrap().truth;
        let sound = case.name.starts_with("healthy");
        assert_eq!(
            truth.faults.is_empty(),
            sound,
            "{} {:?}",
            case.name,
            truth.faults
        );
        for kind in case.kinds {
            assert!(
                truth.faults.iter().any(|f| f.kind == *kind),
                "{} has no {kind}: {:?}",
                case.name,
                truth.faults
            );
        }
        assert!(sound || !case.kinds.is_empty() || case.name == "joint-unseen");
    }
}

#[test]
fn options_are_checked() {
    let mut bad = options("no-such", None, 1);
    assert!(
        simulate(None, &bad)
            .unwrap_err()
            .0
            .contains("barge-september")
    );
    bad.case = None;
    bad.days = Some(0);
    assert!(simulate(None, &bad).is_err());
    bad.days = Some(1);
    bad.step_s = Some(7);
    assert!(simulate(None, &bad).unwrap_err().0.contains("--step"));
    bad.step_s = Some(900);
    let rows = simulate(None, &bad).unwrap().logs[0].text.lines().count();
    assert_eq!(rows, 1 + 96);
}

#[test]
fn a_folder_with_something_in_it_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let mut options = options("drop-joint", Some(1), 1);
    let files = write(folder.path(), &options).unwrap();
    assert_eq!(files.len(), 4);
    assert!(files.iter().all(|f| f.is_file()));
    let refused = write(folder.path(), &options).unwrap_err();
    assert!(refused.0.contains("--force"), "{refused}");
    options.force = true;
    assert_eq!(write(folder.path(), &options).unwrap(), files);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 4);
}

#[test]
fn weeks_of_a_longer_sample_go_and_foreign_files_stay() {
    let folder = tempfile::tempdir().unwrap();
    let mut options = options("drop-joint", Some(8), 1);
    options.step_s = Some(900);
    write(folder.path(), &options).unwrap();
    let foreign = ["bank-week-2b.csv", "bank-week-02.csv", "my-week-2.csv"];
    for name in foreign {
        std::fs::write(folder.path().join(name), "mine").unwrap();
    }
    options.days = Some(2);
    options.force = true;
    let files = write(folder.path(), &options).unwrap();
    let there = std::fs::read_dir(folder.path()).unwrap().count();
    assert_eq!(there, files.len() + foreign.len());
    // Where no sample was written before, a file of such a name is somebody's own.
    let other = tempfile::tempdir().unwrap();
    std::fs::write(other.path().join("bank-week-2.csv"), "mine").unwrap();
    write(other.path(), &options).unwrap();
    assert!(other.path().join("bank-week-2.csv").exists());
}

/// The line of work the default case is there to show.
#[test]
fn the_default_case_tells_its_story() {
    use crate::report::model::DayState;
    for seed in [1, 2, 3] {
        let truth = simulate(None, &options("barge-september", None, seed))
            .unwrap()
            .truth;
        let kinds: Vec<&str> = truth.faults.iter().map(|f| f.kind.as_str()).collect();
        for kind in [
            "drop-battery-cable",
            "array-part-out",
            "harvest-short",
            "never-full",
        ] {
            assert!(kinds.contains(&kind), "{seed}: {kinds:?}");
        }
        let count = |state| truth.days.iter().filter(|d| d.state == state).count();
        assert_eq!(truth.limiting, "array", "{seed}");
        assert!(count(DayState::Short) >= 4, "{seed}");
        assert!(count(DayState::Dull) >= 2, "{seed}");
        assert!(
            truth.days[..6].iter().filter(|d| d.reached_full).count() >= 2,
            "{seed}"
        );
    }
}

#[test]
fn another_place_has_its_own_air_and_weather_and_the_same_plant() {
    let at = |place: Option<u64>| {
        let mut options = options("healthy-southern", Some(8), 4);
        options.place = place;
        simulate(None, &options).unwrap()
    };
    let (own, one, again, other) = (at(None), at(Some(1)), at(Some(1)), at(Some(2)));
    assert_eq!(one, again);
    assert!(own.design == one.design && one.design == other.design);
    let offered = |trip: &Trip| trip.truth.days.iter().map(|d| d.offered_wh).sum::<f64>();
    assert!((offered(&one) / offered(&own) - 1.0).abs() > 0.01);
    assert!((offered(&one) / offered(&other) - 1.0).abs() > 0.01);
}
