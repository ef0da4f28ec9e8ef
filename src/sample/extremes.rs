//! The largest, coldest and lowest of a trip, as faults are told by them.

use super::charger::Stage;
use super::flow::Flow;

/// Seconds over which a current counts as held.
const HELD_S: f64 = 600.0;
/// Charge current that counts as charging, share of capacity.
const CHARGING_SHARE: f64 = 0.02;

/// What is kept of a trip besides its sums.
#[derive(Debug, Clone)]
pub(super) struct Extremes {
    /// Highest currents held for ten minutes: into the bank, out of the controller, A.
    pub(super) bank_a: f64,
    pub(super) charge_a: f64,
    /// Coldest and hottest of the bank while it was charged, C.
    pub(super) coldest_c: f64,
    pub(super) hottest_c: f64,
    /// Seconds of charging below and above the limits.
    pub(super) cold_s: f64,
    pub(super) hot_s: f64,
    /// Lowest voltage at the bank, V.
    pub(super) low_v: f64,
    /// Most by which ten minutes' mean lay above the highest usual charge voltage at its temperature, V.
    pub(super) over_v: f64,
    /// Charge into the bank, and what of it was stored, As.
    pub(super) in_as: f64,
    pub(super) kept_as: f64,
    /// Endings of absorption: minutes held and the bank's current then, A.
    pub(super) endings: Vec<(f64, f64)>,
    /// Largest rise of the bank's current at a held voltage, A; the warming over it, C; the voltage, V.
    pub(super) rise: (f64, f64, f64),
    block: Block,
    lowest_held: Option<(f64, f64)>,
    held_stage: Stage,
    absorbed_s: f64,
    /// The bank's current in the last step of absorption, A.
    absorbing_a: f64,
}

/// Means of the ten minutes in progress.
#[derive(Debug, Clone, Copy, Default)]
struct Block {
    seconds: f64,
    bank_as: f64,
    charge_as: f64,
    over_vs: f64,
    held_s: f64,
}

/// What a step brings, besides its flow.
#[derive(Debug, Clone, Copy)]
pub(super) struct Moment {
    pub(super) stage: Stage,
    pub(super) battery_c: f64,
    /// Share of a charging current that is stored, beside what turns to gas, A.
    pub(super) stored_share: f64,
    pub(super) gas_a: f64,
    /// Highest usual charge voltage at this temperature, V.
    pub(super) usual_high_v: f64,
    pub(super) rated_ah: f64,
    pub(super) cold_limit_c: f64,
    pub(super) hot_limit_c: f64,
    pub(super) gap: bool,
}

impl Default for Extremes {
    fn default() -> Self {
        Self {
            bank_a: 0.0,
            charge_a: 0.0,
            coldest_c: f64::INFINITY,
            hottest_c: f64::NEG_INFINITY,
            cold_s: 0.0,
            hot_s: 0.0,
            low_v: f64::INFINITY,
            over_v: f64::NEG_INFINITY,
            in_as: 0.0,
            kept_as: 0.0,
            endings: Vec::new(),
            rise: (0.0, 0.0, 0.0),
            block: Block::default(),
            lowest_held: None,
            held_stage: Stage::Off,
            absorbed_s: 0.0,
            absorbing_a: 0.0,
        }
    }
}

impl Extremes {
    /// Mean current of the bank when absorption ended, A.
    pub(super) fn ending_a(&self) -> Option<f64> {
        let n = self.endings.len() as f64;
        (n > 0.0).then(|| self.endings.iter().map(|e| e.1).sum::<f64>() / n)
    }

    /// Adds a step of `dt_s`; what fell into a gap of the logs is nobody's to find.
    pub(super) fn add(&mut self, flow: &Flow, now: &Moment, dt_s: f64) {
        let amps = flow.bank_a;
        if amps > 0.0 {
            self.in_as += amps * dt_s;
            self.kept_as += (amps - now.gas_a).max(0.0) * now.stored_share * dt_s;
        }
        self.absorption(flow, now, dt_s);
        if now.gap {
            return;
        }
        self.low_v = self.low_v.min(flow.bank_v);
        if amps > CHARGING_SHARE * now.rated_ah {
            self.coldest_c = self.coldest_c.min(now.battery_c);
            self.hottest_c = self.hottest_c.max(now.battery_c);
            self.cold_s += if now.battery_c < now.cold_limit_c {
                dt_s
            } else {
                0.0
            };
            self.hot_s += if now.battery_c > now.hot_limit_c {
                dt_s
            } else {
                0.0
            };
        }
        self.blocks(flow, now, dt_s);
    }

    /// Counts minutes of absorption, and notes its end when float follows.
    fn absorption(&mut self, flow: &Flow, now: &Moment, dt_s: f64) {
        match now.stage {
            Stage::Absorption => {
                self.absorbed_s += dt_s;
                self.absorbing_a = flow.bank_a;
            }
            Stage::Float if self.absorbed_s > 0.0 => {
                if !now.gap {
                    self.endings
                        .push((self.absorbed_s / 60.0, self.absorbing_a));
                }
                self.absorbed_s = 0.0;
            }
            Stage::Off => self.absorbed_s = 0.0,
            _ => {}
        }
    }

    /// Ten minutes at a time: what was held, and what rose at a held voltage.
    fn blocks(&mut self, flow: &Flow, now: &Moment, dt_s: f64) {
        self.block.seconds += dt_s;
        self.block.bank_as += flow.bank_a * dt_s;
        self.block.charge_as += flow.charge_a * dt_s;
        self.block.over_vs += (flow.bank_v - now.usual_high_v) * dt_s;
        self.block.held_s += if flow.held { dt_s } else { 0.0 };
        if self.block.seconds < HELD_S {
            return;
        }
        let block = std::mem::take(&mut self.block);
        let bank_a = block.bank_as / block.seconds;
        self.bank_a = self.bank_a.max(bank_a);
        self.charge_a = self.charge_a.max(block.charge_as / block.seconds);
        self.over_v = self.over_v.max(block.over_vs / block.seconds);
        if block.held_s < block.seconds || now.stage != self.held_stage {
            self.held_stage = now.stage;
            self.lowest_held = None;
            return;
        }
        let (lowest_a, then_c) = *self.lowest_held.get_or_insert((bank_a, now.battery_c));
        if bank_a <= lowest_a {
            self.lowest_held = Some((bank_a, now.battery_c));
        } else if bank_a - lowest_a > self.rise.0 {
            self.rise = (bank_a - lowest_a, now.battery_c - then_c, flow.bank_v);
        }
    }
}
