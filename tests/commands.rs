//! What the commands promise: exit status, messages, files. Every test runs the real program.

#![allow(clippy::unwrap_used)]

use std::collections::BTreeMap;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;
use tempfile::TempDir;

const OUTPUTS: [&str; 4] = ["report.html", "report.json", "days.csv", "report.txt"];

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
    child.stdin.take().unwrap().write_all(input).unwrap();
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

mod reconcile {
    use super::*;

    #[test]
    fn writes_every_output_and_prints_the_verdict() {
        let at = trip();
        let ran = run(at.path(), &JUDGE_TRIP);
        assert_eq!(ran.status, 0, "{}", ran.err);
        assert_eq!(ran.err, "");
        is_plain(&ran.out);
        assert!(ran.out.contains("out/report.html"), "{}", ran.out);
        let written = files(&at.path().join("out"));
        for name in OUTPUTS {
            assert!(!written[Path::new(name)].is_empty(), "{name}");
        }
        let charts = written.keys().filter(|p| p.starts_with("charts"));
        assert!(charts.clone().count() >= 3);
        assert!(charts.clone().all(|p| p.extension().unwrap() == "svg"));
        let text = String::from_utf8(written[Path::new("report.txt")].clone()).unwrap();
        is_plain(&text);
    }

    #[test]
    fn writes_nothing_outside_the_folder_of_the_report() {
        let at = trip();
        let before = files(at.path());
        run(at.path(), &JUDGE_TRIP);
        let mut after = files(at.path());
        after.retain(|path, _| !path.starts_with("out"));
        assert_eq!(after, before);
    }

    #[test]
    fn the_folder_is_named_after_the_design_unless_said_otherwise() {
        let at = workshop(DESIGN, &log());
        let ran = run(at.path(), &RECONCILE[..4]);
        assert_eq!(ran.status, 0, "{}", ran.err);
        assert!(at.path().join("reports/design/report.html").exists());
    }

    #[test]
    fn the_same_input_gives_the_same_bytes() {
        let at = trip();
        run(at.path(), &JUDGE_TRIP);
        let first = files(&at.path().join("out"));
        fs::remove_dir_all(at.path().join("out")).unwrap();
        run(at.path(), &JUDGE_TRIP);
        assert_eq!(files(&at.path().join("out")), first);
    }

    #[test]
    fn every_output_carries_the_same_run() {
        let at = trip();
        run(at.path(), &JUDGE_TRIP);
        let out = at.path().join("out");
        let id = report(&out)["run"].as_str().unwrap().to_owned();
        assert!(!id.is_empty());
        for name in ["report.html", "report.txt"] {
            let text = fs::read_to_string(out.join(name)).unwrap();
            assert!(text.contains(&id), "{name}");
        }
    }

    #[test]
    fn json_is_printed_as_it_is_written() {
        let at = trip();
        let ran = run(at.path(), &[&JUDGE_TRIP[..], &["--json"]].concat());
        assert_eq!(ran.status, 0, "{}", ran.err);
        let written = fs::read_to_string(at.path().join("out/report.json")).unwrap();
        assert_eq!(ran.out, written);
        serde_json::from_str::<Value>(&ran.out).unwrap();
    }

    #[test]
    fn fail_on_exits_3_after_writing() {
        let at = trip();
        let with = |severity| {
            run(
                at.path(),
                &[&JUDGE_TRIP[..], &["--fail-on", severity]].concat(),
            )
        };
        let statuses = ["stop", "fix", "watch"].map(|s| with(s).status);
        let severities: Vec<String> = report(&at.path().join("out"))["findings"]
            .as_array()
            .unwrap()
            .iter()
            .map(|f| f["severity"].as_str().unwrap().to_owned())
            .collect();
        let expected = ["stop", "fix", "watch"].iter().scan(false, |seen, s| {
            *seen |= severities.iter().any(|x| x == s);
            Some(if *seen { 3 } else { 0 })
        });
        assert_eq!(statuses.to_vec(), expected.collect::<Vec<i32>>());
        assert!(statuses.contains(&3), "the sample has something to find");
        assert_eq!(with("sometimes").status, 2);
    }

    #[test]
    fn the_period_includes_both_its_ends() {
        let at = workshop(DESIGN, &log());
        let period = ["--from", "2026-06-02", "--to", "2026-06-03"];
        let ran = run(at.path(), &[&RECONCILE[..], &period].concat());
        assert_eq!(ran.status, 0, "{}", ran.err);
        let days = report(&at.path().join("out"))["days"].clone();
        let dates: Vec<&str> = days
            .as_array()
            .unwrap()
            .iter()
            .map(|d| d["date"].as_str().unwrap())
            .collect();
        assert_eq!(dates, ["2026-06-02", "2026-06-03"]);
    }

