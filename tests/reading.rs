//! Reading logs of many habits: each file under `tests/logs` shows one, `expected.txt` says what is
//! in it. The figures there were reckoned from the series the files were written from, not by the
//! reader.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

use ampledger::calendar::Calendar;
use ampledger::log::{self, Reading, Request};
use ampledger::mapping::{ColumnMap, ColumnRef, LogEntry, Role, StampZone};
use ampledger::tally::Measured;
use ampledger::timeline::stage;
use chrono::NaiveDate;
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

fn name(text: &str) -> ColumnMap {
    ColumnMap {
        columns: vec![ColumnRef::Name(text.to_owned())],
        ..ColumnMap::default()
    }
}

fn number(position: usize) -> ColumnMap {
    ColumnMap {
        columns: vec![ColumnRef::Number(position)],
        ..ColumnMap::default()
    }
}

/// What a design would have to say of a file, where the reader cannot find it by itself.
fn entry_for(file: &str) -> Option<LogEntry> {
    let mut entry = LogEntry {
        files: vec![file.to_owned()],
        ..LogEntry::default()
    };
    let start = NaiveDate::from_ymd_opt(2026, 5, 14)
        .unwrap()
        .and_hms_opt(10, 0, 0);
    match file {
        "no-header.csv" => {
            entry.columns.insert(Role::BatteryVoltage, number(2));
            entry.columns.insert(Role::BatteryCurrent, number(3));
            entry.columns.insert(Role::Soc, number(4));
        }
        "time-elapsed-start.csv" | "time-elapsed-restarts.csv" | "time-elapsed-hms.csv" => {
            entry.start = start
        }
        "time-pattern.csv" => {
            entry.time_format = Some("%dd%mm%Yy %Hh%M".to_owned());
            entry.columns.insert(Role::Time, name("When"));
        }
        "time-without-year.csv" => {
            entry.time_format = Some("%d/%m %H:%M".to_owned());
            entry.year = Some(2026);
            entry.columns.insert(Role::Time, name("Stamp"));
        }
        "listed-missing.csv" => entry.missing = vec!["77.7".to_owned()],
        "sign-stated.csv" => entry.charging = Some("negative".to_owned()),
        "stage-numbers-mapped.csv" => {
            let mut map = name("Charging stage");
            map.values = [("3", "bulk"), ("4", "absorption"), ("5", "float")]
                .map(|(a, b)| (a.to_owned(), b.to_owned()))
                .into();
            entry.columns.insert(Role::Stage, map);
        }
        "mapped.csv" => {
            entry.columns.insert(Role::Time, name("when"));
            let mut volts = name("U1");
            volts.unit = Some("mV".to_owned());
            entry.columns.insert(Role::BatteryVoltage, volts);
            let mut amps = name("I a");
            amps.columns.push(ColumnRef::Name("I b".to_owned()));
            amps.add = true;
            entry.columns.insert(Role::BatteryCurrent, amps);
        }
        "node-filter.csv" => {
            entry.only = Some((ColumnRef::Name("node".to_owned()), "3".to_owned()))
        }
        "clock-shift.csv" => entry.clock_shift_s = 420.0,
        "on-change.csv" => entry.hold_s = Some(600.0),
        "misnamed-column.csv" => {
            entry
                .columns
                .insert(Role::BatteryVoltage, name("Battery volts (V)"));
        }
        _ => return None,
    }
    Some(entry)
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

/// What a line of `expected.txt` finds wrong with a reading; empty where all is right.
fn faults(fields: &[&str], reading: &Reading) -> String {
    let [_, rows, first, roles, role, plus, minus] = fields else {
        return "a malformed line".to_owned();
    };
    let file = &reading.inspection.files[0];
    let mut wrong = String::new();
    let r = file.rows;
    let seen = format!(
        "{}/{}/{}/{}/{}",
        r.read, r.used, r.repaired, r.merged, r.refused
    );
    if seen != *rows {
        let _ = write!(wrong, " rows {seen}, not {rows};");
    }
    if file.first.as_deref() != Some(first) {
        let _ = write!(wrong, " first {:?}, not {first};", file.first);
    }
    let found: Vec<&str> = file
        .columns
        .iter()
        .filter_map(|c| c.role.as_deref())
        .collect();
    for role in roles.split(' ').filter(|r| !found.contains(r)) {
        let _ = write!(wrong, " no {role} among {found:?};");
    }
    let (plus, minus): (f64, f64) = (plus.parse().unwrap(), minus.parse().unwrap());
    match total(reading, role) {
        None => wrong.push_str(" no such energy;"),
        Some(m) => {
            let (a, b) = (m.wh_in.unwrap_or(-1.0), m.wh_out.unwrap_or(-1.0));
            if !close(a, plus, 1e-4) || !close(b, minus, 1e-4) {
                let _ = write!(
                    wrong,
                    " {a:.4} Wh in and {b:.4} out, not {plus} and {minus};"
                );
            }
        }
    }
    wrong
}

#[test]
fn every_habit_is_read_as_it_was_meant() {
    let expected = fs::read_to_string(folder().join("expected.txt")).unwrap();
    let mut wrong = String::new();
    let mut count = 0;
    for line in expected.lines().filter(|l| !l.starts_with('#')) {
        let fields: Vec<&str> = line.split(" | ").collect();
        count += 1;
        let said = match read(fields[0]) {
            Ok(reading) => faults(&fields, &reading),
            Err(error) => format!(" {error}"),
        };
        if !said.is_empty() {
            let _ = writeln!(wrong, "{}:{said}", fields[0]);
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
    assert!(count >= 60, "only {count} logs");
}

/// What `inspect` says of each log, as it stands in `tests/logs/said`; `UPDATE_EXPECT=1` writes it
/// anew: read the difference before committing it.
#[test]
fn every_log_is_described_as_on_record() {
    let root = folder();
    let update = std::env::var_os("UPDATE_EXPECT").is_some_and(|v| v == "1");
    let mut files: Vec<PathBuf> = fs::read_dir(&root)
        .unwrap()
        .map(|f| f.unwrap().path())
        .filter(|f| f.is_file() && f.file_name().unwrap() != "expected.txt")
        .collect();
    files.sort();
    assert!(files.len() >= 90);
    let mut differ = String::new();
    for path in files {
        let file = path.file_name().unwrap().to_string_lossy().into_owned();
        let said = described(&file);
        let record = root.join("said").join(format!("{file}.txt"));
        if update {
            fs::write(&record, &said).unwrap();
        }
        let want = fs::read_to_string(&record).unwrap_or_default();
        if said != want {
            let _ = writeln!(differ, "{file}\nsaid:\n{said}on record:\n{want}");
        }
    }
    assert!(differ.is_empty(), "\n{differ}");
}

fn described(file: &str) -> String {
    let root = folder();
    let entries: Vec<LogEntry> = entry_for(file).into_iter().collect();
    let calendar = calendar();
    let request = Request {
        paths: vec![root.join(file)],
        entries: &entries,
        folder: Some(&root),
        calendar: &calendar,
        zone: None,
        nominal_v: None,
        from: None,
        to: None,
    };
    let mut seen = log::look(&request).unwrap().inspection;
    for found in &mut seen.files {
        file.clone_into(&mut found.file);
    }
    for measured in &mut seen.measured {
        file.clone_into(&mut measured.file);
    }
    log::inspect_text::text(&seen)
}

#[test]
fn bad_input_is_told_with_what_and_where_and_what_to_do() {
    let root = folder().join("bad");
    let mut seen = String::new();
    let mut files: Vec<PathBuf> = fs::read_dir(&root)
        .unwrap()
        .map(|f| f.unwrap().path())
        .collect();
    files.retain(|f| f.file_name().unwrap() != "messages.txt");
    files.sort();
    for file in files {
        let file = file.file_name().unwrap().to_string_lossy().into_owned();
        let entries: Vec<LogEntry> = entry_for(&file).into_iter().collect();
        let message = read_with(&[root.join(&file)], &root, &entries)
            .err()
            .unwrap_or("was read".to_owned());
        let front = format!("{}/", root.display());
        let _ = writeln!(seen, "{}", message.replace(&front, ""));
    }
    let kept = root.join("messages.txt");
    if std::env::var_os("UPDATE_EXPECT").is_some_and(|v| v == "1") {
        fs::write(&kept, &seen).unwrap();
    }
    assert_eq!(seen, fs::read_to_string(kept).unwrap());
}

#[test]
fn overlapping_files_of_one_device_are_one_log() {
    let root = folder();
    let together = read_with(
        &[root.join("overlap-2.csv"), root.join("overlap-1.csv")],
        &root,
        &[],
    )
    .unwrap();
    let whole = read("plain.csv").unwrap();
    let sum = |r: &Reading| -> (f64, f64) {
        r.inspection
            .measured
            .iter()
            .filter(|m| m.role == "battery_power" && m.date.is_none())
            .fold((0.0, 0.0), |s, m| {
                (s.0 + m.wh_in.unwrap(), s.1 + m.wh_out.unwrap())
            })
    };
    let (a, b) = (sum(&together), sum(&whole));
    assert!(
        close(a.0, b.0, 1e-9) && close(a.1, b.1, 1e-9),
        "{a:?} {b:?}"
    );
    let rows: Vec<_> = together.inspection.files.iter().map(|f| f.rows).collect();
    assert_eq!(rows.iter().map(|r| r.merged).sum::<u64>(), 4);
    assert!(
        rows.iter()
            .all(|r| r.read == r.used + r.repaired + r.merged + r.refused)
    );
    assert_eq!(
        together
            .timeline
            .channels
            .iter()
            .filter(|c| c.role == Role::BatteryVoltage)
            .count(),
        1
    );
}

#[test]
fn a_controller_beside_a_bank_monitor_shows_its_own_terminals() {
    let root = folder();
    let reading = read_with(
        &[root.join("controller.csv"), root.join("plain.csv")],
        &root,
        &[],
    )
    .unwrap();
    let source = |role| reading.timeline.channel(role).map(|c| c.source.clone());
    assert_eq!(source(Role::BatteryVoltage).as_deref(), Some("plain"));
    assert_eq!(source(Role::BatteryCurrent).as_deref(), Some("plain"));
    assert_eq!(source(Role::ChargeVoltage).as_deref(), Some("controller"));
    assert_eq!(source(Role::ChargePower).as_deref(), Some("controller"));
    let alone = read("controller.csv").unwrap();
    assert!(
        alone.timeline.channel(Role::BatteryVoltage).is_some()
            && alone.timeline.channel(Role::ChargeVoltage).is_some()
    );
}

#[test]
fn two_devices_with_the_same_columns_are_asked_about() {
    let folder = tempfile::tempdir().unwrap();
    let text = fs::read_to_string(self::folder().join("plain.csv")).unwrap();
    fs::write(folder.path().join("bow.csv"), &text).unwrap();
    fs::write(
        folder.path().join("stern.csv"),
        text.replace(",12.", ",11.").replace(",13.", ",12."),
    )
    .unwrap();
    let paths = [
        folder.path().join("bow.csv"),
        folder.path().join("stern.csv"),
    ];
    let error = read_with(&paths, folder.path(), &[]).unwrap_err();
    assert!(error.contains("two devices?"), "{error}");
    let apart = ["bow", "stern"].map(|n| LogEntry {
        name: Some(n.to_owned()),
        controller: Some(n.to_owned()),
        files: vec![format!("{n}.csv")],
        ..LogEntry::default()
    });
    let reading = read_with(&paths, folder.path(), &apart).unwrap();
    assert!(
        reading
            .timeline
            .series_of(Role::BatteryVoltage, Some("bow"))
            .is_some()
    );
    assert!(
        reading
            .timeline
            .series_of(Role::BatteryVoltage, Some("stern"))
            .is_some()
    );
}

#[test]
fn stages_hold_until_they_change() {
    for file in [
        "controller.csv",
        "controller-german.csv",
        "stage-numbers-mapped.csv",
    ] {
        let reading = read(file).unwrap();
        let series = reading.timeline.series(Role::Stage).unwrap();
        assert_eq!(series.mean(0), Some(stage::BULK), "{file}");
        assert_eq!(series.mean(62), Some(stage::ABSORPTION), "{file}");
        assert_eq!(series.mean(105), Some(stage::FLOAT), "{file}");
    }
}

#[test]
fn the_zone_of_stamps_comes_from_entry_or_calendar() {
    let root = folder();
    let entry = LogEntry {
        files: vec!["plain.csv".to_owned()],
        timezone: Some(StampZone::Named(chrono_tz::America::New_York)),
        ..LogEntry::default()
    };
    let reading = read_with(&[root.join("plain.csv")], &root, &[entry]).unwrap();
    assert_eq!(
        reading.inspection.files[0].first.as_deref(),
        Some("2026-05-14T16:00:00+02:00")
    );
}

#[test]
fn with_coarse_volts_day_and_night_tell_the_sign() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("coarse.csv");
    let mut text = "Time,Voltage (V),Current (A)\n".to_owned();
    for k in 0..288 {
        let amps = if (8..16).contains(&(k / 6 % 24)) {
            -6.0
        } else {
            2.5
        };
        let _ = writeln!(
            text,
            "2026-05-{} {:02}:{:02}:00,13,{amps}",
            14 + k / 144,
            k / 6 % 24,
            k % 6 * 10
        );
    }
    fs::write(&path, text).unwrap();
    let reading = read_with(&[path], folder.path(), &[]).unwrap();
    let (plus, minus) = total(&reading, "battery_current")
        .map(|m| (m.ah_in, m.ah_out))
        .unwrap();
    assert!(plus > minus, "{plus:?} {minus:?}");
}

#[test]
fn the_line_a_question_offers_settles_it() {
    let root = folder().join("bad");
    let mut entry = LogEntry {
        files: vec!["date-order-open.csv".to_owned()],
        time_format: Some("%d/%m/%Y %H:%M".to_owned()),
        ..LogEntry::default()
    };
    let paths = [root.join("date-order-open.csv")];
    let first = |entry: &LogEntry| {
        let reading = read_with(&paths, &root, std::slice::from_ref(entry)).unwrap();
        reading.inspection.files[0].first.clone().unwrap()
    };
    assert_eq!(first(&entry), "2026-06-05T10:00:00+02:00");
    entry.time_format = Some("%m/%d/%Y %H:%M".to_owned());
    assert_eq!(first(&entry), "2026-05-06T10:00:00+02:00");
    let sign = LogEntry {
        files: vec!["sign-open.csv".to_owned()],
        charging: Some("negative".to_owned()),
        ..LogEntry::default()
    };
    let reading = read_with(&[root.join("sign-open.csv")], &root, &[sign]).unwrap();
    let amps = reading.timeline.series(Role::BatteryCurrent).unwrap();
    assert!(amps.max.contains(&4.0) && amps.min.contains(&-4.5));
}

#[test]
fn a_log_of_one_row_a_day_gives_totals_and_no_integrals() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("days.csv");
    let text = "Date;Yield (Wh);Load energy (Wh);Battery min SoC (%);Max battery voltage (V)\n14.05.2026;810;640;61;14,3\n15.05.2026;455;700;48;14,1\n16.05.2026;990;610;44;14,4\n";
    fs::write(&path, text).unwrap();
    let reading = read_with(&[path], folder.path(), &[]).unwrap();
    assert_eq!(reading.day_totals.len(), 3);
    let day = &reading.day_totals[1];
    assert_eq!(day.date, NaiveDate::from_ymd_opt(2026, 5, 15).unwrap());
    assert_eq!(
        (
            day.harvest_wh,
            day.load_wh,
            day.soc_low_pct,
            day.volts_high_v
        ),
        (Some(455.0), Some(700.0), Some(48.0), Some(14.1))
    );
    assert!(reading.inspection.measured.is_empty());
}

#[test]
fn midnights_part_days_and_periods_cut() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("night.csv");
    let mut text = "Time,Battery voltage (V),Battery current (A)\n".to_owned();
    for k in 0..48 {
        let _ = writeln!(
            text,
            "2026-05-{} {:02}:{:02}:30,12.80,-5.0",
            14 + (k + 24) / 48,
            (k / 2 + 12) % 24,
            k % 2 * 30
        );
    }
    fs::write(&path, &text).unwrap();
    let calendar = calendar();
    let day = NaiveDate::from_ymd_opt(2026, 5, 15).unwrap();
    let mut request = Request {
        paths: vec![path],
        entries: &[],
        folder: None,
        calendar: &calendar,
        zone: None,
        nominal_v: None,
        from: None,
        to: None,
    };
    let out = |r: &Reading, date: Option<NaiveDate>| {
        r.inspection
            .measured
            .iter()
            .find(|m| m.role == "battery_power" && m.date == date.map(|d| d.to_string()))
            .and_then(|m| m.wh_out)
            .unwrap()
    };
    let all = log::read(&request).unwrap();
    let first = NaiveDate::from_ymd_opt(2026, 5, 14);
    assert!(close(out(&all, first), 64.0 * (12.0 - 30.0 / 3600.0), 1e-9));
    assert!(close(
        out(&all, Some(day)),
        64.0 * (11.5 + 30.0 / 3600.0),
        1e-9
    ));
    request.from = Some(day);
    let cut = log::read(&request).unwrap();
    assert!(close(out(&cut, None), out(&all, Some(day)), 1e-9));
    (request.from, request.to) = (None, first);
    let start = log::read(&request).unwrap();
    assert!(close(out(&start, None), out(&all, first), 1e-9));
    assert_eq!(start.timeline.end(), calendar.bounds(first.unwrap()).1);
    request.from = NaiveDate::from_ymd_opt(2027, 1, 1);
    request.to = None;
    assert!(
        log::read(&request)
            .unwrap_err()
            .0
            .starts_with("no row between 2027-01-01")
    );
}

