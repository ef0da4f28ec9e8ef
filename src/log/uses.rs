//! A role and the cells it is made of, with the unit they are written in.

use std::collections::BTreeMap;

use super::columns::{Facts, Roles};
use super::stats::ColumnStats;
use super::words::{self, Kind, Unit};
use crate::mapping::Role;
use crate::timeline::stage;

/// A role and the cells it is made of: value = sum of cell x factor, + offset.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Use {
    pub(crate) role: Role,
    pub(crate) parts: Vec<(usize, f64)>,
    pub(crate) offset: f64,
    pub(crate) unit: String,
    pub(crate) how: &'static str,
    /// Words (or numbers as text) and the stage codes they stand for.
    pub(crate) values: BTreeMap<String, f64>,
    /// A unit in the cell replaces the column's.
    pub(crate) cell_units: bool,
    /// Title, units row, cells or the design name its unit.
    pub(crate) unit_said: bool,
    /// Cells that mean "no reading".
    pub(crate) sentinels: Vec<f64>,
}

impl Use {
    /// Whether it is the same as another, whatever numbers stand for no reading in either.
    pub(crate) fn is_but_for_sentinels(&self, other: &Self) -> bool {
        let Self {
            role,
            parts,
            offset,
            unit,
            how,
            values,
            cell_units,
            unit_said,
            sentinels: _,
        } = self;
        (*role, *offset, *how, *cell_units, *unit_said)
            == (
                other.role,
                other.offset,
                other.how,
                other.cell_units,
                other.unit_said,
            )
            && (parts, unit, values) == (&other.parts, &other.unit, &other.values)
    }

    /// Whether its cells are read as words (or codes) that stand for something.
    pub(crate) fn is_worded(&self) -> bool {
        self.role == Role::Stage
    }
}

/// The kind of unit a role is measured in.
pub(crate) fn kind(role: Role) -> Option<Kind> {
    Some(match role {
        Role::BatteryVoltage | Role::ArrayVoltage | Role::ChargeVoltage | Role::DayVoltsHigh => {
            Kind::Voltage
        }
        Role::BatteryCurrent
        | Role::ArrayCurrent
        | Role::ChargeCurrent
        | Role::LoadCurrent
        | Role::OtherCurrent => Kind::Current,
        Role::BatteryPower | Role::ArrayPower | Role::ChargePower | Role::LoadPower => Kind::Power,
        Role::Soc | Role::DaySocLow => Kind::Percent,
        Role::BatteryTemperature | Role::AirTemperature => Kind::Temperature,
        Role::HarvestTotal | Role::DayHarvest | Role::DayLoad => Kind::Energy,
        Role::Irradiance => Kind::Irradiance,
        Role::Latitude | Role::Longitude => Kind::Angle,
        Role::Time | Role::Stage | Role::Ignore => return None,
    })
}

pub(crate) fn base_unit(role: Role) -> &'static str {
    match kind(role) {
        Some(Kind::Voltage) => "V",
        Some(Kind::Current) => "A",
        Some(Kind::Power) => "W",
        Some(Kind::Percent) => "%",
        Some(Kind::Temperature) => "C",
        Some(Kind::Energy) => "Wh",
        Some(Kind::Irradiance) => "W/m2",
        Some(Kind::Angle) => "deg",
        _ => "",
    }
}

