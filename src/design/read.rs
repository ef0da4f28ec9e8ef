//! From a TOML file to a [`Design`], with every mistake named by line and key.

use std::path::Path;

use toml::de::{DeTable, DeValue};

use super::keys::{self, Kind};
use super::problems::Notes;
use super::section::Section;
use super::syntax::explained;
use super::system::{Design, System};
use crate::neighbour;

mod bank;
mod judging;
mod logs;
mod place;
mod plan;
mod power;
mod using;
mod wires;

/// Why a design could not be read; prints as one message that says what, where and what to do.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{0}")]
pub struct DesignError(pub String);

/// A design file larger than this is not one, bytes.
const MAX_BYTES: u64 = 4 << 20;

/// Reads and completes the design in `file`; relative log paths start from its folder.
///
/// # Errors
/// A [`DesignError`] with every problem found, one a line, each with file, line and key.
pub fn read(file: &Path) -> Result<Design, DesignError> {
    let shown = file.display();
    let cannot = |why: String| DesignError(format!("{shown}: {why}"));
    let size = std::fs::metadata(file)
        .map_err(|e| cannot(unreadable(file, &e)))?
        .len();
    if size > MAX_BYTES {
        return Err(cannot(
            "is larger than 4 MB; a design file is a page or two of text".to_owned(),
        ));
    }
    let bytes = std::fs::read(file).map_err(|e| cannot(unreadable(file, &e)))?;
    let text = String::from_utf8(bytes).map_err(|e| {
        let good = e.utf8_error().valid_up_to();
        let line = 1 + e.as_bytes()[..good].iter().filter(|b| **b == b'\n').count();
        DesignError(format!(
            "{shown}:{line}: is not UTF-8 text; save the file as UTF-8"
        ))
    })?;
    let folder = file.parent().unwrap_or_else(|| Path::new(""));
    read_text(&text, file, folder)
}

fn unreadable(file: &Path, error: &std::io::Error) -> String {
    match error.kind() {
        std::io::ErrorKind::NotFound => {
            let instead = neighbour::nearest(file).map_or_else(
                || "\"ampledger new FILE\" writes one to start from".to_owned(),
                |name| format!("did you mean '{name}'?"),
            );
            format!("there is no such design file; {instead}")
        }
        std::io::ErrorKind::IsADirectory => "is a folder; name the design file in it".to_owned(),
        _ => format!("cannot be read: {}", crate::words::of_file(error)),
    }
}

/// Reads and completes a design from its text. `file` is the path as typed, for messages and
/// outputs; `folder` is where relative log paths start.
///
/// # Errors
/// As [`read`].
///
/// ```
/// use std::path::Path;
/// use ampledger::design::read::read_text;
///
/// let text = r#"
/// array.panel.power = "215 W"
/// battery = { chemistry = "lfp", capacity = "200 Ah" }
/// place = { latitude = 47.0, longitude = 8.0 }
/// "#;
/// let design = read_text(text, Path::new("van.toml"), Path::new("")).unwrap();
/// assert_eq!(design.array_w(), 215.0);
/// assert!(design.assumed.iter().any(|a| a.key == "array.mounting"));
/// ```
pub fn read_text(text: &str, file: &Path, folder: &Path) -> Result<Design, DesignError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    complete(text, file, folder, true)
}

/// Reads and completes; `lined` says whether the text is the file's own, so that its line numbers
/// mean something.
pub(super) fn complete(
    text: &str,
    file: &Path,
    folder: &Path,
    lined: bool,
) -> Result<Design, DesignError> {
    let mut notes = Notes::new(file.display().to_string(), text, lined);
    let document = match DeTable::parse(text) {
        Ok(document) => document,
        Err(error) => return Err(syntax(&error, text, notes)),
    };
    let root = document.get_ref();
    check_names(root, "", &mut notes);
    let design = assemble(root, file, folder, &mut notes);
    match notes.clean() {
        true => Ok(Design {
            assumed: notes.assumed,
            ..design
        }),
        false => Err(notes.into_error()),
    }
}

/// A syntax error in an owner's words: line, column, what the parser met, what to look at.
fn syntax(error: &toml::de::Error, text: &str, notes: Notes) -> DesignError {
    let offset = error.span().map_or(0, |s| s.start).min(text.len());
    let mut notes = notes;
    let before = text.get(notes.within_line(offset)).unwrap_or_default();
    let column = before.chars().count() + 1;
    let what = error.message().lines().collect::<Vec<_>>().join("; ");
    let line = text[..offset].rfind('\n').map_or(0, |at| at + 1);
    let line = text[line..].lines().next().unwrap_or_default();
    let why = explained(&what, line);
    notes.problem(offset..offset, format!("column {column}: {why}"));
    notes.into_error()
}

/// Notes every key the reference does not know and every section written as a plain value.
fn check_names(table: &DeTable<'_>, section: &str, notes: &mut Notes) {
    for (word, value) in table.iter() {
        let path = match section {
            "" => word.get_ref().to_string(),
            _ => format!("{section}.{}", word.get_ref()),
        };
        let Some(key) = keys::find(&path) else {
            notes.problem(word.span(), unknown(&path, section));
            continue;
        };
        let inner: Vec<&DeValue<'_>> = match value.get_ref() {
            DeValue::Array(list) => list.iter().map(toml::Spanned::get_ref).collect(),
            one => vec![one],
        };
        if !matches!(key.kind, Kind::Section | Kind::Sections) {
            continue;
        }
        for one in inner {
            match one {
                DeValue::Table(table) => check_names(table, &path, notes),
                _ => notes.problem(
                    word.span(),
                    format!("{path} is a section: write [{path}] on a line of its own and its keys below"),
                ),
            }
        }
    }
}

/// What to say of an unknown key.
fn unknown(path: &str, section: &str) -> String {
    match keys::nearest(path) {
        Some(near) => format!("{path} is not a known key; did you mean {near}?"),
        None => {
            let place = match section {
                "" => "at the top".to_owned(),
                _ => format!("in [{section}]"),
            };
            let known = keys::members(section).join(", ");
            format!("{path} is not a known key; known {place}: {known}")
        }
    }
}

/// Section by section, in the order in which one needs the other.
fn assemble(root: &DeTable<'_>, file: &Path, folder: &Path, notes: &mut Notes) -> Design {
    let place = place::read(root, notes);
    let bank = bank::read(root, notes);
    let mut controllers = power::Controllers::read(root, &bank, notes);
    let arrays = power::arrays(root, &controllers, &place, notes);
    let loads = using::loads(root, notes);
    let name = name(root, file, notes);
    Design {
        file: file.to_path_buf(),
        folder: folder.to_path_buf(),
        system: System {
            name,
            nominal_v: bank.nominal_v,
        },
        arrays,
        cables: wires::read(root, &controllers, notes),
        inverter: using::inverter(root, &loads, notes),
        chargers: using::chargers(root, notes),
        events: plan::events(root, notes),
        plan: plan::read(root, &place.base, notes),
        options: plan::options(root, notes),
        judging: judging::read(root, notes),
        logs: logs::read(root, &controllers, notes),
        controllers: std::mem::take(&mut controllers.list),
        battery: bank.battery,
        place,
        loads,
        assumed: Vec::new(),
    }
}

fn name(root: &DeTable<'_>, file: &Path, notes: &mut Notes) -> String {
    let system = Section::single(root, "system", notes);
    let stem = file
        .file_stem()
        .map_or_else(|| "system".to_owned(), |s| s.to_string_lossy().into_owned());
    system.word_or("name", &stem, "the name of the design file", notes)
}
