//! Which column plays which role, from its title, its unit, its numbers and what the design says.

use std::collections::{BTreeMap, BTreeSet};

use super::inspection::Question;
use super::layout::Layout;
use super::stats::ColumnStats;
use super::words::{self, Kind, Meaning, Quantity, Subject, Unit};
use crate::mapping::{ColumnMap, ColumnRef, LogEntry, Role};
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
}

/// The roles of a file.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Roles {
    pub(crate) uses: Vec<Use>,
    /// Voltage at the load terminals: no role of its own, but it makes load power right.
    pub(crate) load_volts: Option<Use>,
    pub(crate) notes: Vec<String>,
    pub(crate) questions: Vec<Question>,
}

impl Roles {
    pub(crate) fn get(&self, role: Role) -> Option<&Use> {
        self.uses.iter().find(|u| u.role == role)
    }

    pub(crate) fn has(&self, role: Role) -> bool {
        self.get(role).is_some()
    }

    pub(crate) fn has_array(&self) -> bool {
        [Role::ArrayVoltage, Role::ArrayCurrent, Role::ArrayPower].iter().any(|r| self.has(*r))
    }

    pub(crate) fn rename(&mut self, from: Role, to: Role) -> bool {
        if self.has(to) {
            return false;
        }
        let found = self.uses.iter_mut().find(|u| u.role == from && u.how != "design");
        found.map(|u| u.role = to).is_some()
    }
}

/// Titles for messages.
pub(crate) fn listed(layout: &Layout) -> String {
    let titles: Vec<String> = layout.titles.iter().filter(|t| !t.is_empty()).map(|t| format!("'{t}'")).collect();
    if layout.header_line.is_none() {
        return format!("{} columns without titles", layout.titles.len());
    }
    titles.join(", ")
}

/// Position of a column the design names.
pub(crate) fn position(column: &ColumnRef, layout: &Layout) -> Option<usize> {
    match column {
        ColumnRef::Number(number) => number.checked_sub(1).filter(|k| *k < layout.titles.len()),
        ColumnRef::Name(name) => {
            let same = |t: &String| t.trim() == name.trim();
            let folded = words::fold(name);
            layout
                .titles
                .iter()
                .position(same)
                .or_else(|| layout.titles.iter().position(|t| words::fold(t) == folded))
        }
    }
}

/// Words for a column that is not there: the columns there are, the nearest spelling first.
pub(crate) fn missing(what: &str, column: &ColumnRef, layout: &Layout) -> String {
    match column {
        ColumnRef::Number(number) => format!(
            "{what} = {number} in its [[log]] entry: the file has {} columns, counted from 1",
            layout.titles.len()
        ),
        ColumnRef::Name(name) => {
            let mut titles: Vec<&String> = layout.titles.iter().filter(|t| !t.is_empty()).collect();
            let wanted = name.to_lowercase();
            titles.sort_by_key(|t| strsim::damerau_levenshtein(&t.to_lowercase(), &wanted));
            let names: Vec<String> = titles.iter().map(|t| format!("'{t}'")).collect();
            format!("{what} = \"{name}\" in its [[log]] entry: no such column; there are {}", names.join(", "))
        }
    }
}

/// Positions of the columns the design names for a role.
///
/// # Errors
/// A column that is not there.
pub(crate) fn resolve(columns: &[ColumnRef], layout: &Layout, role: Role) -> Result<Vec<usize>, String> {
    columns
        .iter()
        .map(|c| position(c, layout).ok_or_else(|| missing(role.name(), c, layout)))
        .collect()
}

/// Meanings of all titles, with the units row's units where titles carry none.
pub(crate) fn meanings(layout: &Layout) -> Vec<Meaning> {
    layout
        .titles
        .iter()
        .enumerate()
        .map(|(k, title)| {
            if layout.header_line.is_none() {
                return Meaning::default();
            }
            let mut meaning = words::meaning(title);
            if let Some(unit) = layout.units.get(k).and_then(|u| words::unit(u))
                && meaning.unit.is_none()
            {
                meaning = words::meaning(&format!("{title} [{}]", unit.name));
            }
            meaning
        })
        .collect()
}

/// What a column would be, if nothing else wanted to be it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Wish {
    Role(Role),
    LoadVolts,
    Discharge,
}

/// What of a file decides its roles.
pub(crate) struct Facts<'a> {
    pub(crate) layout: &'a Layout,
    pub(crate) meanings: &'a [Meaning],
    pub(crate) stats: &'a [ColumnStats],
    pub(crate) time: &'a [usize],
    pub(crate) entry: Option<&'a LogEntry>,
    /// One row a day.
    pub(crate) daily: bool,
}

