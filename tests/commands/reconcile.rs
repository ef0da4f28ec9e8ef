//! `reconcile`: outputs, period, zone, exit status.

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
fn a_row_just_after_the_last_midnight_makes_no_day() {
    let dates = |log: &str| -> Vec<String> {
        let at = workshop(DESIGN, log);
        let ran = run(at.path(), &RECONCILE);
        assert_eq!(ran.status, 0, "{}", ran.err);
        let days = report(&at.path().join("out"))["days"].clone();
        let days = days.as_array().unwrap();
        let date = |d: &Value| d["date"].as_str().unwrap().to_owned();
        days.iter().map(date).collect()
    };
    let log = format!("{HEADER}{}", rows(5, 15));
    let whole = dates(&log);
    assert_eq!(whole.len(), 5);
    assert_eq!(
        dates(&format!("{log}2026-06-06 00:00:12,13.06,-2.0\n")),
        whole
    );
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
        (["--timezone", "Mars/Olympus"], "Europe/Copenhagen"),
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

/// How the account came by what the conversion took.
fn how_conversion_is_known(folder: &Path) -> String {
    let report = report(&folder.join("out"));
    let steps = report["account"]["harvest"].as_array().unwrap();
    let step = steps.iter().find(|s| s["name"] == "conversion").unwrap();
    step["how"].as_str().unwrap().to_owned()
}

#[test]
fn conversion_is_measured_only_where_both_its_sides_are_logged() {
    let both = trip();
    assert_eq!(run(both.path(), &JUDGE_TRIP).status, 0);
    assert_eq!(how_conversion_is_known(both.path()), "measured");
    let bank_alone = workshop(DESIGN, &log());
    assert_eq!(run(bank_alone.path(), &RECONCILE).status, 0);
    assert_eq!(how_conversion_is_known(bank_alone.path()), "assumed");
}

/// Ten days of 360 W on a clear sky, their light by a clock that is early, so that no clear hour has
/// its right shape: full early on; then two dull days, and half of the charging gone.
fn half_gone() -> String {
    let mut text =
        "time,battery voltage (V),battery current (A),charge current (A),SoC (%)\n".to_owned();
    let mut charge = 70.0_f64;
    for row in 0..10 * 288 {
        let (day, hour) = (row / 288, f64::from(row % 288) / 12.0);
        let light = ((hour - 6.0) / 14.0 * std::f64::consts::PI).sin().max(0.0);
        let sky = if day == 4 || day == 5 { 0.4 } else { 1.0 };
        let left = if day >= 5 { 0.5 } else { 1.0 };
        let load = if (18.0..22.0).contains(&hour) {
            7.3
        } else {
            2.3
        };
        let mut made = 17.0
            * left
            * sky
            * if (6.0..20.0).contains(&hour) {
                light
            } else {
                0.0
            };
        let full = charge >= 99.5 && made > load;
        made = if full { load } else { made };
        let net = made - load;
        charge = (charge + net / 12.0 / 200.0 * 100.0).min(100.0);
        let lift = if charge > 99.0 && made > 0.0 {
            0.9
        } else {
            0.0
        };
        let volts = 12.9 + 0.008 * (charge - 50.0) + 0.02 * net + lift;
        text.push_str(&format!(
            "2026-08-{:02} {:02}:{:02}:00,{volts:.2},{net:.2},{made:.2},{charge:.1}\n",
            day + 3,
            row % 288 / 12,
            row % 12 * 5
        ));
    }
    text
}

#[test]
fn nor_is_one_beside_something_to_watch() {
    let design = format!("{HALF_GONE}reserve = \"95 %\"\n");
    let at = workshop(&design, &half_gone());
    let ran = run(at.path(), &RECONCILE);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let report = report(&at.path().join("out"));
    let kinds = report["findings"].as_array().unwrap();
    assert!(!kinds.is_empty(), "{}", ran.out);
    assert!(
        ran.out.contains("The account does not close"),
        "{}",
        ran.out
    );
    assert_eq!(report["verdict"]["limiting"], "log");
    assert_eq!(report["verdict"]["confidence"], "low");
}

const HALF_GONE: &str = "[place]\nlatitude = 46.84\nlongitude = 9.53\ntimezone = \"Europe/Zurich\"\n\
    [array]\npanels_in_series = 2\nmounting = \"gap\"\ntilt = \"35 deg\"\nfacing = \"165 deg\"\n\
    [array.panel]\npower = \"180 W\"\n[battery]\nchemistry = \"agm\"\ncapacity = \"200 Ah\"\n";

#[test]
fn a_loss_without_a_cause_is_no_all_clear() {
    let at = workshop(HALF_GONE, &half_gone());
    let ran = run(at.path(), &RECONCILE);
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(
        ran.out.contains("The account does not close"),
        "{}",
        ran.out
    );
    assert!(!ran.out.contains("Nothing needs mending"), "{}", ran.out);
    let report = report(&at.path().join("out"));
    assert_eq!(report["verdict"]["limiting"], "log");
    assert_eq!(report["verdict"]["confidence"], "low");
}
