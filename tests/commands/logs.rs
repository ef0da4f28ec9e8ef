//! Where logs come from and in what order.

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

#[test]
fn files_read_alike_say_how_once() {
    let at = tempfile::tempdir().unwrap();
    let rows = |day: u32, time: &str| {
        let row = |k: u32| format!("2026-05-{day:02} 12:{k:02}:00,13.{k:02},4.5\n");
        format!("{time},battery voltage (V),battery current (A)\n")
            + &(0..60).map(row).collect::<String>()
    };
    fs::write(at.path().join("a.csv"), rows(1, "time")).unwrap();
    fs::write(at.path().join("b.csv"), rows(2, "time")).unwrap();
    fs::write(at.path().join("c.csv"), rows(3, "clock (UTC)")).unwrap();
    fs::write(at.path().join("d.csv"), rows(4, "time")).unwrap();
    let ran = run(at.path(), &["inspect", "a.csv", "b.csv", "c.csv", "d.csv"]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let told: Vec<&str> = ran.out.split("\n\n").collect();
    assert!(
        told[0].contains("battery_voltage      'battery voltage (V)'"),
        "{}",
        told[0]
    );
    assert!(
        told[1].contains("60 rows: 60 used") && told[1].contains("read like a.csv"),
        "{}",
        told[1]
    );
    assert!(
        told[1].contains("Ah in") && !told[1].contains("'battery voltage (V)'"),
        "{}",
        told[1]
    );
    assert!(told[2].contains("'clock (UTC)'"), "{}", told[2]);
    assert!(told[3].contains("read like a.csv"), "{}", told[3]);
}

#[test]
fn a_question_all_files_ask_is_asked_once() {
    let at = workshop(DESIGN, "");
    let logs = at.path().join("logs");
    fs::create_dir(&logs).unwrap();
    let open = fs::read_to_string("tests/logs/bad/sign-open.csv").unwrap();
    for day in 1..=5 {
        let text = open.replace("2026-05-14", &format!("2026-05-0{day}"));
        fs::write(logs.join(format!("{day}.csv")), text).unwrap();
    }
    let ran = run(at.path(), &["reconcile", "logs", "--design", "design.toml"]);
    assert_eq!(ran.status, 1);
    let sign = ran
        .err
        .lines()
        .filter(|l| l.contains("charges or discharges"));
    let sign: Vec<&str> = sign.collect();
    assert_eq!(sign.len(), 1, "{}", ran.err);
    assert!(
        sign[0].contains("logs/1.csv and 4 other files: "),
        "{}",
        ran.err
    );
}

/// A folder of a file a day from 1 May 2026, month before day, and the rows of the report's files.
fn a_file_a_day(days: std::ops::RangeInclusive<u32>) -> (TempDir, Ran) {
    let at = workshop(DESIGN, "");
    let logs = at.path().join("logs");
    fs::create_dir(&logs).unwrap();
    for day in days {
        let row = |k: u32| {
            let amps = if (6..18).contains(&(k / 60)) { 5 } else { -4 };
            format!(
                "05/{day:02}/2026 {:02}:{:02}:00,{:.2},{amps}\n",
                k / 60,
                k % 60,
                13.0 + f64::from(amps) / 50.0
            )
        };
        let text = HEADER.to_owned() + &(0..1440).step_by(5).map(row).collect::<String>();
        fs::write(logs.join(format!("{day:02}.csv")), text).unwrap();
    }
    let ran = run(
        at.path(),
        &[
            "reconcile",
            "logs",
            "--design",
            "design.toml",
            "--out",
            "out",
        ],
    );
    (at, ran)
}

#[test]
fn files_of_a_day_each_show_together_that_the_month_comes_first() {
    // A day above the 12th shows it, or that the second number counts the days on.
    for last in [31, 9] {
        let (at, ran) = a_file_a_day(1..=last);
        assert_eq!(ran.status, 0, "{}", ran.err);
        let report = report(&at.path().join("out"));
        assert_eq!(report["period"]["from"], "2026-05-01");
        assert_eq!(report["period"]["to"], format!("2026-05-{last:02}"));
        assert_eq!(report["inputs"][0]["rows"]["used"], 288);
        let notes = report["inputs"][0]["notes"].to_string();
        assert!(
            notes.contains("month before day: the files beside it show it"),
            "{notes}"
        );
    }
}

#[test]
fn a_lone_file_of_such_a_day_is_asked_about() {
    let (_, ran) = a_file_a_day(3..=3);
    refused(
        &ran,
        1,
        &["logs/03.csv", "the day and the month cannot be told apart"],
    );
}
