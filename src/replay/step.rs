//! One step of a replay: what flows, what the bank stores, where the controller's programme goes.

use super::course::Step;
use super::plant::Plant;
use super::run::{Chance, DARK_W};

/// So long a dark and the controller begins its programme anew, h.
const NIGHT_H: f64 = 2.0;
/// A floating bank that sinks this far below float is charged anew, V per 12 V.
const FLOAT_LOST_V: f64 = 0.5;
/// Loads that dropped out come back this far above the cut-off, V per 12 V.
const BACK_ON_V: f64 = 0.7;

/// State of a bank on its way.
#[derive(Debug, Clone, Copy)]
pub(super) struct State {
    pub(super) soc: f64,
    pub(super) volts: f64,
    pub(super) floating: bool,
    pub(super) absorbed_h: f64,
    pub(super) dark_h: f64,
    pub(super) full_h: f64,
    pub(super) loads_on: bool,
}

/// What flowed in a step.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Flow {
    pub(super) bank_a: f64,
    pub(super) taken_w: f64,
    pub(super) held_w: f64,
    pub(super) clipped_w: f64,
    pub(super) shed_w: f64,
    pub(super) full: bool,
}

/// What holds for a whole replay.
pub(super) struct Setting<'a> {
    pub(super) plant: &'a Plant,
    pub(super) chance: &'a Chance,
    pub(super) capacity_ah: f64,
    pub(super) tau_h: f64,
    /// Share of what is missing that a bank at absorption takes in a step, per hour.
    pub(super) filling: f64,
    pub(super) step_h: f64,
    pub(super) units: f64,
}

impl State {
    /// At rest at a state of charge (share).
    pub(super) fn new(plant: &Plant, start: f64) -> Self {
        Self {
            soc: start.clamp(0.0, 1.0),
            volts: plant.bank.rest.at(start),
            floating: false,
            absorbed_h: 0.0,
            dark_h: 0.0,
            full_h: 0.0,
            loads_on: true,
        }
    }
}

impl<'a> Setting<'a> {
    /// For steps of so many hours.
    pub(super) fn new(plant: &'a Plant, chance: &'a Chance, step_h: f64) -> Self {
        let tau_h = plant.bank.tau_h * chance.tau;
        Self {
            plant,
            chance,
            capacity_ah: plant.bank.capacity_ah * chance.capacity,
            tau_h,
            filling: (1.0 - (-step_h / tau_h).exp()) / step_h,
            step_h,
            units: plant.nominal_v / 12.0,
        }
    }

    /// Moves a bank through one step.
    pub(super) fn step(&self, state: &mut State, step: &Step, run_ohm: f64) -> Flow {
        self.wake(state, step);
        let wanted_w = step.load_w * self.chance.load;
        self.switch_loads(state);
        let load_w = if state.loads_on { wanted_w } else { 0.0 };
        let mut flow = self.flow(state, step, load_w, run_ohm);
        flow.shed_w = wanted_w.max(0.0) - load_w.max(0.0);
        self.charge(state, flow.bank_a);
        flow.full = self.advance(state, step, &flow);
        flow
    }

    /// Moves the bank that is kept above its reserve; returns the load given up, W.
    pub(super) fn step_kept(&self, state: &mut State, step: &Step, run_ohm: f64) -> f64 {
        let floor = self.plant.bank.reserve.min(state.soc);
        let flow = self.step(state, step, run_ohm);
        let missing = (floor - state.soc).max(0.0);
        if missing <= 0.0 {
            return flow.shed_w;
        }
        state.soc = floor;
        let given_up = missing * self.capacity_ah / self.step_h * state.volts;
        flow.shed_w + given_up.min(step.load_w.max(0.0) * self.chance.load)
    }

    /// A new morning begins a new charging programme.
    fn wake(&self, state: &mut State, step: &Step) {
        if step.sun_w < DARK_W {
            state.dark_h += self.step_h;
            if state.dark_h >= NIGHT_H {
                state.floating = false;
                state.absorbed_h = 0.0;
            }
        } else {
            state.dark_h = 0.0;
        }
        if let Some(floated) = step.floated {
            state.floating = floated;
        }
    }

    fn switch_loads(&self, state: &mut State) {
        let off_at = self.plant.bank.cut_off_v;
        let empty = state.soc <= 0.0;
        state.loads_on = if state.loads_on {
            state.volts > off_at && !empty
        } else {
            state.volts > off_at + BACK_ON_V * self.units && state.soc > 0.01
        };
    }