#[test]
fn a_bad_file_of_a_folder_is_passed_over_and_named() {
    let folder = tempfile::tempdir().unwrap();
    fs::copy(
        self::folder().join("plain.csv"),
        folder.path().join("a.csv"),
    )
    .unwrap();
    fs::write(folder.path().join("b.csv"), "").unwrap();
    let reading = read_with(&[folder.path().to_path_buf()], folder.path(), &[]).unwrap();
    assert_eq!(reading.inspection.files.len(), 1);
    assert!(reading.inspection.skipped[0].file.ends_with("b.csv"));
    let pattern = folder.path().join("c*.csv");
    let error = read_with(&[pattern], folder.path(), &[]).unwrap_err();
    assert!(
        error.ends_with("c*.csv: no file matches this pattern"),
        "{error}"
    );
}

#[test]
fn files_of_a_design_stay_in_its_folder() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("in")).unwrap();
    fs::copy(
        self::folder().join("plain.csv"),
        folder.path().join("out.csv"),
    )
    .unwrap();
    let entry = LogEntry {
        files: vec!["../out.csv".to_owned()],
        ..LogEntry::default()
    };
    let error = read_with(&[], &folder.path().join("in"), &[entry]).unwrap_err();
    assert!(error.contains("outside the design's folder"), "{error}");
}

