//! Writes what the reader found into the `[[log]]` entries of a design file, keeping all that stands
//! there: an entry that already speaks of a log is completed, a new one is put at the end.

use std::fs;
use std::path::{Path, PathBuf};

use toml_edit::{DocumentMut, InlineTable, Item, Table, Value};

use super::read::{DesignError, read_text};
use crate::mapping::{ColumnMap, ColumnRef, HeaderRef, LogEntry, Role, StampZone, Suggestion};
use crate::whole_file;

/// Files listed one by one; more are written as a pattern where one names just them.
const LISTED: usize = 4;

/// What was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Written {
    /// Entries put at the end.
    pub added: usize,
    /// Entries that were there and got keys or remarks they lacked.
    pub completed: usize,
}

/// Writes suggestions into the design file: wholly or not at all.
///
/// # Errors
/// The file cannot be read or written, is no design, or would be none afterwards; a log lies outside
/// its folder.
pub fn write(file: &Path, suggestions: &[Suggestion]) -> Result<Written, DesignError> {
    let shown = file.display();
    let cannot = |why: String| DesignError(format!("{shown}: {why}"));
    let text = fs::read_to_string(file).map_err(|e| cannot(format!("cannot be read: {e}")))?;
    let (new, written) = with_entries(&text, file, suggestions)?;
    if new == text {
        return Ok(written);
    }
    read_text(&new, file, file.parent().unwrap_or(Path::new(""))).map_err(|e| {
        cannot(format!(
            "left as it is, because what was to be written would not be read back: {e}"
        ))
    })?;
    // A link stays a link: the file it leads to is replaced.
    let target = fs::canonicalize(file).map_err(|e| cannot(format!("cannot be found: {e}")))?;
    whole_file::put(&target, new.as_bytes())
        .map_err(|e| cannot(format!("cannot be written: {e}")))?;
    Ok(written)
}

/// The text of a design with the suggestions in it.
///
/// # Errors
/// As [`write()`], without the writing.
pub fn with_entries(
    text: &str,
    file: &Path,
    suggestions: &[Suggestion],
) -> Result<(String, Written), DesignError> {
    let shown = file.display();
    let mark = if text.starts_with('\u{feff}') {
        "\u{feff}"
    } else {
        ""
    };
    let windows = text.contains("\r\n");
    let mut new = text.trim_start_matches('\u{feff}').to_owned();
    let mut written = Written::default();
    let (known, fresh): (Vec<&Suggestion>, Vec<&Suggestion>) =
        suggestions.iter().partition(|s| s.completes.is_some());
    if !known.is_empty() {
        let mut document: DocumentMut = new
            .parse()
            .map_err(|e| DesignError(format!("{shown}: {e}")))?;
        for suggestion in known {
            written.completed += usize::from(complete(&mut document, suggestion, text, file)?);
        }
        if written.completed > 0 {
            new = document.to_string();
        }
    }
    let mut names = names_in(&new);
    if !fresh.is_empty() {
        end_line(&mut new);
        new.push_str("\n# As inspect read it; what stands here wins over what it finds by itself.");
    }
    for suggestion in &fresh {
        let files = files(suggestion, suggestions, file)?;
        new.push('\n');
        new.push_str(&block(suggestion, &files, &mut names));
        written.added += 1;
    }
    if windows {
        new = new.replace("\r\n", "\n").replace('\n', "\r\n");
    }
    Ok((format!("{mark}{new}"), written))
}

/// Makes sure that what follows begins on a line of its own.
fn end_line(text: &mut String) {
    if !text.is_empty() && !text.ends_with('\n') {
        text.push('\n');
    }
}

/// Names of entries that are taken.
fn names_in(text: &str) -> Vec<String> {
    let Ok(document) = text.parse::<DocumentMut>() else {
        return Vec::new();
    };
    let entries = document.get("log").and_then(Item::as_array_of_tables);
    entries
        .into_iter()
        .flat_map(|list| list.iter())
        .filter_map(|entry| entry.get("name")?.as_str().map(ToOwned::to_owned))
        .collect()
}

