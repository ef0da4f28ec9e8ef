//! Runs a trip: steps the sky, the plant and its meters through every local day.

use super::bank::Bank;
use super::charger::{Charger, Stage};
use super::dice::Dice;
use super::extremes::{Extremes, Moment};
use super::flow::{Flow, OnArray};
use super::loads::DayLoads;
use super::meters::{Counter, Meters};
use super::panels::{self, Chain, Conversion, Plane, PlaneLight};
use super::rows::{BankRow, ControllerRow, Row};
use super::scenario::Scenario;
use super::sky::{self, Clouds, Regime};
use super::totals::{Balance, DayTotals, Reach};
use crate::calendar::Calendar;
use crate::physics::sun::{self, SunPosition};

/// The haze of an ordinary day at an ordinary place.
pub(super) const USUAL_HAZE: f64 = 0.70;

/// How much warmer than the air a bank inside stands as a rule, C.
pub(super) const USUAL_LOCKER_C: f64 = 3.0;

/// Everything a run leaves behind.
#[derive(Debug, Clone, Default)]
pub(super) struct Outcome {
    pub(super) days: Vec<DayTotals>,
    pub(super) bank_rows: Vec<Row<BankRow>>,
    pub(super) controller_rows: Vec<Row<ControllerRow>>,
    /// Instants at which the meter called full what was not, and the largest jump, points.
    pub(super) false_full: Vec<i64>,
    pub(super) worst_jump_pct: f64,
    /// Most points by which the meter's state of charge was off.
    pub(super) meter_off_pct: f64,
    pub(super) extremes: Extremes,
    /// Energy the shadow was over in clear light, J, and what it took of that.
    pub(super) shadowed_j: (f64, f64),
    pub(super) balance: Balance,
    /// What loads asked for and did not get, J.
    pub(super) unserved_j: f64,
}

/// Air, wind and cells, which change slowly.
#[derive(Debug, Clone)]
pub(super) struct Weather {
    pub(super) wind: f64,
    pub(super) cell_c: f64,
    pub(super) battery_c: f64,
    /// This day's air beside the trip's mean, C.
    pub(super) day_c: f64,
}

/// A run in progress.
pub(super) struct Runner<'a> {
    pub(super) scenario: &'a Scenario,
    pub(super) calendar: Calendar,
    pub(super) dt_s: f64,
    pub(super) bank: Bank,
    pub(super) charger: Charger,
    pub(super) counter: Counter,
    pub(super) meters: Meters,
    pub(super) weather: Weather,
    /// Voltages of the step before: loads and switched arrays answer to these.
    pub(super) last_bank_v: f64,
    pub(super) last_charge_v: f64,
    pub(super) loads_on: bool,
    pub(super) keep_reserve: bool,
    pub(super) full_held_s: f64,
    pub(super) sky_dice: Dice,
    pub(super) air_dice: Dice,
    pub(super) use_dice: Dice,
    pub(super) meter_dice: Dice,
    pub(super) outcome: Outcome,
}

/// The step of the simulation: 10 s, or the largest part of both log steps below that.
fn step_s(scenario: &Scenario) -> u32 {
    let (a, b) = (
        scenario.logging.bank_step_s.max(1),
        scenario.logging.controller_step_s.max(1),
    );
    (1..=10)
        .rev()
        .find(|d| a % d == 0 && b % d == 0)
        .unwrap_or(1)
}

/// Runs a scenario from its first local midnight to its last.
pub(super) fn run(scenario: &Scenario) -> Outcome {
    run_with(scenario, false)
}

/// Runs a scenario; with `keep_reserve` the loads are given up as soon as the bank stands below its reserve.
pub(super) fn run_with(scenario: &Scenario, keep_reserve: bool) -> Outcome {
    let bank = Bank::new(&scenario.bank, &scenario.faults);
    let rest_v = bank.rest_v();
    let mut runner = Runner {
        calendar: scenario.calendar(),
        dt_s: f64::from(step_s(scenario)),
        charger: Charger::new(&scenario.controller, &scenario.faults, scenario.nominal_v),
        counter: Counter::new(scenario),
        meters: Meters::new(scenario),
        weather: Weather {
            wind: 2.0,
            cell_c: scenario.air_c.0,
            battery_c: scenario.air_c.0 + scenario.locker_c - USUAL_LOCKER_C,
            day_c: 0.0,
        },
        last_bank_v: rest_v,
        last_charge_v: rest_v,
        loads_on: true,
        keep_reserve,
        full_held_s: 0.0,
        sky_dice: Dice::new(scenario.seed, 1),
        air_dice: Dice::new(scenario.seed, 2),
        use_dice: Dice::new(scenario.seed, 3),
        meter_dice: Dice::new(scenario.seed, 4),
        outcome: Outcome::default(),
        bank,
        scenario,
    };
    for day in 0..scenario.days {
        runner.day(day);
    }
    runner.outcome.balance.end_soc = runner.bank.soc;
    runner.outcome
}

