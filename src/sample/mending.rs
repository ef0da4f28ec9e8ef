//! Which mending gives back most: the same trip again, with one fault mended at a time.

use super::run::{Outcome, run};
use super::scenario::Scenario;
use super::totals::DayTotals;

/// What mending one fault alone would give back over the trip.
pub(super) struct Gain {
    /// Finding kind.
    pub(super) kind: &'static str,
    /// Area, as a verdict names it.
    pub(super) area: &'static str,
    /// More energy at the bank, or less use, Wh.
    pub(super) wh: f64,
}

/// A fault of the plant: when a scenario has it, and how it is mended.
struct Remedy {
    kind: &'static str,
    area: &'static str,
    present: fn(&Scenario) -> bool,
    mend: fn(&mut Scenario),
}

/// Every fault that costs energy.
const REMEDIES: [Remedy; 10] = [
    Remedy {
        kind: "drop-battery-cable",
        area: "wiring",
        present: |s| s.faults.joint.is_some(),
        mend: |s| s.faults.joint = None,
    },
    Remedy {
        kind: "array-part-out",
        area: "array",
        present: |s| s.faults.strings_out.is_some_and(|f| f.0 < 1.0),
        mend: |s| s.faults.strings_out = None,
    },
    Remedy {
        kind: "array-dark",
        area: "array",
        present: |s| s.faults.strings_out.is_some_and(|f| f.0 >= 1.0),
        mend: |s| s.faults.strings_out = None,
    },
    Remedy {
        kind: "array-weak",
        area: "array",
        present: |s| s.faults.dirt.is_some(),
        mend: |s| s.faults.dirt = None,
    },
    Remedy {
        kind: "shade-repeating",
        area: "array",
        present: |s| s.faults.shade.is_some(),
        mend: |s| s.faults.shade = None,
    },
    Remedy {
        kind: "controller-limiting",
        area: "settings",
        present: |s| s.faults.limit_a.is_some(),
        mend: |s| s.faults.limit_a = None,
    },
    Remedy {
        kind: "absorption-short",
        area: "settings",
        present: |s| s.faults.absorption_min.is_some(),
        mend: |s| s.faults.absorption_min = None,
    },
    Remedy {
        kind: "charge-voltage-low",
        area: "settings",
        present: |s| s.faults.set_low_v.is_some(),
        mend: |s| s.faults.set_low_v = None,
    },
    Remedy {
        kind: "load-over-budget",
        area: "use",
        present: |s| s.faults.heavy_use.is_some(),
        mend: |s| s.faults.heavy_use = None,
    },
    Remedy {
        kind: "capacity-low",
        area: "battery",
        present: |s| s.bank.true_ah < 0.8 * s.bank.rated_ah,
        mend: |s| s.bank.true_ah = s.bank.rated_ah,
    },
];

/// A fault of a meter or a logger: kind, area, and when a scenario has it. It costs no energy of
/// the plant, so there is nothing to run again.
type Misreading = (&'static str, &'static str, fn(&Scenario) -> bool);

/// Every fault of reading.
const MISREADINGS: [Misreading; 5] = [
    ("soc-unreliable", "settings", |s| {
        s.faults.false_full.is_some()
    }),
    ("current-offset", "nothing", |s| {
        s.faults.shunt_offset_a.is_some()
    }),
    ("clock-off", "nothing", |s| s.logging.clock_s.0.abs() > 300),
    ("meter-offset", "nothing", |s| {
        s.logging.volts_apart.abs() > 0.06
    }),
    ("log-gaps", "nothing", |s| !s.logging.gaps.is_empty()),
];

/// Runs the trip again with each of its faults mended.
pub(super) fn gains(scenario: &Scenario, outcome: &Outcome) -> Vec<Gain> {
    let mended = REMEDIES
        .iter()
        .filter(|r| (r.present)(scenario))
        .map(|remedy| {
            let mut whole = scenario.clone();
            (remedy.mend)(&mut whole);
            let then = run(&whole);
            let wh = if remedy.area == "use" {
                sum(outcome, |d| d.load) - sum(&then, |d| d.load)
            } else {
                sum(&then, |d| d.harvest - d.run_loss) - sum(outcome, |d| d.harvest - d.run_loss)
            };
            Gain {
                kind: remedy.kind,
                area: remedy.area,
                wh,
            }
        });
    let read = MISREADINGS.iter().filter(|m| m.2(scenario)).map(|m| Gain {
        kind: m.0,
        area: m.1,
        wh: 0.0,
    });
    mended.chain(read).collect()
}

/// A figure summed over the days.
pub(super) fn sum(outcome: &Outcome, f: fn(&DayTotals) -> f64) -> f64 {
    outcome.days.iter().map(f).sum()
}

/// The area whose mending gives back most; without a fault, the sun where less was offered than
/// used and less than planned, the use where more was used than offered in spite of that, else nothing.
pub(super) fn limiting(outcome: &Outcome, planned: f64, gains: &[Gain]) -> &'static str {
    if let Some(best) = gains.iter().max_by(|a, b| a.wh.total_cmp(&b.wh)) {
        return best.area;
    }
    let offered = sum(outcome, |d| d.offered - d.unmeasured);
    let used = sum(outcome, |d| d.load);
    if offered >= used {
        "nothing"
    } else if offered < 0.9 * planned {
        "sun"
    } else {
        "use"
    }
}
