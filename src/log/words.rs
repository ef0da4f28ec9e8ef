//! What titles, units and stage words mean, by the vocabulary.

use std::cell::RefCell;
use std::collections::HashMap;

pub(crate) use super::vocabulary::{Quantity, Subject};
use super::vocabulary::{TABLE, Table};
pub(crate) use crate::units::{Kind, Unit, unit};

/// What a column title was understood to say.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Meaning {
    pub(crate) quantity: Option<Quantity>,
    pub(crate) subjects: Vec<Subject>,
    pub(crate) unit: Option<Unit>,
    pub(crate) lowest: bool,
    pub(crate) highest: bool,
    pub(crate) time: bool,
    pub(crate) elapsed: bool,
    /// The folded title without its unit.
    pub(crate) folded: String,
    /// The quantity is said in words, in a title of at most three words.
    pub(crate) generic: bool,
    /// The unit is spelt as a word that may only name the quantity: `battery_volt`.
    pub(crate) unit_worded: bool,
    /// The title speaks of what was harvested.
    pub(crate) harvested: bool,
    /// Of array and charger, the one whose word stands last before the quantity's: `charger panel current` is of
    /// the panels, `panel charge current` of the charger.
    pub(crate) nearest: Option<Subject>,
}

impl Meaning {
    pub(crate) fn is(&self, subject: Subject) -> bool {
        self.subjects.contains(&subject)
    }
}

fn any(folded: &str, stems: &[&str]) -> bool {
    stems.iter().any(|s| folded.contains(s))
}

/// Lower case, accents off, words apart, a space at each end.
pub(crate) fn fold(title: &str) -> String {
    let chars: Vec<char> = title.trim().chars().collect();
    let mut out = String::from(" ");
    let mut run = 0_usize;
    for (k, &c) in chars.iter().enumerate() {
        if !c.is_alphanumeric() && c != '%' && c != '°' {
            run = 0;
            if !out.ends_with(' ') {
                out.push(' ');
            }
            continue;
        }
        let next_lower = chars.get(k + 1).is_some_and(|n| n.is_lowercase());
        let last = chars
            .get(k + 1)
            .is_none_or(|n| !n.is_alphanumeric() || n.is_uppercase());
        let after_lower = k > 0 && chars[k - 1].is_lowercase();
        let after_upper = k > 0 && chars[k - 1].is_uppercase();
        // A new word inside one: batteryVoltage, voltagePV, PVPower, VBat, battV; but not SoC, kWh, mA.
        let splits = c.is_uppercase()
            && ((after_lower && ((next_lower && run >= 2) || (last && run >= 3)))
                || (after_upper && next_lower && !is_short_unit(&chars[k..])));
        if splits && !out.ends_with(' ') {
            out.push(' ');
            run = 0;
        }
        run += 1;
        plain_letters(c, &mut out);
    }
    if !out.ends_with(' ') {
        out.push(' ');
    }
    out
}

/// Whether these letters are a unit of energy or charge rather than the start of a word.
fn is_short_unit(rest: &[char]) -> bool {
    rest.get(1) == Some(&'h') && rest.get(2).is_none_or(|c| !c.is_alphanumeric())
}

/// Folds, and puts plain words in the place of phrases that hold another subject's word.
fn fold_title(title: &str) -> String {
    let mut folded = fold(title);
    for (phrase, plain) in TABLE.phrases.iter().filter(|p| !p.0.is_empty()) {
        if folded.contains(phrase) {
            // A phrase may end at a word boundary, which what stands in its place keeps.
            let end = if phrase.ends_with(' ') { " " } else { "" };
            folded = folded.replace(phrase, &format!(" {}{end}", plain.trim()));
        }
    }
    folded
}

/// Letters without accents, in lower case.
pub(crate) fn plain_letters(c: char, out: &mut String) {
    for c in c.to_lowercase() {
        match c {
            'à' | 'á' | 'â' | 'ã' | 'ä' | 'å' => out.push('a'),
            'è' | 'é' | 'ê' | 'ë' => out.push('e'),
            'ì' | 'í' | 'î' | 'ï' => out.push('i'),
            'ò' | 'ó' | 'ô' | 'õ' | 'ö' | 'ø' => out.push('o'),
            'ù' | 'ú' | 'û' | 'ü' => out.push('u'),
            'ç' => out.push('c'),
            'ñ' => out.push('n'),
            'æ' => out.push_str("ae"),
            'ß' => out.push_str("ss"),
            c => out.push(c),
        }
    }
}

