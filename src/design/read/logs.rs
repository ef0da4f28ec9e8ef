//! `[[log]]`: how a log is to be read where the program cannot find it by itself.

use std::collections::BTreeMap;

use chrono::format::{Item, StrftimeItems};
use chrono::{DateTime, NaiveDate, NaiveDateTime};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::super::decode::{float, integer, kind_of};
use super::super::problems::Notes;
use super::super::section::Section;
use super::super::system::Moment;
use super::power::{Controllers, twice};
use crate::mapping::{ColumnMap, ColumnRef, LogEntry, Role};
use crate::units;

/// Words a stage column's values may stand for.
const STAGES: [&str; 6] = ["off", "bulk", "absorption", "float", "equalise", "fault"];

pub(super) fn read(
    root: &DeTable<'_>,
    controllers: &Controllers,
    notes: &mut Notes,
) -> Vec<LogEntry> {
    let mut list: Vec<LogEntry> = Vec::new();
    for section in Section::all(root, "log") {
        let found = entry(&section, controllers, notes);
        if let Some(name) = &found.name
            && list.iter().any(|l| l.name.as_ref() == Some(name))
        {
            section.problem("name", &twice(name), notes);
        }
        list.push(found);
    }
    list
}

fn entry(section: &Section<'_>, controllers: &Controllers, notes: &mut Notes) -> LogEntry {
    if section.raw("files").is_none() {
        section.missing("files", notes);
    }
    let controller = controllers.named(section, notes);
    LogEntry {
        name: section.text("name", notes),
        files: section.texts("files", notes),
        controller: controller.and_then(|i| controllers.list[i].name.clone()),
        timezone: section.zone("timezone", notes),
        charging: section.text("charging", notes),
        clock_shift_s: section.number("clock_shift", notes).unwrap_or(0.0),
        encoding: encoding(section, notes),
        delimiter: delimiter(section, notes),
        decimal: section
            .text("decimal", notes)
            .and_then(|t| t.bytes().next()),
        header: section.header("header", notes),
        time_format: time_format(section, notes),
        start: start(section, notes),
        // Within 1970 to 2200 by its key's range, so the conversion is exact.
        year: section.number("year", notes).map(|y| y as i32),
        missing: section.texts("missing", notes),
        hold_s: section.number("hold", notes),
        only: only(section, notes),
        columns: columns(section, notes),
    }
}

fn encoding(section: &Section<'_>, notes: &mut Notes) -> Option<String> {
    let label = section.text("encoding", notes)?;
    if encoding_rs::Encoding::for_label(label.as_bytes()).is_none() {
        let text = format!(
            "the encoding \"{label}\" is not known; utf-8, windows-1252 and utf-16le are, for instance"
        );
        section.problem("encoding", &text, notes);
        return None;
    }
    Some(label)
}

/// Names of time formats that are no pattern.
const TIME_FORMATS: [&str; 5] = [
    "epoch-s",
    "epoch-ms",
    "epoch-us",
    "elapsed-s",
    "elapsed-hms",
];

/// A known name, or a pattern by which stamps can be read.
fn time_format(section: &Section<'_>, notes: &mut Notes) -> Option<String> {
    let text = section.text("time_format", notes)?;
    // The year may come from the design or the file's name.
    let reads = tells_a_day(&text) || tells_a_day(&format!("%Y {text}"));
    if !reads && !TIME_FORMATS.contains(&text.as_str()) {
        let why = format!(
            "\"{text}\" tells no day; write for instance \"%d/%m/%Y %H:%M\", or one of {}",
            TIME_FORMATS.join(", ")
        );
        section.problem("time_format", &why, notes);
        return None;
    }
    Some(text)
}

/// Whether a day written by a pattern can be read by it again.
fn tells_a_day(pattern: &str) -> bool {
    let items: Vec<Item<'_>> = StrftimeItems::new(pattern).collect();
    if items.contains(&Item::Error) {
        return false;
    }
    let moment = DateTime::UNIX_EPOCH.fixed_offset();
    let written = moment.format_with_items(items.iter()).to_string();
    DateTime::parse_from_str(&written, pattern).is_ok()
        || NaiveDateTime::parse_from_str(&written, pattern).is_ok()
        || NaiveDate::parse_from_str(&written, pattern).is_ok()
}