/// What holds for a whole day.
pub(super) struct DayFrame {
    pub(super) day: u32,
    pub(super) start: i64,
    pub(super) day_of_year: f64,
    pub(super) haze: f64,
    pub(super) true_plane: Plane,
    pub(super) design_plane: Plane,
    pub(super) joint_ohm: f64,
    pub(super) loads: DayLoads,
}

impl Runner<'_> {
    fn day(&mut self, day: u32) {
        use chrono::Datelike;
        let scenario = self.scenario;
        let date = scenario.date(day);
        let (start, end) = self.calendar.bounds(date);
        let letter = scenario
            .weather
            .chars()
            .cycle()
            .nth(day as usize)
            .unwrap_or('b');
        let regime = Regime::from_letter(letter);
        let mut clouds = Clouds::new(regime, &mut self.sky_dice);
        let stop = scenario.stop(day);
        let array = &scenario.array;
        self.weather.day_c = 1.5 * self.air_dice.normal();
        let frame = DayFrame {
            day,
            start,
            day_of_year: f64::from(date.ordinal()),
            haze: (scenario.haze + 0.012 * self.sky_dice.normal())
                .clamp(scenario.haze - 0.04, scenario.haze + 0.05),
            true_plane: Plane::new(array.tilt_deg, array.facing_deg, stop.lean),
            design_plane: Plane::new(array.tilt_deg, array.facing_deg, (0.0, 0.0)),
            joint_ohm: match scenario.faults.joint {
                Some((mohm, from)) if day >= from => mohm / 1000.0,
                _ => 0.0,
            },
            loads: DayLoads::draw(scenario, day, &mut self.use_dice),
        };
        self.charger.begin_day(day);
        let mut totals = DayTotals::new(date, (end - start) as f64);
        let dt = self.dt_s as i64;
        let mut t = start;
        while t < end {
            self.step(&frame, &mut clouds, t, &mut totals);
            t += dt;
        }
        self.outcome.days.push(totals);
    }

    /// One step: sun and sky, what each stage of the chain could give, what flows, what is shown.
    fn step(&mut self, frame: &DayFrame, clouds: &mut Clouds, t: i64, totals: &mut DayTotals) {
        let scenario = self.scenario;
        let stop = scenario.stop(frame.day);
        let hour = (t - frame.start) as f64 / 3600.0;
        let sun = sun::position(t as f64 + self.dt_s / 2.0, stop.latitude, stop.longitude);
        let air_c = self.air(hour);
        let lit = sun.apparent_elevation_deg > 0.0;
        let mut reach = Reach::default();
        let mut light = PlaneLight::default();
        let mut shade = 1.0;
        let whole = scenario.faults.whole(frame.day, hour);
        if lit {
            let clear = |haze| {
                sky::clear(
                    sun.apparent_elevation_deg,
                    haze,
                    stop.altitude_m,
                    frame.day_of_year,
                )
            };
            let sin_el = sun.apparent_elevation_deg.to_radians().sin();
            let real = clouds.step(clear(frame.haze), sin_el, self.dt_s, &mut self.sky_dice);
            light = frame.true_plane.light(real, &sun);
            self.warm_cells(air_c, light.total());
            shade = panels::shade_share(scenario.faults.shade.as_ref(), &sun, &light);
            let usual = frame.design_plane.light(clear(scenario.haze), &sun).total();
            reach = self.reach(whole, light.total(), usual, shade);
            if shade < 1.0 && light.beam > light.diffuse {
                self.outcome.shadowed_j.0 += reach.array_w * self.dt_s;
                self.outcome.shadowed_j.1 += (reach.array_w - reach.shaded_w) * self.dt_s;
            }
        } else {
            self.warm_cells(air_c, 0.0);
        }
        self.charger.wake(reach.converted_w, self.dt_s);
        if self.charger.stage == Stage::Off {
            // Too little to wake it: what its own use and threshold cost counts as conversion.
            reach.converted_w = 0.0;
        }
        let on_array = OnArray {
            light: light.total(),
            shade,
            whole,
        };
        let flow = self.flow(frame, hour, air_c, on_array, reach.converted_w);
        let (clip_a, bus) = (self.output_limit_a(), flow.charge_v);
        reach.limited_w = reach.converted_w.min(clip_a * bus);
        if scenario.controller.pwm && flow.charge_a > 0.0 && !flow.held {
            reach.limited_w = flow.charge_v * flow.charge_a;
        }
        let gap = scenario
            .logging
            .gaps
            .iter()
            .any(|g| g.0 == frame.day && (g.1..g.2).contains(&hour));
        self.book(&sun, &flow, &reach, gap, totals);
        self.charger.advance(
            flow.charge_v,
            flow.held,
            flow.bank_a,
            self.weather.battery_c,
            self.dt_s,
        );
        self.show(t, &flow, gap);
    }

    /// Air temperature at an hour: lowest near sunrise, highest in the afternoon.
    fn air(&mut self, hour: f64) -> f64 {
        let (mean, swing) = self.scenario.air_c;
        let wave = ((hour - 15.0) * std::f64::consts::TAU / 24.0).cos();
        let air_c = mean + self.weather.day_c + swing * wave;
        let keep = (-self.dt_s / 1_200.0).exp();
        let gust = (1.0 - keep * keep).sqrt() * self.air_dice.normal();
        self.weather.wind = (2.5 + keep * (self.weather.wind - 2.5) + 0.8 * gust).clamp(0.3, 8.0);
        // The bank stands inside: slow, and a little warmer.
        self.weather.battery_c += (air_c + self.scenario.locker_c - self.weather.battery_c)
            * (1.0 - (-self.dt_s / 28_800.0).exp());
        air_c
    }

    fn warm_cells(&mut self, air_c: f64, light: f64) {
        let aim = panels::settled_c(self.scenario.array.noct_c, air_c, light, self.weather.wind);
        self.weather.cell_c += (aim - self.weather.cell_c) * (1.0 - (-self.dt_s / 420.0).exp());
    }

    pub(super) fn output_limit_a(&self) -> f64 {
        let rated = self.scenario.controller.max_output_a;
        self.scenario.faults.limit_a.map_or(rated, |a| a.min(rated))
    }

    /// What the chain could give into a bank that takes everything, with one truth after another
    /// put in place of the design, in the account's order.
    fn reach(&self, whole: f64, light: f64, usual: f64, shade: f64) -> Reach {
        let s = self.scenario;
        let array = &s.array;
        let design_ohm = s.run_ohm("array-controller");
        let chain = Chain {
            array,
            pwm: s.controller.pwm,
            ohm: design_ohm,
            conversion: Conversion::Design(s.controller.efficiency),
        };
        let real = Chain {
            conversion: self.conversion(),
            ..chain
        };
        let bus = self.last_charge_v;
        let nominal_bus = 1.1 * s.nominal_v;
        let plan_c = |g: f64| s.plan_air_c + g * (array.noct_c - 20.0) / 800.0;
        let cell = self.weather.cell_c;
        let scale = array.true_scale * s.faults.dirt.unwrap_or(1.0);
        // The allowance's range, 80 to 102 %: what lies inside is the array's own nature, not a loss.
        let fair = scale.clamp(0.80, 1.02);
        let whole = scale * whole;
        Reach {
            sun_w: panels::label_power(array, usual, 25.0),
            clear_w: chain.output(usual, plan_c(usual), array.allowance, nominal_bus),
            weather_w: chain.output(light, plan_c(light), fair, bus),
            offered_w: chain.output(light, cell, fair, bus),
            array_w: chain.output(light, cell, whole, bus),
            shaded_w: chain.output(light, cell, whole * shade, bus),
            converted_w: real.output(light, cell, whole * shade, bus),
            limited_w: 0.0,
        }
    }

    pub(super) fn conversion(&self) -> Conversion {
        Conversion::real(&self.scenario.controller, self.scenario.nominal_v)
    }

    /// Adds a step to the day's sums and moves the bank on.
    fn book(
        &mut self,
        sun: &SunPosition,
        flow: &Flow,
        reach: &Reach,
        gap: bool,
        totals: &mut DayTotals,
    ) {
        let bank = &self.scenario.bank;
        let units = self.scenario.nominal_v / 12.0;
        let compensation = self.scenario.controller.compensation_mv / 1000.0 * units;
        let full_v = self.scenario.controller.absorption_v
            + compensation * (self.weather.battery_c - 25.0)
            - 0.15 * units;
        let at_full = flow.bank_v >= full_v
            && (0.0..=bank.full_current * bank.rated_ah).contains(&flow.bank_a);
        self.full_held_s = if at_full {
            self.full_held_s + self.dt_s
        } else {
            0.0
        };
        let needed_s = if bank.chemistry.is_lead() {
            1800.0
        } else {
            300.0
        };
        totals.reached_full |= !gap && self.full_held_s >= needed_s;

        let (cold_limit_c, hot_limit_c) = bank.charge_limits_c();
        let moment = Moment {
            stage: self.charger.stage,
            battery_c: self.weather.battery_c,
            stored_share: self.bank.stored_share(),
            gas_a: self.bank.gas_a,
            usual_high_v: bank.highest_usual_v(self.weather.battery_c),
            rated_ah: bank.rated_ah,
            cold_limit_c,
            hot_limit_c,
            gap,
        };
        self.outcome.extremes.add(flow, &moment, self.dt_s);
        let battery_c = self.weather.battery_c;
        let step = self
            .bank
            .advance(flow.bank_a, flow.bank_v, battery_c, self.dt_s);
        // A lead battery weighs some 0.3 kg per Ah and 12 V and takes 900 J to warm a kilogram by a degree.
        self.weather.battery_c += step.gas_w * self.dt_s / (270.0 * bank.rated_ah * units);
        let sun_up = sun.apparent_elevation_deg > -0.27;
        totals.add(flow, reach, &step, self.bank.soc, self.dt_s, gap, sun_up);
        self.outcome.balance.add(flow, &step, self.dt_s);
    }
}