/// The unit written in a title: in brackets, behind a slash, or as its last word.
fn unit_in(title: &str) -> Option<(String, Unit)> {
    for (open, close) in [('[', ']'), ('(', ')'), ('{', '}')] {
        if let (Some(from), Some(to)) = (title.rfind(open), title.rfind(close))
            && from < to
            && let Some(found) = unit(&title[from + 1..to])
        {
            return Some((
                format!("{} {}", &title[..from], &title[to + close.len_utf8()..]),
                found,
            ));
        }
    }
    if let Some(at) = title.find(" in ").or_else(|| title.find('/')) {
        let tail = title[at..]
            .trim_start_matches(" in ")
            .trim_start_matches('/');
        if let Some(found) = unit(tail) {
            return Some((title[..at].to_owned(), found));
        }
    }
    let at = title.rfind(['_', ' ', '.', ','])?;
    let found = unit(&title[at + 1..])?;
    Some((title[..at].to_owned(), found))
}

/// Letters before a subject: Vbat, Ipv, Uload, Ppanel.
fn lettered(folded: &str) -> Option<(Quantity, String)> {
    const PARTS: &[&str] = &[
        "bat", "pv", "sol", "load", "last", "panel", "chg", "akku", "accu", "arr", "in ", "lad",
    ];
    if let Some(found) = two_letters(folded.trim()) {
        return Some(found);
    }
    for word in folded.split(' ').filter(|w| w.len() >= 3 && w.is_ascii()) {
        let quantity = match word.as_bytes()[0] {
            b'v' | b'u' => Quantity::Voltage,
            b'i' => Quantity::Current,
            b'p' => Quantity::Power,
            _ => continue,
        };
        let rest = &word[1..];
        if PARTS.iter().any(|p| rest.starts_with(p)) && !word.starts_with("pv") {
            return Some((quantity, format!(" {rest} ")));
        }
    }
    None
}

/// A title of two letters, quantity and whose: `vb`, `ip`, `ul`.
fn two_letters(word: &str) -> Option<(Quantity, String)> {
    let quantity = match word.as_bytes().first()? {
        b'v' | b'u' => Quantity::Voltage,
        b'i' => Quantity::Current,
        _ => return None,
    };
    // Other pairs are words or anything: `is`, `us`, `up`.
    let whose = match word {
        "vb" | "ub" | "ib" => " bat ",
        "vp" | "ip" => " panel ",
        "vl" | "il" => " load ",
        _ => return None,
    };
    Some((quantity, whose.to_owned()))
}

/// Titles whose meaning is remembered.
const REMEMBERED: usize = 1000;

thread_local! {
    static MEANINGS: RefCell<HashMap<String, Meaning>> = RefCell::default();
}

/// What a column title says. Remembered: the files of a log have the same titles over and over.
pub(crate) fn meaning(title: &str) -> Meaning {
    MEANINGS.with_borrow_mut(|known| {
        if let Some(found) = known.get(title) {
            return found.clone();
        }
        let found = looked_up(title);
        if known.len() < REMEMBERED {
            known.insert(title.to_owned(), found.clone());
        }
        found
    })
}

fn looked_up(title: &str) -> Meaning {
    let table = &*TABLE;
    let (bare, unit) = match unit_in(title) {
        Some((bare, unit)) => (bare, Some(unit)),
        None => (title.to_owned(), None),
    };
    let whole = fold_title(title);
    let mut folded = fold_title(&bare);
    if folded.trim().is_empty() {
        folded.clone_from(&whole);
    }
    let mut lettered_quantity = None;
    if let Some((found, rest)) = lettered(&folded) {
        lettered_quantity = Some(found);
        folded.push_str(&rest);
    }
    let mut subjects: Vec<Subject> = Vec::new();
    for (subject, stem) in &table.subjects {
        if !subjects.contains(subject) && folded.contains(stem) {
            subjects.push(*subject);
        }
    }
    let said = quantity_said(&folded, table);
    let worded = settle_quantity(said, unit, &subjects, &folded);
    if any(&whole, &table.means) && is_long_mean(&whole) {
        subjects.push(Subject::Aside);
    }
    Meaning {
        quantity: lettered_quantity.or(worded),
        subjects,
        unit,
        lowest: any(&whole, &table.lowest) && !whole.contains(" minut"),
        highest: any(&whole, &table.highest),
        time: any(&whole, &table.times) && !whole.contains("temp"),
        elapsed: any(&whole, &table.elapsed),
        generic: said.is_some() && is_generic(&folded, table),
        unit_worded: unit.is_some() && ends_in_word(title),
        harvested: any(&folded, &table.harvested),
        nearest: nearest(&folded, table),
        folded,
    }
}

