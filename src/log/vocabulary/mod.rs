//! The vocabulary of the trade, as data: one file a language.
//!
//! Titles are folded before they are looked up (lower case, no accents, single spaces, one space at
//! each end), so a stem with a space at an end only matches at a word boundary there. All languages
//! are looked up together: an owner's log may mix them.

mod danish;
mod dutch;
mod english;
mod french;
mod german;
mod italian;
mod norwegian;
mod portuguese;
mod spanish;
mod swedish;

use std::sync::LazyLock;

/// The languages titles and stage words are understood in.
pub(crate) const LANGUAGES: [&Language; 10] = [
    &english::WORDS,
    &german::WORDS,
    &french::WORDS,
    &spanish::WORDS,
    &italian::WORDS,
    &portuguese::WORDS,
    &dutch::WORDS,
    &danish::WORDS,
    &swedish::WORDS,
    &norwegian::WORDS,
];

/// Stems of a language.
type Stems = &'static [&'static str];

/// Everything a language adds.
pub(crate) struct Language {
    /// Phrases that hold another subject's word, and what is read in their place.
    pub(crate) phrases: &'static [(&'static str, &'static str)],
    pub(crate) subjects: &'static [(Subject, Stems)],
    pub(crate) quantities: &'static [(Quantity, Stems)],
    /// Titles of time columns.
    pub(crate) times: Stems,
    /// Whole titles of year, month, day, hour, minute and second in columns of their own.
    pub(crate) clock_parts: [Stems; 6],
    /// Titles of running clocks that carry no date.
    pub(crate) elapsed: Stems,
    /// Titles that speak of the lowest, the highest, the mean of something.
    pub(crate) lowest: Stems,
    pub(crate) highest: Stems,
    pub(crate) means: Stems,
    /// Titles of energy that was harvested rather than used.
    pub(crate) harvested: Stems,
    /// Words beside a quantity that say nothing of whose it is.
    pub(crate) neutral: Stems,
    /// Titles of columns that name the device or the quantity a row is of.
    pub(crate) devices: Stems,
    /// Words in the cells of a stage column.
    pub(crate) stages: &'static [(f64, Stems)],
    /// How the names of the months begin.
    pub(crate) months: [Stems; 12],
    /// How the names of the weekdays begin; two letters stand for themselves alone.
    pub(crate) weekdays: Stems,
    /// Words for before and after noon on a twelve-hour clock, without points.
    pub(crate) halves: [Stems; 2],
}

/// Which part of the system a title speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Subject {
    /// Things beside the system's own bank, array and loads, and statistics of them.
    Aside,
    Load,
    Other,
    Array,
    WeakArray,
    Charger,
    Discharge,
    Bank,
    /// The house: its bank, where not its power.
    House,
    Air,
}

/// What a title says was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Quantity {
    Soc,
    Latitude,
    Longitude,
    Irradiance,
    Temperature,
    Voltage,
    Current,
    Charge,
    Energy,
    Power,
    Stage,
}

/// The order in which quantities are looked for: phrases before the words they contain.
const QUANTITIES: [Quantity; 11] = [
    Quantity::Soc,
    Quantity::Latitude,
    Quantity::Longitude,
    Quantity::Irradiance,
    Quantity::Temperature,
    Quantity::Voltage,
    Quantity::Current,
    Quantity::Charge,
    Quantity::Energy,
    Quantity::Power,
    Quantity::Stage,
];

/// The order in which stages are looked for: what names another stage's word in passing, first.
const STAGES: [f64; 6] = {
    use crate::timeline::stage::{ABSORPTION, BULK, EQUALISE, FAULT, FLOAT, OFF};
    [FAULT, OFF, EQUALISE, ABSORPTION, FLOAT, BULK]
};

/// All languages in one table, in the order of look-up.
pub(crate) struct Table {
    pub(crate) phrases: Vec<(&'static str, &'static str)>,
    pub(crate) subjects: Vec<(Subject, &'static str)>,
    pub(crate) quantities: Vec<(Quantity, &'static str)>,
    pub(crate) times: Vec<&'static str>,
    pub(crate) elapsed: Vec<&'static str>,
    pub(crate) lowest: Vec<&'static str>,
    pub(crate) highest: Vec<&'static str>,
    pub(crate) means: Vec<&'static str>,
    pub(crate) harvested: Vec<&'static str>,
    pub(crate) neutral: Vec<&'static str>,
    pub(crate) devices: Vec<&'static str>,
    pub(crate) stages: Vec<(f64, &'static str)>,
}

/// The table, put together at its first use.
pub(crate) static TABLE: LazyLock<Table> = LazyLock::new(|| Table {
    phrases: LANGUAGES
        .iter()
        .flat_map(|l| l.phrases.iter().copied())
        .collect(),
    subjects: paired(|l| l.subjects).collect(),
    quantities: in_order(&QUANTITIES, |l| l.quantities),
    times: all(|l| l.times),
    elapsed: all(|l| l.elapsed),
    lowest: all(|l| l.lowest),
    highest: all(|l| l.highest),
    means: all(|l| l.means),
    harvested: all(|l| l.harvested),
    neutral: all(|l| l.neutral),
    devices: all(|l| l.devices),
    stages: in_order(&STAGES, |l| l.stages),
});

fn all(part: fn(&Language) -> Stems) -> Vec<&'static str> {
    LANGUAGES
        .iter()
        .flat_map(|l| part(l).iter().copied())
        .collect()
}

fn paired<K: Copy + 'static>(
    part: fn(&Language) -> &'static [(K, Stems)],
) -> impl Iterator<Item = (K, &'static str)> {
    LANGUAGES
        .iter()
        .flat_map(move |l| part(l).iter())
        .flat_map(|(key, stems)| stems.iter().map(|stem| (*key, *stem)))
}

fn in_order<K: Copy + PartialEq + 'static>(
    order: &[K],
    part: fn(&Language) -> &'static [(K, Stems)],
) -> Vec<(K, &'static str)> {
    order
        .iter()
        .flat_map(|key| paired(part).filter(move |found| found.0 == *key))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_stem_is_written_as_titles_are_folded() {
        let plain = |stem: &str| {
            stem.chars()
                .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == ' ' || c == '%')
        };
        let table = &*TABLE;
        let stems = table
            .subjects
            .iter()
            .map(|s| s.1)
            .chain(table.quantities.iter().map(|q| q.1))
            .chain(table.stages.iter().map(|s| s.1))
            .chain(table.phrases.iter().flat_map(|p| [p.0, p.1]))
            .chain(table.times.iter().copied())
            .chain(LANGUAGES.iter().flat_map(|l| l.months.concat()));
        for stem in stems {
            assert!(plain(stem), "'{stem}'");
        }
    }
}
