//! What must not change the result: the order of rows, how they are split over files, the zone and the
//! sign they are written in (with the setting that says so), and shifting everything by whole days.

#![allow(clippy::unwrap_used)]

use std::path::Path;

use ampledger::reconcile::{Request, reconcile};
use ampledger::report::model::{Day, Report};
use ampledger::sample::{self, SampleOptions, Trip};
use chrono::{Duration, NaiveDateTime, TimeZone};

const STAMP: &str = "%Y-%m-%d %H:%M:%S";

fn trip() -> Trip {
    let options = SampleOptions {
        case: None,
        days: Some(4),
        step_s: None,
        place: None,
        size: None,
        seed: 5,
        force: false,
    };
    sample::simulate(None, &options).unwrap()
}

/// Writes the trip with every log's text changed by `change` and the design's by `redesign`, and judges it.
fn judged(
    trip: &Trip,
    change: impl Fn(&str, &str) -> Vec<(String, String)>,
    redesign: impl Fn(&str) -> String,
) -> Report {
    let folder = tempfile::tempdir().unwrap();
    for log in &trip.logs {
        for (name, text) in change(&log.name, &log.text) {
            std::fs::write(folder.path().join(name), text).unwrap();
        }
    }
    let design = folder.path().join("design.toml");
    std::fs::write(&design, redesign(&trip.design)).unwrap();
    judge(&design)
}

fn judge(design: &Path) -> Report {
    reconcile(&Request {
        logs: Vec::new(),
        design: design.to_path_buf(),
        from: None,
        to: None,
        zone: None,
    })
    .unwrap()
}

fn as_it_is(trip: &Trip) -> Report {
    judged(
        trip,
        |name, text| vec![(name.to_owned(), text.to_owned())],
        str::to_owned,
    )
}

fn same_energies(a: &Report, b: &Report) {
    assert_eq!(a.days.len(), b.days.len());
    for (x, y) in a.days.iter().zip(&b.days) {
        assert_eq!((&x.date, x.state), (&y.date, y.state));
        let pick = |d: &Day| {
            [
                d.array_wh,
                d.harvest_wh,
                d.load_wh,
                d.bank_in_wh,
                d.bank_out_wh,
                d.bank_in_ah,
                d.offered_wh,
                d.held_back_wh,
            ]
        };
        for (p, q) in pick(x).into_iter().zip(pick(y)) {
            let (p, q) = (p.unwrap(), q.unwrap());
            assert!(
                (p - q).abs() <= 1e-4 * p.abs().max(1.0),
                "{}: {p} and {q}",
                x.date
            );
        }
    }
}

fn rows(text: &str) -> (String, Vec<String>) {
    let mut lines = text.lines().map(str::to_owned);
    (lines.next().unwrap(), lines.collect())
}

fn joined(header: &str, rows: &[String]) -> String {
    format!("{header}\n{}\n", rows.join("\n"))
}

/// Every row with its stamp changed.
fn restamped(text: &str, change: impl Fn(NaiveDateTime) -> NaiveDateTime) -> String {
    let (header, rows) = rows(text);
    let rows: Vec<String> = rows
        .iter()
        .map(|row| {
            let (stamp, rest) = row.split_once(',').unwrap();
            let at = NaiveDateTime::parse_from_str(stamp, STAMP).unwrap();
            format!("{},{rest}", change(at).format(STAMP))
        })
        .collect();
    joined(&header, &rows)
}

/// The design with a line added to every log entry.
fn with_log_line(design: &str, line: &str) -> String {
    design.replace("[[log]]\n", &format!("[[log]]\n{line}\n"))
}

#[test]
fn the_order_of_rows_does_not_matter() {
    let trip = trip();
    let shuffled = judged(
        &trip,
        |name, text| {
            let (header, rows) = rows(text);
            // A fixed scramble: every 7th row of the file in turn.
            let mixed: Vec<String> = (0..7)
                .flat_map(|k| rows.iter().skip(k).step_by(7).cloned().collect::<Vec<_>>())
                .collect();
            vec![(name.to_owned(), joined(&header, &mixed))]
        },
        str::to_owned,
    );
    same_energies(&as_it_is(&trip), &shuffled);
}

#[test]
fn splitting_files_with_an_overlap_does_not_matter() {
    let trip = trip();
    let split = judged(
        &trip,
        |name, text| {
            let (header, rows) = rows(text);
            let middle = rows.len() / 2;
            let stem = name.trim_end_matches(".csv");
            vec![
                (
                    format!("{stem}-a.csv"),
                    joined(&header, &rows[..middle + 50]),
                ),
                (format!("{stem}-b.csv"), joined(&header, &rows[middle..])),
            ]
        },
        str::to_owned,
    );
    same_energies(&as_it_is(&trip), &split);
    let merged: u64 = split.inputs.iter().map(|i| i.rows.merged).sum();
    assert_eq!(merged, 50 * trip.logs.len() as u64);
}

#[test]
fn writing_the_stamps_in_another_zone_creates_no_energy() {
    let trip = trip();
    let zone = chrono_tz::Europe::Amsterdam;
    let in_utc = judged(
        &trip,
        |name, text| {
            let text = restamped(text, |at| {
                zone.from_local_datetime(&at)
                    .earliest()
                    .unwrap()
                    .naive_utc()
            });
            vec![(name.to_owned(), text)]
        },
        |design| with_log_line(design, "timezone = \"UTC\""),
    );
    same_energies(&as_it_is(&trip), &in_utc);
}

#[test]
fn mirroring_the_sign_of_the_bank_current_does_not_matter() {
    let trip = trip();
    let mirrored = judged(
        &trip,
        |name, text| {
            let (header, rows) = rows(text);
            let Some(column) = header
                .split(',')
                .position(|h| h.starts_with("battery current"))
            else {
                return vec![(name.to_owned(), text.to_owned())];
            };
            let rows: Vec<String> = rows
                .iter()
                .map(|row| {
                    let mut cells: Vec<String> = row.split(',').map(str::to_owned).collect();
                    let amps: f64 = cells[column].parse().unwrap();
                    cells[column] = format!("{}", -amps);
                    cells.join(",")
                })
                .collect();
            vec![(name.to_owned(), joined(&header, &rows))]
        },
        |design| with_log_line(design, "charging = \"negative\""),
    );
    same_energies(&as_it_is(&trip), &mirrored);
}

#[test]
fn shifting_by_whole_days_leaves_the_measured_energies() {
    let trip = trip();
    let shifted = judged(
        &trip,
        |name, text| {
            vec![(
                name.to_owned(),
                restamped(text, |at| at + Duration::days(14)),
            )]
        },
        str::to_owned,
    );
    let before = as_it_is(&trip);
    for (x, y) in before.days.iter().zip(&shifted.days) {
        let (p, q) = (x.harvest_wh.unwrap(), y.harvest_wh.unwrap());
        assert!((p - q).abs() < 0.01, "{} {p} {q}", x.date);
        let (p, q) = (x.bank_out_wh.unwrap(), y.bank_out_wh.unwrap());
        assert!((p - q).abs() < 0.01, "{} {p} {q}", x.date);
    }
}
