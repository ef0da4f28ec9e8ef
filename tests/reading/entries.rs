//! What a design would have to say of a file, where the reader cannot find it by itself.

use super::*;

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
pub(crate) fn entry_for(file: &str) -> Option<LogEntry> {
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
        "tenths-stated.csv" => {
            let mut amps = name("Battery current");
            amps.scale = Some(0.1);
            entry.columns.insert(Role::BatteryCurrent, amps);
        }
        "devices-in-turn.csv" => {
            entry.only = Some((ColumnRef::Name("Node".to_owned()), "bow".to_owned()))
        }
        "scale-turns.csv" => {
            let mut load = name("Load (A)");
            load.scale = Some(-1.0);
            entry.columns.insert(Role::LoadCurrent, load);
        }
        "wrong-header-line.csv" => entry.header = Some(HeaderRef::Line(3)),
        "header-line-beyond.csv" => entry.header = Some(HeaderRef::Line(99)),
        "wrong-time-format.csv" => entry.time_format = Some("%d.%m.%Y %H:%M".to_owned()),
        "unknown-unit.csv" | "unit-of-other-kind.csv" => {
            let mut volts = name("Battery voltage (V)");
            let unit = if file.starts_with("unknown") {
                "furlong"
            } else {
                "mA"
            };
            volts.unit = Some(unit.to_owned());
            entry.columns.insert(Role::BatteryVoltage, volts);
        }
        "wrong-encoding.csv" => entry.encoding = Some("utf-16le".to_owned()),
        "column-beyond.csv" => {
            entry.columns.insert(Role::BatteryVoltage, number(9));
        }
        "several-columns.csv" => {
            let mut amps = name("Battery voltage (V)");
            amps.columns
                .push(ColumnRef::Name("Battery current (A)".to_owned()));
            entry.columns.insert(Role::BatteryCurrent, amps);
        }
        "only-of-nothing.csv" => {
            entry.only = Some((ColumnRef::Name("Time".to_owned()), "soon".to_owned()))
        }
        "only-column-missing.csv" => {
            entry.only = Some((ColumnRef::Name("Node".to_owned()), "3".to_owned()))
        }
        "title-twice.csv" => {
            entry.columns.insert(Role::BatteryVoltage, name("Voltage"));
        }
        _ => return None,
    }
    Some(entry)
}