    #[test]
    fn a_period_without_rows_can_not_be_done() {
        let at = workshop(DESIGN, &log());
        for period in [["--from", "2027-01-01"], ["--to", "2020-01-01"]] {
            let ran = run(at.path(), &[&RECONCILE[..], &period].concat());
            refused(&ran, 1, &[period[1], "2026-06-01", "--from"]);
        }
        assert!(!at.path().join("out").exists());
    }

    #[test]
    fn wrong_usage_exits_2() {
        let at = workshop(DESIGN, &log());
        for (wrong, says) in [
            (["--timezone", "Mars/Olympus"], "Europe/Lisbon"),
            (["--from", "yesterday"], "yesterday"),
            (["--colour", "red"], "--colour"),
        ] {
            let ran = run(at.path(), &[&RECONCILE[..], &wrong].concat());
            refused(&ran, 2, &[says]);
        }
        assert_eq!(run(at.path(), &["reconcile", "log.csv"]).status, 2);
        assert_eq!(run(at.path(), &["reckon"]).status, 2);
    }

    #[test]
    fn the_zone_given_wins_over_the_design() {
        let at = workshop(DESIGN, &log());
        let ran = run(
            at.path(),
            &[&RECONCILE[..], &["--timezone", "Asia/Tokyo"]].concat(),
        );
        assert_eq!(ran.status, 0, "{}", ran.err);
        let first = report(&at.path().join("out"))["inputs"][0]["first"].clone();
        let instant = chrono::DateTime::parse_from_rfc3339(first.as_str().unwrap()).unwrap();
        assert_eq!(instant.to_utc().to_rfc3339(), "2026-05-31T15:00:00+00:00");
    }

    #[test]
    fn a_closed_pipe_is_no_error() {
        let at = trip();
        let mut child = program(at.path(), &[&JUDGE_TRIP[..], &["--json"]].concat())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let ran = ran(child.wait_with_output().unwrap());
        assert_eq!((ran.status, ran.err.as_str()), (0, ""));
    }

    #[test]
    fn a_folder_that_can_not_be_made_is_named() {
        let at = workshop(DESIGN, &log());
        let ran = run(
            at.path(),
            &[
                "reconcile",
                "log.csv",
                "--design",
                "design.toml",
                "--out",
                "log.csv/out",
            ],
        );
        refused(&ran, 1, &["log.csv/out", "--out"]);
        assert_eq!(
            fs::read_to_string(at.path().join("log.csv")).unwrap(),
            log()
        );
    }
}

mod what_can_not_be_read {
    use super::*;

    /// Whatever is wrong, it is told in one message and the report made before stays as it was.
    fn leaves_the_report_alone(design: &str, log: Option<&str>, says: &[&str]) {
        let at = workshop(DESIGN, &super::log());
        assert_eq!(run(at.path(), &RECONCILE).status, 0);
        let before = files(&at.path().join("out"));
        fs::write(at.path().join("design.toml"), design).unwrap();
        match log {
            Some(text) => fs::write(at.path().join("log.csv"), text).unwrap(),
            None => fs::remove_file(at.path().join("log.csv")).unwrap(),
        }
        refused(&run(at.path(), &RECONCILE), 1, says);
        assert_eq!(files(&at.path().join("out")), before);
    }

    #[test]
    fn a_missing_file() {
        leaves_the_report_alone(DESIGN, None, &["log.csv"]);
    }

    #[test]
    fn an_empty_file() {
        leaves_the_report_alone(DESIGN, Some(""), &["log.csv", "empty"]);
    }

    #[test]
    fn a_header_without_rows() {
        leaves_the_report_alone(DESIGN, Some(HEADER), &["log.csv", "row"]);
    }

    #[test]
    fn nothing_but_a_time() {
        let log = "time\n2026-06-01 00:00:00\n2026-06-01 00:05:00\n2026-06-01 00:10:00\n";
        leaves_the_report_alone(DESIGN, Some(log), &["log.csv", "readings"]);
    }

    #[test]
    fn a_state_of_charge_without_volts_or_amperes() {
        let log = "time,soc (%)\n2026-06-01 00:00,50\n2026-06-01 00:05,51\n2026-06-01 00:10,52\n";
        leaves_the_report_alone(DESIGN, Some(log), &["log.csv", "soc", "[log.columns]"]);
    }

