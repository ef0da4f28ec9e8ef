//! A section of a design file with its keys, read by name.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::decode::{Decoded, decode};
use super::keys::{self, Kind};
use super::problems::Notes;
use super::system::{Moment, WireSize};
use crate::mapping::{HeaderRef, StampZone};

/// One section: its path in the key list, its table, and the name it goes by.
#[derive(Clone)]
pub(super) struct Section<'d> {
    path: &'static str,
    table: Option<&'d DeTable<'d>>,
    span: Range<usize>,
    /// The owner's name for it, where the section is repeated.
    pub(super) name: Option<String>,
}

impl<'d> Section<'d> {
    /// A section that the file does not have: everything in it is missing.
    pub(super) fn absent(path: &'static str) -> Self {
        Self {
            path,
            table: None,
            span: 0..0,
            name: None,
        }
    }

    /// The one section of that name; more than one is a problem.
    pub(super) fn single(parent: &'d DeTable<'d>, path: &'static str, notes: &mut Notes) -> Self {
        let mut all = Self::all(parent, path);
        if let Some(second) = all.get(1) {
            notes.problem(
                second.span.clone(),
                format!("{path} stands here a second time; there can be only one [{path}]"),
            );
        }
        match all.is_empty() {
            true => Self::absent(path),
            false => all.swap_remove(0),
        }
    }

    /// Every section of that name, once or repeated.
    pub(super) fn all(parent: &'d DeTable<'d>, path: &'static str) -> Vec<Self> {
        let word = path.rsplit('.').next().unwrap_or(path);
        let of = |value: &'d Spanned<DeValue<'d>>| {
            let table = value.get_ref().as_table()?;
            let name = table.get("name").and_then(|n| n.get_ref().as_str());
            Some(Self {
                path,
                table: Some(table),
                span: value.span(),
                name: name.map(str::to_owned),
            })
        };
        match parent.get(word) {
            None => Vec::new(),
            Some(value) => match value.get_ref() {
                DeValue::Array(list) => list.iter().filter_map(of).collect(),
                _ => of(value).into_iter().collect(),
            },
        }
    }

    /// The one section of that name inside this one.
    pub(super) fn inner(&self, path: &'static str, notes: &mut Notes) -> Section<'d> {
        let mut found = match self.table {
            Some(table) => Section::single(table, path, notes),
            None => Section::absent(path),
        };
        found.name = self.name.clone();
        if found.table.is_none() {
            found.span = self.span.clone();
        }
        found
    }

    /// Whether the file has the section.
    pub(super) fn present(&self) -> bool {
        self.table.is_some()
    }

    /// The table itself.
    pub(super) fn table(&self) -> Option<&'d DeTable<'d>> {
        self.table
    }

    /// The raw value of a key.
    pub(super) fn raw(&self, word: &str) -> Option<&'d Spanned<DeValue<'d>>> {
        self.table.and_then(|t| t.get(word))
    }

    /// Its path in the key list.
    pub(super) fn path(&self) -> &'static str {
        self.path
    }

    /// The full path of a key.
    pub(super) fn path_of(&self, word: &str) -> String {
        format!("{}.{word}", self.path)
    }

    /// The key as assumptions name it: with the section's name where it is repeated.
    pub(super) fn label(&self, word: &str) -> String {
        match &self.name {
            Some(name) => format!("{} ({name})", self.path_of(word)),
            None => self.path_of(word),
        }
    }

    /// Notes a problem at a key (or at the section, where the key is missing).
    pub(super) fn problem(&self, word: &str, text: &str, notes: &mut Notes) {
        let span = self.raw(word).map_or(self.span.clone(), Spanned::span);
        notes.problem(span, format!("{}: {text}", self.path_of(word)));
    }

    /// Notes that a key which must be given is missing, with the line to add.
    pub(super) fn missing(&self, word: &str, notes: &mut Notes) {
        let path = self.path_of(word);
        if self.is_misspelt(&path) {
            return;
        }
        let example = keys::find(&path).map_or("", |k| k.example);
        let header = match self.path {
            "cable" | "load" | "charger" | "event" | "option" | "log" | "place.leg" => {
                format!("[[{}]]", self.path)
            }
            one => format!("[{one}]"),
        };
        let text = format!("{path} is missing; add under {header}: {word} = {example}");
        match self.span.is_empty() {
            true => notes.problem_of_file(text),
            false => notes.problem(self.span.clone(), text),
        }
    }