#[test]
fn text_of_an_inspection_fits_80_columns_and_counts_add_up() {
    for file in ["controller.csv", "ragged-rows.csv", "units-row.csv"] {
        let reading = read(file).unwrap();
        let text = log::inspect_text::text(&reading.inspection);
        assert!(
            text.lines()
                .all(|l| l.chars().count() <= 80 || l.contains(file)),
            "{text}"
        );
        assert!(text.contains("24 rows"), "{text}");
    }
}

/// Volts and amperes of a made-up log, and the styles to write them in.
fn write_log(rows: &[(i64, f64, f64)], style: usize) -> (String, Vec<u8>) {
    let delimiter = [",", ";", "\t", "|"][style % 4];
    let comma = !style.is_multiple_of(4) && style / 4 % 2 == 1;
    let milli = style / 8 % 2 == 1;
    let mut text = if style / 16 % 2 == 1 {
        "Logger 7, written out by hand\n\n".to_owned()
    } else {
        String::new()
    };
    let titles = if milli {
        ["Time", "Battery voltage [mV]", "Battery current [mA]"]
    } else {
        ["Time", "Battery voltage [V]", "Battery current [A]"]
    };
    let _ = writeln!(text, "{}", titles.join(delimiter));
    for (at, volts, amps) in rows {
        let stamp = chrono::DateTime::from_timestamp(*at, 0).unwrap();
        let scale = if milli { 1000.0 } else { 1.0 };
        let mut cells = [
            format!("{:.3}", volts * scale),
            format!("{:.3}", amps * scale),
        ];
        if comma {
            cells = cells.map(|c| c.replace('.', ","));
        }
        let _ = writeln!(
            text,
            "{}{delimiter}{}",
            stamp.format("%Y-%m-%dT%H:%M:%SZ"),
            cells.join(delimiter)
        );
    }
    let bytes = if style / 32 % 2 == 1 {
        text.encode_utf16().flat_map(u16::to_le_bytes).collect()
    } else {
        text.into_bytes()
    };
    (format!("log-{style}.csv"), bytes)
}