fn delimiter(section: &Section<'_>, notes: &mut Notes) -> Option<u8> {
    let text = section.text("delimiter", notes)?;
    match text.as_bytes() {
        b"tab" => Some(b'\t'),
        [one] if one.is_ascii() && !one.is_ascii_alphanumeric() && *one != b'"' => Some(*one),
        _ => {
            let why = "one character is needed, for instance \";\", or \"tab\"";
            section.problem("delimiter", &format!("\"{text}\": {why}"), notes);
            None
        }
    }
}

fn start(section: &Section<'_>, notes: &mut Notes) -> Option<NaiveDateTime> {
    let (moment, offset) = section.moment("start", notes)?;
    if offset.is_some() {
        let why = "carries an offset; write the time of day alone and give the log's timezone";
        section.problem("start", why, notes);
    }
    Some(match moment {
        Moment::Day(day) => day.and_time(chrono::NaiveTime::MIN),
        Moment::Wall(wall) => wall,
    })
}

/// The parts of an inner table, with a note for each part not known.
fn parts<'d>(
    table: &'d DeTable<'d>,
    path: &str,
    known: &[&str],
    notes: &mut Notes,
) -> BTreeMap<&'d str, &'d Spanned<DeValue<'d>>> {
    let mut found = BTreeMap::new();
    for (word, value) in table.iter() {
        let name: &str = word.get_ref();
        match known.contains(&name) {
            true => {
                found.insert(name, value);
            }
            false => {
                let near = known
                    .iter()
                    .map(|key| (strsim::damerau_levenshtein(key, name), *key))
                    .min()
                    .filter(|(slips, key)| *slips <= (key.len() / 3).max(1));
                let hint = match near {
                    Some((_, key)) => format!("did you mean {path}.{key}?"),
                    None => format!("known here: {}", known.join(", ")),
                };
                let text = format!("{path}.{name} is not a known key; {hint}");
                notes.problem(word.span(), text);
            }
        }
    }
    found
}

fn only(section: &Section<'_>, notes: &mut Notes) -> Option<(ColumnRef, String)> {
    let value = section.raw("only")?;
    let wrong = "needs a column and the text it must hold, for instance { column = \"node\", equals = \"3\" }";
    let DeValue::Table(table) = value.get_ref() else {
        section.problem("only", wrong, notes);
        return None;
    };
    let found = parts(table, "log.only", &["column", "equals"], notes);
    let column = found.get("column").and_then(|v| one_column(v.get_ref()));
    let equals = found.get("equals").and_then(|v| plain_text(v.get_ref()));
    if column.is_none() || equals.is_none() {
        section.problem("only", wrong, notes);
    }
    column.zip(equals)
}

/// Text, or a number as written.
fn plain_text(value: &DeValue<'_>) -> Option<String> {
    match value {
        DeValue::String(text) => Some(text.to_string()),
        DeValue::Integer(n) => Some(n.to_string()),
        DeValue::Float(n) => Some(n.to_string()),
        DeValue::Boolean(b) => Some(b.to_string()),
        _ => None,
    }
}

fn one_column(value: &DeValue<'_>) -> Option<ColumnRef> {
    match value {
        DeValue::String(name) if !name.is_empty() => Some(ColumnRef::Name(name.to_string())),
        DeValue::Integer(n) => integer(n)
            .and_then(|n| usize::try_from(n).ok())
            .filter(|n| (1..=100_000).contains(n))
            .map(ColumnRef::Number),
        _ => None,
    }
}

/// One column or a list of them; `None` where any is neither a name nor a number from 1.
fn column_list(value: &DeValue<'_>) -> Option<Vec<ColumnRef>> {
    match value {
        DeValue::Array(list) if list.is_empty() => None,
        DeValue::Array(list) => list.iter().map(|v| one_column(v.get_ref())).collect(),
        one => one_column(one).map(|c| vec![c]),
    }
}

fn columns(section: &Section<'_>, notes: &mut Notes) -> BTreeMap<Role, ColumnMap> {
    let mut found = BTreeMap::new();
    let table = match section.raw("columns").map(Spanned::get_ref) {
        None => return found,
        Some(DeValue::Table(table)) => table,
        Some(_) => {
            section.problem(
                "columns",
                "is a section: write [log.columns] and its keys below",
                notes,
            );
            return found;
        }
    };
    for (word, value) in table.iter() {
        let name: &str = word.get_ref();
        match Role::from_name(name) {
            Some(role) => {
                if let Some(map) = column_map(role, value, notes) {
                    found.insert(role, map);
                }
            }
            None => notes.problem(word.span(), unknown_role(name)),
        }
    }
    found
}