/// Finds the roles of a file.
///
/// # Errors
/// A column or unit in the design that is not there or makes no sense.
pub(crate) fn assign(facts: &Facts) -> Result<Roles, String> {
    let mut roles = Roles::default();
    let mut taken: BTreeSet<usize> = facts.time.iter().copied().collect();
    if let Some(entry) = facts.entry {
        for (role, map) in &entry.columns {
            stated(*role, map, facts, &mut roles, &mut taken)?;
        }
    }
    word_pairs(facts, &mut roles, &mut taken);
    let mut discharge = None;
    for (wish, column) in wishes(facts, &taken) {
        grant(wish, column, facts, &mut roles, &mut discharge);
    }
    pair_discharge(facts, &mut roles, discharge);
    whose_current(facts, &mut roles);
    only_one_way(facts, &mut roles);
    Ok(roles)
}

/// A role stated in the design.
fn stated(role: Role, map: &ColumnMap, facts: &Facts, roles: &mut Roles, taken: &mut BTreeSet<usize>) -> Result<(), String> {
    if role == Role::Time {
        return Ok(());
    }
    let columns = resolve(&map.columns, facts.layout, role)?;
    taken.extend(&columns);
    if role == Role::Ignore {
        return Ok(());
    }
    if columns.len() > 1 && !map.add {
        return Err(format!("{} names several columns in its [[log]] entry; say add = true to sum them", role.name()));
    }
    let unit = match &map.unit {
        Some(text) => Some(words::unit(text).ok_or_else(|| {
            format!("{}: unit \"{text}\" in its [[log]] entry is not known; for instance \"V\", \"mV\", \"A\", \"mA\", \"W\", \"%\"", role.name())
        })?),
        None => None,
    };
    let first = columns.first().copied().unwrap_or(0);
    let mut found = make(role, &columns, facts);
    if let Some(unit) = unit {
        found.parts = columns.iter().map(|c| (*c, unit.factor)).collect();
        found.offset = unit.offset;
        unit.name.clone_into(&mut found.unit);
    }
    if let Some(scale) = map.scale {
        // A scale alone turns cells into base units.
        let base = if unit.is_some() { found.parts[0].1 } else { 1.0 };
        found.parts = columns.iter().map(|c| (*c, base * scale)).collect();
        if unit.is_none() {
            found.offset = 0.0;
            base_unit(role).clone_into(&mut found.unit);
        }
    }
    found.how = "design";
    for (text, word) in &map.values {
        let code = words::stage(word).ok_or_else(|| {
            format!("stage: \"{word}\" in its [[log]] entry is not one of off, bulk, absorption, float, equalise, fault")
        })?;
        found.values.insert(text.trim().to_lowercase(), code);
    }
    if role == Role::Stage && found.values.is_empty() && !facts.stats.get(first).is_some_and(ColumnStats::is_words) {
        ask_stage(first, facts, roles);
        return Ok(());
    }
    roles.uses.push(found);
    Ok(())
}

fn ask_stage(column: usize, facts: &Facts, roles: &mut Roles) {
    let title = facts.layout.titles.get(column).map_or("", String::as_str);
    roles.questions.push(Question {
        text: format!("what the numbers in '{title}' stand for cannot be told; the charging stage is left out"),
        settle: format!("stage = {{ column = \"{title}\", values = {{ \"3\" = \"absorption\" }} }}   # in [log.columns]"),
        blocking: false,
    });
}

/// Powers written as a low and a high 16-bit word: "… L" and "… H".
fn word_pairs(facts: &Facts, roles: &mut Roles, taken: &mut BTreeSet<usize>) {
    let titles = &facts.layout.titles;
    for (low, title) in titles.iter().enumerate() {
        let Some(stem) = title.trim().strip_suffix(" L").or(title.trim().strip_suffix("_L")) else { continue };
        let high = titles.iter().position(|t| {
            let t = t.trim();
            t.strip_suffix(" H").or(t.strip_suffix("_H")) == Some(stem)
        });
        let Some(high) = high.filter(|h| !taken.contains(h) && !taken.contains(&low)) else { continue };
        taken.extend([low, high]);
        let meaning = words::meaning(stem);
        let Some(Wish::Role(role)) = wish(&meaning, facts, false) else { continue };
        if roles.has(role) {
            continue;
        }
        let mut found = make(role, &[low], facts);
        let places = facts.layout.sample.iter().filter_map(|r| r.get(low)).map(|c| decimals(c)).max().unwrap_or(0);
        let factor = found.parts[0].1;
        found.parts.push((high, factor * 65_536.0 / 10_f64.powi(places)));
        roles.notes.push(format!("{}: '{}' and '{}' are the low and the high word of one number", role.name(), title, titles[high]));
        roles.uses.push(found);
    }
}

