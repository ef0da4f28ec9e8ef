//! `inspect --write`: what was found goes into the design, and nothing else changes.

use super::*;

/// A log in millivolts and milliamperes, day before month, discharging positive.
fn odd_log() -> String {
    let mut text = "Datum;U Batterie [mV];I Batterie [mA]\n".to_owned();
    for row in rows(4, 15).lines() {
        let cells: Vec<&str> = row.split(',').collect();
        let (date, time) = cells[0].split_once(' ').unwrap();
        let mut parts = date.split('-').rev();
        let day: Vec<&str> = parts.by_ref().collect();
        let milli = |cell: &str| (cell.parse::<f64>().unwrap() * 1000.0).round();
        text.push_str(&format!(
            "{} {time};{};{}\n",
            day.join("/"),
            milli(cells[1]),
            -milli(cells[2])
        ));
    }
    text
}

const WRITE: [&str; 4] = ["inspect", "log.csv", "--write", "design.toml"];

fn design(at: &Path) -> String {
    fs::read_to_string(at.join("design.toml")).unwrap()
}

/// Days, account and energies of a report.
fn figures(at: &Path, arguments: &[&str]) -> [Value; 3] {
    let ran = run(at, arguments);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let found = report(&at.join("out"));
    ["days", "account", "measured"].map(|part| found[part].clone())
}

#[test]
fn the_entry_says_what_was_found_and_gives_the_same_figures() {
    let commented = format!("# My van\n{DESIGN}# the end");
    let at = workshop(&commented, &odd_log());
    let before = figures(at.path(), &RECONCILE);
    let ran = run(at.path(), &WRITE);
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(
        ran.out.ends_with("design.toml: 1 log entries added\n"),
        "{}",
        ran.out
    );
    let new = design(at.path());
    assert!(
        new.starts_with(&format!("{commented}\n")),
        "what was there stays: {new}"
    );
    for line in [
        "files = \"log.csv\"",
        "timezone = \"UTC\"",
        "charging = \"negative\"",
        "time_format = \"%d/%m/%Y %H:%M:%S\"",
        "time = \"Datum\"",
        "battery_voltage = { column = \"U Batterie [mV]\", unit = \"mV\" }",
        "battery_current = { column = \"I Batterie [mA]\", unit = \"mA\" }",
    ] {
        assert!(new.lines().any(|l| l == line), "no {line} in:\n{new}");
    }
    let after = figures(
        at.path(),
        &["reconcile", "--design", "design.toml", "--out", "out"],
    );
    assert_eq!(after, before);
}

#[test]
fn written_twice_is_written_once() {
    let at = workshop(DESIGN, &odd_log());
    assert_eq!(run(at.path(), &WRITE).status, 0);
    let once = design(at.path());
    let again = run(at.path(), &WRITE);
    assert_eq!(again.status, 0, "{}", again.err);
    assert!(again.out.contains("left as it is"), "{}", again.out);
    assert_eq!(design(at.path()), once);
}

#[test]
fn an_entry_that_is_there_is_completed_and_never_overwritten() {
    let entry = "\n[[log]] # the shunt\nfiles = \"log.csv\"\ncharging = \"positive\" # I know\n\
                 [log.columns]\n# by hand\nbattery_voltage = \"U Batterie [mV]\"\n\n\
                 [system]\nname = \"behind\" # stays\n";
    let at = workshop(&format!("{DESIGN}{entry}"), &odd_log());
    let ran = run(at.path(), &WRITE);
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(ran.out.contains("1 log entries completed"), "{}", ran.out);
    let new = design(at.path());
    for line in format!("{DESIGN}{entry}").lines() {
        assert!(new.lines().any(|l| l == line), "{line} was lost:\n{new}");
    }
    assert_eq!(new.matches("[[log]]").count(), 1);
    assert_eq!(new.matches("battery_voltage").count(), 1);
    assert!(new.contains("battery_current = {"), "{new}");
    assert_eq!(
        run(
            at.path(),
            &["reconcile", "--design", "design.toml", "--out", "out"]
        )
        .status,
        0
    );
}

#[test]
fn an_open_question_stands_there_as_a_remark() {
    let log = "a,b,c\n".to_owned()
        + &(1..9)
            .map(|d| format!("2026-05-0{d} 10:00,12.{d},{d}\n"))
            .collect::<String>();
    let at = workshop(DESIGN, log.split_once('\n').unwrap().1);
    let ran = run(at.path(), &WRITE);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let new = design(at.path());
    assert!(new.contains("header = false\n"), "{new}");
    assert!(
        new.lines().any(|l| l.starts_with("# battery_voltage = 2")),
        "{new}"
    );
    // Taking the remark's mark away is all there is to do.
    let settled = new.replace("# battery_voltage", "battery_voltage");
    fs::write(at.path().join("design.toml"), settled).unwrap();
    let ran = run(at.path(), &["inspect", "--design", "design.toml"]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(
        ran.out.contains("battery_voltage      '2' (design)"),
        "{}",
        ran.out
    );
}

#[test]
fn many_files_are_named_by_a_pattern() {
    let at = workshop(DESIGN, &log());
    fs::create_dir(at.path().join("logs")).unwrap();
    for day in 1..=6 {
        let rows = rows(1, 15).replace("2026-06-01", &format!("2026-06-0{day}"));
        fs::write(
            at.path().join(format!("logs/day-0{day}.csv")),
            format!("{HEADER}{rows}"),
        )
        .unwrap();
    }
    let ran = run(at.path(), &["inspect", "logs", "--write", "design.toml"]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(
        design(at.path()).contains("files = \"logs/day-0*.csv\""),
        "{}",
        design(at.path())
    );
}

#[test]
fn a_file_of_windows_lines_keeps_them() {
    let at = workshop(&DESIGN.replace('\n', "\r\n"), &odd_log());
    assert_eq!(run(at.path(), &WRITE).status, 0);
    let new = design(at.path());
    assert_eq!(new.matches('\n').count(), new.matches("\r\n").count());
}

/// The design stays as it was, byte for byte, and nothing is left beside it.
fn leaves_it_alone(at: &Path, arguments: &[&str], status: i32, says: &[&str]) {
    let before = files(at);
    refused(&run(at, arguments), status, says);
    assert_eq!(files(at), before);
}

#[test]
fn what_is_no_design_is_not_written_to() {
    for (text, says) in [
        ("to do: buy bread\n", "design.toml"),
        ("[place]\nlatitude = 1\nlongitude = 1\n", "battery"),
    ] {
        let at = workshop(text, &log());
        leaves_it_alone(at.path(), &WRITE, 1, &[says]);
    }
    let at = workshop(DESIGN, &log());
    leaves_it_alone(
        at.path(),
        &["inspect", "log.csv", "--write", "none.toml"],
        1,
        &["none.toml", "no such design file"],
    );
    leaves_it_alone(
        at.path(),
        &[
            "inspect",
            "log.csv",
            "--write",
            "design.toml",
            "--design",
            "other.toml",
        ],
        2,
        &["--design", "--write"],
    );
}

#[test]
fn a_log_outside_the_folder_is_not_written_down() {
    let at = workshop(DESIGN, &log());
    fs::create_dir(at.path().join("van")).unwrap();
    fs::write(at.path().join("van/design.toml"), DESIGN).unwrap();
    leaves_it_alone(
        at.path(),
        &["inspect", "log.csv", "--write", "van/design.toml"],
        1,
        &["log.csv", "outside"],
    );
}
