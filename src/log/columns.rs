//! Which column plays which role, from its title, its unit, its numbers and what the design says.

use std::collections::BTreeSet;

use super::inspection::Question;
use super::layout::Layout;
pub(crate) use super::naming::{listed, missing, not_titled, position, resolve};
use super::stats::ColumnStats;
use super::uses::{Use, base_unit, kind, make};
use super::wishes::{Wish, wish, wishes};
use super::words::{self, Meaning, Subject};
use super::{scale, whose};
use crate::mapping::{ColumnMap, LogEntry, Role};
use crate::timeline::Sign;

/// The roles of a file.
#[derive(Debug, Clone, Default, PartialEq)]
pub(crate) struct Roles {
    pub(crate) uses: Vec<Use>,
    /// Voltage at the load terminals: no role of its own, but it makes load power right.
    pub(crate) load_volts: Option<Use>,
    /// How the sign of the bank's current came about.
    pub(crate) sign: Sign,
    /// The sign of current into the bank, where it is known: as `charging` in a design.
    pub(crate) charging: Option<&'static str>,
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
        [Role::ArrayVoltage, Role::ArrayCurrent, Role::ArrayPower]
            .iter()
            .any(|r| self.has(*r))
    }

    pub(crate) fn rename(&mut self, from: Role, to: Role) -> bool {
        if self.has(to) {
            return false;
        }
        let found = self
            .uses
            .iter_mut()
            .find(|u| u.role == from && u.how != "design");
        found.map(|u| u.role = to).is_some()
    }
}

/// Meanings of all titles, with the units row's units where titles carry none.
pub(crate) fn meanings(layout: &Layout) -> Vec<Meaning> {
    let mut meanings: Vec<Meaning> = layout
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
        .collect();
    charge_beside_loads(&mut meanings);
    meanings
}

/// Spanish and Portuguese call charging and a load by one word. Where another title speaks of
/// discharging or of what is used, it is charging.
fn charge_beside_loads(meanings: &mut [Meaning]) {
    let other = |m: &Meaning| m.folded.contains("descarga") || m.folded.contains("consum");
    if !meanings.iter().any(other) {
        return;
    }
    let charges = |m: &&mut Meaning| m.folded.contains(" carga ") && !other(m);
    for meaning in meanings.iter_mut().filter(charges) {
        meaning.subjects.retain(|s| *s != Subject::Load);
        meaning.subjects.push(Subject::Charger);
    }
}

/// What of a file decides its roles.
pub(crate) struct Facts<'a> {
    pub(crate) layout: &'a Layout,
    pub(crate) meanings: &'a [Meaning],
    pub(crate) stats: &'a [ColumnStats],
    pub(crate) time: &'a [usize],
    pub(crate) entry: Option<&'a LogEntry>,
    /// Whether the entry's own columns are all that is taken, others being for other entries.
    pub(crate) shared: bool,
    /// One row a day.
    pub(crate) daily: bool,
    /// The bank's nominal voltage, where the design says.
    pub(crate) nominal_v: Option<f64>,
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
    let mut discharge = None;
    if !facts.shared {
        word_pairs(facts, &mut roles, &mut taken);
        for (wish, column) in wishes(facts, &taken) {
            grant(wish, column, facts, &mut roles, &mut discharge);
        }
    }
    whose::pair_discharge(facts, &mut roles, discharge);
    whose::current(facts, &mut roles);
    scale::settle(&mut roles, facts);
    whose::only_one_way(facts, &mut roles);
    Ok(roles)
}