fn decimals(cell: &str) -> i32 {
    cell.trim().rfind(['.', ',']).map_or(0, |at| (cell.trim().len() - at - 1).min(6) as i32)
}

/// What the untaken columns would be, those that say most about themselves first.
fn wishes(facts: &Facts, taken: &BTreeSet<usize>) -> Vec<(Wish, usize)> {
    let speaks_of_array = facts.meanings.iter().any(|m| m.is(Subject::Array)) && !facts.meanings.iter().any(|m| m.is(Subject::Bank));
    let mut found: Vec<(Wish, usize, u8)> = Vec::new();
    for (k, meaning) in facts.meanings.iter().enumerate() {
        if taken.contains(&k) {
            continue;
        }
        if let Some(wish) = wish(meaning, facts, speaks_of_array) {
            let silent = u8::from(meaning.subjects.is_empty()) * 2 + u8::from(meaning.unit.is_none());
            found.push((wish, k, silent));
        }
    }
    found.sort_by_key(|f| (f.2, f.1));
    found.into_iter().map(|f| (f.0, f.1)).collect()
}

/// Which side of the system a title speaks of.
fn side(meaning: &Meaning, quantity: Quantity, speaks_of_array: bool) -> Option<Subject> {
    let is = |s| meaning.is(s);
    if is(Subject::Aside) {
        return None;
    }
    if is(Subject::Discharge) {
        return Some(Subject::Discharge);
    }
    if is(Subject::Load) && !is(Subject::Array) {
        return Some(Subject::Load);
    }
    if is(Subject::Other) {
        return Some(Subject::Other);
    }
    let charger = is(Subject::Charger);
    if is(Subject::Array) {
        let output = charger && quantity == Quantity::Current;
        return Some(if output { Subject::Charger } else { Subject::Array });
    }
    if is(Subject::WeakArray) {
        return Some(match (charger, is(Subject::Bank)) {
            (true, true) if quantity == Quantity::Voltage => Subject::Bank,
            (true, _) => Subject::Charger,
            (false, true) if quantity == Quantity::Voltage => Subject::Bank,
            (false, _) => Subject::Array,
        });
    }
    if charger {
        let at_bank = is(Subject::Bank) && quantity == Quantity::Voltage;
        return Some(if at_bank { Subject::Bank } else { Subject::Charger });
    }
    if is(Subject::Bank) {
        return Some(Subject::Bank);
    }
    (meaning.generic && meaning.subjects.is_empty()).then_some(if speaks_of_array { Subject::Array } else { Subject::Bank })
}

fn wish(meaning: &Meaning, facts: &Facts, speaks_of_array: bool) -> Option<Wish> {
    let quantity = meaning.quantity?;
    let extreme = meaning.lowest || meaning.highest;
    let side = side(meaning, quantity, speaks_of_array);
    let role = match quantity {
        Quantity::Soc if meaning.lowest && facts.daily => Role::DaySocLow,
        Quantity::Soc if !extreme => Role::Soc,
        Quantity::Latitude => Role::Latitude,
        Quantity::Longitude => Role::Longitude,
        Quantity::Irradiance => Role::Irradiance,
        Quantity::Temperature if meaning.is(Subject::Bank) && !meaning.is(Subject::Aside) => Role::BatteryTemperature,
        Quantity::Temperature if meaning.is(Subject::Air) && !meaning.is(Subject::Array) => Role::AirTemperature,
        Quantity::Voltage if meaning.highest && facts.daily && side == Some(Subject::Bank) => Role::DayVoltsHigh,
        Quantity::Energy => return energy(meaning, side, facts.daily).map(Wish::Role),
        Quantity::Stage if side != Some(Subject::Load) && !meaning.is(Subject::Aside) => Role::Stage,
        Quantity::Voltage | Quantity::Current | Quantity::Power if !extreme => return electrical(quantity, side?),
        _ => return None,
    };
    Some(Wish::Role(role))
}

