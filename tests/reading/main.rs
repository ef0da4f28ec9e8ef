//! Reading logs of many habits: each file under `tests/logs` shows one, `expected.txt` says what is
//! in it. The figures there were reckoned from the series the files were written from, not by the
//! reader.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod bad;
mod entries;
mod files;
mod habits;
mod said;
mod styles;
mod titles;
mod written;

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use ampledger::calendar::Calendar;
use ampledger::log::{self, Reading, Request};
use ampledger::mapping::{ColumnMap, ColumnRef, HeaderRef, LogEntry, Role, StampZone};
use ampledger::tally::Measured;
use ampledger::timeline::stage;
use chrono::NaiveDate;
use entries::entry_for;
use proptest::prelude::*;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/logs")
}

fn calendar() -> Calendar {
    Calendar::fixed(chrono_tz::Europe::Copenhagen)
}

/// Reads files, with entries lent by a design in `root`.
fn read_with(paths: &[PathBuf], root: &Path, entries: &[LogEntry]) -> Result<Reading, String> {
    let calendar = calendar();
    let request = Request {
        paths: paths.to_vec(),
        entries,
        folder: Some(root),
        calendar: &calendar,
        zone: None,
        nominal_v: None,
        from: None,
        to: None,
    };
    log::read(&request).map_err(|e| e.0)
}

fn read(file: &str) -> Result<Reading, String> {
    let root = folder();
    let entries: Vec<LogEntry> = entry_for(file).into_iter().collect();
    read_with(&[root.join(file)], &root, &entries)
}

fn total<'a>(reading: &'a Reading, role: &str) -> Option<&'a Measured> {
    reading
        .inspection
        .measured
        .iter()
        .find(|m| m.role == role && m.date.is_none())
}

fn close(a: f64, b: f64, share: f64) -> bool {
    (a - b).abs() <= share * b.abs() + 2e-3
}
