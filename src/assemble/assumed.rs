//! What was assumed, and what the log itself says of it.

use super::Parts;
use crate::account::ledger;
use crate::design::Assumed;
use crate::expect::Askew;
use crate::expect::turn::Turn;
use crate::physics::{plane, sky};

/// The list of a report.
pub(super) fn list(parts: &Parts<'_>) -> Vec<Assumed> {
    let mut list = parts.design.assumed.clone();
    let of = |key: &str, value: &str, why: &str| Assumed {
        key: key.to_owned(),
        value: value.to_owned(),
        why: why.to_owned(),
    };
    list.push(of(
        "sky.turbidity",
        &format!("{:.1}", sky::DEFAULT_TURBIDITY),
        "ordinary haze for the clear-sky model (range 2 to 5); clear hours of the log correct it where there are any",
    ));
    list.push(of(
        "ground.reflection",
        &format!("{:.2}", plane::DEFAULT_ALBEDO),
        "ordinary ground",
    ));
    let signals = &parts.expected.signals;
    if let Some(route) = &signals.route {
        let known = 100.0 * route.known() as f64 / parts.expected.grid.moments.max(1) as f64;
        list.push(of(
            "place",
            &format!("as logged, {known:.0} % of the time"),
            "the sun is seen from the log's own positions; without a fix the last one holds for a day, then the design's place",
        ));
    }
    for askew in &parts.expected.askew {
        list.push(as_seen(parts, askew));
    }
    if signals.irradiance.is_some() {
        list.push(of(
            "sky.instrument",
            "plane and scale learned",
            "where the array's output does not show the sky, the logged irradiance does: as it compares with the output elsewhere, or within 20 % where it cannot be compared",
        ));
    }
    list.push(of(
        "plan.harvest",
        &format!("{:.0} Wh a day", planned_mean(parts)),
        ledger::planned_how(parts.design),
    ));
    list
}

fn planned_mean(parts: &Parts<'_>) -> f64 {
    let days = &parts.accounts.days;
    days.iter().filter_map(|d| d.planned_wh).sum::<f64>() / days.len().max(1) as f64
}

/// Panels that stand askew, as clear days show it.
fn as_seen(parts: &Parts<'_>, askew: &Askew) -> Assumed {
    let place = match parts.design.place.legs.is_empty() {
        true => String::new(),
        false => format!(" at place {} of the journey", askew.stop + 1),
    };
    let clock_off = parts.found.findings.iter().any(|f| f.kind == "clock-off");
    let (key, beside, other) = match askew.turn {
        Turn::Lean => (
            "arrays.lean",
            "beside the tilt and facing of the design",
            "a clock off by some minutes, or a facing that is not the design's, bends them too",
        ),
        Turn::Bearing => (
            "arrays.facing",
            "as if the panels looked so far from the design's facing",
            "hold a compass to them, away from steel and from their cables, and reckon with true north; a clock \
             that is off bends them too",
        ),
    };
    let other = match clock_off {
        true => ": the clock that is off bends them too, and may be all there is to it".to_owned(),
        false => format!("; {other}"),
    };
    Assumed {
        key: key.to_owned(),
        value: match askew.turn {
            Turn::Lean => format!("{} to the {}", degrees(askew), side(askew)),
            Turn::Bearing => further(askew),
        },
        why: format!(
            "{} clear days{place} bend that way {beside}{other}",
            askew.days
        ),
    }
}

/// How far the panels look from where the design has them look.
pub(super) fn further(askew: &Askew) -> String {
    format!(
        "{} further {} than in the design",
        degrees(askew),
        side(askew)
    )
}

fn degrees(askew: &Askew) -> String {
    format!("{:.0} degrees", askew.east_deg.abs())
}

fn side(askew: &Askew) -> &'static str {
    if askew.east_deg > 0.0 { "east" } else { "west" }
}
