//! `[inverter]`, `[[load]]` and `[[charger]]`: what draws from the bank and what else fills it.

use toml::de::DeTable;

use super::super::defaults;
use super::super::problems::Notes;
use super::super::section::Section;
use super::super::system::{Charger, Inverter, Load, When};
use super::power::twice;

pub(super) fn loads(root: &DeTable<'_>, notes: &mut Notes) -> Vec<Load> {
    let mut list: Vec<Load> = Vec::new();
    for section in Section::all(root, "load") {
        let found = load(&section, notes);
        if !found.name.is_empty() && list.iter().any(|l| l.name == found.name) {
            section.problem("name", &twice(&found.name), notes);
        }
        list.push(found);
    }
    list
}

fn load(section: &Section<'_>, notes: &mut Notes) -> Load {
    let when = match section
        .word_or("when", "always", "spread over day and night", notes)
        .as_str()
    {
        "day" => When::Day,
        "night" => When::Night,
        _ => When::Always,
    };
    let through = section.word_or("through", "dc", "straight from the bank", notes);
    Load {
        name: section.required_text("name", notes),
        power_w: section.required("power", notes),
        quantity: section.number_or("quantity", 1.0, "a single one where nothing is said", notes),
        hours: section.required("hours", notes),
        when,
        through_inverter: through == "inverter",
    }
}

/// The inverter, given or implied by a load that hangs on one.
pub(super) fn inverter(root: &DeTable<'_>, loads: &[Load], notes: &mut Notes) -> Option<Inverter> {
    let section = Section::single(root, "inverter", notes);
    let hanging = || loads.iter().filter(|l| l.through_inverter);
    if !section.present() && hanging().next().is_none() {
        return None;
    }
    let longest = hanging().map(|l| l.hours).fold(0.0, f64::max);
    Some(Inverter {
        efficiency: section.number_or(
            "efficiency",
            defaults::INVERTER_EFFICIENCY,
            "usual for small inverters at ordinary load",
            notes,
        ),
        idle_w: section.number_or(
            "idle",
            defaults::INVERTER_IDLE_W,
            "usual for inverters of 1 to 2 kW",
            notes,
        ),
        hours: section.number_or(
            "hours",
            longest,
            "as long as the longest-running load through it",
            notes,
        ),
    })
}

pub(super) fn chargers(root: &DeTable<'_>, notes: &mut Notes) -> Vec<Charger> {
    let mut list: Vec<Charger> = Vec::new();
    for section in Section::all(root, "charger") {
        let kind = section.required_text("kind", notes);
        let name = match section.raw("name").is_some() {
            true => section.text("name", notes).unwrap_or_default(),
            false => kind.clone(),
        };
        if !name.is_empty() && list.iter().any(|c| c.name == name) {
            section.problem("name", &twice(&name), notes);
        }
        list.push(Charger {
            name,
            kind,
            current_a: section.number("current", notes),
        });
    }
    list
}