    #[test]
    fn a_length_in_kilograms() {
        let cable =
            "[[cable]]\nrun = \"controller-battery\"\nlength = \"6 kg\"\nsize = \"16 mm2\"\n";
        let design = format!("{DESIGN}{cable}");
        let log = super::log();
        leaves_the_report_alone(
            &design,
            Some(&log),
            &["design.toml:12", "cable.length", "6 kg"],
        );
    }

    #[test]
    fn a_key_nobody_knows_is_told_with_the_nearest() {
        let design = DESIGN.replace("chemistry", "chemstry");
        let log = super::log();
        leaves_the_report_alone(
            &design,
            Some(&log),
            &["design.toml:8", "chemstry", "chemistry"],
        );
    }

    #[test]
    fn a_pattern_without_a_match() {
        let at = workshop(DESIGN, &log());
        let ran = run(
            at.path(),
            &["reconcile", "march-*.csv", "--design", "design.toml"],
        );
        refused(&ran, 1, &["march-*.csv"]);
    }

    #[test]
    fn figures_no_meter_shows() {
        let log = super::log().replace(",13", ",1e300");
        let says = ["no reading within what a meter can show", "inspect"];
        leaves_the_report_alone(
            DESIGN,
            Some(&log.replace(",4.5", ",1e300").replace(",-2.0", ",1e300")),
            &says,
        );
    }
}

mod logs {
    use super::*;

    fn names(at: &Path) -> Vec<String> {
        report(&at.join("out"))["inputs"]
            .as_array()
            .unwrap()
            .iter()
            .map(|i| i["file"].as_str().unwrap().to_owned())
            .collect()
    }

    #[test]
    fn a_bad_file_among_good_ones_is_passed_over_and_named() {
        let at = workshop(DESIGN, "");
        let logs = at.path().join("logs");
        fs::create_dir(&logs).unwrap();
        fs::write(logs.join("good.csv"), log()).unwrap();
        fs::write(logs.join("bad.csv"), "to do: buy bread\n").unwrap();
        for typed in ["logs", "logs/*.csv"] {
            let ran = run(
                at.path(),
                &[
                    "reconcile",
                    typed,
                    "--design",
                    "design.toml",
                    "--out",
                    "out",
                ],
            );
            assert_eq!(ran.status, 0, "{}", ran.err);
            let page = fs::read_to_string(at.path().join("out/report.html")).unwrap();
            assert!(
                page.contains("bad.csv"),
                "{typed}: the report says nothing of bad.csv"
            );
            assert!(names(at.path()).contains(&"logs/good.csv".to_owned()));
        }
    }

    #[test]
    fn standard_input_is_a_log_like_any_other() {
        let at = workshop(DESIGN, &log());
        run(at.path(), &RECONCILE);
        let from_file = report(&at.path().join("out"))["account"].clone();
        let ran = run_with_input(
            at.path(),
            &["reconcile", "-", "--design", "design.toml", "--out", "out"],
            log().as_bytes(),
        );
        assert_eq!(ran.status, 0, "{}", ran.err);
        assert_eq!(report(&at.path().join("out"))["account"], from_file);
        assert_eq!(names(at.path()), ["-"]);
        let nothing = run_with_input(
            at.path(),
            &["reconcile", "-", "--design", "design.toml"],
            b"",
        );
        refused(&nothing, 1, &["-", "empty"]);
    }

    #[test]
    fn a_design_reads_no_file_outside_its_own_folder() {
        let at = tempfile::tempdir().unwrap();
        fs::create_dir(at.path().join("van")).unwrap();
        fs::write(at.path().join("log.csv"), log()).unwrap();
        let outside = at.path().join("log.csv");
        for path in ["../log.csv", "../*.csv", outside.to_str().unwrap()] {
            let design = format!("{DESIGN}[[log]]\nfiles = \"{path}\"\n");
            fs::write(at.path().join("van/design.toml"), design).unwrap();
            let ran = run(at.path(), &["reconcile", "--design", "van/design.toml"]);
            refused(&ran, 1, &["log.csv", "outside the design's folder"]);
        }
        let ran = run(
            at.path(),
            &["reconcile", "log.csv", "--design", "van/design.toml"],
        );
        assert_eq!(ran.status, 0, "what is typed may lie anywhere: {}", ran.err);
    }

