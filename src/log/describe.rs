//! Turns what was found out about a file into what `inspect` and the report show.

use serde_json::Value;

use super::device::Signals;
use super::inspection::{ColumnInspection, FileInspection, Gap};
use super::number;
use super::readings::Tally;
use super::survey::Survey;
use super::uses::Use;
use crate::calendar::Calendar;
use crate::mapping::Role;
use crate::tally::Rows;

/// A file.
pub(crate) fn file(
    survey: &Survey,
    tally: Tally,
    gaps: Vec<Gap>,
    calendar: &Calendar,
) -> FileInspection {
    let instant = |at: f64| at.is_finite().then(|| calendar.rfc3339(at.floor() as i64));
    let mut notes = survey.notes.clone();
    notes.extend(survey.roles.notes.iter().cloned());
    notes.extend(Signals::of(&survey.roles).notes);
    if tally.merged > 0 {
        notes.push(format!(
            "{} rows repeat readings of another file of this device and were merged",
            tally.merged
        ));
    }
    if tally.repaired > 0 && !notes.iter().any(|n| n.contains("clock skipped")) {
        notes.push(format!(
            "{} rows held NUL bytes, which were taken out",
            tally.repaired
        ));
    }
    notes.extend(seldom(&gaps));
    if tally.used + tally.repaired == 1 {
        notes.push("a single row spans no time: no energy can be summed from it".to_owned());
    }
    let mut questions = survey.questions.clone();
    questions.extend(survey.roles.questions.iter().cloned());
    FileInspection {
        file: survey.source.name.clone(),
        encoding: survey.encoding.clone(),
        delimiter: (survey.layout.delimiter as char).to_string(),
        decimal: (survey.layout.decimal as char).to_string(),
        header_line: survey.layout.header_line,
        rows: Rows {
            read: survey.rows.read,
            used: tally.used,
            repaired: tally.repaired,
            merged: tally.merged,
            refused: tally.refused,
        },
        refused: tally.kept,
        refused_by_why: tally.by_why,
        first: instant(survey.first),
        last: instant(survey.last),
        step_s: survey.step,
        gaps,
        duplicates: survey.duplicates,
        out_of_order: survey.out_of_order,
        time_format: survey.plan.form.name(),
        timezone: survey.zone.clone(),
        columns: (0..survey.layout.titles.len())
            .map(|k| column(survey, k))
            .collect(),
        questions,
        notes,
    }
}

/// Whether a column is the voltage at the loads' terminals, which their power is reckoned with.
fn of_loads(survey: &Survey, column: usize) -> bool {
    let parts = survey.roles.load_volts.as_ref().map(|u| &u.parts);
    survey.roles.has(Role::LoadCurrent) && parts.is_some_and(|p| p.iter().any(|p| p.0 == column))
}

/// Fewest gaps of one length that look like a slower pace rather than like gaps.
const PACED: usize = 12;

/// Gaps that are nearly all of one length are a logger that wrote less often for a while.
fn seldom(gaps: &[Gap]) -> Option<String> {
    let length = |gap: &Gap| {
        let at = |text: &str| chrono::DateTime::parse_from_rfc3339(text).ok();
        Some((at(&gap.to)? - at(&gap.from)?).num_minutes())
    };
    let mut lengths: Vec<i64> = gaps.iter().filter_map(length).collect();
    lengths.sort_unstable();
    let usual = *lengths.get(lengths.len() / 2)?;
    let alike = lengths
        .iter()
        .filter(|l| (**l - usual).abs() * 10 <= usual)
        .count();
    (alike >= PACED && alike * 10 >= lengths.len() * 8 && usual > 0).then(|| {
        format!(
            "{alike} gaps are of about {usual} min each: where the logger only wrote less often, its [[log]] entry can say so with hold = \"{} min\"",
            usual + usual / 10 + 1
        )
    })
}

fn column(survey: &Survey, column: usize) -> ColumnInspection {
    let stats = &survey.stats[column];
    let is_time = survey.plan.columns.contains(&column);
    let found: Option<&Use> = survey
        .roles
        .uses
        .iter()
        .find(|u| u.parts.iter().any(|p| p.0 == column));
    let last = survey.last_cells.get(column).filter(|c| !c.is_empty());
    let value = |text: Option<&String>| match text {
        None => Value::Null,
        Some(text) if is_time => Value::from(text.clone()),
        Some(text) => number::parse(text.as_bytes(), survey.layout.decimal)
            .map_or_else(|| Value::from(text.clone()), |n| Value::from(n.0)),
    };
    let role = if is_time {
        Some("time".to_owned())
    } else {
        found.map(|u| u.role.name().to_owned())
    };
    let written = survey
        .meanings
        .get(column)
        .and_then(|m| m.unit)
        .map_or("", |u| u.name);
    ColumnInspection {
        name: survey.layout.titles[column].clone(),
        unit: found.map_or_else(|| written.to_owned(), |u| u.unit.clone()),
        how: match (is_time, found) {
            (true, _) => "data".to_owned(),
            (false, Some(found)) => found.how.to_owned(),
            // A voltage without a role of its own, but not idle.
            (false, None) if of_loads(survey, column) => "with load_power".to_owned(),
            (false, None) => String::new(),
        },
        role,
        examples: stats.examples.clone(),
        min: stats.min,
        max: stats.max,
        first_value: value(stats.first.as_ref()),
        last_value: value(last),
        empty: stats.empty,
    }
}
