//! What the commands promise: exit status, messages, files. Every test runs the real program.

#![allow(clippy::unwrap_used)]

mod asking;
mod compare;
mod contract;
mod every_message;
mod inspect_write;
mod little;
mod logs;
mod manners;
mod mishaps;
mod other_commands;
mod plan;
mod reconcile;
mod render;
mod weigh;
mod what_can_not_be_read;

use std::collections::BTreeMap;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;
use tempfile::TempDir;

const OUTPUTS: [&str; 5] = [
    "report.html",
    "report.json",
    "days.csv",
    "report.txt",
    "post.md",
];

/// The smallest design that is complete.
const DESIGN: &str = "[place]\nlatitude = 48.1\nlongitude = 2.5\ntimezone = \"UTC\"\n\
    [array.panel]\npower = \"200 W\"\n[battery]\nchemistry = \"lfp\"\ncapacity = \"100 Ah\"\n";
const HEADER: &str = "time,battery voltage (V),battery current (A)\n";

/// What a run came to.
struct Ran {
    status: i32,
    out: String,
    err: String,
}

fn program(at: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_ampledger"));
    command.args(arguments).current_dir(at);
    command
}

fn ran(output: Output) -> Ran {
    let ran = Ran {
        status: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    };
    assert!(!ran.err.contains("panicked"), "{}", ran.err);
    ran
}

fn run(at: &Path, arguments: &[&str]) -> Ran {
    ran(program(at, arguments).output().unwrap())
}

fn run_with_input(at: &Path, arguments: &[&str], input: &[u8]) -> Ran {
    let mut child = program(at, arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // The program may end before it has read all.
    let _ = child.stdin.take().unwrap().write_all(input);
    ran(child.wait_with_output().unwrap())
}

/// A folder with a simulated trip of three days in `trip`.
fn trip() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let made = run(folder.path(), &["sample", "trip", "--days", "3"]);
    assert_eq!(made.status, 0, "{}", made.err);
    folder
}

/// A folder with `design.toml` and `log.csv` as given.
fn workshop(design: &str, log: &str) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("design.toml"), design).unwrap();
    fs::write(folder.path().join("log.csv"), log).unwrap();
    folder
}

/// Rows of a bank's log at an even step from a June midnight.
fn rows(days: u32, step_min: u32) -> String {
    (0..days * 1440 / step_min)
        .map(|k| {
            let (day, minute) = (k * step_min / 1440 + 1, k * step_min % 1440);
            let amps = if (420..1080).contains(&minute) {
                4.5
            } else {
                -2.0
            };
            let volts = 13.1 + 0.02 * amps;
            format!(
                "2026-06-{day:02} {:02}:{:02}:00,{volts:.2},{amps:.1}\n",
                minute / 60,
                minute % 60
            )
        })
        .collect()
}

fn log() -> String {
    format!("{HEADER}{}", rows(4, 15))
}

const RECONCILE: [&str; 6] = [
    "reconcile",
    "log.csv",
    "--design",
    "design.toml",
    "--out",
    "out",
];
const JUDGE_TRIP: [&str; 5] = ["reconcile", "--design", "trip/design.toml", "--out", "out"];

/// Every file below a folder, by relative path.
fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    fn walk(root: &Path, at: &Path, found: &mut BTreeMap<PathBuf, Vec<u8>>) {
        for entry in fs::read_dir(at).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(root, &path, found);
            } else {
                let name = path.strip_prefix(root).unwrap().to_owned();
                found.insert(name, fs::read(&path).unwrap());
            }
        }
    }
    let mut found = BTreeMap::new();
    if folder.exists() {
        walk(folder, folder, &mut found);
    }
    found
}

fn report(folder: &Path) -> Value {
    serde_json::from_slice(&fs::read(folder.join("report.json")).unwrap()).unwrap()
}

/// One message on standard error that says all of `says`, nothing on standard output, status `status`.
fn refused(ran: &Ran, status: i32, says: &[&str]) {
    assert_eq!(ran.status, status, "{}{}", ran.out, ran.err);
    assert_eq!(ran.out, "");
    assert_eq!(ran.err.matches("error:").count(), 1, "{}", ran.err);
    for word in says {
        assert!(ran.err.contains(word), "no {word:?} in: {}", ran.err);
    }
}

fn is_plain(text: &str) {
    for line in text.lines() {
        assert!(line.chars().count() <= 80, "wider than 80: {line}");
    }
    assert!(!text.contains('\u{1b}'), "escape codes");
}
