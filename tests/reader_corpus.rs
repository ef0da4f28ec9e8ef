//! Any bytes whatever may come as a log: the reader may refuse them with words, never panic, count a
//! row twice or hand on a number that is none. The small files here were found by the fuzzer; each
//! led somewhere the others do not.

#![allow(clippy::unwrap_used)]

use std::path::{Path, PathBuf};

use ampledger::calendar::Calendar;
use ampledger::log::{self, Request};
use ampledger::mapping::LogEntry;

/// No file here is larger: reading all of them takes a moment.
const LARGEST: u64 = 20_000;

fn files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reader_corpus");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    files
}

/// Reads a file, whatever it is, and checks what holds of every reading.
fn read(path: &Path, entries: &[LogEntry]) {
    let calendar = Calendar::fixed(chrono_tz::Europe::Copenhagen);
    let reading = log::look(&Request {
        paths: vec![path.to_path_buf()],
        entries,
        folder: path.parent(),
        calendar: &calendar,
        zone: None,
        nominal_v: None,
        from: None,
        to: None,
    });
    let Ok(reading) = reading else { return };
    for file in &reading.inspection.files {
        let rows = &file.rows;
        let counted = rows.used + rows.repaired + rows.merged + rows.refused;
        assert_eq!(rows.read, counted, "{}: {rows:?}", path.display());
    }
    for channel in &reading.timeline.channels {
        let series = &channel.series;
        let sums = series.in_h.iter().chain(&series.out_h);
        assert!(
            sums.into_iter().all(|sum| sum.is_finite() && *sum >= 0.0),
            "{}: {:?}",
            path.display(),
            channel.role
        );
    }
}

#[test]
fn no_bytes_whatever_harm_the_reader() {
    let files = files();
    assert!(files.len() >= 20, "{} files", files.len());
    for file in files {
        assert!(
            std::fs::metadata(&file).unwrap().len() <= LARGEST,
            "{}",
            file.display()
        );
        read(&file, &[]);
    }
}

#[test]
fn no_bytes_whatever_harm_the_reader_whatever_the_design_says_of_them() {
    let all = |time_format: &str| LogEntry {
        files: vec!["*".to_owned()],
        time_format: Some(time_format.to_owned()),
        start: chrono::NaiveDate::from_ymd_opt(2026, 5, 14).and_then(|d| d.and_hms_opt(8, 0, 0)),
        year: Some(2026),
        missing: vec!["0".to_owned()],
        hold_s: Some(600.0),
        ..LogEntry::default()
    };
    for form in ["epoch-s", "elapsed-s", "elapsed-hms", "%d/%m %H:%M"] {
        for file in files() {
            read(&file, &[all(form)]);
        }
    }
}
