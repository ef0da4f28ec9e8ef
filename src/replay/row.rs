//! One row of a weighing: its figures with their intervals, or why it was not weighed.

use std::collections::BTreeMap;

use super::change::World;
use super::judge::figure;
use super::run::{Chance, Outcome, run};
use super::unasked::Kind;
use crate::design::{Changes, Upgrade};
use crate::quantity::Interval;
use crate::report::model::OptionRow;

/// One row with what stands behind it.
#[derive(Debug, Clone, PartialEq)]
pub struct Weighed {
    /// As reported.
    pub row: OptionRow,
    /// What it does.
    pub kind: Kind,
    /// Everything at its best estimate.
    pub point: Outcome,
    /// The draws, in the order common to all rows.
    pub draws: Vec<Outcome>,
    /// Why it was not weighed.
    pub refused: Vec<String>,
    /// What to look at before doing it, in words.
    pub conditions: String,
    /// Load no longer given up, Wh a day.
    pub recovered_wh: f64,
}

/// Every draw lived through, in their order, on as many threads as there are cores.
pub(super) fn all_draws(world: &World, start: f64, chances: &[Chance]) -> Vec<Outcome> {
    let live = |c: &Chance| run(&world.plant, &world.course, start, c, None);
    let threads = std::thread::available_parallelism().map_or(1, |n| n.get().min(8));
    if threads == 1 || chances.len() < 2 * threads {
        return chances.iter().map(live).collect();
    }
    let mut outcomes = vec![Outcome::default(); chances.len()];
    let share = chances.len().div_ceil(threads);
    std::thread::scope(|scope| {
        for (part, places) in chances.chunks(share).zip(outcomes.chunks_mut(share)) {
            scope.spawn(move || {
                for (chance, place) in part.iter().zip(places) {
                    *place = live(chance);
                }
            });
        }
    });
    outcomes
}

pub(super) fn row_of(
    name: &str,
    set: Changes,
    cost: Option<f64>,
    note: String,
    point: &Outcome,
    draws: &[Outcome],
) -> OptionRow {
    let of = |value: f64, pick: fn(&Outcome) -> f64| figure(value, draws, pick);
    let intervals: BTreeMap<String, Interval> = [
        ("full_share", of(point.full_share, |o| o.full_share)),
        (
            "lowest_soc_pct",
            of(100.0 * point.lowest, |o| 100.0 * o.lowest),
        ),
        (
            "nights_below_reserve",
            of(point.nights_below, |o| o.nights_below),
        ),
        (
            "held_back_wh_per_day",
            of(point.held_back_wh, |o| o.held_back_wh),
        ),
    ]
    .map(|(key, interval)| (key.to_owned(), interval))
    .into();
    OptionRow {
        name: name.to_owned(),
        set: plain(set),
        cost,
        unserved_wh_per_day: Some(of(point.unserved_wh, |o| o.unserved_wh)),
        full_share: Some(point.full_share),
        lowest_soc_pct: Some(100.0 * point.lowest),
        nights_below_reserve: Some(point.nights_below),
        held_back_wh_per_day: Some(point.held_back_wh),
        change: "unclear".to_owned(),
        note,
        intervals,
        refused: None,
    }
}

/// A row that was not weighed.
pub(super) fn refused(option: &Upgrade, kind: Kind, reasons: Vec<String>) -> Weighed {
    let text = reasons.join("; ");
    Weighed {
        row: OptionRow {
            name: option.name.clone(),
            set: plain(option.set.clone()),
            cost: option.cost,
            unserved_wh_per_day: None,
            full_share: None,
            lowest_soc_pct: None,
            nights_below_reserve: None,
            held_back_wh_per_day: None,
            change: "unclear".to_owned(),
            note: format!("not weighed: {text}. The data sheets and a qualified person decide"),
            intervals: BTreeMap::new(),
            refused: Some(text),
        },
        kind,
        point: Outcome::default(),
        draws: Vec::new(),
        refused: reasons,
        conditions: String::new(),
        recovered_wh: 0.0,
    }
}

/// A design's values as JSON.
fn plain(set: Changes) -> BTreeMap<String, serde_json::Value> {
    set.into_iter()
        .map(|(key, value)| (key, serde_json::to_value(value).unwrap_or_default()))
        .collect()
}

pub(super) fn push_note(note: &mut String, more: &str) {
    if !note.is_empty() {
        note.push_str("; ");
    }
    note.push_str(more);
}
