//! Writes the rows of a run as log files, and adds up what they say.

use super::rows::{BankRow, ControllerRow, Row};
use super::run::Outcome;
use super::scenario::Scenario;
use super::totals::DayTotals;
use super::truth::TruthSignal;
use crate::calendar::Calendar;

/// The header of the bank monitor's log.
const BANK_HEADER: &str =
    "time,battery voltage (V),battery current (A),state of charge (%),battery temperature (C)";
/// The header of the controller's log.
const CONTROLLER_HEADER: &str = "time,panel voltage (V),panel current (A),panel power (W),charge voltage (V),charge current (A),stage";
/// The header of a controller's log without its output voltage.
const NO_VOLTS_HEADER: &str =
    "time,panel voltage (V),panel current (A),panel power (W),charge current (A),stage";
/// The header of a controller's log with the current of its load terminals.
const LOADS_HEADER: &str = "time,panel voltage (V),panel current (A),panel power (W),charge voltage (V),charge current (A),load current (A),stage";

/// What writes logs: the bank's monitor and the controller.
const DEVICES: [&str; 2] = ["bank", "controller"];
/// Between the device and the week in a log's name.
const WEEK: &str = "-week-";
/// What a log's name ends with.
const ENDING: &str = ".csv";

/// A log file: name and text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LogFile {
    /// Name, relative to the design.
    pub name: String,
    /// Comma separated text.
    pub text: String,
}

/// All log files of a run, a week each.
pub(super) fn files(scenario: &Scenario, outcome: &Outcome) -> Vec<LogFile> {
    let calendar = scenario.calendar();
    let start = calendar.start_of(scenario.first_day);
    let (bank_clock, controller_clock) = scenario.logging.clock_s;
    let mut files = weeks(DEVICES[0], BANK_HEADER, &outcome.bank_rows, start, |row| {
        let BankRow {
            volts,
            amps,
            soc_pct,
            battery_c,
        } = row.shown;
        let at = stamp(&calendar, row.at + bank_clock, scenario.logging.utc);
        format!("{at},{volts:.2},{amps:.2},{soc_pct:.1},{battery_c:.1}\n")
    });
    let header = match (scenario.logging.charge_volts, scenario.logging.loads) {
        (false, _) => NO_VOLTS_HEADER,
        (true, true) => LOADS_HEADER,
        (true, false) => CONTROLLER_HEADER,
    };
    let rows = &outcome.controller_rows;
    files.extend(weeks(DEVICES[1], header, rows, start, |row| {
        let at = stamp(&calendar, row.at + controller_clock, scenario.logging.utc);
        controller_line(&at, &row.shown, header)
    }));
    files
}

/// A row of the controller's log under one of its headers.
fn controller_line(at: &str, row: &ControllerRow, header: &str) -> String {
    let ControllerRow {
        array_v,
        array_a,
        array_w,
        charge_v,
        charge_a,
        load_a,
        stage,
    } = row;
    let stage = stage.word();
    let array = format!("{at},{array_v:.2},{array_a:.2},{array_w:.1}");
    match header {
        NO_VOLTS_HEADER => format!("{array},{charge_a:.1},{stage}\n"),
        LOADS_HEADER => format!("{array},{charge_v:.2},{charge_a:.1},{load_a:.2},{stage}\n"),
        _ => format!("{array},{charge_v:.2},{charge_a:.1},{stage}\n"),
    }
}

/// Bare local time, or UTC with a `Z`.
fn stamp(calendar: &Calendar, instant: i64, utc: bool) -> String {
    if utc {
        let at = chrono::DateTime::from_timestamp(instant, 0).unwrap_or_default();
        at.format("%Y-%m-%dT%H:%M:%SZ").to_string()
    } else {
        calendar
            .local(instant)
            .format("%Y-%m-%d %H:%M:%S")
            .to_string()
    }
}

/// Whether a file of that name may be a log of a sample.
pub(super) fn is_log_name(name: &str) -> bool {
    let week = DEVICES
        .iter()
        .find_map(|device| name.strip_prefix(device)?.strip_prefix(WEEK))
        .and_then(|rest| rest.strip_suffix(ENDING));
    week.is_some_and(|week| week.parse::<u32>().is_ok_and(|n| n.to_string() == week))
}