fn electrical(quantity: Quantity, side: Subject) -> Option<Wish> {
    let role = match (quantity, side) {
        (Quantity::Voltage, Subject::Bank) => Role::BatteryVoltage,
        (Quantity::Voltage, Subject::Array) => Role::ArrayVoltage,
        (Quantity::Voltage, Subject::Charger) => Role::ChargeVoltage,
        (Quantity::Voltage, Subject::Load) => return Some(Wish::LoadVolts),
        (Quantity::Current, Subject::Bank) => Role::BatteryCurrent,
        (Quantity::Current, Subject::Array) => Role::ArrayCurrent,
        (Quantity::Current, Subject::Charger) => Role::ChargeCurrent,
        (Quantity::Current, Subject::Load) => Role::LoadCurrent,
        (Quantity::Current, Subject::Other) => Role::OtherCurrent,
        (Quantity::Current, Subject::Discharge) => return Some(Wish::Discharge),
        (Quantity::Power, Subject::Bank) => Role::BatteryPower,
        (Quantity::Power, Subject::Array) => Role::ArrayPower,
        (Quantity::Power, Subject::Charger) => Role::ChargePower,
        (Quantity::Power, Subject::Load) => Role::LoadPower,
        _ => return None,
    };
    Some(Wish::Role(role))
}

fn energy(meaning: &Meaning, side: Option<Subject>, daily: bool) -> Option<Role> {
    let harvested = ["yield", "ertrag", "harvest", "produ", "opbrengst", "udbytte"].iter().any(|w| meaning.folded.contains(w));
    match side {
        Some(Subject::Load) => daily.then_some(Role::DayLoad),
        Some(Subject::Array | Subject::Charger) => Some(if daily { Role::DayHarvest } else { Role::HarvestTotal }),
        _ if harvested => Some(if daily { Role::DayHarvest } else { Role::HarvestTotal }),
        _ => None,
    }
}

fn grant(wish: Wish, column: usize, facts: &Facts, roles: &mut Roles, discharge: &mut Option<Use>) {
    let title = &facts.layout.titles[column];
    let nothing = facts.stats.get(column).is_some_and(|s| s.numbers == 0 && s.words == 0);
    match wish {
        _ if nothing => roles.notes.push(format!("'{title}' is empty throughout")),
        Wish::LoadVolts => roles.load_volts = roles.load_volts.take().or(Some(make(Role::BatteryVoltage, &[column], facts))),
        Wish::Discharge => *discharge = discharge.take().or(Some(make(Role::BatteryCurrent, &[column], facts))),
        Wish::Role(Role::Stage) => grant_stage(column, facts, roles),
        Wish::Role(role) => match roles.get(role) {
            Some(first) => {
                let other = facts.layout.titles.get(first.parts[0].0).cloned().unwrap_or_default();
                roles.notes.push(format!("{}: '{other}' taken; '{title}' could be it too", role.name()));
            }
            None if facts.stats.get(column).is_some_and(|s| s.words > 0 && s.numbers == 0) => {}
            None => roles.uses.push(make(role, &[column], facts)),
        },
    }
}

fn grant_stage(column: usize, facts: &Facts, roles: &mut Roles) {
    let Some(stats) = facts.stats.get(column) else { return };
    if roles.has(Role::Stage) {
        return;
    }
    if !stats.is_words() {
        ask_stage(column, facts, roles);
    } else if stats.examples.iter().any(|w| words::stage(w).is_some()) {
        roles.uses.push(make(Role::Stage, &[column], facts));
    }
}

