//! One replay: the plant lives through a course of days, step by step.

use super::course::Course;
use super::plant::Plant;
use super::step::{Flow, Setting, State};

/// Less sun than this is night, W.
pub(super) const DARK_W: f64 = 1.0;

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

/// Lives through the days of `chance`, from the state of charge `start` (share). A `trace` costs time
/// and is left out where nobody reads it.
pub fn run(
    plant: &Plant,
    course: &Course,
    start: f64,
    chance: &Chance,
    mut trace: Option<&mut Trace>,
) -> Outcome {
    let setting = Setting::new(plant, chance, course.step_h);
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
    use crate::replay::course::{Day, Step};
    use crate::replay::limits::Limits;
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
                limits: Limits::of_all(30.0),
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