    #[test]
    fn a_design_in_the_current_folder_finds_its_logs_beside_it() {
        let at = workshop(&format!("{DESIGN}[[log]]\nfiles = \"log*.csv\"\n"), &log());
        let ran = run(
            at.path(),
            &["reconcile", "--design", "design.toml", "--out", "out"],
        );
        assert_eq!(ran.status, 0, "{}", ran.err);
        assert_eq!(names(at.path()), ["log.csv"]);
        let ran = run(at.path(), &["inspect", "--design", "design.toml"]);
        assert_eq!(ran.status, 0, "{}", ran.err);
    }

    #[test]
    fn a_file_given_twice_counts_once() {
        let at = workshop(DESIGN, &log());
        run(at.path(), &RECONCILE);
        let once = report(&at.path().join("out"))["account"].clone();
        let twice = [
            "reconcile",
            "log.csv",
            "log.csv",
            "--design",
            "design.toml",
            "--out",
            "out",
        ];
        assert_eq!(run(at.path(), &twice).status, 0);
        assert_eq!(report(&at.path().join("out"))["account"], once);
    }

    #[test]
    fn rows_written_newest_first_or_in_no_order_are_read_all_the_same() {
        let at = workshop(DESIGN, &log());
        run(at.path(), &RECONCILE);
        let in_order = report(&at.path().join("out"));
        let rows: Vec<String> = rows(4, 15).lines().map(str::to_owned).collect();
        let newest_first: Vec<String> = rows.iter().rev().cloned().collect();
        // 384 rows; 89 shares no divisor with them.
        let mixed = (0..rows.len()).map(|k| rows[k * 89 % rows.len()].clone());
        for order in [newest_first, mixed.collect()] {
            let log = format!("{HEADER}{}\n", order.join("\n"));
            fs::write(at.path().join("log.csv"), log).unwrap();
            let ran = run(at.path(), &RECONCILE);
            assert_eq!(ran.status, 0, "{}", ran.err);
            let now = report(&at.path().join("out"));
            assert_eq!(now["account"], in_order["account"]);
            assert_eq!(now["days"], in_order["days"]);
        }
    }
}

/// Logs that can be read but not judged get a report that says so.
mod little {
    use super::*;

    fn judged(header: &str, row: impl Fn(u32) -> Option<String>) -> Value {
        let rows: String = (0..480)
            .filter_map(|k| {
                let minute = k * 15;
                let stamp = format!(
                    "2026-06-{:02} {:02}:{:02}",
                    minute / 1440 + 1,
                    minute / 60 % 24,
                    minute % 60
                );
                Some(format!("{stamp},{}\n", row(k)?))
            })
            .collect();
        let at = workshop(DESIGN, &format!("{header}\n{rows}"));
        let ran = run(at.path(), &RECONCILE);
        assert_eq!(ran.status, 0, "{}", ran.err);
        let report = report(&at.path().join("out"));
        contract::holds(&report);
        report
    }

    #[test]
    fn volts_alone() {
        let report = judged("time,battery voltage (V)", |_| Some("13.2".to_owned()));
        assert_eq!(report["verdict"]["limiting"], "log");
        assert!(report["days"][1]["harvest_wh"].is_null());
    }

    #[test]
    fn nothing_from_the_array_is_neither_a_full_bank_nor_a_dull_sky() {
        let header =
            "time,battery voltage (V),battery current (A),charge voltage (V),charge current (A)";
        let report = judged(header, |_| Some("13.14,-3,13.19,0".to_owned()));
        for day in report["days"].as_array().unwrap() {
            assert_eq!(day["state"], "short", "{day}");
            assert_eq!(day["harvest_wh"], 0.0);
            assert!(
                day["held_back_wh"].as_f64().unwrap() < 1.0,
                "nothing held it back: {day}"
            );
        }
    }

    #[test]
    fn days_without_readings_are_not_spoken_for() {
        let report = judged("time,panel power (W)", |k| {
            let hour = f64::from(k % 96) / 4.0;
            let watts = 150.0 * ((hour - 6.0) / 12.0 * std::f64::consts::PI).sin().max(0.0);
            (!(192..384).contains(&k)).then(|| format!("{watts:.1}"))
        });
        let text = report["verdict"]["text"].as_str().unwrap();
        assert!(text.contains("3 of 5 days"), "{text}");
    }