/// A use with the unit that title, units row, cells or numbers show.
pub(crate) fn make(role: Role, columns: &[usize], facts: &Facts) -> Use {
    let first = columns.first().copied().unwrap_or(0);
    let stats = facts.stats.get(first);
    let fits = |unit: &Unit| Some(unit.kind) == kind(role);
    let of_title = facts.meanings.get(first).and_then(|m| m.unit).filter(fits);
    let of_cell = stats.and_then(|s| s.cell_unit).filter(fits);
    let of_row = facts
        .layout
        .units
        .get(first)
        .is_some_and(|u| words::unit(u).is_some());
    let (unit, how) = match (of_title, of_cell) {
        (Some(unit), _) => (Some(unit), if of_row { "units row" } else { "header" }),
        (None, Some(unit)) => (Some(unit), "cell"),
        (None, None) => (None, "header"),
    };
    let worded = of_title.is_some() && facts.meanings.get(first).is_some_and(|m| m.unit_worded);
    let mut found = Use {
        role,
        parts: columns
            .iter()
            .map(|c| (*c, unit.map_or(1.0, |u| u.factor)))
            .collect(),
        offset: unit.map_or(0.0, |u| u.offset),
        unit: unit.map_or(base_unit(role), |u| u.name).to_owned(),
        how,
        values: BTreeMap::new(),
        cell_units: of_cell.is_some(),
        unit_said: unit.is_some() && !worded,
        sentinels: stats.map(ColumnStats::sentinels).unwrap_or_default(),
    };
    let share = stats
        .and_then(|s| s.max)
        .is_some_and(|m| m <= 1.0 && m > 0.0);
    if kind(role) == Some(Kind::Percent) && share {
        found.parts[0].1 = 100.0;
        found.unit_said = true;
        "0-1".clone_into(&mut found.unit);
        found.how = "data";
    }
    found
}

/// The code of a stage cell.
pub(crate) fn stage_code(found: &Use, cell: &[u8]) -> Option<f64> {
    let text = super::decode::text(cell);
    let text = text.trim();
    if text.is_empty() {
        return None;
    }
    if let Some(code) = found.values.get(&text.to_lowercase()) {
        return Some(*code);
    }
    if !found.values.is_empty() && text.parse::<f64>().is_ok() {
        return None;
    }
    words::stage(text)
}

/// What a base value of a role can be at all; anything else is a sentinel.
pub(crate) fn plausible(role: Role) -> (f64, f64) {
    match kind(role) {
        Some(Kind::Voltage) => (-5.0, 1_000.0),
        Some(Kind::Current) => (-3_000.0, 3_000.0),
        Some(Kind::Power) => (-200_000.0, 200_000.0),
        Some(Kind::Percent) => (-0.5, 110.0),
        Some(Kind::Temperature) => (-70.0, 120.0),
        Some(Kind::Irradiance) => (-50.0, 2_000.0),
        Some(Kind::Angle) => (-360.0, 360.0),
        Some(Kind::Energy) => (-1.0, 1e12),
        _ => (stage::OFF, stage::FAULT),
    }
}

/// Says so where cells of a column of numbers hold none, or one that stands for no reading.
pub(crate) fn remark_unread(facts: &Facts, roles: &mut Roles) {
    for found in roles.uses.iter().filter(|u| !u.is_worded()) {
        for (column, _) in &found.parts {
            let Some(stats) = facts.stats.get(*column).filter(|s| s.numbers > 0) else {
                continue;
            };
            let role = found.role.name();
            if let Some(word) = &stats.word {
                roles.notes.push(format!(
                    "{role}: {} cells hold no number, the first of them '{word}', and count as missing",
                    stats.words
                ));
            }
            if let Some(number) = stats.sentinel.filter(|n| found.sentinels.contains(n)) {
                roles.notes.push(format!(
                    "{role}: cells of {number} stand for no reading and count as missing"
                ));
            }
        }
    }
}

/// Says so where cells are beyond what a role's values can be at all.
pub(crate) fn remark_implausible(facts: &Facts, roles: &mut Roles) {
    for found in &roles.uses {
        let [(column, factor)] = found.parts[..] else {
            continue;
        };
        let Some(stats) = facts
            .stats
            .get(column)
            .filter(|_| kind(found.role).is_some())
        else {
            continue;
        };
        let (low, high) = plausible(found.role);
        let base = |cell: f64| cell * factor + found.offset;
        let beyond = |cell: &f64| !(low..=high).contains(&base(*cell));
        let Some(cell) = stats.max.filter(beyond).or(stats.min.filter(beyond)) else {
            continue;
        };
        roles.notes.push(format!(
            "{}: cells like {cell} lie beyond {low} to {high} {} and count as missing",
            found.role.name(),
            base_unit(found.role)
        ));
    }
}
