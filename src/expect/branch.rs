//! Controllers that were logged apart, each judged by its own side of the log: one may hold its voltage, or
//! stand at its limit, while another takes all that comes.

use crate::calendar::Calendar;
use crate::design::{Controller, Design};
use crate::expect::grid::{Folded, Grid};
use crate::expect::limit;
use crate::expect::offer::{self, Offer};
use crate::expect::regime::{self, NOTHING, Regime};
use crate::expect::signals::Signals;
use crate::mapping::Role;
use crate::timeline::Timeline;

/// A controller that gives nothing stands at the bank's voltage. Beyond that by this, V per 12 V, it has no
/// bank: two meters' error and a wire's drop are less.
const CUT_OFF_V: f64 = 0.3;

/// Of the light on a flat surface an array with the sun before it gets this share at least.
const BEFORE: f64 = 0.6;

/// One controller's side.
#[derive(Debug, Clone, PartialEq)]
pub struct Branch {
    /// The controller, by its place in the design.
    pub controller: usize,
    /// Power, W: at its output terminals, or at its array's where no controller's output was logged.
    pub gave: Folded,
    /// Its charging current, A.
    pub charge_a: Option<Folded>,
    /// The voltage that shows what it regulates, V.
    pub regulated_v: Option<Folded>,
    /// What its arrays have of a clear sky's output, share by moment.
    pub share: Vec<f32>,
    /// Whether the sun stands before its arrays in each moment rather than behind or along them: what reaches them
    /// then is no small rest of the sky's light.
    pub before: Vec<bool>,
    /// Current it stops at, A; infinity where neither design nor log says.
    pub limit_a: f64,
    /// What ruled each moment of it.
    pub regimes: Vec<Regime>,
    /// Label power of its arrays, W.
    array_w: f64,
}

impl Branch {
    /// What a clear sky would have got out of its arrays in a moment, W; `offers` is the whole design's.
    pub fn clear_w(&self, offers: &[Offer], moment: usize) -> f64 {
        f64::from(self.share[moment]) * offers[moment].output_w
    }

    /// What it gives at its limit in a moment, W; `None` where no limit is known.
    pub fn limit_w(&self, moment: usize) -> Option<f64> {
        let volts = self.regulated_v.as_ref()?.mean(moment)?;
        Some(self.limit_a * volts).filter(|watts| watts.is_finite())
    }

    /// Whether it gave anything worth the name in a moment.
    fn gives(&self, moment: usize) -> bool {
        let watts = self.gave.mean(moment);
        watts.is_some_and(|w| w >= NOTHING * self.array_w)
    }
}

/// The controllers that have a power of their own in the log; empty where fewer than two have. `offers` is the
/// clear sky's output of the whole design.
pub fn logged_apart(
    design: &Design,
    calendar: &Calendar,
    timeline: &Timeline,
    grid: &Grid,
    signals: &Signals,
    offers: &[Offer],
) -> Vec<Branch> {
    let side = |(controller, gave): (usize, Folded)| {
        let alone = design.of_controller(controller);
        let name = alone.controllers[0].name.as_deref().unwrap_or_default();
        let signals = signals.of_controller(timeline, grid, name, gave.clone());
        let own = offer::clear_offers(&alone, calendar, grid, signals.route.as_ref());
        let limit_a = limit::limit_a(&alone, grid, signals.charge_a.as_ref(), &own);
        let share = own.iter().zip(offers);
        Branch {
            controller,
            gave,
            regimes: regime::regimes(&alone, grid, &signals, &own, limit_a),
            share: share
                .map(|(own, all)| (own.output_w / all.output_w.max(1e-9)) as f32)
                .collect(),
            before: own
                .iter()
                .map(|own| own.plane_wm2 >= BEFORE * own.flat_wm2)
                .collect(),
            limit_a,
            array_w: alone.array_w(),
            regulated_v: signals.regulated_v().cloned(),
            charge_a: signals.charge_a,
        }
    };
    let mut branches: Vec<Branch> = powers(design, timeline, grid)
        .into_iter()
        .map(side)
        .collect();
    let bank_v = timeline.series(Role::BatteryVoltage);
    let bank_v = bank_v.and(signals.bank_v.as_ref());
    let idle = |one: usize| idle(design, grid, bank_v, &branches, one);
    let cut_off: Vec<Vec<usize>> = (0..branches.len()).map(idle).collect();
    for (branch, moments) in branches.iter_mut().zip(cut_off) {
        for moment in moments {
            branch.regimes[moment] = Regime::Disconnected;
        }
    }
    branches
}

