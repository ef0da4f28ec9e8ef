//! `[battery]` and the nominal voltage.

use toml::de::DeTable;

use super::super::defaults;
use super::super::problems::Notes;
use super::super::section::Section;
use super::super::system::{Battery, Chemistry};

/// The bank and what follows from it.
pub(super) struct Bank {
    pub(super) battery: Battery,
    pub(super) nominal_v: Option<f64>,
}

/// The chemistry of that word; LFP for a word already refused.
fn chemistry(word: &str) -> Chemistry {
    match word {
        "agm" => Chemistry::Agm,
        "gel" => Chemistry::Gel,
        "flooded" => Chemistry::Flooded,
        "nmc" => Chemistry::Nmc,
        _ => Chemistry::Lfp,
    }
}

pub(super) fn read(root: &DeTable<'_>, notes: &mut Notes) -> Bank {
    let section = Section::single(root, "battery", notes);
    let chemistry = chemistry(&section.required_text("chemistry", notes));
    let capacity_ah = section.required("capacity", notes);
    let (nominal_v, cells) = nominal(root, &section, chemistry, notes);
    let usual = format!("usual for {} banks", chemistry.name());
    let (from_c, to_c) = defaults::charge_temperatures_c(chemistry);
    let charge_why = if chemistry.is_lead() {
        "usual limits for lead; the maker's data sheet goes before"
    } else {
        "usual limits for lithium cells; charging frozen cells ruins them"
    };
    let share = section.number_or(
        "full_current",
        defaults::full_current(chemistry),
        &usual,
        notes,
    );
    let reserve = section.number_or(
        "reserve",
        defaults::reserve(chemistry),
        if chemistry.is_lead() {
            "lead lasts longer when not drawn below half"
        } else {
            "usual for lithium"
        },
        notes,
    );
    let battery = Battery {
        chemistry,
        capacity_ah,
        cells_in_series: cells,
        reserve_pct: reserve * 100.0,
        full_current_a: share * capacity_ah,
        max_days_between_full: section.number_or(
            "max_days_between_full",
            defaults::max_days_between_full(chemistry),
            if chemistry.is_lead() {
                "lead that is not filled up sulphates"
            } else {
                "cells balance and counters reset only when full"
            },
            notes,
        ),
        max_charge_a: section.number("max_charge_current", notes),
        charge_from_c: section.number_or("charge_from", from_c, charge_why, notes),
        charge_to_c: section.number_or("charge_to", to_c, charge_why, notes),
        load_cut_off_v: section.number("load_cut_off", notes),
    };
    if battery.charge_from_c >= battery.charge_to_c {
        section.problem(
            "charge_from",
            "is not below charge_to; the lower limit comes first",
            notes,
        );
    }
    Bank { battery, nominal_v }
}

/// Nominal voltage and cells: each as given, else from the other, else open.
fn nominal(
    root: &DeTable<'_>,
    battery: &Section<'_>,
    chemistry: Chemistry,
    notes: &mut Notes,
) -> (Option<f64>, Option<u32>) {
    let system = Section::single(root, "system", notes);
    let given_v = system.number("nominal", notes);
    // Counts are whole and small by their key's range, so the conversion is exact.
    let given_cells = battery.number("cells_in_series", notes).map(|n| n as u32);
    match (given_v, given_cells) {
        (Some(volts), Some(cells)) => {
            let likely = defaults::cells_for(chemistry, volts);
            if f64::from(cells) > 1.5 * f64::from(likely)
                || f64::from(likely) > 1.5 * f64::from(cells)
            {
                let text = format!(
                    "{cells} {} cells do not make {volts} V; some {likely} would",
                    chemistry.name()
                );
                battery.problem("cells_in_series", &text, notes);
            }
            (given_v, given_cells)
        }
        (Some(volts), None) => {
            let cells = defaults::cells_for(chemistry, volts);
            let why = format!("usual for {} banks of {volts} V", chemistry.name());
            notes.assume(
                "battery.cells_in_series".to_owned(),
                cells.to_string(),
                &why,
            );
            (given_v, Some(cells))
        }
        (None, Some(cells)) => {
            let volts = defaults::nominal_for(chemistry, cells);
            let why = format!("{cells} {} cells in series", chemistry.name());
            notes.assume("system.nominal".to_owned(), format!("{volts} V"), &why);
            (Some(volts), given_cells)
        }
        (None, None) => (None, None),
    }
}