/// Of array and charger, the one whose word stands last before the quantity's word.
fn nearest(folded: &str, table: &Table) -> Option<Subject> {
    let quantities = table.quantities.iter();
    let at = quantities.filter_map(|q| folded.rfind(q.1)).max()?;
    let of = |subject: &Subject| matches!(subject, Subject::Array | Subject::Charger);
    let before = table.subjects.iter().filter(|(subject, _)| of(subject));
    let places =
        before.filter_map(|(subject, stem)| Some((folded.get(..=at)?.rfind(stem)?, *subject)));
    places.max_by_key(|place| place.0).map(|place| place.1)
}

/// Whether a title ends in a unit's full name rather than in its sign.
fn ends_in_word(title: &str) -> bool {
    const NAMES: [&str; 7] = ["volt", "volts", "amp", "amps", "ampere", "watt", "watts"];
    let folded = fold(title);
    folded
        .split_whitespace()
        .last()
        .is_some_and(|w| NAMES.contains(&w))
}

fn quantity_said(folded: &str, table: &Table) -> Option<Quantity> {
    let found = table.quantities.iter().find(|q| folded.contains(q.1));
    found.map(|q| q.0)
}

/// The quantity by word and unit together.
fn settle_quantity(
    said: Option<Quantity>,
    unit: Option<Unit>,
    subjects: &[Subject],
    folded: &str,
) -> Option<Quantity> {
    let by_unit = unit.and_then(|u| of_kind(u, subjects, folded));
    let angle = unit.is_none_or(|u| u.kind == Kind::Angle);
    match (said, by_unit) {
        (Some(Quantity::Latitude | Quantity::Longitude), _) if !angle => None,
        // "SOC (Ah)" counts charge, of a capacity the log does not say.
        (Some(Quantity::Soc), Some(Quantity::Charge | Quantity::Energy)) => by_unit,
        (Some(Quantity::Soc | Quantity::Latitude | Quantity::Longitude), _) => said,
        // A unit that contradicts the word wins: "battery charge (V)".
        (_, Some(found)) => Some(found),
        (None, None)
            if folded.trim() == "%"
                || (folded.contains('%') && subjects.contains(&Subject::Bank)) =>
        {
            Some(Quantity::Soc)
        }
        // A unit of something else altogether: "charge current time (s)".
        (Some(Quantity::Stage), None) => said,
        (_, None) => said.filter(|_| unit.is_none()),
    }
}

/// A title with nothing in it but a quantity: `Voltage`, `Total current`, but not `Pump current`.
fn is_generic(folded: &str, table: &Table) -> bool {
    let neutral =
        |word: &str| table.neutral.contains(&word) || word.bytes().all(|b| b.is_ascii_digit());
    let quantity = |word: &str| {
        table.quantities.iter().any(|(_, stem)| {
            let stem = stem.trim();
            match word.find(stem) {
                // Letters and short stems stand for themselves alone.
                Some(at) if stem.len() <= 2 => at == 0 && word == stem,
                // What stands before the stem in one word says whose it is: `Pumpenstrom`.
                Some(at) => at == 0 || neutral(&word[..at]),
                None => false,
            }
        })
    };
    let words: Vec<&str> = folded.split_whitespace().collect();
    // Lone letters among other words are names of something: `P u`, `Phase a`.
    let lone = words.len() > 1 && words.iter().any(|w| w.chars().count() == 1);
    !lone && words.iter().all(|word| neutral(word) || quantity(word))
}

