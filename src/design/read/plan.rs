//! `[plan]`, `[[event]]` and `[[option]]`.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::super::defaults;
use super::super::keys;
use super::super::problems::Notes;
use super::super::section::Section;
use super::super::system::{Changes, Event, Moment, Plan, Spot, Upgrade};
use super::power::twice;
use crate::quantity::trim;

pub(super) fn read(root: &DeTable<'_>, base: &Spot, notes: &mut Notes) -> Plan {
    let section = Section::single(root, "plan", notes);
    let air_c = match section.raw("air_temperature").is_some() {
        true => section.months("air_temperature", notes).unwrap_or_default(),
        false => {
            let by_month = defaults::air_c(base.latitude_deg, base.altitude_m);
            let shown = format!(
                "{} C in January, {} C in July",
                trim(by_month[0]),
                trim(by_month[6])
            );
            let why = "a rule of thumb from latitude and altitude, good to some 6 C";
            notes.assume("plan.air_temperature".to_owned(), shown, why);
            by_month
        }
    };
    Plan {
        sun_hours: section.months("sun_hours", notes),
        harvest_wh: section.number("harvest", notes),
        record_low_c: section.number("record_low", notes),
        air_c,
    }
}

pub(super) fn events(root: &DeTable<'_>, notes: &mut Notes) -> Vec<Event> {
    let mut list = Vec::new();
    for section in Section::all(root, "event") {
        if section.raw("on").is_none() {
            section.missing("on", notes);
        }
        let note = section.text("note", notes).unwrap_or_default();
        if let Some((Moment::Day(on), _)) = section.moment("on", notes) {
            list.push(Event { on, note });
        }
    }
    list
}

pub(super) fn options(root: &DeTable<'_>, notes: &mut Notes) -> Vec<Upgrade> {
    let mut list: Vec<Upgrade> = Vec::new();
    for (i, section) in Section::all(root, "option").into_iter().enumerate() {
        let name = match section.raw("name") {
            Some(_) => section.text("name", notes).unwrap_or_default(),
            None => format!("option {}", i + 1),
        };
        if list.iter().any(|o| o.name == name) {
            section.problem("name", &twice(&name), notes);
        }
        let mut set = Changes::new();
        match section.raw("set").map(Spanned::get_ref) {
            None => section.missing("set", notes),
            Some(DeValue::Table(table)) if !table.is_empty() => {
                changes(table, "", &mut set, notes);
            }
            Some(_) => section.problem(
                "set",
                "needs keys and their new values, for instance { \"array.panels_in_series\" = 3 }",
                notes,
            ),
        }
        list.push(Upgrade {
            name,
            cost: section.number("cost", notes),
            set,
        });
    }
    list
}

/// Gathers changes by full path; sections may be written as dotted text or nested.
fn changes(table: &DeTable<'_>, before: &str, set: &mut Changes, notes: &mut Notes) {
    for (word, value) in table.iter() {
        let path = match before {
            "" => word.get_ref().to_string(),
            _ => format!("{before}.{}", word.get_ref()),
        };
        let is_section = keys::find(&path)
            .is_some_and(|k| matches!(k.kind, keys::Kind::Section | keys::Kind::Sections));
        if let (true, DeValue::Table(inner)) = (is_section, value.get_ref()) {
            changes(inner, &path, set, notes);
            continue;
        }
        match super::super::changes::check(&path, value.get_ref()) {
            Ok(plain) => {
                set.insert(path, plain);
            }
            Err(why) => notes.problem(word.span(), format!("option.set: {why}")),
        }
    }
}