    #[test]
    fn one_row_or_one_a_day() {
        let header = "time,battery voltage (V),battery current (A)";
        for every in [480, 96] {
            let report = judged(header, |k| (k % every == 0).then(|| "13.2,-1".to_owned()));
            assert_eq!(report["verdict"]["limiting"], "log");
            assert_eq!(report["days"].as_array().unwrap().len() as u32, 480 / every);
            assert!(
                report["days"][0]["bank_out_wh"].is_null(),
                "nothing to add up"
            );
        }
    }

    #[test]
    fn totals_of_the_day_are_taken_as_they_stand() {
        let header = "time,yield (Wh),load (Wh),lowest soc (%),max battery voltage (V)";
        let report = judged(header, |k| {
            (k % 96 == 0).then(|| format!("{},350,{},14.2", 400 + k, 50 + k / 96))
        });
        assert_eq!(report["verdict"]["limiting"], "log");
        let days = report["days"].as_array().unwrap();
        assert_eq!(days.len(), 5);
        for (k, day) in days.iter().enumerate() {
            assert_eq!(day["harvest_wh"], 400.0 + 96.0 * k as f64);
            assert_eq!(day["load_wh"], 350.0);
            assert_eq!(day["soc_low_pct"], 50.0 + k as f64);
            assert_eq!(day["high_v"], 14.2);
            assert_eq!(day["state"], "unmeasured");
            assert!(day["why"].as_str().unwrap().contains("totals"));
        }
        let sum = 5.0 * 400.0 + 96.0 * 10.0;
        let account = |name: &str, of: &str| {
            let entries = report["account"][of].as_array().unwrap();
            entries.iter().find(|e| e["name"] == name).unwrap()["wh"]
                .as_f64()
                .unwrap()
        };
        assert!((account("harvested", "harvest") - sum).abs() < 0.1);
        assert!((account("loads", "bank") - 1750.0).abs() < 0.1);
    }

    #[test]
    fn rows_wholly_in_gaps() {
        let header = "time,battery voltage (V),battery current (A)";
        let report = judged(header, |k| (k % 80 < 2).then(|| "13.2,-1".to_owned()));
        assert_eq!(report["verdict"]["limiting"], "log");
        assert!(
            report["days"]
                .as_array()
                .unwrap()
                .iter()
                .all(|d| d["judged"] == false)
        );
    }
}

mod render {
    use super::*;

    #[test]
    fn gives_the_same_outputs_without_the_logs() {
        let at = trip();
        let printed = run(at.path(), &JUDGE_TRIP).out;
        fs::remove_dir_all(at.path().join("trip")).unwrap();
        let ran = run(at.path(), &["render", "out/report.json", "--out", "again"]);
        assert_eq!(ran.status, 0, "{}", ran.err);
        let (first, again) = (
            files(&at.path().join("out")),
            files(&at.path().join("again")),
        );
        assert_eq!(
            first.keys().collect::<Vec<_>>(),
            again.keys().collect::<Vec<_>>()
        );
        for (name, bytes) in &first {
            assert!(again[name] == *bytes, "{} differs", name.display());
        }
        assert_eq!(ran.out, printed.replace("out/report", "again/report"));
    }

    #[test]
    fn refuses_what_is_no_report_and_says_where() {
        let at = workshop(DESIGN, &log());
        run(at.path(), &RECONCILE);
        let before = files(&at.path().join("out"));
        let text = fs::read_to_string(at.path().join("out/report.json")).unwrap();
        let cut = &text[..text.len() / 2];
        let wrong = text.replace("ampledger-report-1", "ampledger-report-9");
        let number = text.replacen("\"days\": [", "\"days\": 7, \"other\": [", 1);
        for (content, says) in [
            (cut, "line "),
            ("{\"a\": 1}", "schema"),
            ("[]", "schema"),
            ("", "line 1"),
            (wrong.as_str(), "ampledger-report-9"),
            (number.as_str(), "line "),
        ] {
            fs::write(at.path().join("r.json"), content).unwrap();
            let ran = run(at.path(), &["render", "r.json", "--out", "out"]);
            refused(&ran, 1, &["r.json", says]);
        }
        refused(&run(at.path(), &["render", "none.json"]), 1, &["none.json"]);
        assert_eq!(files(&at.path().join("out")), before);
    }
}

mod other_commands {
    use super::*;

