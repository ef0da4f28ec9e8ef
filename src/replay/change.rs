//! From a changed design to a changed plant and changed days.

use super::course::{Course, MOMENTS, Programme};
use super::plant::{Plant, designed};
use crate::account::Accounts;
use crate::calendar::Calendar;
use crate::design::{Array, Design, Load, Method, Run, When, wiring};
use crate::expect::Expectation;
use crate::expect::offer::{PRODUCTIVE_DEG, air_at, output_w, typical_bank_v};
use crate::physics::{cell, plane, sky, sun};

/// A converting controller needs this much more at its input than the bank has, V (trade reference 3.2:
/// 1 to 5 V).
const START_V: f64 = 1.0;
/// Hour of the day at which added engine hours begin.
const ENGINE_FROM_H: f64 = 9.0;

/// Everything a change is worked out from.
pub struct Ground<'a> {
    /// The design as it is.
    pub design: &'a Design,
    /// Local days.
    pub calendar: &'a Calendar,
    /// What was expected.
    pub expected: &'a Expectation,
    /// The accounts.
    pub accounts: &'a Accounts,
}

/// A plant with its days.
#[derive(Debug, Clone, PartialEq)]
pub struct World {
    /// The plant.
    pub plant: Plant,
    /// Its days.
    pub course: Course,
    /// How far they follow what the controller was logged to do.
    pub programme: Programme,
}

/// The world of a changed design: what differs between the two designs is laid on the world as the log
/// shows it, so that what the log taught of the plant stays.
pub fn changed(ground: &Ground, world: &World, design: &Design) -> World {
    let mut new = World {
        plant: plant(ground.design, &world.plant, design),
        course: world.course.clone(),
        programme: world.programme,
    };
    let run = |d: &Design| wiring::run_mohm(d, Run::ControllerBattery, 0).unwrap_or(0.0) / 1000.0;
    let more_ohm = run(design) - run(ground.design);
    for day in &mut new.course.days {
        if day.run_ohm > 0.0 {
            day.run_ohm = (day.run_ohm + more_ohm).max(1e-4);
        }
    }
    if makes_other_light(ground.design, design) {
        scale_sun(ground, &mut new.course, design);
    }
    use_otherwise(ground, &mut new.course, design);
    charge_otherwise(ground.design, &mut new.course, design);
    let same_programme = new.plant.programme == world.plant.programme
        && new.plant.bank == world.plant.bank
        && more_ohm == 0.0;
    new.programme = if same_programme {
        Programme::Earlier
    } else {
        Programme::Own
    };
    new.course = new.programme.on(new.course);
    new
}

/// The plant with the differences of two designs.
fn plant(was: &Design, plant: &Plant, now: &Design) -> Plant {
    let (before, after) = (designed(was), designed(now));
    let mut new = plant.clone();
    if was.battery.chemistry != now.battery.chemistry
        || was.battery.cells_in_series != now.battery.cells_in_series
    {
        new.bank = after.bank.clone();
    }
    let larger = after.bank.capacity_ah / before.bank.capacity_ah;
    if (larger - 1.0).abs() > 1e-9 {
        new.bank.capacity_ah = plant.bank.capacity_ah * larger;
        new.bank.ohm = plant.bank.ohm / larger;
    }
    new.bank.full_a = after.bank.full_a;
    new.bank.reserve = after.bank.reserve;
    new.bank.cut_off_v = after.bank.cut_off_v;
    let (limits_before, limits_after) = (&before.programme.limits, &after.programme.limits);
    new.programme.limits = plant.programme.limits.changed(limits_before, limits_after);
    let more_v = after.programme.absorption_v - before.programme.absorption_v;
    new.programme.absorption_v += more_v;
    new.full_v += more_v;
    if before.programme.absorption_h != after.programme.absorption_h {
        new.programme.absorption_h = after.programme.absorption_h;
    }
    if before.programme.float_v != after.programme.float_v {
        new.programme.float_v = after.programme.float_v;
    }
    new
}