fn energy(folder: &Path, files: &[(String, Vec<u8>)]) -> BTreeMap<String, (f64, f64)> {
    let entry = LogEntry {
        files: vec!["*.csv".to_owned()],
        charging: Some("positive".to_owned()),
        ..LogEntry::default()
    };
    let mut paths = Vec::new();
    for (name, bytes) in files {
        fs::write(folder.join(name), bytes).unwrap();
        paths.push(folder.join(name));
    }
    let reading = read_with(&paths, folder, &[entry]).unwrap();
    let mut sums = BTreeMap::new();
    for m in reading
        .inspection
        .measured
        .iter()
        .filter(|m| m.date.is_some())
    {
        let sum: &mut (f64, f64) = sums
            .entry(format!("{:?} {:?}", m.role, m.date))
            .or_default();
        sum.0 += m.wh_in.or(m.ah_in).unwrap();
        sum.1 += m.wh_out.or(m.ah_out).unwrap();
    }
    sums.retain(|_, s| s.0 + s.1 > 1e-9);
    sums
}

fn same(a: &BTreeMap<String, (f64, f64)>, b: &BTreeMap<String, (f64, f64)>, share: f64) -> bool {
    a.len() == b.len()
        && a.iter().zip(b).all(|(x, y)| {
            x.0 == y.0
                && (x.1.0 - y.1.0).abs() <= share * (y.1.0 + y.1.1) + 1e-9
                && (x.1.1 - y.1.1).abs() <= share * (y.1.0 + y.1.1) + 1e-9
        })
}