/// A role stated in the design.
fn stated(
    role: Role,
    map: &ColumnMap,
    facts: &Facts,
    roles: &mut Roles,
    taken: &mut BTreeSet<usize>,
) -> Result<(), String> {
    if role == Role::Time {
        return Ok(());
    }
    let columns = resolve(&map.columns, facts.layout, role)?;
    taken.extend(&columns);
    if role == Role::Ignore {
        return Ok(());
    }
    if columns.len() > 1 && !map.add {
        return Err(format!(
            "{} names several columns in its [[log]] entry; say add = true to sum them",
            role.name()
        ));
    }
    let unit = match &map.unit {
        Some(text) => Some(words::unit(text).ok_or_else(|| {
            format!("{}: unit \"{text}\" in its [[log]] entry is not known; for instance \"V\", \"mV\", \"A\", \"mA\", \"W\", \"%\"", role.name())
        })?),
        None => None,
    };
    if let Some((unit, wanted)) = unit.zip(kind(role)).filter(|(u, k)| u.kind != *k) {
        return Err(format!(
            "{}: unit \"{}\" in its [[log]] entry measures {}, and {} is needed, for instance \"{}\"",
            role.name(),
            unit.name,
            unit.kind.noun(),
            wanted.noun(),
            base_unit(role)
        ));
    }
    let first = columns.first().copied().unwrap_or(0);
    let mut found = make(role, &columns, facts);
    if let Some(unit) = unit {
        found.parts = columns.iter().map(|c| (*c, unit.factor)).collect();
        found.offset = unit.offset;
        unit.name.clone_into(&mut found.unit);
        found.unit_said = true;
    }
    if let Some(scale) = map.scale {
        found.unit_said = true;
        // A scale alone turns cells into base units.
        let base = if unit.is_some() {
            found.parts[0].1
        } else {
            1.0
        };
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
    if role == Role::Stage
        && found.values.is_empty()
        && !facts.stats.get(first).is_some_and(ColumnStats::is_words)
    {
        ask_stage(first, facts, roles);
        return Ok(());
    }
    roles.uses.push(found);
    Ok(())
}

fn ask_stage(column: usize, facts: &Facts, roles: &mut Roles) {
    let title = facts.layout.titles.get(column).map_or("", String::as_str);
    let seen = facts
        .stats
        .get(column)
        .map(|s| s.examples.as_slice())
        .unwrap_or_default();
    let one = seen.last().map_or("3", String::as_str);
    roles.questions.push(Question {
        text: format!("what the numbers in '{title}' ({}) stand for cannot be told; the charging stage is left out", seen.join(", ")),
        settle: format!("stage = {{ column = \"{title}\", values = {{ \"{one}\" = \"absorption\" }} }}   # in [log.columns]; off, bulk, absorption, float, equalise or fault for each number"),
        blocking: false,
    });
}

/// Powers written as a low and a high 16-bit word: "… L" and "… H".
fn word_pairs(facts: &Facts, roles: &mut Roles, taken: &mut BTreeSet<usize>) {
    let titles = &facts.layout.titles;
    for (low, title) in titles.iter().enumerate() {
        let Some(stem) = title
            .trim()
            .strip_suffix(" L")
            .or(title.trim().strip_suffix("_L"))
        else {
            continue;
        };
        let high = titles.iter().position(|t| {
            let t = t.trim();
            t.strip_suffix(" H").or(t.strip_suffix("_H")) == Some(stem)
        });
        let Some(high) = high.filter(|h| !taken.contains(h) && !taken.contains(&low)) else {
            continue;
        };
        taken.extend([low, high]);
        let meaning = words::meaning(stem);
        let Some(Wish::Role(role)) = wish(&meaning, facts, false) else {
            continue;
        };
        if roles.has(role) {
            continue;
        }
        let mut found = make(role, &[low], facts);
        let places = facts
            .layout
            .sample
            .column(low)
            .map(decimals)
            .max()
            .unwrap_or(0);
        let factor = found.parts[0].1;
        found
            .parts
            .push((high, factor * 65_536.0 / 10_f64.powi(places)));
        roles.notes.push(format!(
            "{}: '{}' and '{}' are the low and the high word of one number",
            role.name(),
            title,
            titles[high]
        ));
        roles.uses.push(found);
    }
}

fn decimals(cell: &str) -> i32 {
    cell.trim()
        .rfind(['.', ','])
        .map_or(0, |at| (cell.trim().len() - at - 1).min(6) as i32)
}

fn grant(wish: Wish, column: usize, facts: &Facts, roles: &mut Roles, discharge: &mut Option<Use>) {
    let title = &facts.layout.titles[column];
    // The rows looked at first may all stand above the header that brings a column.
    let nothing = column < facts.layout.own
        && facts
            .stats
            .get(column)
            .is_some_and(|s| s.numbers == 0 && s.words == 0);
    match wish {
        _ if nothing => roles.notes.push(format!("'{title}' is empty throughout")),
        Wish::LoadVolts => {
            roles.load_volts =
                roles
                    .load_volts
                    .take()
                    .or(Some(make(Role::BatteryVoltage, &[column], facts)))
        }
        Wish::Discharge => {
            *discharge = discharge
                .take()
                .or(Some(make(Role::BatteryCurrent, &[column], facts)))
        }
        Wish::Role(Role::Stage) => grant_stage(column, facts, roles),
        Wish::Role(role) => match roles.get(role) {
            Some(first) => {
                let taken = first.parts[0].0;
                let asked = twins(role, (taken, column), facts);
                match asked {
                    Some(asked) => roles.questions.push(asked),
                    None => roles.notes.push(also(role, taken, column, facts.layout)),
                }
            }
            None if facts
                .stats
                .get(column)
                .is_some_and(|s| s.words > 0 && s.numbers == 0) => {}
            None => roles.uses.push(make(role, &[column], facts)),
        },
    }
}

/// Asks whether two columns that differ by their number or by one name alone are two parts of one whole.
fn twins(role: Role, (taken, other): (usize, usize), facts: &Facts) -> Option<Question> {
    const SUMMED: [Role; 7] = [
        Role::ArrayPower,
        Role::ArrayCurrent,
        Role::ChargePower,
        Role::ChargeCurrent,
        Role::LoadPower,
        Role::LoadCurrent,
        Role::OtherCurrent,
    ];
    let without = |column: usize| -> String {
        let folded = facts.meanings[column].folded.chars();
        folded.filter(|c| !c.is_ascii_digit()).collect()
    };
    let numbered = |column: usize| without(column).len() < facts.meanings[column].folded.len();
    let by_number = numbered(taken) && numbered(other) && without(taken) == without(other);
    let by_name = || {
        let folded = |column: usize| facts.meanings[column].folded.as_str();
        words::differ_by_a_name(folded(taken), folded(other)) && !same_readings(facts, taken, other)
    };
    let (one, two) = (&facts.layout.titles[taken], &facts.layout.titles[other]);
    if !SUMMED.contains(&role) || one == two || !(by_number || by_name()) {
        return None;
    }
    let by = if by_number { "number" } else { "name" };
    Some(Question {
        text: format!(
            "'{one}' and '{two}' differ by a {by} alone: parts of one whole? '{one}' is taken by itself"
        ),
        settle: format!(
            "{} = {{ column = [\"{one}\", \"{two}\"], add = true }}   # in [log.columns]; or {} = \"{one}\" for that one alone; or a [[log]] entry for each controller, with `controller` and its own columns",
            role.name(),
            role.name()
        ),
        blocking: true,
    })
}

/// Whether two columns show the same, as far as their ends tell.
fn same_readings(facts: &Facts, one: usize, two: usize) -> bool {
    let ends = |column: usize| facts.stats.get(column).map(|s| (s.min, s.max));
    ends(one) == ends(two)
}

/// Words for a second column that could play a role.
fn also(role: Role, taken: usize, other: usize, layout: &Layout) -> String {
    let titles = (&layout.titles[taken], &layout.titles[other]);
    if titles.0 == titles.1 {
        return format!(
            "{}: columns {} and {} are both titled '{}'; the first is taken, the other can be named by its number",
            role.name(),
            taken + 1,
            other + 1,
            titles.0
        );
    }
    format!(
        "{}: '{}' taken; '{}' could be it too",
        role.name(),
        titles.0,
        titles.1
    )
}

fn grant_stage(column: usize, facts: &Facts, roles: &mut Roles) {
    let Some(stats) = facts.stats.get(column) else {
        return;
    };
    if roles.has(Role::Stage) {
        return;
    }
    if !stats.is_words() {
        ask_stage(column, facts, roles);
    } else if stats.examples.iter().any(|w| words::stage(w).is_some()) {
        roles.uses.push(make(Role::Stage, &[column], facts));
    }
}
