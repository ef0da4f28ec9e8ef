//! Changes to a design by key, as `[[option]]` and `--try` ask for.

use std::path::Path as File;

use toml::de::DeValue;

use super::decode::{decode, float, integer};
use super::keys::{self, Key, Kind};
use super::read::{DesignError, complete};
use super::system::{Changes, Design};

/// Checks one change and converts its value: the path must be a known key outside `log`, `option`
/// and `event`, and the value must fit it. In a section that may be repeated the second word may name
/// one entry: `load.compressor fridge.hours`.
pub(super) fn check(path: &str, value: &DeValue<'_>) -> Result<toml::Value, String> {
    let named = Path::parse(path);
    let Some(key) = keys::find(&named.key) else {
        return Err(unknown(path));
    };
    if !is_of_the_system(path) {
        return Err(format!(
            "{path} is not part of the system and cannot be tried; try a key of the system, such as battery.capacity"
        ));
    }
    if !holds_a_value(key) {
        return Err(format!(
            "{path} is a section; name a key in it, such as {path}.{}",
            keys::members(path).first().unwrap_or(&"")
        ));
    }
    decode(key, value).map_err(|why| format!("{path}: {why}"))?;
    plain(value).ok_or_else(|| format!("{path}: is not a value to try"))
}

/// Whether a path leads to the system itself rather than to what is said beside it.
fn is_of_the_system(path: &str) -> bool {
    let top = path.split('.').next().unwrap_or_default();
    !["log", "option", "event"].contains(&top)
}

/// Whether a key holds a value and no keys of its own.
fn holds_a_value(key: &Key) -> bool {
    !matches!(key.kind, Kind::Section | Kind::Sections | Kind::Open)
}

/// A path with the name of one entry taken out.
struct Path {
    /// The key as the reference lists it.
    key: String,
    /// Section, where it may be repeated, and the entry's name.
    entry: Option<(String, String)>,
}

impl Path {
    /// The path as it stands where it is a known key; else with whatever stands between a repeated section
    /// and a known key in it taken as a name.
    fn parse(path: &str) -> Self {
        let words: Vec<&str> = path.split('.').collect();
        let plain = Self {
            key: path.to_owned(),
            entry: None,
        };
        let repeated =
            |section: &str| keys::find(section).is_some_and(|k| k.kind == Kind::Sections);
        if keys::find(path).is_some() || !repeated(words[0]) {
            return plain;
        }
        for kept in [2, 1] {
            let Some(from) = words.len().checked_sub(kept).filter(|f| *f > 1) else {
                continue;
            };
            let key = format!("{}.{}", words[0], words[from..].join("."));
            if keys::find(&key).is_some() {
                let name = words[1..from].join(".");
                return Self {
                    key,
                    entry: Some((words[0].to_owned(), name)),
                };
            }
        }
        plain
    }
}

/// What to say of an unknown key: the nearest key that can be changed, else what its section has.
fn unknown(path: &str) -> String {
    let section = path.rsplit_once('.').map_or("", |(section, _)| section);
    let near = keys::nearest_of(path, |key| holds_a_value(key) && is_of_the_system(key.path));
    let hint = match (near, keys::members(section).as_slice()) {
        (Some(near), _) => format!("did you mean {near}?"),
        (None, []) => "write it as in the design file, for instance battery.capacity".to_owned(),
        (None, members) => format!("known there: {}", members.join(", ")),
    };
    format!("{path} is not a known key; {hint}")
}

/// Checks a change typed on the command line, `array.panels_in_series=3`; quotes around a quantity
/// may be left out.
///
/// # Errors
/// What is wrong with it: no equals sign, an unknown key (with the nearest known one), a value
/// that does not fit.
pub fn parse_change(text: &str) -> Result<(String, toml::Value), String> {
    let (path, value) = text.split_once('=').ok_or_else(|| {
        format!(
            "\"{text}\" has no equals sign; write KEY=VALUE, for instance array.panels_in_series=3"
        )
    })?;
    let (path, value) = (path.trim(), value.trim());
    let quoted = toml::Value::String(value.to_owned()).to_string();
    let found = match DeValue::parse(value) {
        Ok(found) => check(path, found.get_ref()),
        Err(_) => match DeValue::parse(&quoted) {
            Ok(found) => check(path, found.get_ref()),
            Err(_) => Err(format!("{path}: \"{value}\" is not a value")),
        },
    };
    found.map(|value| (path.to_owned(), value))
}

/// The design of `text` with some keys changed, read anew. In a repeated section a change goes to
/// every entry that has the key, or to all where none has it.
///
/// # Errors
/// As [`super::read()`], without line numbers: the changed design may be impossible where the original was not.
pub fn read_changed(
    text: &str,
    file: &File,
    folder: &File,
    changes: &Changes,
) -> Result<Design, DesignError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut table: toml::Table = text.parse().map_err(|e: toml::de::Error| {
        DesignError(format!("{}: {}", file.display(), e.message()))
    })?;
    for (path, value) in changes {
        set_path(&mut table, path, value)
            .map_err(|why| DesignError(format!("{}: {why}", file.display())))?;
    }
    complete(&table.to_string(), file, folder, false)
}

impl Design {
    /// Whether two designs describe the same system, whatever they say of logs, options and defaults.
    pub fn same_system(&self, other: &Design) -> bool {
        let bare = |design: &Design| Design {
            options: Vec::new(),
            logs: Vec::new(),
            assumed: Vec::new(),
            file: std::path::PathBuf::new(),
            ..design.clone()
        };
        bare(self) == bare(other)
    }
}

