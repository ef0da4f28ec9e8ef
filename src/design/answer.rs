//! Single answers of an owner, and a design that is still under way.

use std::path::Path;

use toml::de::DeValue;

use super::changes::plain;
use super::decode::decode;
use super::keys::{self, Kind};
use super::read::{DesignError, complete};
use super::system::Design;

/// An answer as typed, without quotes, as the value of a key; several numbers are one a month.
///
/// # Errors
/// What is wrong with it and how to write it.
pub fn answer(path: &str, text: &str) -> Result<toml::Value, String> {
    let key = keys::find(path).ok_or_else(|| format!("{path} is not a known key"))?;
    let text = text.trim().trim_matches('"').trim();
    let quoted = toml::Value::String(text.to_owned()).to_string();
    let written = match key.kind {
        Kind::Number(..) | Kind::Count(..) => text.to_owned(),
        Kind::NumberByMonth(..) => by_month(text),
        _ => quoted.clone(),
    };
    let bare = DeValue::parse(&written).or_else(|_| DeValue::parse(&quoted));
    let value = bare.map_err(|_| format!("\"{text}\" is not a value"))?;
    decode(key, value.get_ref())?;
    plain(value.get_ref()).ok_or_else(|| format!("\"{text}\" is not a value"))
}

/// `1 2 3` and `1, 2, 3` as a list; a single number as it stands.
fn by_month(text: &str) -> String {
    let parts: Vec<&str> = text
        .split(|c: char| c == ',' || c == ';' || c.is_whitespace())
        .filter(|part| !part.is_empty())
        .collect();
    match parts.as_slice() {
        [_] => text.to_owned(),
        many => format!("[{}]", many.join(", ")),
    }
}

/// Reads a design under way: what is required and still missing counts as some example, so that what
/// is wrong lies in what was answered.
///
/// # Errors
/// As [`super::read::read_text`], without line numbers.
pub fn read_unfinished(text: &str, file: &Path) -> Result<Design, DesignError> {
    let mut table: toml::Table = text.parse().map_err(|e: toml::de::Error| {
        DesignError(format!("{}: {}", file.display(), e.message()))
    })?;
    for path in keys::REQUIRED {
        let words: Vec<&str> = path.split('.').collect();
        let example = keys::find(path)
            .and_then(|key| DeValue::parse(key.example).ok())
            .and_then(|value| plain(value.get_ref()));
        if let Some(example) = example {
            fill(&mut table, &words, example);
        }
    }
    complete(&table.to_string(), file, Path::new(""), false)
}

/// Puts a value where nothing stands.
fn fill(table: &mut toml::Table, words: &[&str], value: toml::Value) {
    match words {
        [] => {}
        [last] => {
            table.entry((*last).to_owned()).or_insert(value);
        }
        [first, rest @ ..] => {
            let inner = table
                .entry((*first).to_owned())
                .or_insert_with(|| toml::Value::Table(toml::Table::new()));
            if let toml::Value::Table(inner) = inner {
                fill(inner, rest, value);
            }
        }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn answers_need_no_quotes() {
        let text = |path, typed| answer(path, typed).map(|v| v.to_string());
        assert_eq!(text("battery.capacity", "200 Ah").unwrap(), "\"200 Ah\"");
        assert_eq!(text("place.latitude", "-33.9").unwrap(), "-33.9");
        assert_eq!(text("system.name", "12").unwrap(), "\"12\"");
        assert_eq!(text("plan.sun_hours", "4.6").unwrap(), "4.6");
        let months = text("plan.sun_hours", "1 2 3 4 5 6 6 5 4 3 2 1").unwrap();
        assert!(months.starts_with("[1, 2,"), "{months}");
    }

    #[test]
    fn wrong_answers_say_how_to_write_them() {
        assert!(
            answer("battery.capacity", "200")
                .unwrap_err()
                .contains("Ah")
        );
        assert!(answer("place.latitude", "91").is_err());
        assert!(answer("plan.sun_hours", "1 2 3").is_err());
        assert!(
            answer("battery.chemistry", "lead")
                .unwrap_err()
                .contains("agm")
        );
    }

    #[test]
    fn an_unfinished_design_is_judged_by_what_it_says() {
        let file = Path::new("mine.toml");
        assert!(read_unfinished("", file).is_ok());
        let wrong = read_unfinished("[array.panel]\nvmp = \"20 V\"\nvoc = \"18 V\"", file);
        assert!(wrong.unwrap_err().0.contains("array.panel.voc"));
    }
}