    /// Whether the key stands there under a name that is taken for a slip of the pen, which is noted
    /// where names are checked.
    fn is_misspelt(&self, path: &str) -> bool {
        let names = self.table.into_iter().flat_map(|table| table.keys());
        names
            .map(|name| self.path_of(name.get_ref()))
            .any(|written| keys::find(&written).is_none() && keys::nearest(&written) == Some(path))
    }

    /// The decoded value of a key; a value that does not fit is noted and counts as missing.
    fn decoded(&self, word: &str, notes: &mut Notes) -> Option<Decoded> {
        let value = self.raw(word)?;
        let path = self.path_of(word);
        let key = keys::find(&path)?;
        match decode(key, value.get_ref()) {
            Ok(found) => Some(found),
            Err(why) => {
                notes.problem(value.span(), format!("{path}: {why}"));
                None
            }
        }
    }

    /// A quantity in its base unit, a number or a count.
    pub(super) fn number(&self, word: &str, notes: &mut Notes) -> Option<f64> {
        match self.decoded(word, notes)? {
            Decoded::Number(value) => Some(value),
            _ => None,
        }
    }

    /// A number that must be given.
    pub(super) fn required(&self, word: &str, notes: &mut Notes) -> f64 {
        if self.raw(word).is_none() {
            self.missing(word, notes);
        }
        self.number(word, notes).unwrap_or(0.0)
    }

    /// A number, or the default with its reason, noted as assumed.
    pub(super) fn number_or(&self, word: &str, default: f64, why: &str, notes: &mut Notes) -> f64 {
        if self.raw(word).is_none() {
            notes.assume(self.label(word), self.show(word, default), why);
            return default;
        }
        self.number(word, notes).unwrap_or(default)
    }

    /// A value of a key as an owner would write it.
    pub(super) fn show(&self, word: &str, value: f64) -> String {
        match keys::find(&self.path_of(word)).map(|k| k.kind) {
            Some(Kind::Quantity(dimension, ..)) => dimension.show(value),
            _ => crate::quantity::trim(value),
        }
    }

    /// One value a month.
    pub(super) fn months(&self, word: &str, notes: &mut Notes) -> Option<[f64; 12]> {
        match self.decoded(word, notes)? {
            Decoded::Months(values) => Some(values),
            _ => None,
        }
    }

    /// A text or word.
    pub(super) fn text(&self, word: &str, notes: &mut Notes) -> Option<String> {
        match self.decoded(word, notes)? {
            Decoded::Text(text) => Some(text),
            _ => None,
        }
    }

    /// A word, or the default with its reason, noted as assumed.
    pub(super) fn word_or(
        &self,
        word: &str,
        default: &str,
        why: &str,
        notes: &mut Notes,
    ) -> String {
        if self.raw(word).is_none() {
            notes.assume(self.label(word), default.to_owned(), why);
            return default.to_owned();
        }
        self.text(word, notes).unwrap_or_else(|| default.to_owned())
    }

    /// A text that must be given.
    pub(super) fn required_text(&self, word: &str, notes: &mut Notes) -> String {
        if self.raw(word).is_none() {
            self.missing(word, notes);
        }
        self.text(word, notes).unwrap_or_default()
    }

    /// One or several texts.
    pub(super) fn texts(&self, word: &str, notes: &mut Notes) -> Vec<String> {
        match self.decoded(word, notes) {
            Some(Decoded::Texts(texts)) => texts,
            _ => Vec::new(),
        }
    }

    /// A conductor's size.
    pub(super) fn wire(&self, word: &str, notes: &mut Notes) -> Option<WireSize> {
        match self.decoded(word, notes)? {
            Decoded::Wire(size) => Some(size),
            _ => None,
        }
    }

    /// A zone.
    pub(super) fn zone(&self, word: &str, notes: &mut Notes) -> Option<StampZone> {
        match self.decoded(word, notes)? {
            Decoded::Zone(zone) => Some(zone),
            _ => None,
        }
    }

    /// A date or date-time, with its offset in minutes where it carries one.
    pub(super) fn moment(&self, word: &str, notes: &mut Notes) -> Option<(Moment, Option<i16>)> {
        match self.decoded(word, notes)? {
            Decoded::Moment(moment, offset) => Some((moment, offset)),
            _ => None,
        }
    }

    /// A header line.
    pub(super) fn header(&self, word: &str, notes: &mut Notes) -> Option<HeaderRef> {
        match self.decoded(word, notes)? {
            Decoded::Header(header) => Some(header),
            _ => None,
        }
    }
}
