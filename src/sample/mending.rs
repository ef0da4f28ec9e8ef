//! Which mending gives back most: the same trip again, with one fault mended at a time.

use super::labels::ARRAY_DROP_LIMIT_PCT;
use super::run::{Outcome, run};
use super::scenario::Scenario;
use super::totals::DayTotals;
use crate::report::model::DayState;

/// What mending one fault alone would give back over the trip.
pub(super) struct Gain {
    /// Finding kind.
    pub(super) kind: &'static str,
    /// Area, as a verdict names it.
    pub(super) area: &'static str,
    /// More energy at the bank, or less use, Wh, when the trip is run again with this mended. A bank
    /// that gets full all the same takes no more then.
    pub(super) wh: f64,
    /// What the account books as lost to it on days when the bank wanted it, Wh, and on days that
    /// fell short.
    booked_wh: f64,
    short_wh: f64,
    /// Whether it limits even where mending it gives back no energy: the bank stays worse off.
    leads: bool,
}

/// What a mending gives back.
#[derive(Clone, Copy)]
enum Back {
    /// Energy that comes to the bank.
    Harvest,
    /// Energy that is not used.
    Use,
    /// Energy that the bank does not lose.
    Loss,
}

/// A fault of the plant: when a scenario has it, and how it is mended.
struct Remedy {
    kind: &'static str,
    area: &'static str,
    back: Back,
    leads: bool,
    /// The account's step that its loss is booked in.
    step: Option<fn(&DayTotals) -> f64>,
    present: fn(&Scenario) -> bool,
    mend: fn(&mut Scenario),
}

const fn remedy(
    kind: &'static str,
    area: &'static str,
    back: Back,
    present: fn(&Scenario) -> bool,
    mend: fn(&mut Scenario),
) -> Remedy {
    Remedy {
        kind,
        area,
        back,
        leads: false,
        step: None,
        present,
        mend,
    }
}

/// One whose loss is booked in a step of the account.
const fn booked(step: fn(&DayTotals) -> f64, remedy: Remedy) -> Remedy {
    Remedy {
        step: Some(step),
        ..remedy
    }
}

/// One that limits without energy lost.
const fn leading(remedy: Remedy) -> Remedy {
    Remedy {
        leads: true,
        ..remedy
    }
}

/// Every fault that can cost energy.
#[rustfmt::skip] // A table: one fault a few lines.
const REMEDIES: [Remedy; 15] = [
    leading(remedy("drop-battery-cable", "wiring", Back::Harvest,
        |s| s.faults.joint.is_some(), |s| s.faults.joint = None)),
    booked(|d| d.array_step, remedy("array-part-out", "array", Back::Harvest,
        |s| s.faults.strings_out.is_some_and(|f| f.0 < 1.0), |s| s.faults.strings_out = None)),
    booked(|d| d.array_step, remedy("array-dark", "array", Back::Harvest,
        |s| s.faults.breaker_off.is_some() || s.faults.strings_out.is_some_and(|f| f.0 >= 1.0),
        |s| (s.faults.strings_out, s.faults.breaker_off) = (None, None))),
    booked(|d| d.array_step, remedy("array-weak", "array", Back::Harvest,
        |s| s.faults.dirt.is_some(), |s| s.faults.dirt = None)),
    booked(|d| d.shade_step, remedy("shade-repeating", "array", Back::Harvest,
        |s| s.faults.shade.is_some(), |s| s.faults.shade = None)),
    booked(|d| d.limit_step, remedy("controller-limiting", "settings", Back::Harvest,
        |s| s.faults.limit_a.is_some(), |s| s.faults.limit_a = None)),
    leading(remedy("absorption-short", "settings", Back::Harvest,
        |s| s.faults.absorption_ends_a.is_some(), |s| s.faults.absorption_ends_a = None)),
    leading(remedy("charge-voltage-low", "settings", Back::Harvest,
        |s| s.faults.set_v.is_some_and(|v| v < s.controller.absorption_v), |s| s.faults.set_v = None)),
    remedy("load-over-budget", "use", Back::Use,
        |s| s.faults.heavy_use.is_some(), |s| s.faults.heavy_use = None),
    remedy("standby-high", "use", Back::Use,
        |s| s.faults.standby_w.is_some(), |s| s.faults.standby_w = None),
    leading(remedy("capacity-low", "battery", Back::Harvest,
        |s| s.bank.true_ah < 0.8 * s.bank.rated_ah, |s| s.bank.true_ah = s.bank.rated_ah)),
    remedy("charge-loss-high", "battery", Back::Loss,
        |s| s.faults.leak.is_some(), |s| s.faults.leak = Some(s.bank.usual_leak())),
    leading(remedy("battery-resistance-high", "battery", Back::Loss,
        |s| s.bank.r0_ohm > 1.5 * s.bank.highest_usual_ohm(),
        |s| s.bank.r0_ohm = s.bank.highest_usual_ohm())),
    remedy("runaway-signs", "battery", Back::Loss,
        |s| s.faults.gassing_a.is_some(), |s| s.faults.gassing_a = None),
    remedy("drop-array-cable", "wiring", Back::Harvest,
        |s| s.array_drop_pct() > ARRAY_DROP_LIMIT_PCT, shorten_array_cable),
];

/// Brings the array's cable to the drop it may have.
fn shorten_array_cable(s: &mut Scenario) {
    let share = ARRAY_DROP_LIMIT_PCT / s.array_drop_pct();
    if let Some(cable) = s.cables.iter_mut().find(|c| c.run == "array-controller") {
        cable.length_m *= share;
        cable.joints_mohm *= share;
    }
}