fn set_path(table: &mut toml::Table, path: &str, value: &toml::Value) -> Result<(), String> {
    let Path { key, entry } = Path::parse(path);
    let words: Vec<&str> = key.split('.').collect();
    let Some((section, name)) = entry else {
        set(table, &words, value);
        return Ok(());
    };
    let entries = match table.get_mut(&section) {
        Some(toml::Value::Array(list)) => list.as_mut_slice(),
        Some(one @ toml::Value::Table(_)) => std::slice::from_mut(one),
        _ => &mut [],
    };
    let known: Vec<String> = entries.iter().filter_map(called).collect();
    let mut found = false;
    for entry in entries {
        if called(entry).is_some_and(|n| n.to_lowercase() == name.to_lowercase())
            && let toml::Value::Table(inner) = entry
        {
            set(inner, &words[1..], value);
            found = true;
        }
    }
    if found {
        return Ok(());
    }
    Err(format!(
        "{path}: no {section} is called \"{name}\"; there {}",
        match known.as_slice() {
            [] => "is none with a name".to_owned(),
            [one] => format!("is {one}"),
            many => format!("are {}", many.join(", ")),
        }
    ))
}

/// What an entry of a repeated section goes by: its name, a cable by its run.
fn called(entry: &toml::Value) -> Option<String> {
    let name = entry.get("name").or_else(|| entry.get("run"))?;
    name.as_str().map(str::to_owned)
}

fn set(table: &mut toml::Table, words: &[&str], value: &toml::Value) {
    match words {
        [] => {}
        [last] => {
            table.insert((*last).to_owned(), value.clone());
        }
        [first, rest @ ..] => {
            let inner = table
                .entry((*first).to_owned())
                .or_insert_with(|| toml::Value::Table(toml::Table::new()));
            match inner {
                toml::Value::Table(inner) => set(inner, rest, value),
                toml::Value::Array(list) => set_in_list(list, rest, value),
                _ => {}
            }
        }
    }
}

fn set_in_list(list: &mut [toml::Value], rest: &[&str], value: &toml::Value) {
    let any = list.iter().any(|entry| has(entry, rest));
    for entry in list {
        if (!any || has(entry, rest))
            && let toml::Value::Table(inner) = entry
        {
            set(inner, rest, value);
        }
    }
}

fn has(entry: &toml::Value, words: &[&str]) -> bool {
    words
        .iter()
        .try_fold(entry, |at, word| at.get(*word))
        .is_some()
}

/// A value free of its text; `None` where a number does not fit.
pub(super) fn plain(value: &DeValue<'_>) -> Option<toml::Value> {
    Some(match value {
        DeValue::String(text) => toml::Value::String(text.to_string()),
        DeValue::Integer(n) => toml::Value::Integer(integer(n)?),
        DeValue::Float(n) => toml::Value::Float(float(n)?),
        DeValue::Boolean(b) => toml::Value::Boolean(*b),
        DeValue::Datetime(d) => toml::Value::Datetime(*d),
        DeValue::Array(list) => {
            let values = list.iter().map(|v| plain(v.get_ref()));
            toml::Value::Array(values.collect::<Option<Vec<_>>>()?)
        }
        DeValue::Table(_) => return None,
    })
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    const TEXT: &str = "[place]\nlatitude = 48.1\nlongitude = 2.5\n[array.panel]\npower = \"200 W\"\n\
        [battery]\nchemistry = \"lfp\"\ncapacity = \"100 Ah\"\n\
        [[load]]\nname = \"fridge\"\npower = \"45 W\"\nhours = 9\n\
        [[load]]\nname = \"lamp 2.0\"\npower = \"5 W\"\nhours = 4\n";

    fn changed(text: &str) -> Result<Design, String> {
        let (key, value) = parse_change(text)?;
        let here = File::new("design.toml");
        read_changed(TEXT, here, here, &[(key, value)].into()).map_err(|e| e.to_string())
    }

    #[test]
    fn an_unknown_key_is_told_with_the_nearest_that_can_be_changed() {
        for (typed, meant) in [
            ("array.panels=3", "array.panels_in_series"),
            ("array.strings=3", "array.strings_in_parallel"),
            ("batery.capacity=90 Ah", "battery.capacity"),
            ("array.panel.pwer=90 W", "array.panel.power"),
        ] {
            let refused = changed(typed).unwrap_err();
            let asked = format!("did you mean {meant}?");
            assert!(refused.ends_with(&asked), "{refused}");
        }
        assert!(
            changed("battery.bogus=1")
                .unwrap_err()
                .contains("known there")
        );
    }

    #[test]
    fn a_name_picks_one_entry_and_none_takes_them_all() {
        let hours = |d: &Design| d.loads.iter().map(|l| l.hours).collect::<Vec<_>>();
        assert_eq!(hours(&changed("load.Fridge.hours=3").unwrap()), [3.0, 4.0]);
        assert_eq!(
            hours(&changed("load.lamp 2.0.hours=1").unwrap()),
            [9.0, 1.0]
        );
        assert_eq!(hours(&changed("load.hours=2").unwrap()), [2.0, 2.0]);
        let missing = changed("load.kettle.hours=1").unwrap_err();
        assert!(
            missing.contains("kettle") && missing.contains("fridge, lamp 2.0"),
            "{missing}"
        );
        assert!(changed("load.fridge.colour=red").is_err());
        assert_eq!(changed("array.panel.power=300 W").unwrap().array_w(), 300.0);
    }
}
