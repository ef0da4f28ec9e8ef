//! The bank, the run and the controller as a replay needs them.

use super::limits::Limits;
use crate::design::{Battery, Chemistry, Controller, Design};
use crate::physics::{bank, rest_voltage};

/// Points of the rest-voltage curve.
const POINTS: usize = 200;

/// A cell's rest voltage by charge, for the whole bank, in even steps: read thousands of times.
#[derive(Debug, Clone, PartialEq)]
pub struct RestCurve(Vec<f64>);

impl RestCurve {
    /// The trade's curve of a chemistry for so many cells, V.
    pub fn new(chemistry: Chemistry, cells: f64) -> Self {
        Self(
            (0..=POINTS)
                .map(|i| cells * rest_voltage::rest_cell_v(chemistry, i as f64 / POINTS as f64))
                .collect(),
        )
    }

    /// The curve moved to what a bank shows: `beside` holds states of charge (share, ascending) and volts
    /// to add there; between them straight, beyond them the nearest. It never falls as charge rises.
    pub fn moved(&self, beside: &[(f64, f64)]) -> Self {
        let mut moved: Vec<f64> = (0..=POINTS)
            .map(|i| self.0[i] + between(beside, i as f64 / POINTS as f64))
            .collect();
        for i in 1..moved.len() {
            moved[i] = moved[i].max(moved[i - 1]);
        }
        Self(moved)
    }

    /// Rest voltage at a state of charge (share), V.
    pub fn at(&self, soc: f64) -> f64 {
        let place = soc.clamp(0.0, 1.0) * POINTS as f64;
        let below = (place as usize).min(POINTS - 1);
        let part = place - below as f64;
        self.0[below] * (1.0 - part) + self.0[below + 1] * part
    }
}

/// Straight between rows ascending in their first value; the end rows hold outside; 0 without rows.
fn between(rows: &[(f64, f64)], at: f64) -> f64 {
    let after = rows.partition_point(|r| r.0 < at);
    match (
        after.checked_sub(1).and_then(|i| rows.get(i)),
        rows.get(after),
    ) {
        (Some(a), Some(b)) if b.0 > a.0 => a.1 + (b.1 - a.1) * (at - a.0) / (b.0 - a.0),
        (_, Some(one)) | (Some(one), None) => one.1,
        (None, None) => 0.0,
    }
}

/// What the bank does with current.
#[derive(Debug, Clone, PartialEq)]
pub struct BankModel {
    /// Rest voltage.
    pub rest: RestCurve,
    /// Resistance over minutes, ohm.
    pub ohm: f64,
    /// How slowly it takes the last of a charge: hours in the trade's rule that a bank at absorption
    /// voltage takes (1 - charge) x capacity / tau.
    pub tau_h: f64,
    /// Capacity, Ah.
    pub capacity_ah: f64,
    /// Charge stored of charge put in while the bank is well below full, share.
    pub efficiency: f64,
    /// The last of a charge (share of capacity) over which that falls to nothing: lead turns more and more
    /// of the current into gas. 0: it does not fall.
    pub gassing: f64,
    /// Full below this current at absorption, A.
    pub full_a: f64,
    /// And that long, h.
    pub full_h: f64,
    /// The owner's reserve, share.
    pub reserve: f64,
    /// Loads drop out at this voltage, V.
    pub cut_off_v: f64,
}

/// What the controller does.
#[derive(Debug, Clone, PartialEq)]
pub struct Programme {
    /// Where the controllers stop.
    pub limits: Limits,
    /// Voltage held first, V at 25 C.
    pub absorption_v: f64,
    /// For so long, h.
    pub absorption_h: f64,
    /// Then this voltage, V at 25 C; `None`: absorption goes on.
    pub float_v: Option<f64>,
}

/// The whole plant.
#[derive(Debug, Clone, PartialEq)]
pub struct Plant {
    /// The bank.
    pub bank: BankModel,
    /// The controller.
    pub programme: Programme,
    /// Bank voltage from which a charge counts as full, V at 25 C.
    pub full_v: f64,
    /// Nominal voltage, V.
    pub nominal_v: f64,
}

/// Hours in the rule of acceptance: usual value and range. Lead: trade reference 6.5. Lithium takes half
/// its capacity an hour up to 95 to 98 %, which is the same rule with minutes instead of hours.
pub fn usual_tau_h(chemistry: Chemistry) -> (f64, f64, f64) {
    if chemistry.is_lead() {
        (1.2, 0.8, 2.0)
    } else {
        (0.06, 0.03, 0.10)
    }
}

/// Averages over minutes show two to four times the resistance that a quick load step does (trade
/// reference 6.8).
const SLOW_FACTOR: f64 = 3.0;

/// Usual resistance of a healthy bank over minutes, ohm.
pub fn usual_ohm(chemistry: Chemistry, capacity_ah: f64, nominal_v: f64) -> f64 {
    let (low, high) = bank::internal_resistance_mohm(chemistry, capacity_ah, nominal_v);
    SLOW_FACTOR * (low + high) / 2.0 / 1000.0
}

/// The plant as the design has it, with a healthy bank's usual figures.
pub fn designed(design: &Design) -> Plant {
    let nominal_v = design.nominal_v();
    let (battery, controller) = (&design.battery, &design.controllers[0]);
    Plant {
        bank: bank_model(battery, nominal_v),
        programme: programme(design, controller),
        full_v: controller.absorption_v
            - crate::account::charge::NEAR_ABSORPTION_V * nominal_v / 12.0,
        nominal_v,
    }
}

fn bank_model(battery: &Battery, nominal_v: f64) -> BankModel {
    let chemistry = battery.chemistry;
    let cells = battery.cells_in_series.map_or_else(
        || f64::from(crate::design::defaults::cells_for(chemistry, nominal_v)),
        f64::from,
    );
    BankModel {
        rest: RestCurve::new(chemistry, cells),
        ohm: usual_ohm(chemistry, battery.capacity_ah, nominal_v),
        tau_h: usual_tau_h(chemistry).0,
        capacity_ah: battery.capacity_ah.max(0.1),
        efficiency: bank::coulombic_efficiency(chemistry).value,
        gassing: 0.0,
        full_a: battery.full_current_a,
        full_h: bank::full_hold_min(chemistry) / 60.0,
        reserve: battery.reserve_pct / 100.0,
        cut_off_v: battery
            .load_cut_off_v
            .unwrap_or(cells * bank::min_cell_v(chemistry)),
    }
}

fn programme(design: &Design, controller: &Controller) -> Programme {
    Programme {
        limits: Limits::designed(design),
        absorption_v: controller.absorption_v,
        absorption_h: controller
            .absorption_h
            .unwrap_or(bank::absorption_min(design.battery.chemistry) / 60.0),
        float_v: controller.float_v,
    }
}
