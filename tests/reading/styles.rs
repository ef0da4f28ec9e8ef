//! The style a log is written in changes nothing.

use super::*;

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
        // −9.999 A written in milliamperes is −9999, the mark of a missing value: no style can carry it.
        let carried = |x: f64| if x == -9.999 { -9.998 } else { x };
        values.into_iter().enumerate().map(|(k, (v, i))| (1_778_790_000 + 120 * k as i64, round(v), carried(round(i)))).collect()
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
