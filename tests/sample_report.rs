//! The committed report of the sample trip is what the program makes of it today.
//!
//! After a change that moves it on purpose, make it anew with the README's first command.

#![allow(clippy::unwrap_used)]

use std::path::{Path, PathBuf};

use ampledger::reconcile::{Request, reconcile};
use ampledger::report::{json, write};
use serde_json::Value;

const FOLDER: &str = "reports/sample-data";

fn committed(name: &str) -> String {
    std::fs::read_to_string(Path::new(FOLDER).join(name)).unwrap()
}

/// Equal but for the last digits of numbers, which another machine's mathematics may round otherwise.
fn alike(path: &str, a: &Value, b: &Value) {
    match (a, b) {
        (Value::Object(x), Value::Object(y)) => {
            let keys = |o: &serde_json::Map<String, Value>| o.keys().cloned().collect::<Vec<_>>();
            assert_eq!(keys(x), keys(y), "{path}");
            for (key, value) in x {
                alike(&format!("{path}.{key}"), value, &y[key]);
            }
        }
        (Value::Array(x), Value::Array(y)) => {
            assert_eq!(x.len(), y.len(), "{path}");
            for (i, (p, q)) in x.iter().zip(y).enumerate() {
                alike(&format!("{path}[{i}]"), p, q);
            }
        }
        (Value::Number(x), Value::Number(y)) => {
            let (x, y) = (x.as_f64().unwrap(), y.as_f64().unwrap());
            assert!(
                (x - y).abs() <= 1e-3 * x.abs().max(1.0),
                "{path}: {x} and {y}"
            );
        }
        _ => assert_eq!(a, b, "{path}"),
    }
}

#[test]
fn the_committed_report_is_current() {
    let report = reconcile(&Request {
        logs: Vec::new(),
        design: PathBuf::from("sample-data/design.toml"),
        from: None,
        to: None,
        zone: None,
    })
    .unwrap();
    let fresh: Value = serde_json::from_str(&json::render(&report).unwrap()).unwrap();
    let kept: Value = serde_json::from_str(&committed("report.json")).unwrap();
    alike("report", &fresh, &kept);
}

#[test]
fn every_committed_output_follows_from_the_committed_json() {
    let report = json::parse(&committed("report.json")).unwrap();
    let folder = tempfile::tempdir().unwrap();
    for file in write::write(&report, folder.path()).unwrap() {
        let name = file.strip_prefix(folder.path()).unwrap();
        assert_eq!(
            std::fs::read_to_string(&file).unwrap(),
            committed(name.to_str().unwrap()),
            "{} is not current",
            name.display()
        );
    }
}

#[test]
fn the_sample_trip_shows_the_three_findings_and_honest_days() {
    let report = json::parse(&committed("report.json")).unwrap();
    let kinds: Vec<&str> = report.findings.iter().map(|f| f.kind.as_str()).collect();
    for kind in ["harvest-short", "drop-battery-cable", "never-full"] {
        assert!(kinds.contains(&kind), "{kind} is missing from {kinds:?}");
    }
    let states: Vec<&str> = report.days.iter().map(|d| d.state.word()).collect();
    for state in ["short", "full", "dull"] {
        assert!(states.contains(&state), "no {state} day in {states:?}");
    }
}