/// Moments in which a controller seems to hold its voltage and gives nothing, and yet does not hold the bank's: it
/// stands at a voltage that the bank has not, or another follows the sun and it gave nothing that day before.
/// `bank_v` is what the bank's own meter shows.
fn idle(
    design: &Design,
    grid: &Grid,
    bank_v: Option<&Folded>,
    branches: &[Branch],
    one: usize,
) -> Vec<usize> {
    let own = &branches[one];
    let others = || {
        (0..branches.len())
            .filter(|k| *k != one)
            .map(|k| &branches[k])
    };
    let apart = CUT_OFF_V * design.nominal_v() / 12.0;
    let has_no_bank = |m: usize| {
        let Some(volts) = own.regulated_v.as_ref().and_then(|v| v.mean(m)) else {
            return false;
        };
        match bank_v.and_then(|v| v.mean(m)) {
            Some(bank_v) => (volts - bank_v).abs() > apart,
            None => {
                // The bank stands below every controller that charges it.
                let beside = others().filter_map(|b| b.regulated_v.as_ref()?.mean(m));
                volts > beside.fold(f64::INFINITY, f64::min) + apart
            }
        }
    };
    let mut found = Vec::new();
    for day in 0..grid.dates.len() {
        let mut gave = false;
        for m in grid.day(day) {
            let gives = own.gives(m);
            gave |= gives;
            let followed = others().any(|b| b.regimes[m] == Regime::Following);
            let seems_held = own.regimes[m] == Regime::Held && !gives;
            if seems_held && (has_no_bank(m) || followed && !gave) {
                found.push(m);
            }
        }
    }
    found
}

/// What ruled the whole system, `whole` being what its sums say: what comes is a lower bound as soon as one
/// controller holds its voltage or stands at its limit, and the sun's measure only where none does.
pub fn together(mut whole: Vec<Regime>, branches: &[Branch]) -> Vec<Regime> {
    for (m, regime) in whole.iter_mut().enumerate() {
        let some = |of: Regime| branches.iter().any(|b| b.regimes[m] == of);
        *regime = match *regime {
            Regime::Held | Regime::Limited | Regime::Following | Regime::Unknown => {
                if some(Regime::Held) {
                    Regime::Held
                } else if some(Regime::Limited) {
                    Regime::Limited
                } else if some(Regime::Following) {
                    Regime::Following
                } else {
                    *regime
                }
            }
            other => other,
        };
    }
    whole
}

/// The power of each controller that was logged apart, by its place in the design.
fn powers(design: &Design, timeline: &Timeline, grid: &Grid) -> Vec<(usize, Folded)> {
    let place = |name: &str| {
        let named = |c: &Controller| c.name.as_deref() == Some(name);
        design.controllers.iter().position(named)
    };
    let of = |role: Role| -> Vec<(usize, Folded)> {
        let channels = timeline.channels.iter().filter(|c| c.role == role);
        channels
            .filter_map(|c| {
                let controller = place(c.controller.as_deref()?)?;
                Some((controller, grid.fold(timeline, &c.series)))
            })
            .collect()
    };
    let apart = |found: Vec<(usize, Folded)>| Some(found).filter(|found| found.len() > 1);
    apart(of(Role::ChargePower))
        .or_else(|| apart(of(Role::ArrayPower)))
        .unwrap_or_default()
}
