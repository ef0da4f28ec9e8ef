//! Several files, zones, signs, days.

use super::*;

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
            .channel_of(Role::BatteryVoltage, Some("bow"))
            .is_some()
    );
    assert!(
        reading
            .timeline
            .channel_of(Role::BatteryVoltage, Some("stern"))
            .is_some()
    );
}

#[test]
fn two_controllers_that_show_the_same_nothing_all_night_are_asked_about() {
    let folder = tempfile::tempdir().unwrap();
    for (name, most) in [("roof", 12.0), ("deck", 9.0)] {
        let mut text = "Time,Charge current (A),Panel voltage (V),Panel current (A)\n".to_owned();
        for k in 0..96 {
            let sun = (f64::from(k - 30) / 36.0 * std::f64::consts::PI).sin();
            let amps = if (30..66).contains(&k) {
                most * sun
            } else {
                0.0
            };
            let (hour, minute) = (k / 4, k % 4 * 15);
            let volts = if amps > 0.0 { 35.0 } else { 0.3 };
            text.push_str(&format!(
                "2026-06-03 {hour:02}:{minute:02}:00,{amps:.2},{volts},{:.2}\n",
                amps * 0.37
            ));
        }
        fs::write(folder.path().join(format!("{name}.csv")), text).unwrap();
    }
    let paths = ["roof.csv", "deck.csv"].map(|name| folder.path().join(name));
    let error = read_with(&paths, folder.path(), &[]).unwrap_err();
    assert!(error.contains("two devices?"), "{error}");
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
        error.ends_with(
            "c*.csv: no file matches this pattern; check it, and the folder it starts from"
        ),
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

/// The notes of the first file, wrapped lines and all.
fn notes(reading: &Reading) -> String {
    reading.inspection.files[0].notes.join("\n")
}

/// Two days of an array's power in a file of its own, stamps as on the clock of Copenhagen.
fn sunny(folder: &Path, title: &str) -> PathBuf {
    let mut text = format!("{title},Battery voltage (V),PV power (W)\n");
    for k in 0..192 {
        let hour = f64::from(k % 96) / 4.0;
        let sun = ((hour - 7.0) / 12.0 * std::f64::consts::PI).sin().max(0.0);
        let sun = if (7.0..19.0).contains(&hour) {
            sun
        } else {
            0.0
        };
        let _ = writeln!(
            text,
            "2026-05-{} {:02}:{:02}:00,{:.2},{:.1}",
            14 + k / 96,
            k % 96 / 4,
            k % 4 * 15,
            13.0 + sun,
            90.0 * sun
        );
    }
    let path = folder.join("sunny.csv");
    fs::write(&path, text).unwrap();
    path
}

#[test]
fn a_clock_the_sun_contradicts_is_noted() {
    let folder = tempfile::tempdir().unwrap();
    let path = sunny(folder.path(), "Time");
    let right = read_with(std::slice::from_ref(&path), folder.path(), &[]).unwrap();
    assert!(!notes(&right).contains("middle of the harvest"));
    let entry = LogEntry {
        files: vec!["sunny.csv".to_owned()],
        timezone: Some(StampZone::Named(chrono_tz::America::Los_Angeles)),
        ..LogEntry::default()
    };
    let wrong = read_with(&[path], folder.path(), &[entry]).unwrap();
    assert!(
        notes(&wrong).contains("lies at about 22:00"),
        "{}",
        notes(&wrong)
    );
}

#[test]
fn one_file_of_two_devices_is_read_once_for_each_entry() {
    let root = folder();
    let entry = |node: &str| LogEntry {
        name: Some(node.to_owned()),
        controller: Some(node.to_owned()),
        files: vec!["devices-in-turn.csv".to_owned()],
        only: Some((ColumnRef::Name("Node".to_owned()), node.to_owned())),
        ..LogEntry::default()
    };
    let entries = [entry("bow"), entry("stern")];
    for paths in [vec![], vec![root.join("devices-in-turn.csv")]] {
        let reading = read_with(&paths, &root, &entries).unwrap();
        let mean = |node| {
            let channel = reading
                .timeline
                .channel_of(Role::BatteryVoltage, Some(node));
            channel.and_then(|c| c.series.mean(2)).unwrap()
        };
        assert!(close(mean("stern"), 2.0 * mean("bow"), 0.02));
    }
    let doubled = [entry("bow"), entry("bow")];
    let once = read_with(&[root.join("devices-in-turn.csv")], &root, &doubled).unwrap();
    assert_eq!(once.inspection.files.len(), 1);
}

#[test]
fn seconds_since_1970_count_from_greenwich_whatever_the_entry_says() {
    let root = folder();
    let entry = LogEntry {
        files: vec!["time-epoch-s.csv".to_owned()],
        timezone: Some(StampZone::Named(chrono_tz::America::New_York)),
        ..LogEntry::default()
    };
    let reading = read_with(&[root.join("time-epoch-s.csv")], &root, &[entry]).unwrap();
    let file = &reading.inspection.files[0];
    assert_eq!(file.first.as_deref(), Some("2026-05-14T10:00:00+02:00"));
    assert!(
        notes(&reading).contains("is not used"),
        "{}",
        notes(&reading)
    );
}

#[test]
fn a_zone_nobody_named_is_said_to_be_unknown() {
    let calendar = Calendar::fixed(chrono_tz::UTC);
    let mut request = Request {
        paths: vec![folder().join("plain.csv")],
        entries: &[],
        folder: None,
        calendar: &calendar,
        zone: None,
        nominal_v: None,
        from: None,
        to: None,
    };
    let unknown = log::look(&request).unwrap();
    assert!(
        notes(&unknown).contains("carry no zone"),
        "{}",
        notes(&unknown)
    );
    request.zone = Some(chrono_tz::Europe::Lisbon);
    assert_eq!(notes(&log::look(&request).unwrap()), "");
    request.zone = None;
    request.paths = vec![folder().join("time-utc-z.csv")];
    assert_eq!(notes(&log::look(&request).unwrap()), "");
}

#[test]
fn the_bank_s_nominal_voltage_settles_whole_numbers() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("cell.csv");
    // 2.15 to 2.27 V of a lead cell in millivolts, or a bank of 24 V in hundredths?
    let mut text = "Time,Battery voltage,Battery current (A)\n".to_owned();
    for k in 0..24 {
        let _ = writeln!(text, "2026-05-14 10:{:02}:00,{},{}", k, 2150 + 5 * k, k % 5);
    }
    fs::write(&path, text).unwrap();
    let calendar = calendar();
    let volts = |nominal_v| {
        let request = Request {
            paths: vec![path.clone()],
            entries: &[],
            folder: None,
            calendar: &calendar,
            zone: None,
            nominal_v,
            from: None,
            to: None,
        };
        let reading = log::read(&request).unwrap();
        let series = reading.timeline.series(Role::BatteryVoltage).unwrap();
        series.mean(3).unwrap()
    };
    assert!(close(volts(Some(24.0)), 21.7, 0.01));
    assert!(close(volts(Some(2.0)), 2.17, 0.01));
}

