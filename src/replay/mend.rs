//! The system with its faults mended.

use super::change::{Ground, World};
use super::course::{Programme, lost_wh, with_more_sun};
use super::plant::designed;
use crate::design::{Run, wiring};
use crate::report::model::{Finding, Severity};

/// A fault that mending can undo, by what it changes in a replay.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Remedy {
    /// The array gives again what the sky offers.
    Array,
    /// The run is as designed.
    Run,
    /// The controller does what the design says.
    Programme,
    /// The bank holds what its label says.
    Bank,
}

/// What mending a kind of finding changes; `None`: nothing that a replay can show.
fn remedy(kind: &str) -> Option<Remedy> {
    Some(match kind {
        "array-weak" | "array-part-out" | "array-dark" | "shade-repeating" | "harvest-short" => {
            Remedy::Array
        }
        "drop-battery-cable" | "drop-rising" => Remedy::Run,
        "controller-limiting"
        | "absorption-short"
        | "charge-voltage-low"
        | "charge-voltage-high" => Remedy::Programme,
        "capacity-low" => Remedy::Bank,
        _ => return None,
    })
}

/// Kinds of findings whose mending a replay can show, worst first. What another finding explains is
/// mended with that one, so it counts only where that one cannot be shown.
pub(super) fn mendable(findings: &[Finding]) -> Vec<&Finding> {
    findings
        .iter()
        .filter(|f| f.severity <= Severity::Fix && remedy(&f.kind).is_some())
        .collect()
}

/// The world with those findings mended.
pub(super) fn mended(ground: &Ground, world: &World, faults: &[&Finding]) -> World {
    let has = |wanted: Remedy| faults.iter().any(|f| remedy(&f.kind) == Some(wanted));
    let mut new = world.clone();
    let healthy = designed(ground.design);
    if has(Remedy::Array) {
        let of = &ground.accounts.attribution;
        let lost: Vec<_> = (0..ground.expected.grid.moments)
            .map(|m| lost_wh(of, m))
            .collect();
        new.course = with_more_sun(&new.course, ground.expected, &lost);
    }
    if has(Remedy::Run)
        && let Some(mohm) = wiring::run_mohm(ground.design, Run::ControllerBattery, 0)
    {
        for day in &mut new.course.days {
            day.run_ohm = day.run_ohm.min(mohm / 1000.0);
        }
        new.programme = Programme::Own;
    }
    if has(Remedy::Programme) {
        new.plant.programme = healthy.programme;
        new.programme = Programme::Own;
    }
    if has(Remedy::Bank) {
        new.plant.bank.capacity_ah = healthy.bank.capacity_ah;
        new.programme = Programme::Own;
    }
    new.course = new.programme.on(new.course);
    new
}