/// A fault that costs no energy of the plant, of a meter, a logger or the design, so that there is
/// nothing to run again: kind, area, whether it limits all the same, and when a scenario has it.
type Costless = (&'static str, &'static str, bool, fn(&Scenario) -> bool);

/// Every fault that costs no energy.
#[rustfmt::skip] // A table: one fault a line or two.
const COSTLESS: [Costless; 12] = [
    ("soc-unreliable", "settings", true, |s| s.faults.false_full.is_some()),
    ("current-offset", "nothing", false, |s| s.faults.shunt_offset_a.is_some()),
    ("clock-off", "nothing", false,
        |s| s.logging.clock_s.0.abs().max(s.logging.clock_s.1.abs()) > 300),
    ("meter-offset", "nothing", false,
        |s| s.logging.volts_apart.abs() > 0.06 || s.faults.controller_reads_low_v.is_some()),
    ("log-gaps", "nothing", false, |s| !s.logging.gaps.is_empty()),
    ("current-reversed", "nothing", false, |s| s.faults.shunt_reversed),
    ("logs-disagree", "nothing", false, |s| s.faults.shunt_gain.is_some()),
    ("charge-voltage-high", "settings", false,
        |s| s.faults.set_v.is_some_and(|v| v > s.controller.absorption_v)),
    ("cold-voltage-over-limit", "nothing", false,
        |s| s.cold_voc_v() > 0.95 * s.controller.max_input_v),
    ("controller-undersized", "settings", false, |s| s.undersized_controller().is_some()),
    ("cable-undersized", "wiring", false, |s| s.undersized_cable().is_some()),
    ("fuse-unsuitable", "nothing", false, |s| s.unsuitable_fuse().is_some()),
];

/// Runs the trip again with each of its faults mended.
pub(super) fn gains(scenario: &Scenario, outcome: &Outcome, worth_wh: f64) -> Vec<Gain> {
    let in_state = |state| move |d: &&DayTotals| d.state(worth_wh) == state;
    let short: Vec<&DayTotals> = outcome
        .days
        .iter()
        .filter(in_state(DayState::Short))
        .collect();
    let full = in_state(DayState::Full);
    let wanted: Vec<&DayTotals> = outcome.days.iter().filter(|d| !full(d)).collect();
    let booked = |days: &[&DayTotals], step: fn(&DayTotals) -> f64| {
        -days.iter().map(|d| step(d)).sum::<f64>()
    };
    let mended = REMEDIES
        .iter()
        .filter(|r| (r.present)(scenario))
        .map(|remedy| {
            let mut whole = scenario.clone();
            (remedy.mend)(&mut whole);
            let then = run(&whole);
            let less = |f: fn(&DayTotals) -> f64| sum(outcome, f) - sum(&then, f);
            let wh = match remedy.back {
                Back::Harvest => -less(|d| d.harvest - d.run_loss),
                Back::Use => less(|d| d.load),
                Back::Loss => less(|d| d.bank_loss),
            };
            Gain {
                kind: remedy.kind,
                area: remedy.area,
                wh,
                booked_wh: remedy.step.map_or(0.0, |step| booked(&wanted, step)),
                short_wh: remedy.step.map_or(0.0, |step| booked(&short, step)),
                leads: remedy.leads,
            }
        });
    let costless = COSTLESS.iter().filter(|m| m.3(scenario)).map(|m| Gain {
        kind: m.0,
        area: m.1,
        wh: 0.0,
        booked_wh: 0.0,
        short_wh: 0.0,
        leads: m.2,
    });
    mended.chain(costless).collect()
}

/// A figure summed over the days.
pub(super) fn sum(outcome: &Outcome, f: fn(&DayTotals) -> f64) -> f64 {
    outcome.days.iter().map(f).sum()
}

impl Gain {
    /// What it costs, Wh, by the larger of both measures.
    fn cost_wh(&self) -> f64 {
        self.wh.max(self.booked_wh)
    }
}

/// What use beyond the budget costs, Wh over the trip, where it was not planted but came about.
pub(super) fn overuse(outcome: &Outcome, budget_wh: f64) -> Gain {
    let over = sum(outcome, |d| d.load) - budget_wh * outcome.days.len() as f64;
    Gain {
        kind: "load-over-budget",
        area: "use",
        wh: over,
        booked_wh: 0.0,
        short_wh: 0.0,
        leads: false,
    }
}

/// The area whose mending gives back most, where that is worth a job (`worth_wh` a day over the trip,
/// or on a day that fell short) or leaves the bank worse off without costing energy. Without such a fault: where the bank is `hungry` (drained
/// by use, or never full) the sun if less was offered than planned, else the use; or else nothing.
pub(super) fn limiting(
    outcome: &Outcome,
    planned: f64,
    gains: &[Gain],
    worth_wh: f64,
    hungry: bool,
) -> &'static str {
    let days = outcome.days.len().max(1) as f64;
    let best = gains
        .iter()
        .filter(|g| g.cost_wh() / days >= worth_wh || g.short_wh > 0.0)
        .max_by(|a, b| a.cost_wh().total_cmp(&b.cost_wh()));
    if let Some(gain) = best.or_else(|| gains.iter().find(|g| g.leads)) {
        return gain.area;
    }
    let offered = sum(outcome, |d| d.offered - d.unmeasured);
    if !hungry {
        "nothing"
    } else if offered < 0.9 * planned {
        "sun"
    } else {
        "use"
    }
}