/// Cuts rows into files of seven days.
fn weeks<T>(
    log: &str,
    header: &str,
    rows: &[Row<T>],
    start: i64,
    line: impl Fn(&Row<T>) -> String,
) -> Vec<LogFile> {
    let mut files: Vec<LogFile> = Vec::new();
    for row in rows {
        let week = (row.at - start).div_euclid(7 * 86_400) + 1;
        let name = format!("{log}{WEEK}{week}{ENDING}");
        if files.last().is_none_or(|f| f.name != name) {
            files.push(LogFile {
                name,
                text: format!("{header}\n"),
            });
        }
        if let Some(file) = files.last_mut() {
            file.text.push_str(&line(row));
        }
    }
    files
}

/// What each power was in truth and as the rows say.
pub(super) fn signals(scenario: &Scenario, outcome: &Outcome) -> Vec<TruthSignal> {
    let sum = |f: fn(&DayTotals) -> f64| outcome.days.iter().map(f).sum::<f64>();
    let bank: Vec<(i64, f64)> = outcome
        .bank_rows
        .iter()
        .map(|r| (r.at, r.shown.volts * r.shown.amps))
        .collect();
    let array: Vec<(i64, f64)> = outcome
        .controller_rows
        .iter()
        .map(|r| (r.at, r.shown.array_w))
        .collect();
    let charge: Vec<(i64, f64)> = outcome
        .controller_rows
        .iter()
        .map(|r| (r.at, r.shown.charge_v * r.shown.charge_a))
        .collect();
    let logging = &scenario.logging;
    let signal = |log: &str, role: &str, truth: (f64, f64), rows: &[(i64, f64)], step: u32| {
        let (logged_wh_in, logged_wh_out) = trapezoid(rows, 5 * i64::from(step));
        TruthSignal {
            log: log.to_owned(),
            role: role.to_owned(),
            true_wh_in: truth.0,
            true_wh_out: truth.1,
            logged_wh_in,
            logged_wh_out,
        }
    };
    let mut signals = Vec::new();
    if logging.bank {
        signals.push(signal(
            "bank",
            "battery_power",
            (sum(|d| d.bank_in), sum(|d| d.bank_out)),
            &bank,
            logging.bank_step_s,
        ));
    }
    if logging.controller {
        let step = logging.controller_step_s;
        let into = (sum(|d| d.array), 0.0);
        signals.push(signal("controller", "array_power", into, &array, step));
    }
    if logging.controller && logging.charge_volts {
        let step = logging.controller_step_s;
        let out = (sum(|d| d.harvest), 0.0);
        signals.push(signal("controller", "charge_power", out, &charge, step));
    }
    signals
}

/// Positive and negative energy, Wh, of straight lines between rows; none across gaps.
fn trapezoid(rows: &[(i64, f64)], gap_s: i64) -> (f64, f64) {
    let (mut into, mut out) = (0.0, 0.0);
    for pair in rows.windows(2) {
        let ((t0, a), (t1, b)) = (pair[0], pair[1]);
        if t1 - t0 > gap_s {
            continue;
        }
        let h = (t1 - t0) as f64 / 3600.0;
        if a * b < 0.0 {
            // The line crosses zero: a triangle on each side.
            let share = a / (a - b);
            let (first, second) = (0.5 * a * share * h, 0.5 * b * (1.0 - share) * h);
            into += first.max(second);
            out -= first.min(second);
        } else {
            let area = 0.5 * (a + b) * h;
            into += area.max(0.0);
            out += (-area).max(0.0);
        }
    }
    (into, out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_split_where_they_cross_zero() {
        let (into, out) = trapezoid(&[(0, 10.0), (3600, -30.0)], 5 * 3600);
        assert!((into - 1.25).abs() < 1e-12);
        assert!((out - 11.25).abs() < 1e-12);
        assert_eq!(trapezoid(&[(0, 10.0), (7200, 10.0)], 3600), (0.0, 0.0));
    }
}