prop_compose! {
    fn rows()(values in prop::collection::vec((11.0..14.9_f64, -30.0..30.0_f64), 12..120)) -> Vec<(i64, f64, f64)> {
        let round = |x: f64| (x * 1000.0).round() / 1000.0;
        values.into_iter().enumerate().map(|(k, (v, i))| (1_778_790_000 + 120 * k as i64, round(v), round(i))).collect()
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, ..ProptestConfig::default() })]

    #[test]
    fn the_style_a_log_is_written_in_changes_no_energy(rows in rows(), style in 0_usize..64) {
        let folder = tempfile::tempdir().unwrap();
        let plain = energy(folder.path(), &[write_log(&rows, 0)]);
        let styled = energy(folder.path(), &[write_log(&rows, style)]);
        prop_assert!(same(&styled, &plain, 1e-4), "{plain:?} {styled:?}");
    }

    #[test]
    fn shuffling_rows_and_splitting_files_change_nothing(rows in rows(), seed in 1_usize..1000, at in 3_usize..9) {
        let folder = tempfile::tempdir().unwrap();
        let plain = energy(folder.path(), &[write_log(&rows, 0)]);
        let mut mixed = rows.clone();
        for k in 0..mixed.len() {
            mixed.swap(k, (k * seed + seed / 7) % rows.len());
        }
        prop_assert!(same(&energy(folder.path(), &[write_log(&mixed, 0)]), &plain, 1e-9));
        let (mut one, mut two) = (write_log(&rows[..at], 0), write_log(&rows[at..], 0));
        one.0 = "one.csv".to_owned();
        two.0 = "two.csv".to_owned();
        prop_assert!(same(&energy(folder.path(), &[two, one]), &plain, 1e-9));
    }

    #[test]
    fn any_bytes_are_read_or_refused_and_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x.csv");
        fs::write(&path, bytes).unwrap();
        if let Ok(reading) = read_with(&[path], folder.path(), &[]) {
            for file in &reading.inspection.files {
                let r = file.rows;
                prop_assert_eq!(r.read, r.used + r.repaired + r.merged + r.refused);
            }
        }
    }

    #[test]
    fn damaged_logs_never_panic_and_keep_count(at in 0_usize..900, with in prop::collection::vec(any::<u8>(), 0..12)) {
        let mut bytes = fs::read(self::folder().join("controller.csv")).unwrap();
        let at = at.min(bytes.len());
        let end = (at + with.len()).min(bytes.len());
        bytes.splice(at..end, with);
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("x.csv");
        fs::write(&path, bytes).unwrap();
        if let Ok(reading) = read_with(&[path], folder.path(), &[]) {
            let r = reading.inspection.files[0].rows;
            prop_assert_eq!(r.read, r.used + r.repaired + r.merged + r.refused);
            prop_assert!(reading.inspection.measured.iter().all(|m| m.covered_h.is_finite() && m.wh_in.unwrap_or(0.0).is_finite()));
        }
    }
}