/// An entry that reads one charger's own columns of a file that two share.
fn of_charger(name: &str) -> LogEntry {
    let column = |role: Role, what: &str| {
        let title = format!("{name} charger {what}");
        let map = ColumnMap {
            columns: vec![ColumnRef::Name(title)],
            ..ColumnMap::default()
        };
        (role, map)
    };
    LogEntry {
        name: Some(name.to_owned()),
        controller: Some(name.to_owned()),
        files: vec!["chargers-named.csv".to_owned()],
        columns: [
            column(Role::ChargeVoltage, "charge voltage (V)"),
            column(Role::ChargeCurrent, "charge current (A)"),
        ]
        .into(),
        ..LogEntry::default()
    }
}

#[test]
fn columns_of_two_chargers_in_one_file_are_asked_about_or_read_by_an_entry_each() {
    let root = folder();
    let path = [root.join("chargers-named.csv")];
    let asked = read_with(&path, &root, &[]).unwrap_err();
    let pair = "'East charger charge current (A)' and 'West charger charge current (A)' differ by a name alone";
    assert!(asked.contains(pair), "{asked}");
    let own = |column: &str| ColumnMap {
        columns: vec![ColumnRef::Name(column.to_owned())],
        ..ColumnMap::default()
    };
    let bank = LogEntry {
        name: Some("bank".to_owned()),
        files: vec!["chargers-named.csv".to_owned()],
        columns: [
            (Role::BatteryVoltage, own("Battery voltage (V)")),
            (Role::BatteryCurrent, own("Battery current (A)")),
        ]
        .into(),
        ..LogEntry::default()
    };
    let reading = read_with(
        &path,
        &root,
        &[bank, of_charger("East"), of_charger("West")],
    )
    .unwrap();
    let wh = |name: Option<&str>, role: Role| -> f64 {
        let channel = reading.timeline.channel_of(role, name).unwrap();
        channel.series.in_h.iter().sum()
    };
    // By the file's own figures, trapezoids between the rows.
    assert!(close(wh(Some("East"), Role::ChargePower), 1319.26135, 1e-6));
    assert!(close(wh(Some("West"), Role::ChargePower), 1100.38175, 1e-6));
    assert!(wh(None, Role::BatteryPower) > 0.0);
    // Nobody reads a column of another's.
    assert_eq!(
        reading
            .timeline
            .channels
            .iter()
            .filter(|c| c.role == Role::ChargeCurrent)
            .count(),
        2
    );
}