    #[test]
    fn explain_knows_every_kind_it_lists_and_no_other() {
        let at = tempfile::tempdir().unwrap();
        let list = run(at.path(), &["explain"]);
        assert_eq!(list.status, 0);
        is_plain(&list.out);
        let kinds: Vec<&str> = list
            .out
            .lines()
            .filter(|l| !l.contains(' ') && !l.is_empty())
            .collect();
        assert!(kinds.contains(&"drop-battery-cable"), "{kinds:?}");
        for kind in kinds {
            let page = run(at.path(), &["explain", kind]);
            assert_eq!(page.status, 0, "{kind}");
            is_plain(&page.out);
        }
        let unknown = run(at.path(), &["explain", "never-fall"]);
        refused(&unknown, 2, &["never-fall", "never-full"]);
    }

    #[test]
    fn new_writes_a_design_that_reads_and_never_writes_over_one() {
        let at = workshop("mine", &log());
        let again = run(at.path(), &["new", "design.toml"]);
        refused(&again, 1, &["design.toml", "--force"]);
        assert_eq!(
            fs::read_to_string(at.path().join("design.toml")).unwrap(),
            "mine"
        );
        let forced = run(at.path(), &["new", "design.toml", "--force"]);
        assert_eq!(forced.status, 0, "{}", forced.err);
        let ran = run(at.path(), &RECONCILE);
        assert_eq!(ran.status, 0, "{}", ran.err);
        let ran = run(
            at.path(),
            &["inspect", "log.csv", "--design", "design.toml"],
        );
        assert_eq!(ran.status, 0, "{}", ran.err);
        refused(
            &run(at.path(), &["new", "no/such/design.toml"]),
            1,
            &["no/such/design.toml"],
        );
    }

    #[test]
    fn sample_leaves_an_occupied_folder_alone() {
        let at = trip();
        let before = files(at.path());
        let again = run(at.path(), &["sample", "trip", "--days", "3", "--seed", "9"]);
        refused(&again, 1, &["trip", "--force"]);
        assert_eq!(files(at.path()), before);
        let forced = run(at.path(), &["sample", "trip", "--days", "3", "--force"]);
        assert_eq!(forced.status, 0, "{}", forced.err);
        assert_eq!(files(at.path()), before, "the same seed is the same trip");
    }

    #[test]
    fn sample_refuses_what_it_does_not_know() {
        let at = tempfile::tempdir().unwrap();
        let unknown = run(at.path(), &["sample", "s", "--case", "no-such-case"]);
        refused(&unknown, 2, &["no-such-case", "barge-september"]);
        for wrong in [
            ["--days", "0"],
            ["--days", "4000000000"],
            ["--step", "1 fortnight"],
            ["--step", "0 s"],
        ] {
            refused(
                &run(at.path(), &[&["sample", "s"][..], &wrong].concat()),
                2,
                &[wrong[0]],
            );
        }
        assert!(!at.path().join("s").exists());
    }

    #[test]
    fn inspect_shows_how_a_file_is_read() {
        let at = workshop(DESIGN, &log());
        let ran = run(at.path(), &["inspect", "log.csv"]);
        assert_eq!(ran.status, 0, "{}", ran.err);
        is_plain(&ran.out);
        assert!(ran.out.contains("battery_voltage"), "{}", ran.out);
        let json = run(at.path(), &["inspect", "log.csv", "--json"]);
        let file = serde_json::from_str::<Value>(&json.out).unwrap()["files"][0].clone();
        for key in [
            "file",
            "encoding",
            "delimiter",
            "decimal",
            "header_line",
            "rows",
            "refused",
            "refused_by_why",
            "first",
            "last",
            "step_s",
            "gaps",
            "duplicates",
            "out_of_order",
            "time_format",
            "timezone",
            "columns",
            "questions",
        ] {
            assert!(file.get(key).is_some(), "{key}");
        }
        assert_eq!(file["rows"]["read"], 384);
        assert_eq!(file["step_s"], 900.0);
        assert_eq!(files(at.path()).len(), 2, "inspect writes nothing");
        assert_eq!(run(at.path(), &["inspect"]).status, 2);
    }

    #[test]
    fn help_and_version_are_done() {
        let at = tempfile::tempdir().unwrap();
        for words in [&["--help"][..], &["--version"], &["reconcile", "--help"]] {
            let ran = run(at.path(), words);
            assert_eq!((ran.status, ran.err.as_str()), (0, ""));
            assert!(!ran.out.is_empty());
        }
    }
}

/// What report.json and days.csv promise, whatever was read.
mod contract {
    use super::*;

