//! `[inverter]`, `[[load]]` and `[[charger]]`: what draws from the bank and what else fills it.

use toml::de::DeTable;

use super::super::defaults;
use super::super::problems::Notes;
use super::super::section::Section;
use super::super::system::{Charger, Inverter, Load, When};
use super::power::twice;

pub(super) fn loads(root: &DeTable<'_>, notes: &mut Notes) -> Vec<Load> {
    let mut list: Vec<Load> = Vec::new();
    for (i, mut section) in Section::all(root, "load").into_iter().enumerate() {
        let name = name(&mut section, i, notes);
        if list.iter().any(|l| l.name == name) {
            section.problem("name", &twice(&name), notes);
        }
        list.push(load(&section, name, notes));
    }
    list
}

/// The section's name, or its kind and number, which assumptions about it then carry too.
fn name(section: &mut Section<'_>, index: usize, notes: &mut Notes) -> String {
    let default = format!("{} {}", section.path(), index + 1);
    if section.raw("name").is_none() {
        section.name = Some(default.clone());
    }
    section.word_or("name", &default, "counted in the order of the file", notes)
}

fn load(section: &Section<'_>, name: String, notes: &mut Notes) -> Load {
    let when = match section
        .word_or("when", "always", "spread over day and night", notes)
        .as_str()
    {
        "day" => When::Day,
        "night" => When::Night,
        _ => When::Always,
    };
    let (hours, why) = match when {
        When::Always => (
            24.0,
            "taken as always on; its running hours a day are not known",
        ),
        _ => (
            12.0,
            "taken as on for its half of the day; its running hours are not known",
        ),
    };
    let through = section.word_or("through", "dc", "straight from the bank", notes);
    let unknown = "not known; the load counts for nothing in the budget";
    Load {
        name,
        power_w: section.number_or("power", 0.0, unknown, notes),
        quantity: section.number_or("quantity", 1.0, "a single one where nothing is said", notes),
        hours: section.number_or("hours", hours, why, notes),
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
    for (i, mut section) in Section::all(root, "charger").into_iter().enumerate() {
        let name = name(&mut section, i, notes);
        if list.iter().any(|c| c.name == name) {
            section.problem("name", &twice(&name), notes);
        }
        list.push(Charger {
            name,
            kind: section.word_or(
                "kind",
                "shore",
                "the commonest; it changes words only",
                notes,
            ),
            current_a: section.number("current", notes),
            hours: section.number("hours", notes),
        });
    }
    list
}