    /// Currents of one step: the least of what the sun gives, the controller may and the voltage
    /// allows. Voltage and currents settle in two rounds.
    fn flow(&self, state: &mut State, step: &Step, load_w: f64, run_ohm: f64) -> Flow {
        let bank = &self.plant.bank;
        let rest = bank.rest.at(state.soc);
        let programme = &self.plant.programme;
        let absorption_v = programme.absorption_v + step.shift_v;
        let set_v = match programme.float_v {
            Some(float_v) if state.floating => float_v + step.shift_v,
            _ => absorption_v,
        };
        // The acceptance rule as a resistance that grows as the bank fills, and as what a bank that fills
        // exponentially takes over a whole step at most.
        let left_ah = (1.0 - state.soc).max(1e-4) * self.capacity_ah;
        let over_v = (absorption_v - rest).max(0.02 * self.units);
        let in_ohm = bank.ohm + over_v * self.tau_h / left_ah;
        let most_in_a = left_ah * self.filling;
        let sun_w = self.sun_w(step);
        let mut flow = Flow::default();
        let mut volts = state.volts;
        for _ in 0..2 {
            let load_a = load_w / volts;
            let most_other_a =
                ((absorption_v - rest) / in_ohm).clamp(0.0, most_in_a) + load_a.max(0.0);
            let other_a = (step.other_w / volts).min(most_other_a);
            let side_a = other_a - load_a;
            let sun_a = 2.0 * sun_w / (volts + (volts * volts + 4.0 * run_ohm * sun_w).sqrt());
            let free_a = programme.limits.pass_a(sun_a);
            let allowed = |ohm: f64| ((set_v - rest - ohm * side_a) / (ohm + run_ohm)).max(0.0);
            let mut allowed_a = allowed(in_ohm).min((most_in_a - side_a).max(0.0));
            if free_a.min(allowed_a) + side_a < 0.0 {
                allowed_a = allowed(bank.ohm).min((-side_a).max(0.0));
            }
            let amps = free_a.min(allowed_a);
            flow.bank_a = amps + side_a;
            let held = allowed_a < free_a;
            let ohm = if flow.bank_a > 0.0 { in_ohm } else { bank.ohm };
            volts = (rest + ohm * flow.bank_a).max(0.5 * rest);
            if held && flow.bank_a > 0.0 {
                volts = set_v - run_ohm * amps;
            }
            let out_v = volts + run_ohm * amps;
            flow.taken_w = amps * out_v;
            flow.held_w = (free_a - amps) * out_v;
            flow.clipped_w = (sun_a - free_a) * out_v;
        }
        state.volts = volts;
        flow
    }

    fn sun_w(&self, step: &Step) -> f64 {
        let z = self.chance.sun;
        let off = if z < 0.0 {
            z * step.less_w
        } else {
            z * step.more_w
        };
        (step.sun_w + off + step.added_w * (self.chance.added - 1.0)).max(0.0)
    }

    fn charge(&self, state: &mut State, amps: f64) {
        let gassing = self.plant.bank.gassing;
        let left = 1.0 - state.soc;
        let stored = match amps > 0.0 {
            true if left < gassing => amps * self.chance.efficiency * left / gassing,
            true => amps * self.chance.efficiency,
            false => amps,
        };
        state.soc = (state.soc + stored * self.step_h / self.capacity_ah).clamp(0.0, 1.0);
    }

    /// Moves the programme on; says whether the bank counts as full.
    fn advance(&self, state: &mut State, step: &Step, flow: &Flow) -> bool {
        let programme = &self.plant.programme;
        let held = flow.held_w > 0.0;
        let at_top = held && !state.floating;
        let full_v = self.plant.full_v + step.shift_v;
        let full_now = at_top
            && state.volts >= full_v
            && (0.0..=self.plant.bank.full_a).contains(&flow.bank_a);
        state.full_h = if full_now {
            state.full_h + self.step_h
        } else {
            0.0
        };
        if !state.floating {
            state.absorbed_h += self.step_h * if held { 1.0 } else { step.held_share };
        }
        if state.floating {
            let lost_v =
                programme.float_v.unwrap_or(0.0) + step.shift_v - FLOAT_LOST_V * self.units;
            if state.volts < lost_v {
                state.floating = false;
                state.absorbed_h = 0.0;
            }
        } else if programme.float_v.is_some() && state.absorbed_h >= programme.absorption_h {
            state.floating = true;
        }
        state.full_h + 1e-9 >= self.plant.bank.full_h.max(self.step_h)
    }
}