/// Whether the array's side differs.
fn makes_other_light(was: &Design, now: &Design) -> bool {
    let run = |d: &Design| -> Vec<Option<f64>> {
        (0..d.controllers.len())
            .map(|i| wiring::run_mohm(d, Run::ArrayController, i))
            .collect()
    };
    let way = |d: &Design| -> Vec<(Method, f64)> {
        d.controllers
            .iter()
            .map(|c| (c.method, c.efficiency))
            .collect()
    };
    was.arrays != now.arrays
        || was.place != now.place
        || run(was) != run(now)
        || way(was) != way(now)
}

/// Every step's sun times what the new array gives of the same sky against the old one.
fn scale_sun(ground: &Ground, course: &mut Course, design: &Design) {
    let grid = &ground.expected.grid;
    for (day, of) in course.days.iter_mut().enumerate() {
        let moments: Vec<usize> = grid.day(day).collect();
        for (step, chunk) in of.steps.iter_mut().zip(moments.chunks(MOMENTS)) {
            if step.sun_w <= 0.0 {
                continue;
            }
            let ratio = ratio(ground, design, chunk[chunk.len() / 2]);
            step.added_w = step.sun_w * (ratio - 1.0);
            step.sun_w *= ratio;
            step.less_w *= ratio;
            step.more_w *= ratio;
        }
    }
}

/// What the new array gives against the old one in the light of a moment: 1 in the dark and where the
/// old one gives nothing by the model.
fn ratio(ground: &Ground, design: &Design, m: usize) -> f64 {
    let expected = ground.expected;
    let offer = &expected.offers[m];
    if offer.output_w <= 0.0 {
        return 1.0;
    }
    let clear_wh = offer.output_w * expected.grid.step_h() * expected.clear.healthy;
    let share = (ground.accounts.attribution.offered[m].value / clear_wh).clamp(0.05, 1.2);
    let middle = expected.grid.middle_of(m);
    let light = Light {
        at: middle,
        share,
        air_c: air_at(ground.design, ground.calendar.date(middle as i64)),
    };
    let (was, now) = (light.output_w(ground.design), light.output_w(design));
    if was > 0.0 { now / was } else { 1.0 }
}

/// The light of a moment: a share of the clear sky.
struct Light {
    at: f64,
    share: f64,
    air_c: f64,
}

impl Light {
    /// What a design's arrays give in it, W.
    fn output_w(&self, design: &Design) -> f64 {
        let spot = design.place.at(self.at as i64);
        let sun = sun::position(self.at, spot.latitude_deg, spot.longitude_deg);
        let clear = sky::clear_sky(&sun, spot.altitude_m, sky::DEFAULT_TURBIDITY);
        let bank_v = typical_bank_v(design);
        design
            .arrays
            .iter()
            .map(|array| {
                let tilt = spot.tilt_deg.unwrap_or(array.tilt_deg);
                let facing = spot.facing_deg.unwrap_or(array.facing_deg);
                let light = plane::irradiance(&clear, &sun, tilt, facing, plane::DEFAULT_ALBEDO);
                let cell_c = cell::noct_temperature(
                    self.air_c,
                    self.share * light.total(),
                    array.panel.noct_c,
                );
                if !starts(design, array, cell_c, bank_v) {
                    return 0.0;
                }
                output_w(
                    design,
                    array,
                    self.share * light.effective(),
                    cell_c,
                    bank_v,
                )
            })
            .sum()
    }
}

/// Whether a string's voltage is enough for a converting controller to work at that heat.
fn starts(design: &Design, array: &Array, cell_c: f64, bank_v: f64) -> bool {
    let Some(vmp) = array.panel.vmp_v else {
        return true;
    };
    let heat = 1.0 + 1.2 * array.panel.voc_per_degree * (cell_c - 25.0);
    design.controllers[array.controller].method == Method::Pwm
        || vmp * f64::from(array.panels_in_series) * heat >= bank_v + START_V
}

