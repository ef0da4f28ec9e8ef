//! The physics and the line fits against reference vectors, each at the tolerance that the head of
//! its file states. The files say how their numbers were made.

#![allow(clippy::unwrap_used, clippy::expect_used)]

mod bank;
mod light;
mod lines;
mod power;

use std::collections::BTreeMap;
use std::path::Path;

use chrono::NaiveDateTime;

/// A row by column name.
struct Row(BTreeMap<String, String>);

impl Row {
    fn text(&self, column: &str) -> &str {
        self.0
            .get(column)
            .unwrap_or_else(|| panic!("no column {column}"))
    }

    fn number(&self, column: &str) -> f64 {
        let text = self.text(column);
        text.parse().unwrap_or_else(|_| panic!("{column}: {text}"))
    }

    fn instant(&self, column: &str) -> f64 {
        let text = self.text(column).trim_end_matches('Z');
        let time = NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M:%S").unwrap();
        time.and_utc().timestamp() as f64
    }
}

/// All rows of a file; there must be at least as many as it is known to hold.
fn rows(name: &str, at_least: usize) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/vectors")
        .join(name);
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(path)
        .unwrap();
    let header = reader.headers().unwrap().clone();
    let rows: Vec<Row> = reader
        .records()
        .map(|record| {
            let pairs = header
                .iter()
                .map(String::from)
                .zip(record.unwrap().iter().map(String::from).collect::<Vec<_>>());
            Row(pairs.collect())
        })
        .collect();
    assert!(rows.len() >= at_least, "{name} lost rows");
    rows
}

#[track_caller]
fn near(found: f64, wanted: f64, tolerance: f64, what: &str) {
    assert!(
        (found - wanted).abs() <= tolerance,
        "{what}: {found} instead of {wanted}"
    );
}

/// The one value that a two-column file holds under a name.
fn expected(rows: &[Row], quantity: &str) -> f64 {
    let row = rows.iter().find(|row| row.text("quantity") == quantity);
    row.unwrap_or_else(|| panic!("no {quantity}"))
        .number("value")
}
