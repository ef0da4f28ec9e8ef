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
