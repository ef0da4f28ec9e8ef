//! Which row to do first, and why: it follows from the rows.

use super::judge::{NEVER_FULL, Worth, ahead, shortness, survives};
use super::row::Weighed;
use super::unasked::Kind;
use crate::words::about;

/// From this share of days on the days end with sun held back.
const OFTEN_FULL: f64 = 0.5;
/// Sun held back against sun taken from which more panels would only be held back too.
const HELD_SHARE: f64 = 0.15;
/// Unserved energy too small to speak of, Wh a day.
const NEXT_TO_NOTHING_WH: f64 = 10.0;

/// Days with a full charge by which a change is worth telling, share.
const MORE_FULL: f64 = 0.05;

/// The advice.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Advice {
    /// Name of the row to do first.
    pub(super) recommended: Option<String>,
    /// Two or three sentences.
    pub(super) why: String,
}

/// What follows from the rows; the first is the system as it is.
pub(super) fn advise(rows: &[Weighed], worth: &Worth, months_say: &str) -> Advice {
    let Some(base) = rows.first() else {
        return Advice {
            recommended: None,
            why: String::new(),
        };
    };
    if let Some(mended) = rows.iter().find(|r| r.kind == Kind::Mended)
        && mended.row.change != "worse"
    {
        return told(mended, base, mend_first(mended), months_say);
    }
    if !in_trouble(base, worth) {
        return Advice {
            recommended: None,
            why: format!(
                "As it is, the bank stays above its reserve and {}: nothing here is needed. {months_say}",
                full_words(base)
            ),
        };
    }
    let able: Vec<&Weighed> = rows[1..]
        .iter()
        .filter(|r| r.refused.is_empty() && r.row.change == "better")
        .filter(|r| against(r, base).is_none())
        .collect();
    match best(&able, worth) {
        Some(row) => told(row, base, &reason(row, &able), months_say),
        None => Advice {
            recommended: None,
            why: format!(
                "None of these makes a difference that survives the doubt in the days and the figures{}. {months_say}",
                ruled_out(rows, base)
            ),
        },
    }
}

/// Why an option of a kind is not advised although its row looks better; `None`: nothing against it.
pub(super) fn against(row: &Weighed, base: &Weighed) -> Option<&'static str> {
    let point = &base.point;
    let never_full = point.full_share < NEVER_FULL;
    let held = point.held_back_wh > HELD_SHARE * point.harvest_wh.max(1.0);
    match row.kind {
        Kind::Battery if never_full => {
            Some("a larger bank only postpones it where the bank is never full, and lead suffers")
        }
        Kind::Panels if held && point.full_share >= OFTEN_FULL => {
            Some("the days end with sun held back already: the trouble is the nights")
        }
        _ => None,
    }
}

fn in_trouble(base: &Weighed, worth: &Worth) -> bool {
    let point = &base.point;
    point.unserved_wh > NEXT_TO_NOTHING_WH
        || point.nights_below >= 1.0
        || point.full_share < NEVER_FULL
        || point.lowest < worth.reserve
}

fn full_words(base: &Weighed) -> String {
    let share = base.point.full_share;
    if share < 0.005 {
        "is never full".to_owned()
    } else {
        format!("is full on {:.0} % of the days", 100.0 * share)
    }
}

fn mend_first(mended: &Weighed) -> &'static str {
    match mended.row.change.as_str() {
        "better" => {
            "a fault was found, and every other change is weighed wrongly until it is mended"
        }
        "same" => {
            "a fault was found; mending it changes little on these days, and nothing else can be judged beside it"
        }
        _ => {
            "a fault was found; how much mending it brings depends on which days come, so mend it, log a week and weigh again"
        }
    }
}

/// The least short of those that beat the others beyond noise; among equals the cheapest for its gain
/// where all have a cost, else the one that is the least work.
fn best<'a>(able: &[&'a Weighed], worth: &Worth) -> Option<&'a Weighed> {
    let first = able
        .iter()
        .copied()
        .min_by(|a, b| shortness(&a.point, worth).total_cmp(&shortness(&b.point, worth)))?;
    let equals: Vec<&Weighed> = able
        .iter()
        .copied()
        .filter(|r| !survives(ahead(&r.draws, &first.draws, worth)))
        .collect();
    let priced = equals.iter().all(|r| cost_of_wh(r).is_some());
    equals.into_iter().min_by(|a, b| {
        let by_cost = cost_of_wh(a)
            .unwrap_or(f64::INFINITY)
            .total_cmp(&cost_of_wh(b).unwrap_or(f64::INFINITY));
        if priced && by_cost.is_ne() {
            by_cost
        } else {
            a.kind
                .cmp(&b.kind)
                .then(shortness(&a.point, worth).total_cmp(&shortness(&b.point, worth)))
        }
    })
}

/// Cost of a Wh a day that is no longer missing.
pub(super) fn cost_of_wh(row: &Weighed) -> Option<f64> {
    let cost = row.row.cost?;
    (row.recovered_wh > 1.0).then(|| cost / row.recovered_wh)
}

fn reason(row: &Weighed, able: &[&Weighed]) -> String {
    let others = able.len() - 1;
    let priced = cost_of_wh(row)
        .map(|c| format!(", at {} a Wh a day", about(c)))
        .unwrap_or_default();
    if others == 0 {
        format!("it is the only change that makes a sure difference{priced}")
    } else {
        format!(
            "no other of the {} changes that help surely does more with less work{priced}",
            others + 1
        )
    }
}

fn told(row: &Weighed, base: &Weighed, reason: &str, months_say: &str) -> Advice {
    let (was, now) = (&base.point, &row.point);
    let effect = if was.unserved_wh - now.unserved_wh >= 1.0 {
        format!(
            " With it load that would have to be given up falls from {} to {} Wh a day.",
            about(was.unserved_wh),
            about(now.unserved_wh)
        )
    } else if was.nights_below > now.nights_below {
        format!(
            " With it nights below the reserve fall from {:.0} to {:.0}.",
            was.nights_below, now.nights_below
        )
    } else if now.full_share - was.full_share >= MORE_FULL {
        format!(
            " With it days with a full charge go from {:.0} to {:.0} %.",
            100.0 * was.full_share,
            100.0 * now.full_share
        )
    } else {
        String::new()
    };
    let first = match row.kind {
        Kind::Mended => "mend what the report found",
        _ => &row.row.name,
    };
    let conditions = if row.conditions.is_empty() {
        String::new()
    } else {
        format!(" Mind: {}.", row.conditions)
    };
    Advice {
        recommended: Some(row.row.name.clone()),
        why: format!("First: {first}, because {reason}.{effect}{conditions} {months_say}"),
    }
}

fn ruled_out(rows: &[Weighed], base: &Weighed) -> String {
    rows.iter()
        .filter(|r| r.row.change == "better")
        .find_map(|r| against(r, base).map(|why| format!("; {}: {why}", r.row.name)))
        .unwrap_or_default()
}
