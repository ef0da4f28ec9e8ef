//! One replay: the plant lives through a course of days, step by step.

use super::course::{Course, Step};
use super::plant::Plant;

/// Less sun than this is night, W.
const DARK_W: f64 = 1.0;
/// So long a dark and the controller begins its programme anew, h.
const NIGHT_H: f64 = 2.0;
/// A floating bank that sinks this far below float is charged anew, V per 12 V.
const FLOAT_LOST_V: f64 = 0.5;
/// Loads that dropped out come back this far above the cut-off, V per 12 V.
const BACK_ON_V: f64 = 0.7;

/// What one replay is lived with: days in an order, and figures beside their best estimates.
#[derive(Debug, Clone, PartialEq)]
pub struct Chance {
    /// Days of the course, in the order lived.
    pub days: Vec<usize>,
    /// Where the uncertain sun lies: -1 at its lower, 1 at its upper 90 % end.
    pub sun: f64,
    /// What an option adds, against its label.
    pub added: f64,
    /// Capacity against the best estimate.
    pub capacity: f64,
    /// Charge stored of charge put in, share.
    pub efficiency: f64,
    /// Slowness of acceptance against the best estimate.
    pub tau: f64,
    /// Use against what was read.
    pub load: f64,
    /// Resistance of the run against what was measured.
    pub run: f64,
}

impl Chance {
    /// The days as they were, every figure at its best estimate.
    pub fn none(plant: &Plant, days: usize) -> Self {
        Self {
            days: (0..days).collect(),
            sun: 0.0,
            added: 1.0,
            capacity: 1.0,
            efficiency: plant.bank.efficiency,
            tau: 1.0,
            load: 1.0,
            run: 1.0,
        }
    }
}

/// What a replay came to.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Outcome {
    /// Load that would take the bank below reserve or the cut-off, Wh a day.
    pub unserved_wh: f64,
    /// Share of days with a full charge.
    pub full_share: f64,
    /// Lowest state of charge, share.
    pub lowest: f64,
    /// Nights below reserve.
    pub nights_below: f64,
    /// Offered and not taken by the bank, Wh a day.
    pub held_back_wh: f64,
    /// From the sun into bank and loads, Wh a day.
    pub harvest_wh: f64,
    /// Kept back by the controller's current limit, Wh a day.
    pub clipped_wh: f64,
    /// Mean state of charge, share.
    pub mean: f64,
}

/// What a replay may leave behind besides: net charge by step and charge at each day's end.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trace {
    /// Into the bank, Ah by step; negative out of it.
    pub net_ah: Vec<f64>,
    /// State of charge after each day, share.
    pub day_end: Vec<f64>,
}

/// State of a bank on its way.
#[derive(Debug, Clone, Copy)]
struct State {
    soc: f64,
    volts: f64,
    floating: bool,
    absorbed_h: f64,
    dark_h: f64,
    full_h: f64,
    loads_on: bool,
}

/// What flowed in a step.
#[derive(Debug, Clone, Copy, Default)]
struct Flow {
    bank_a: f64,
    taken_w: f64,
    held_w: f64,
    clipped_w: f64,
    shed_w: f64,
    full: bool,
}

/// What holds for a whole replay.
struct Setting<'a> {
    plant: &'a Plant,
    chance: &'a Chance,
    capacity_ah: f64,
    tau_h: f64,
    /// Share of what is missing that a bank at absorption takes in a step, per hour.
    filling: f64,
    step_h: f64,
    units: f64,
}

/// Lives through the days of `chance`, from the state of charge `start` (share). A `trace` costs time
/// and is left out where nobody reads it.
pub fn run(
    plant: &Plant,
    course: &Course,
    start: f64,
    chance: &Chance,
    mut trace: Option<&mut Trace>,
) -> Outcome {
    let tau_h = plant.bank.tau_h * chance.tau;
    let setting = Setting {
        plant,
        chance,
        capacity_ah: plant.bank.capacity_ah * chance.capacity,
        tau_h,
        filling: (1.0 - (-course.step_h / tau_h).exp()) / course.step_h,
        step_h: course.step_h,
        units: plant.nominal_v / 12.0,
    };
    let mut physical = State::new(plant, start);
    // The same bank with loads given up as soon as it would go below the reserve; it parts from the
    // physical one only there.
    let mut kept: Option<State> = None;
    let mut sum = Sums::new(start);
    for (position, day) in chance.days.iter().enumerate() {
        let day = &course.days[*day];
        let run_ohm = day.run_ohm * chance.run;
        let mut full = false;
        let noon = day.steps.len() / 2;
        for (i, step) in day.steps.iter().enumerate() {
            let before = physical;
            let flow = setting.step(&mut physical, step, run_ohm);
            full |= flow.full;
            if kept.is_none() && physical.soc < plant.bank.reserve {
                kept = Some(before);
            }
            let shed_w = match &mut kept {
                Some(state) => setting.step_kept(state, step, run_ohm),
                None => flow.shed_w,
            };
            if kept.is_some_and(|k| (k.soc - physical.soc).abs() < 1e-3) {
                kept = None;
            }
            let night = (step.sun_w < DARK_W && physical.soc < plant.bank.reserve)
                .then_some(position + usize::from(i >= noon));
            sum.add(&flow, shed_w, physical.soc, night);
            if let Some(trace) = trace.as_deref_mut() {
                trace.net_ah.push(flow.bank_a * course.step_h);
            }
        }
        sum.full_days += u32::from(full);
        if let Some(trace) = trace.as_deref_mut() {
            trace.day_end.push(physical.soc);
        }
    }
    sum.outcome(chance.days.len(), course.step_h)
}