/// What the load budget's difference does to the use: by its hours, and no load below nothing. What moves
/// to other hours keeps its energy as far as it was really there.
fn use_otherwise(ground: &Ground, course: &mut Course, design: &Design) {
    if ground.design.loads == design.loads && ground.design.inverter == design.inverter {
        return;
    }
    let grid = &ground.expected.grid;
    for (day, of) in course.days.iter_mut().enumerate() {
        let light: Vec<bool> = grid
            .day(day)
            .step_by(MOMENTS)
            .map(|m| ground.expected.offers[m].elevation_deg > PRODUCTIVE_DEG)
            .collect();
        let shape = Shape::new(&light, course.step_h);
        let (mut less, mut kept) = (0.0, 0.0);
        let change: Vec<f64> = (0..of.steps.len())
            .map(|i| shape.watts(design, i) - shape.watts(ground.design, i))
            .collect();
        for (step, change) in of.steps.iter_mut().zip(&change) {
            if *change < 0.0 {
                let taken = (-change).min(step.load_w.max(0.0));
                less -= change;
                kept += taken;
                step.load_w -= taken;
            }
        }
        // A load that is moved brings along what it really took, not what the budget says.
        let whole: f64 = change.iter().sum();
        let share = if whole.abs() < 0.01 * less && less > 0.0 {
            kept / less
        } else {
            1.0
        };
        for (step, change) in of.steps.iter_mut().zip(&change) {
            step.load_w += change.max(0.0) * share;
        }
    }
}

/// How a budget spreads over a day.
struct Shape {
    light: Vec<bool>,
    light_h: f64,
    dark_h: f64,
}

impl Shape {
    fn new(light: &[bool], step_h: f64) -> Self {
        let lit = light.iter().filter(|l| **l).count() as f64 * step_h;
        Self {
            light: light.to_vec(),
            light_h: lit,
            dark_h: light.len() as f64 * step_h - lit,
        }
    }

    /// Budgeted power in a step, W.
    fn watts(&self, design: &Design, step: usize) -> f64 {
        let inverter = design.inverter.as_ref();
        let idle = inverter.map_or(0.0, |i| i.idle_w * i.hours);
        let efficiency = inverter.map_or(1.0, |i| i.efficiency);
        let of = |load: &Load| {
            let through = if load.through_inverter {
                efficiency
            } else {
                1.0
            };
            self.spread(
                load.power_w * load.quantity * load.hours / through,
                load.when,
                step,
            )
        };
        design.loads.iter().map(of).sum::<f64>() + self.spread(idle, When::Always, step)
    }

    fn spread(&self, wh: f64, when: When, step: usize) -> f64 {
        let lit = self.light.get(step).copied().unwrap_or(false);
        let hours = match when {
            When::Always => self.light_h + self.dark_h,
            When::Day if lit => self.light_h,
            When::Night if !lit => self.dark_h,
            _ => return 0.0,
        };
        if hours > 0.0 { wh / hours } else { 0.0 }
    }
}

/// Hours a day of another charger that the changed design has and the other has not.
fn charge_otherwise(was: &Design, course: &mut Course, now: &Design) {
    let volts = typical_bank_v(now);
    for charger in &now.chargers {
        let before = was.chargers.iter().find(|c| c.name == charger.name);
        let hours = charger.hours.unwrap_or(0.0) - before.and_then(|c| c.hours).unwrap_or(0.0);
        let Some(amps) = charger.current_a.filter(|_| hours > 0.0) else {
            continue;
        };
        let first = (ENGINE_FROM_H / course.step_h) as usize;
        let count = (hours / course.step_h).round().max(1.0) as usize;
        for day in &mut course.days {
            for step in day.steps.iter_mut().skip(first).take(count) {
                step.other_w = step.other_w.max(amps * volts);
            }
        }
    }
}