/// The kind of unit a role is measured in.
fn kind(role: Role) -> Option<Kind> {
    Some(match role {
        Role::BatteryVoltage | Role::ArrayVoltage | Role::ChargeVoltage | Role::DayVoltsHigh => Kind::Voltage,
        Role::BatteryCurrent | Role::ArrayCurrent | Role::ChargeCurrent | Role::LoadCurrent | Role::OtherCurrent => Kind::Current,
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
fn make(role: Role, columns: &[usize], facts: &Facts) -> Use {
    let first = columns.first().copied().unwrap_or(0);
    let stats = facts.stats.get(first);
    let fits = |unit: &Unit| Some(unit.kind) == kind(role);
    let of_title = facts.meanings.get(first).and_then(|m| m.unit).filter(fits);
    let of_cell = stats.and_then(|s| s.cell_unit).filter(fits);
    let of_row = facts.layout.units.get(first).is_some_and(|u| words::unit(u).is_some());
    let (unit, how) = match (of_title, of_cell) {
        (Some(unit), _) => (Some(unit), if of_row { "units row" } else { "header" }),
        (None, Some(unit)) => (Some(unit), "cell"),
        (None, None) => by_range(role, stats),
    };
    let mut found = Use {
        role,
        parts: columns.iter().map(|c| (*c, unit.map_or(1.0, |u| u.factor))).collect(),
        offset: unit.map_or(0.0, |u| u.offset),
        unit: unit.map_or(base_unit(role), |u| u.name).to_owned(),
        how,
        values: BTreeMap::new(),
        cell_units: of_cell.is_some(),
    };
    let share = stats.and_then(|s| s.max).is_some_and(|m| m <= 1.0 && m > 0.0);
    if kind(role) == Some(Kind::Percent) && share {
        found.parts[0].1 = 100.0;
        "0-1".clone_into(&mut found.unit);
        found.how = "data";
    }
    found
}

/// The unit where only the numbers can tell.
fn by_range(role: Role, stats: Option<&ColumnStats>) -> (Option<Unit>, &'static str) {
    let Some(stats) = stats else { return (None, "header") };
    let most = stats.max.unwrap_or(0.0).abs().max(stats.min.unwrap_or(0.0).abs());
    let whole = !stats.fraction;
    match kind(role) {
        Some(Kind::Voltage) if most >= 1_000.0 => (words::unit("mV"), "range"),
        Some(Kind::Current) if most >= 2_000.0 && whole => (words::unit("mA"), "range"),
        _ => (None, "header"),
    }
}

/// Separate columns for charging and discharging make one signed current.
fn pair_discharge(facts: &Facts, roles: &mut Roles, discharge: Option<Use>) {
    let Some(discharge) = discharge else { return };
    if roles.has(Role::BatteryCurrent) {
        return;
    }
    let (column, factor) = discharge.parts[0];
    let negative = facts.stats.get(column).and_then(|s| s.max).is_some_and(|m| m <= 0.0);
    let out = (column, if negative { factor } else { -factor });
    let charging = roles.uses.iter().position(|u| u.role == Role::ChargeCurrent && u.how != "design").filter(|_| !roles.has_array());
    match charging {
        Some(k) => {
            roles.uses[k].role = Role::BatteryCurrent;
            roles.uses[k].parts.push(out);
            roles.notes.push("battery_current: charging and discharging come in two columns".to_owned());
        }
        None if !roles.has_array() => roles.uses.push(Use { parts: vec![out], ..discharge }),
        None => {}
    }
}

/// A "battery current" beside array columns that is never negative is the controller's output.
fn whose_current(facts: &Facts, roles: &mut Roles) {
    let lowest = |role: Role| {
        let found = roles.get(role)?;
        facts.stats.get(found.parts[0].0)?.min
    };
    let never_out = |role: Role| lowest(role).is_some_and(|m| m >= 0.0);
    let (current, power) = (never_out(Role::BatteryCurrent), never_out(Role::BatteryPower));
    let signed = lowest(Role::BatteryCurrent).is_some_and(|m| m < 0.0);
    let charger_signed = lowest(Role::ChargeCurrent).is_some_and(|m| m < 0.0);
    if roles.has_array() {
        if current && roles.rename(Role::BatteryCurrent, Role::ChargeCurrent) {
            roles.notes.push("charge_current: the file's battery current is never negative and stands beside array columns, so it is the controller's output".to_owned());
        }
        if power && !signed && roles.rename(Role::BatteryPower, Role::ChargePower) {
            roles.notes.push("charge_power: the file's battery power is never negative and stands beside array columns, so it is the controller's output".to_owned());
        }
    } else if charger_signed && roles.rename(Role::ChargeCurrent, Role::BatteryCurrent) {
        roles.notes.push("battery_current: the file's charge current is negative at times, so it is the bank's own".to_owned());
        roles.rename(Role::ChargePower, Role::BatteryPower);
    }
}

/// Roles that only go one way are turned round where they are logged as negative throughout.
fn only_one_way(facts: &Facts, roles: &mut Roles) {
    const ONE_WAY: [Role; 7] = [
        Role::LoadCurrent, Role::LoadPower, Role::ArrayCurrent, Role::ArrayPower, Role::ChargeCurrent, Role::ChargePower, Role::OtherCurrent,
    ];
    for found in roles.uses.iter_mut().filter(|u| ONE_WAY.contains(&u.role) && u.parts.len() == 1) {
        let stats = facts.stats.get(found.parts[0].0);
        if stats.is_some_and(|s| s.max.is_some_and(|m| m <= 0.0) && s.negatives > 0) {
            found.parts[0].1 = -found.parts[0].1;
            roles.notes.push(format!("{} is logged as negative and was turned round", found.role.name()));
        }
    }
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