/// Files as an entry names them: relative to the design, in its folder, a pattern where it names
/// just these.
fn files(
    suggestion: &Suggestion,
    all: &[Suggestion],
    file: &Path,
) -> Result<Vec<String>, DesignError> {
    let folder = file
        .parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let root = fs::canonicalize(folder).unwrap_or_else(|_| folder.to_owned());
    let relative = |path: &PathBuf| -> Option<String> {
        let real = fs::canonicalize(path).ok()?;
        let inside = real.strip_prefix(&root).ok()?;
        Some(inside.to_string_lossy().replace('\\', "/"))
    };
    let mut own = Vec::new();
    for (name, path) in suggestion.names.iter().zip(&suggestion.paths) {
        if name == "-" {
            return Err(DesignError("-: standard input has no name to be written; save the log beside the design and name it".to_owned()));
        }
        let found = relative(path).ok_or_else(|| {
            DesignError(format!(
                "{name}: lies outside the folder of {}, where a [[log]] entry may not point; put the log beside the design, or below it",
                file.display()
            ))
        })?;
        own.push(found);
    }
    if own.len() > LISTED {
        let others = all.iter().filter(|s| !std::ptr::eq(*s, suggestion));
        let others: Vec<String> = others
            .flat_map(|s| s.paths.iter().filter_map(relative))
            .collect();
        own = pattern(&own, &others).map_or(own, |p| vec![p]);
    }
    Ok(own)
}

/// One pattern for files of one folder that fits none of the others.
fn pattern(own: &[String], others: &[String]) -> Option<String> {
    let (first, rest) = own.split_first()?;
    let alike = |a: &str, b: &str| a.bytes().zip(b.bytes()).take_while(|(x, y)| x == y).count();
    let shortest = own.iter().map(String::len).min()?;
    let front = rest.iter().map(|f| alike(first, f)).min()?;
    let turned = |s: &str| s.bytes().rev().collect::<Vec<u8>>();
    let back = rest
        .iter()
        .map(|f| {
            turned(first)
                .iter()
                .zip(turned(f))
                .take_while(|(x, y)| **x == *y)
                .count()
        })
        .min()?
        .min(shortest - front);
    let front = first.get(..front)?;
    let back = first.get(first.len() - back..)?;
    let found = format!(
        "{}*{}",
        glob::Pattern::escape(front),
        glob::Pattern::escape(back)
    );
    let fits = glob::Pattern::new(&found).ok()?;
    let strict = glob::MatchOptions {
        require_literal_separator: true,
        ..glob::MatchOptions::new()
    };
    let matches = |f: &String| fits.matches_with(f, strict);
    (own.iter().all(matches) && !others.iter().any(matches)).then_some(found)
}

/// A new entry as text.
fn block(suggestion: &Suggestion, files: &[String], names: &mut Vec<String>) -> String {
    let entry = &suggestion.entry;
    let mut out = "[[log]]\n".to_owned();
    if let Some(name) = entry
        .name
        .as_ref()
        .filter(|n| !n.is_empty() && !names.contains(n))
    {
        out.push_str(&format!("name = {}\n", quoted(name)));
        names.push(name.clone());
    }
    let listed: Vec<String> = files.iter().map(|f| quoted(f)).collect();
    match &listed[..] {
        [one] => out.push_str(&format!("files = {one}\n")),
        many => out.push_str(&format!("files = [{}]\n", many.join(", "))),
    }
    for (key, value) in settings(entry) {
        out.push_str(&format!("{key} = {value}\n"));
    }
    let of_columns = |line: &str| line.contains("[log.columns]") || is_role(line);
    let (inside, above): (Vec<_>, Vec<_>) =
        suggestion.open.iter().partition(|open| of_columns(&open.1));
    above.iter().for_each(|open| out.push_str(&remark(open)));
    out.push_str("[log.columns]\n");
    for (role, map) in &entry.columns {
        out.push_str(&format!("{} = {}\n", role.name(), column_value(map)));
    }
    inside.iter().for_each(|open| out.push_str(&remark(open)));
    out
}

/// Whether a settling line names a role.
fn is_role(line: &str) -> bool {
    let key = line.split('=').next().unwrap_or_default().trim();
    Role::from_name(key).is_some()
}