impl State {
    fn new(plant: &Plant, start: f64) -> Self {
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

impl Setting<'_> {
    /// Moves a bank through one step.
    fn step(&self, state: &mut State, step: &Step, run_ohm: f64) -> Flow {
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
    fn step_kept(&self, state: &mut State, step: &Step, run_ohm: f64) -> f64 {
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
            let free_a = sun_a.min(programme.limit_a);
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

/// Sums on the way.
struct Sums {
    unserved: f64,
    held: f64,
    taken: f64,
    clipped: f64,
    charge: f64,
    steps: u32,
    lowest: f64,
    full_days: u32,
    nights: u32,
    last_night: Option<usize>,
}

impl Sums {
    fn new(start: f64) -> Self {
        Self {
            unserved: 0.0,
            held: 0.0,
            taken: 0.0,
            clipped: 0.0,
            charge: 0.0,
            steps: 0,
            lowest: start,
            full_days: 0,
            nights: 0,
            last_night: None,
        }
    }

    fn add(&mut self, flow: &Flow, shed_w: f64, soc: f64, night: Option<usize>) {
        self.unserved += shed_w;
        self.held += flow.held_w;
        self.taken += flow.taken_w;
        self.clipped += flow.clipped_w;
        self.charge += soc;
        self.steps += 1;
        self.lowest = self.lowest.min(soc);
        if night.is_some() && night != self.last_night {
            self.nights += 1;
            self.last_night = night;
        }
    }

    fn outcome(&self, days: usize, step_h: f64) -> Outcome {
        let per_day = step_h / days.max(1) as f64;
        Outcome {
            unserved_wh: self.unserved * per_day,
            full_share: f64::from(self.full_days) / days.max(1) as f64,
            lowest: self.lowest,
            nights_below: f64::from(self.nights),
            held_back_wh: self.held * per_day,
            harvest_wh: self.taken * per_day,
            clipped_wh: self.clipped * per_day,
            mean: self.charge / f64::from(self.steps.max(1)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::Chemistry;
    use crate::replay::course::Day;
    use crate::replay::plant::{BankModel, Programme, RestCurve};

    fn plant() -> Plant {
        Plant {
            bank: BankModel {
                rest: RestCurve::new(Chemistry::Lfp, 4.0),
                ohm: 0.004,
                tau_h: 0.06,
                capacity_ah: 100.0,
                efficiency: 1.0,
                gassing: 0.0,
                full_a: 4.0,
                full_h: 5.0 / 60.0,
                reserve: 0.2,
                cut_off_v: 11.0,
            },
            programme: Programme {
                limit_a: 30.0,
                absorption_v: 14.2,
                absorption_h: 1.0,
                float_v: Some(13.5),
            },
            full_v: 14.05,
            nominal_v: 12.0,
        }
    }

    fn day(sun_w: f64, load_w: f64) -> Course {
        let steps = (0..96)
            .map(|i| Step {
                sun_w: if (36..60).contains(&i) { sun_w } else { 0.0 },
                load_w,
                ..Step::default()
            })
            .collect();
        Course {
            step_h: 0.25,
            days: vec![Day {
                steps,
                run_ohm: 0.005,
            }],
        }
    }

    fn live(course: &Course, start: f64) -> (Outcome, Trace) {
        let plant = plant();
        let mut trace = Trace::default();
        let chance = Chance::none(&plant, course.days.len());
        let outcome = run(&plant, course, start, &chance, Some(&mut trace));
        (outcome, trace)
    }

    #[test]
    fn a_dark_day_takes_the_load_out_of_the_bank() {
        let (outcome, trace) = live(&day(0.0, 26.4), 0.9);
        // 26.4 W at some 13.2 V for 24 hours: 48 Ah of 100.
        assert!((trace.day_end[0] - 0.42).abs() < 0.02, "{trace:?}");
        assert_eq!((outcome.unserved_wh, outcome.nights_below), (0.0, 0.0));
        assert_eq!(outcome.harvest_wh, 0.0);
    }

    #[test]
    fn load_below_the_reserve_is_unserved_once_and_the_bank_goes_on() {
        let (outcome, trace) = live(&day(0.0, 26.4), 0.4);
        // 20 Ah above the reserve; the other 28 Ah are given up, at some 13 V.
        assert!((outcome.unserved_wh - 370.0).abs() < 20.0, "{outcome:?}");
        assert!(trace.day_end[0] < 0.2 && outcome.nights_below >= 1.0);
    }

    #[test]
    fn a_bright_day_fills_the_bank_and_the_rest_is_held_back() {
        let (outcome, trace) = live(&day(300.0, 10.0), 0.7);
        assert_eq!(outcome.full_share, 1.0);
        assert!(outcome.held_back_wh > 800.0, "{outcome:?}");
        assert!(trace.day_end[0] > 0.9);
        let offered = 300.0 * 6.0;
        let booked = outcome.harvest_wh + outcome.held_back_wh + outcome.clipped_wh;
        assert!((booked / offered - 1.0).abs() < 0.02, "{booked}");
    }

    #[test]
    fn a_controllers_limit_clips_and_a_bad_run_keeps_the_bank_from_filling() {
        let (outcome, _) = live(&day(600.0, 10.0), 0.2);
        assert!(outcome.clipped_wh > 300.0, "{outcome:?}");
        let mut worn = day(300.0, 10.0);
        worn.days[0].run_ohm = 0.08;
        let (outcome, _) = live(&worn, 0.3);
        let (sound, _) = live(&day(300.0, 10.0), 0.3);
        assert!(outcome.harvest_wh < 0.8 * sound.harvest_wh);
    }
}