    const TOP: [&str; 15] = [
        "schema",
        "version",
        "run",
        "system",
        "inputs",
        "measured",
        "period",
        "verdict",
        "days",
        "account",
        "performance",
        "findings",
        "checked",
        "unknown",
        "assumed",
    ];
    const DAY: [&str; 26] = [
        "date",
        "coverage",
        "sun_coverage",
        "planned_wh",
        "clear_wh",
        "offered_wh",
        "array_wh",
        "harvest_wh",
        "held_back_wh",
        "lost_wh",
        "unmeasured_wh",
        "unexplained_wh",
        "load_wh",
        "other_charge_wh",
        "bank_in_wh",
        "bank_out_wh",
        "bank_in_ah",
        "bank_out_ah",
        "soc_low_pct",
        "soc_high_pct",
        "low_v",
        "high_v",
        "reached_full",
        "judged",
        "state",
        "why",
    ];
    const FINDING: [&str; 14] = [
        "kind",
        "severity",
        "confidence",
        "where",
        "from",
        "to",
        "days",
        "lost_wh_per_day",
        "summary",
        "evidence",
        "also_possible",
        "next_check",
        "chart",
        "why",
    ];

    /// The evidence every kind of finding carries.
    fn evidence(kind: &str) -> &'static [&'static str] {
        match kind {
            "harvest-short" => &["lost_wh", "worst_day"],
            "controller-limiting" => &["limit_a", "lost_wh"],
            "drop-battery-cable" => &[
                "resistance_mohm",
                "design_mohm",
                "excess_mohm",
                "drop_v",
                "at_a",
                "lost_wh",
                "heat_w",
            ],
            "meter-offset" => &["offset_v"],
            "never-full" => &["last_full", "days_since_full", "days_full", "days_counted"],
            "absorption-short" => &["held_min", "ending_a", "full_current_a"],
            "soc-unreliable" => &["worst_error_pct", "false_full"],
            "cold-charge" => &["charged_min", "lowest_c"],
            "load-over-budget" => &["load_wh", "budget_wh"],
            "use-exceeds-harvest" => &["deficit_wh_per_day"],
            "log-gaps" => &["gap_h", "longest_h"],
            other => panic!("no evidence is agreed for {other}"),
        }
    }

    /// Checks one report against the contract.
    pub(super) fn holds(report: &Value) {
        for key in TOP.iter().chain(&["options", "recommended"]) {
            assert!(report.get(key).is_some(), "{key}");
        }
        assert_eq!(report["schema"], "ampledger-report-1");
        intervals("report", report);
        for day in report["days"].as_array().unwrap() {
            for key in DAY {
                assert!(day.get(key).is_some(), "{key}");
            }
            day_closes(day);
        }
        for input in report["inputs"].as_array().unwrap() {
            let rows = |k: &str| input["rows"][k].as_u64().unwrap();
            let told = ["used", "repaired", "merged", "refused"].map(rows);
            assert_eq!(rows("read"), told.iter().sum::<u64>());
        }
        accounts_close(&report["account"]);
        for finding in report["findings"].as_array().unwrap() {
            for key in FINDING {
                assert!(finding.get(key).is_some(), "{key}");
            }
            let kind = finding["kind"].as_str().unwrap();
            for key in evidence(kind) {
                assert!(finding["evidence"].get(key).is_some(), "{kind}: {key}");
            }
            for key in ["tool", "where", "healthy", "faulty", "then", "caution"] {
                assert!(finding["next_check"][key].is_string(), "{kind}: {key}");
            }
        }
    }

    fn day_closes(day: &Value) {
        let Some(offered) = day["offered_wh"].as_f64() else {
            assert_eq!(day["judged"], false, "judged without an offer: {day}");
            return;
        };
        let wh = |key: &str| day[key].as_f64().unwrap();
        let taken = wh("lost_wh") + wh("held_back_wh") + wh("unmeasured_wh");
        let rest = offered - taken + wh("unexplained_wh") - wh("harvest_wh");
        assert!(rest.abs() <= 0.1, "{}: {rest} Wh", day["date"]);
    }

    fn accounts_close(account: &Value) {
        let entries = |name: &str| -> Vec<(String, f64)> {
            account[name]
                .as_array()
                .unwrap()
                .iter()
                .map(|e| {
                    (
                        e["name"].as_str().unwrap().to_owned(),
                        e["wh"].as_f64().unwrap(),
                    )
                })
                .collect()
        };
        let harvest = entries("harvest");
        let order: Vec<&str> = harvest.iter().map(|e| e.0.as_str()).collect();
        assert_eq!(
            order,
            [
                "planned",
                "season",
                "weather",
                "heat",
                "array",
                "shade",
                "array_cable",
                "conversion",
                "controller_limit",
                "held_back",
                "unmeasured",
                "unexplained",
                "harvested"
            ]
        );
        let (harvested, steps) = harvest.split_last().unwrap();
        let sum: f64 = steps.iter().map(|e| e.1).sum();
        assert!((sum - harvested.1).abs() <= 0.1, "{sum} {harvested:?}");
        let bank: BTreeMap<String, f64> = entries("bank").into_iter().collect();
        let side = |names: &[&str]| names.iter().map(|n| bank[*n]).sum::<f64>();
        let came = side(&["harvested", "other_charge", "unexplained"]);
        let went = side(&["loads", "bank_cable", "bank_change", "bank_loss"]);
        assert!((came - went).abs() <= 0.1, "{came} {went}");
    }

    /// `low <= value <= high` wherever the three stand together.
    fn intervals(place: &str, value: &Value) {
        match value {
            Value::Object(map) => {
                let number = |key: &str| map.get(key).and_then(Value::as_f64);
                let middle = number("value").or_else(|| number("wh"));
                if let (Some(low), Some(middle), Some(high)) =
                    (number("low"), middle, number("high"))
                {
                    assert!(
                        low <= middle && middle <= high,
                        "{place}: {low} {middle} {high}"
                    );
                }
                for (key, inner) in map {
                    intervals(&format!("{place}.{key}"), inner);
                }
            }
            Value::Array(list) => list.iter().for_each(|inner| intervals(place, inner)),
            _ => {}
        }
    }

    #[test]
    fn holds_for_every_case_of_the_samples() {
        for case in ampledger::sample::cases() {
            let at = tempfile::tempdir().unwrap();
            let made = run(
                at.path(),
                &["sample", "trip", "--case", case.name, "--days", "6"],
            );
            assert_eq!(made.status, 0, "{}: {}", case.name, made.err);
            let ran = run(at.path(), &JUDGE_TRIP);
            assert_eq!(ran.status, 0, "{}: {}", case.name, ran.err);
            holds(&report(&at.path().join("out")));
        }
    }

    #[test]
    fn report_json_has_its_keys_in_order_and_no_figure_that_is_none() {
        let at = trip();
        run(at.path(), &JUDGE_TRIP);
        let text = fs::read_to_string(at.path().join("out/report.json")).unwrap();
        assert!(!text.contains("NaN") && !text.contains("Infinity"));
        let keys: Vec<&str> = text
            .lines()
            .filter_map(|l| l.strip_prefix("  \"")?.split('"').next())
            .collect();
        let places = TOP.map(|key| keys.iter().position(|k| *k == key).unwrap());
        assert!(places.is_sorted(), "{keys:?}");
    }

    #[test]
    fn days_csv_has_the_agreed_columns_and_a_line_a_day() {
        let at = trip();
        run(at.path(), &JUDGE_TRIP);
        let bytes = fs::read(at.path().join("out/days.csv")).unwrap();
        assert!(!bytes.contains(&b'\r'));
        let text = String::from_utf8(bytes).unwrap();
        let mut lines = text.lines();
        assert_eq!(lines.next().unwrap(), DAY.join(","));
        let days = report(&at.path().join("out"))["days"].clone();
        let days = days.as_array().unwrap();
        assert_eq!(lines.clone().count(), days.len());
        for (line, day) in lines.zip(days) {
            let cells: Vec<&str> = line.split(',').collect();
            assert_eq!(cells[0], day["date"].as_str().unwrap());
            for (key, cell) in DAY
                .iter()
                .zip(&cells)
                .filter(|(key, _)| key.ends_with("_wh"))
            {
                match day[*key].as_f64() {
                    Some(wh) => assert!((cell.parse::<f64>().unwrap() - wh).abs() < 0.1, "{key}"),
                    None => assert_eq!(*cell, "", "{key}"),
                }
            }
        }
    }

    #[test]
    fn names_are_text_and_never_markup() {
        let name = "<script>alert(1)</script> & =1+1";
        let at = workshop(&format!("[system]\nname = \"{name}\"\n{DESIGN}"), &log());
        let ran = run(at.path(), &RECONCILE);
        assert_eq!(ran.status, 0, "{}", ran.err);
        for (path, bytes) in files(&at.path().join("out")) {
            let text = String::from_utf8(bytes).unwrap();
            if path.extension().is_some_and(|e| e == "html" || e == "svg") {
                assert!(!text.contains("<script>alert"), "{}", path.display());
            }
        }
        assert_eq!(report(&at.path().join("out"))["system"]["name"], name);
    }
}