/// Means over the logging interval are as good as samples; long means are not.
fn is_long_mean(whole: &str) -> bool {
    ["day", "24", "week", "hour"]
        .iter()
        .any(|w| whole.contains(w))
}

fn of_kind(unit: Unit, subjects: &[Subject], folded: &str) -> Option<Quantity> {
    // "Charge (%)" and its like in other languages: one word, and that is charge.
    let alone = folded.split_whitespace().count() == 1;
    let charge_alone = alone && (subjects == [Subject::Charger] || folded.trim() == "carga");
    match unit.kind {
        Kind::Voltage => Some(Quantity::Voltage),
        Kind::Current => Some(Quantity::Current),
        Kind::Power => Some(Quantity::Power),
        Kind::Energy => Some(Quantity::Energy),
        Kind::Charge => Some(Quantity::Charge),
        Kind::Percent if charge_alone || subjects.contains(&Subject::Bank) => Some(Quantity::Soc),
        Kind::Temperature => Some(Quantity::Temperature),
        Kind::Irradiance => Some(Quantity::Irradiance),
        Kind::Percent | Kind::Duration | Kind::Angle => None,
    }
}

/// Whether two folded titles are the same but for one word, that is a name in both: `east charge current` and
/// `west charge current`, but not `mean charge current`.
pub(crate) fn differ_by_a_name(one: &str, two: &str) -> bool {
    let (one, two): (Vec<&str>, Vec<&str>) = (
        one.split_whitespace().collect(),
        two.split_whitespace().collect(),
    );
    let mut apart = one.iter().zip(&two).filter(|(a, b)| a != b);
    let (Some((a, b)), None) = (apart.next(), apart.next()) else {
        return false;
    };
    one.len() == two.len() && is_name(a) && is_name(b)
}

/// Whether a word says nothing of what is measured.
fn is_name(word: &str) -> bool {
    let table = &*TABLE;
    let said = meaning(word);
    let says_nothing = said.quantity.is_none() && said.unit.is_none() && said.subjects.is_empty();
    let of_time = said.lowest || said.highest || said.time || said.elapsed;
    let padded = format!(" {word} ");
    says_nothing
        && !of_time
        && !table.neutral.contains(&word)
        && !any(&padded, &table.means)
        && !said.harvested
}

/// Whether a title speaks of the device (or the quantity) a row is of.
pub(crate) fn names_device(title: &str) -> bool {
    let folded = fold(title);
    // "Sensor temperature (C)" is a reading, "Sensor" the name of one.
    let measured = meaning(title);
    any(&folded, &TABLE.devices)
        && measured.quantity.is_none()
        && measured.unit.is_none()
        && folded.split_whitespace().count() <= 2
}

/// The stage code a word in a cell stands for.
pub(crate) fn stage(word: &str) -> Option<f64> {
    let folded = fold(word);
    let found = TABLE.stages.iter().find(|s| folded.contains(s.1));
    found.map(|s| s.0)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn words_apart() {
        assert_eq!(fold("batteryVoltage"), " battery voltage ");
        assert_eq!(fold("SoC"), " soc ");
        assert_eq!(fold("PVPower_kWh"), " pv power kwh ");
        assert_eq!(fold("Batteriespänning"), " batteriespanning ");
    }

    #[test]
    fn titles_in_ten_languages_name_the_battery_voltage() {
        for title in [
            "Battery voltage",
            "Batteriespannung [V]",
            "Tension batterie (V)",
            "Voltaje de batería",
            "Tensione batteria",
            "Tensão da bateria",
            "Accuspanning",
            "Batterispænding",
            "Batterispänning",
            "Batterispenning",
            "Vbat",
            "bat_v",
            "Ubatt/V",
        ] {
            let found = meaning(title);
            assert_eq!(found.quantity, Some(Quantity::Voltage), "{title}");
            assert!(found.is(Subject::Bank), "{title}");
        }
    }

    #[test]
    fn stage_words() {
        use crate::timeline::stage as code;
        assert_eq!(stage("Absorption"), Some(code::ABSORPTION));
        assert_eq!(stage("Erhaltung"), Some(code::FLOAT));
        assert_eq!(stage("Not charging"), Some(code::OFF));
        assert_eq!(stage("BULK"), Some(code::BULK));
        assert_eq!(stage("xyz"), None);
    }
}
