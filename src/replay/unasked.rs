//! What an experienced person would try without being asked.

use super::refuse::objections;
use crate::design::{Changes, Design, Load};
use crate::words::about;

/// An option by what it does, which decides what speaks for and against it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// The system as it is.
    AsIs,
    /// Its faults mended.
    Mended,
    /// Less use, or use at other hours.
    Use,
    /// The same panels wired otherwise.
    Rewired,
    /// Cables and settings.
    Other,
    /// Other charging.
    Engine,
    /// More panels.
    Panels,
    /// A larger bank.
    Battery,
}

/// What kind of change leads from one design to another.
pub(super) fn kind_of(was: &Design, now: &Design) -> Kind {
    if now.battery.capacity_ah > was.battery.capacity_ah {
        Kind::Battery
    } else if now.array_w() > was.array_w() * 1.001 {
        Kind::Panels
    } else if now.loads != was.loads || now.inverter != was.inverter {
        Kind::Use
    } else if now.chargers != was.chargers {
        Kind::Engine
    } else if now.arrays != was.arrays && (now.array_w() - was.array_w()).abs() < 1.0 {
        Kind::Rewired
    } else {
        Kind::Other
    }
}

/// A change with its name.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Idea {
    /// Name.
    pub(super) name: String,
    /// What it changes.
    pub(super) set: Changes,
}

/// The usual ideas for a system, as far as its design says enough for them.
pub(super) fn ideas(design: &Design, read: impl Fn(&Changes) -> Option<Design>) -> Vec<Idea> {
    [
        less_use(design),
        more_panels(design, &read),
        second_battery(design),
        engine_hour(design),
        rewired(design),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn idea<const N: usize>(name: String, set: [(String, toml::Value); N]) -> Idea {
    Idea {
        name,
        set: set.into_iter().collect(),
    }
}

/// The load with the largest budget, a third less of it.
fn less_use(design: &Design) -> Option<Idea> {
    let through = design.inverter.as_ref().map_or(1.0, |i| i.efficiency);
    let wh = |l: &Load| {
        l.power_w * l.quantity * l.hours / if l.through_inverter { through } else { 1.0 }
    };
    let largest = design.loads.iter().max_by(|a, b| wh(a).total_cmp(&wh(b)))?;
    if wh(largest) <= 0.0 {
        return None;
    }
    let hours = (largest.hours * 2.0 / 3.0 * 100.0).round() / 100.0;
    Some(idea(
        format!("{} a third less", largest.name),
        [(
            format!("load.{}.hours", largest.name),
            toml::Value::Float(hours),
        )],
    ))
}

/// One more string, or one more panel in each, whichever breaks nothing.
fn more_panels(design: &Design, read: impl Fn(&Changes) -> Option<Design>) -> Option<Idea> {
    let [array] = design.arrays.as_slice() else {
        return None;
    };
    let string = idea(
        "one more string of panels".to_owned(),
        [(
            "array.strings_in_parallel".to_owned(),
            toml::Value::Integer(i64::from(array.strings_in_parallel) + 1),
        )],
    );
    let panel = idea(
        "one more panel in each string".to_owned(),
        [(
            "array.panels_in_series".to_owned(),
            toml::Value::Integer(i64::from(array.panels_in_series) + 1),
        )],
    );
    // The smaller step first: a panel in series where there is one string, a string otherwise.
    let order = if array.strings_in_parallel == 1 && array.panels_in_series > 1 {
        [panel, string]
    } else {
        [string, panel]
    };
    let sound = |i: &Idea| read(&i.set).is_some_and(|d| objections(design, &d).refused.is_empty());
    let first = order.iter().find(|i| sound(i)).cloned();
    first.or_else(|| order.into_iter().next())
}

fn second_battery(design: &Design) -> Option<Idea> {
    let mut found = idea(
        "a second battery like the first".to_owned(),
        [(
            "battery.capacity".to_owned(),
            toml::Value::String(format!("{} Ah", about(2.0 * design.battery.capacity_ah))),
        )],
    );
    if let Some(amps) = design.battery.max_charge_a {
        found.set.insert(
            "battery.max_charge_current".to_owned(),
            toml::Value::String(format!("{} A", 2.0 * amps)),
        );
    }
    Some(found)
}

fn engine_hour(design: &Design) -> Option<Idea> {
    let charger = design
        .chargers
        .iter()
        .find(|c| c.current_a.is_some() && c.kind != "wind")?;
    Some(idea(
        format!("an hour of {} a day", charger.name),
        [(
            format!("charger.{}.hours", charger.name),
            toml::Value::Float(charger.hours.unwrap_or(0.0) + 1.0),
        )],
    ))
}

/// Series and parallel changed over.
fn rewired(design: &Design) -> Option<Idea> {
    let [array] = design.arrays.as_slice() else {
        return None;
    };
    let (series, strings) = (array.panels_in_series, array.strings_in_parallel);
    if series == strings {
        return None;
    }
    let name = if strings > series {
        "the same panels in series"
    } else {
        "the same panels in parallel"
    };
    Some(idea(
        name.to_owned(),
        [
            (
                "array.panels_in_series".to_owned(),
                toml::Value::Integer(i64::from(strings)),
            ),
            (
                "array.strings_in_parallel".to_owned(),
                toml::Value::Integer(i64::from(series)),
            ),
        ],
    ))
}