fn unknown_role(name: &str) -> String {
    let near = Role::ALL
        .into_iter()
        .map(|r| (strsim::jaro_winkler(r.name(), name), r.name()))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|found| found.0 > 0.75);
    match near {
        Some((_, role)) => format!("log.columns.{name} is not a role; did you mean {role}?"),
        None => {
            let all: Vec<&str> = Role::ALL.iter().map(|r| r.name()).collect();
            format!(
                "log.columns.{name} is not a role; the roles are {}",
                all.join(", ")
            )
        }
    }
}

fn column_map(role: Role, value: &Spanned<DeValue<'_>>, notes: &mut Notes) -> Option<ColumnMap> {
    let path = format!("log.columns.{}", role.name());
    let wrong = format!(
        "{path}: a column is needed: its name in quotes, its number from 1, a list of them, or {{ column = \"U1\", unit = \"mV\" }}"
    );
    if let DeValue::Table(table) = value.get_ref() {
        return detailed(table, value, &path, &wrong, notes);
    }
    match column_list(value.get_ref()) {
        Some(columns) => Some(ColumnMap {
            columns,
            ..ColumnMap::default()
        }),
        None => {
            notes.problem(value.span(), wrong);
            None
        }
    }
}

fn detailed(
    table: &DeTable<'_>,
    value: &Spanned<DeValue<'_>>,
    path: &str,
    wrong: &str,
    notes: &mut Notes,
) -> Option<ColumnMap> {
    let known = ["column", "unit", "scale", "add", "values", "plane"];
    let found = parts(table, path, &known, notes);
    let columns = found.get("column").and_then(|v| column_list(v.get_ref()));
    let Some(columns) = columns else {
        notes.problem(value.span(), wrong.to_owned());
        return None;
    };
    let mut map = ColumnMap {
        columns,
        ..ColumnMap::default()
    };
    for (word, part) in found {
        let fits = match (word, part.get_ref()) {
            ("column", _) => Ok(()),
            ("unit", DeValue::String(text)) => match units::unit(text) {
                Some(_) => {
                    map.unit = Some(text.to_string());
                    Ok(())
                }
                None => Err(format!(
                    "the unit \"{text}\" is not known; write for instance \"V\", \"mV\", \"A\", \"mA\", \"W\", \"%\""
                )),
            },
            ("scale", scale) => factor(scale).map(|s| map.scale = Some(s)),
            ("add", DeValue::Boolean(add)) => {
                map.add = *add;
                Ok(())
            }
            ("values", DeValue::Table(values)) => stages(values).map(|v| map.values = v),
            ("plane", DeValue::String(text)) if ["horizontal", "array"].contains(&&**text) => {
                map.plane = (text == "horizontal").then(|| text.to_string());
                Ok(())
            }
            (_, other) => Err(format!("{} does not fit; {}", kind_of(other), form(word))),
        };
        if let Err(why) = fits {
            notes.problem(part.span(), format!("{path}.{word}: {why}"));
        }
    }
    Some(map)
}

/// The right form of a part of a column.
fn form(word: &str) -> &'static str {
    match word {
        "unit" => "write for instance unit = \"mV\"",
        "add" => "write add = true or add = false",
        "plane" => "write plane = \"horizontal\" or plane = \"array\"",
        _ => "write for instance values = { \"3\" = \"absorption\" }",
    }
}

fn factor(value: &DeValue<'_>) -> Result<f64, String> {
    let found = match value {
        DeValue::Integer(n) => integer(n).map(|n| n as f64),
        DeValue::Float(n) => float(n),
        _ => None,
    };
    found
        .filter(|s| *s != 0.0 && s.abs() <= 1e9 && s.abs() >= 1e-9)
        .ok_or_else(|| "a bare number other than 0 is needed, for instance scale = 0.01".to_owned())
}

fn stages(values: &DeTable<'_>) -> Result<BTreeMap<String, String>, String> {
    let mut found = BTreeMap::new();
    for (cell, stage) in values.iter() {
        match stage.get_ref() {
            DeValue::String(word) if STAGES.contains(&&**word) => {
                found.insert(cell.get_ref().to_string(), word.to_string());
            }
            _ => {
                return Err(format!(
                    "\"{}\" must stand for one of {}",
                    cell.get_ref(),
                    STAGES.join(", ")
                ));
            }
        }
    }
    Ok(found)
}