/// A question and the line that would settle it, as remarks.
fn remark(open: &(String, String)) -> String {
    let mut out = format!("# Open: {}.\n", open.0);
    for line in open.1.lines() {
        out.push_str(&format!("# {line}\n"));
    }
    out
}

fn quoted(text: &str) -> String {
    Value::from(text).to_string()
}

/// Keys of an entry besides its columns, in the order of the reference.
fn settings(entry: &LogEntry) -> Vec<(&'static str, Value)> {
    let mut found: Vec<(&'static str, Value)> = Vec::new();
    match &entry.timezone {
        Some(StampZone::Named(zone)) => found.push(("timezone", zone.name().into())),
        Some(StampZone::Local) => found.push(("timezone", "local".into())),
        None => {}
    }
    if let Some(sign) = &entry.charging {
        found.push(("charging", sign.into()));
    }
    if let Some(encoding) = &entry.encoding {
        found.push(("encoding", encoding.into()));
    }
    if entry.header == Some(HeaderRef::None) {
        found.push(("header", false.into()));
    }
    if let Some(format) = &entry.time_format {
        found.push(("time_format", format.into()));
    }
    found
}

fn column_value(map: &ColumnMap) -> Value {
    let references: Vec<Value> = map
        .columns
        .iter()
        .map(|column| match column {
            ColumnRef::Name(name) => name.into(),
            ColumnRef::Number(number) => Value::from(*number as i64),
        })
        .collect();
    let column = match &references[..] {
        [one] => one.clone(),
        many => Value::Array(many.iter().cloned().collect()),
    };
    if map.unit.is_none() && map.scale.is_none() {
        return column;
    }
    let mut table = InlineTable::new();
    table.insert("column", column);
    if let Some(unit) = &map.unit {
        table.insert("unit", unit.into());
    }
    if let Some(scale) = map.scale {
        table.insert("scale", scale.into());
    }
    Value::InlineTable(table)
}

/// Puts into an entry what it lacks; whether there was anything.
fn complete(
    document: &mut DocumentMut,
    suggestion: &Suggestion,
    text: &str,
    file: &Path,
) -> Result<bool, DesignError> {
    let missing = || {
        DesignError(format!(
            "{}: its log entries are not written as [[log]] sections, so they cannot be completed",
            file.display()
        ))
    };
    let entries = document
        .get_mut("log")
        .and_then(Item::as_array_of_tables_mut)
        .ok_or_else(missing)?;
    let index = suggestion.completes.unwrap_or(usize::MAX);
    let entry = entries.get_mut(index).ok_or_else(missing)?;
    let mut changed = false;
    for (key, value) in settings(&suggestion.entry) {
        if !entry.contains_key(key) {
            entry.insert(key, Item::Value(value));
            changed = true;
        }
    }
    let remarks: String = suggestion
        .open
        .iter()
        .filter(|open| !text.contains(open.0.as_str()))
        .map(remark)
        .collect();
    if !remarks.is_empty() {
        append_remarks(entry, &remarks);
        changed = true;
    }
    let columns = entry
        .entry("columns")
        .or_insert_with(|| Item::Table(Table::new()))
        .as_table_like_mut()
        .ok_or_else(missing)?;
    for (role, map) in &suggestion.entry.columns {
        if !columns.contains_key(role.name()) {
            columns.insert(role.name(), Item::Value(column_value(map)));
            changed = true;
        }
    }
    Ok(changed)
}

/// Puts remarks behind the last plain key of an entry, which `files` makes sure there is.
fn append_remarks(entry: &mut Table, remarks: &str) {
    let last = entry
        .iter()
        .filter(|(_, item)| item.is_value())
        .map(|(key, _)| key.to_owned())
        .last();
    let Some(value) = last
        .and_then(|key| entry.get_mut(&key))
        .and_then(Item::as_value_mut)
    else {
        return;
    };
    let decor = value.decor_mut();
    let before = decor
        .suffix()
        .and_then(|s| s.as_str())
        .unwrap_or_default()
        .to_owned();
    decor.set_suffix(format!("{before}\n{}", remarks.trim_end()));
}
