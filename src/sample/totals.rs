//! Sums of a day and of a trip, and the day's state by the published rules.

use chrono::NaiveDate;

use super::bank::BankStep;
use super::flow::Flow;
use super::meters::rounded;
use super::truth::TruthDay;
use crate::report::model::DayState;

/// What the chain could give at the controller's output, W, truth by truth.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Reach {
    /// Label power under the usual clear sky (for the sun hours).
    pub(super) sun_w: f64,
    /// As designed, usual clear sky, the plan's air.
    pub(super) clear_w: f64,
    /// Real sky and the array's own fitted scale, the plan's air.
    pub(super) weather_w: f64,
    /// And the real heat: what the day offered.
    pub(super) offered_w: f64,
    /// And array faults.
    pub(super) array_w: f64,
    /// And shade.
    pub(super) shaded_w: f64,
    /// And the real controller (its array cable is the design's in every case).
    pub(super) converted_w: f64,
    /// And its output limit.
    pub(super) limited_w: f64,
}

/// Sums of one local day, Wh unless named otherwise. Everything but the sky's own sums leaves out
/// what the loggers missed.
#[derive(Debug, Clone)]
pub(super) struct DayTotals {
    pub(super) date: NaiveDate,
    length_s: f64,
    covered_s: f64,
    sun_s: f64,
    sun_covered_s: f64,
    pub(super) sun_wh: f64,
    pub(super) clear: f64,
    pub(super) weather: f64,
    pub(super) offered: f64,
    pub(super) array_step: f64,
    pub(super) shade_step: f64,
    pub(super) conversion_step: f64,
    pub(super) limit_step: f64,
    pub(super) held_back: f64,
    pub(super) unmeasured: f64,
    pub(super) harvest: f64,
    pub(super) array: f64,
    pub(super) load: f64,
    pub(super) other: f64,
    pub(super) bank_in: f64,
    pub(super) bank_out: f64,
    in_ah: f64,
    out_ah: f64,
    pub(super) run_loss: f64,
    pub(super) stored: f64,
    pub(super) bank_loss: f64,
    /// Energy on offer to the faulty system while the bank took it all, and in all.
    free: f64,
    reachable: f64,
    soc: (f64, f64),
    pub(super) volts: (f64, f64),
    pub(super) reached_full: bool,
}

impl DayTotals {
    /// An empty day of so many seconds.
    pub(super) fn new(date: NaiveDate, length_s: f64) -> Self {
        let none = (f64::INFINITY, f64::NEG_INFINITY);
        Self {
            date,
            length_s,
            covered_s: 0.0,
            sun_s: 0.0,
            sun_covered_s: 0.0,
            sun_wh: 0.0,
            clear: 0.0,
            weather: 0.0,
            offered: 0.0,
            array_step: 0.0,
            shade_step: 0.0,
            conversion_step: 0.0,
            limit_step: 0.0,
            held_back: 0.0,
            unmeasured: 0.0,
            harvest: 0.0,
            array: 0.0,
            load: 0.0,
            other: 0.0,
            bank_in: 0.0,
            bank_out: 0.0,
            in_ah: 0.0,
            out_ah: 0.0,
            run_loss: 0.0,
            stored: 0.0,
            bank_loss: 0.0,
            free: 0.0,
            reachable: 0.0,
            soc: none,
            volts: none,
            reached_full: false,
        }
    }

    /// Adds a step of `dt_s`.
    #[allow(clippy::too_many_arguments)] // One call, one place: a struct for it would only rename these.
    pub(super) fn add(
        &mut self,
        flow: &Flow,
        reach: &Reach,
        step: &BankStep,
        soc: f64,
        dt_s: f64,
        gap: bool,
        sun_up: bool,
    ) {
        let h = dt_s / 3600.0;
        self.sun_wh += reach.sun_w * h;
        self.clear += reach.clear_w * h;
        self.weather += reach.weather_w * h;
        self.offered += reach.offered_w * h;
        if sun_up {
            self.sun_s += dt_s;
        }
        if gap {
            self.unmeasured += reach.offered_w * h;
            return;
        }
        self.covered_s += dt_s;
        if sun_up {
            self.sun_covered_s += dt_s;
        }
        let out_w = flow.charge_v * flow.charge_a;
        self.array_step += (reach.array_w - reach.offered_w) * h;
        self.shade_step += (reach.shaded_w - reach.array_w) * h;
        self.conversion_step += (reach.converted_w - reach.shaded_w) * h;
        self.limit_step += (reach.limited_w - reach.converted_w) * h;
        self.held_back += (reach.limited_w - out_w) * h;
        self.harvest += out_w * h;
        self.reachable += reach.limited_w * h;
        if !flow.held {
            self.free += reach.limited_w * h;
        }
        self.array += flow.input_w * h;
        self.load += flow.bank_v * flow.load_a * h;
        self.other += flow.bank_v * flow.other_a * h;
        let bank_w = flow.bank_v * flow.bank_a;
        self.bank_in += bank_w.max(0.0) * h;
        self.bank_out += (-bank_w).max(0.0) * h;
        self.in_ah += flow.bank_a.max(0.0) * h;
        self.out_ah += (-flow.bank_a).max(0.0) * h;
        self.run_loss += flow.run_ohm * flow.charge_a * flow.charge_a * h;
        self.stored += step.stored_j / 3600.0;
        self.bank_loss += step.lost_j / 3600.0;
        self.soc = (self.soc.0.min(soc), self.soc.1.max(soc));
        self.volts = (self.volts.0.min(flow.bank_v), self.volts.1.max(flow.bank_v));
    }

    /// Lowest state of charge, share; `None` on a day nobody saw.
    pub(super) fn lowest_soc(&self) -> Option<f64> {
        self.soc.0.is_finite().then_some(self.soc.0)
    }

    /// Hours from sunrise to sunset.
    pub(super) fn daylight_h(&self) -> f64 {
        self.sun_s / 3600.0
    }

    /// What a fault, shade, wire or limit took.
    pub(super) fn lost(&self) -> f64 {
        -(self.array_step + self.shade_step + self.conversion_step + self.limit_step)
    }

    /// Share of sunrise to sunset with rows.
    pub(super) fn sun_coverage(&self) -> Option<f64> {
        (self.sun_s > 0.0).then(|| self.sun_covered_s / self.sun_s)
    }

    /// The day's state, by the first rule that applies. `worth_wh` is the loss worth a job.
    pub(super) fn state(&self, worth_wh: f64) -> DayState {
        let unheld = self.free >= 0.4 * self.reachable;
        if self.sun_coverage().is_some_and(|share| share < 0.8) {
            DayState::Unmeasured
        } else if self.lost() > worth_wh.max(0.1 * self.offered) && unheld {
            DayState::Short
        } else if self.held_back > 0.1 * self.offered {
            DayState::Full
        } else if self.offered < 0.6 * self.clear {
            DayState::Dull
        } else if (self.harvest + self.held_back - self.offered).abs() <= 0.1 * self.offered {
            DayState::Ok
        } else {
            DayState::Unclear
        }
    }

    /// In the report's terms; `planned_wh` comes from the whole plan.
    pub(super) fn truth(&self, planned_wh: f64, worth_wh: f64) -> TruthDay {
        let state = self.state(worth_wh);
        // A milliwatt-hour is plenty, and keeps rounding errors from showing as -1e-13.
        let wh = |x: f64| rounded(x, 1000.0);
        let seen = |x: f64| x.is_finite().then_some(x);
        TruthDay {
            date: self.date.to_string(),
            coverage: self.covered_s / self.length_s,
            sun_coverage: self.sun_coverage(),
            planned_wh: wh(planned_wh),
            clear_wh: wh(self.clear),
            offered_wh: wh(self.offered),
            array_wh: wh(self.array),
            harvest_wh: wh(self.harvest),
            held_back_wh: wh(self.held_back),
            lost_wh: wh(self.lost()),
            unmeasured_wh: wh(self.unmeasured),
            unexplained_wh: 0.0,
            load_wh: wh(self.load),
            other_charge_wh: wh(self.other),
            bank_in_wh: wh(self.bank_in),
            bank_out_wh: wh(self.bank_out),
            bank_in_ah: wh(self.in_ah),
            bank_out_ah: wh(self.out_ah),
            soc_low_pct: seen(100.0 * self.soc.0),
            soc_high_pct: seen(self.soc.1).map(|share| 100.0 * share.min(1.0)),
            low_v: seen(self.volts.0),
            high_v: seen(self.volts.1),
            reached_full: self.reached_full,
            judged: !matches!(state, DayState::Unmeasured | DayState::Unclear),
            state,
            why: why(state).to_owned(),
        }
    }
}

/// One sentence a state.
fn why(state: DayState) -> &'static str {
    match state {
        DayState::Unmeasured => "too much of the daylight is missing",
        DayState::Short => "the sun was there and the bank wanted it, but it did not arrive",
        DayState::Full => "the bank took less than was on offer",
        DayState::Dull => "the sky gave little",
        DayState::Ok => "what the sky offered arrived",
        DayState::Unclear => "no single reason",
    }
}

/// Energy through every part over the whole trip, gaps included, J: closes to rounding.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Balance {
    pub(super) array_j: f64,
    pub(super) array_cable_j: f64,
    pub(super) controller_j: f64,
    pub(super) run_j: f64,
    pub(super) other_j: f64,
    pub(super) loads_j: f64,
    pub(super) stored_j: f64,
    pub(super) bank_lost_j: f64,
    /// State of charge at the end, share.
    pub(super) end_soc: f64,
}

impl Balance {
    /// What the loads took beyond what came in, Wh.
    pub(super) fn deficit_wh(&self) -> f64 {
        let harvest_j = self.array_j - self.array_cable_j - self.controller_j;
        (self.loads_j - harvest_j - self.other_j) / 3600.0
    }

    /// Adds a step.
    pub(super) fn add(&mut self, flow: &Flow, step: &BankStep, dt_s: f64) {
        let out_w = flow.charge_v * flow.charge_a;
        self.array_j += flow.array_v * flow.array_a * dt_s;
        self.array_cable_j += (flow.array_v * flow.array_a - flow.input_w) * dt_s;
        self.controller_j += (flow.input_w - out_w) * dt_s;
        self.run_j += flow.run_ohm * flow.charge_a * flow.charge_a * dt_s;
        self.other_j += flow.bank_v * flow.other_a * dt_s;
        self.loads_j += flow.bank_v * flow.load_a * dt_s;
        self.stored_j += step.stored_j;
        self.bank_lost_j += step.lost_j;
    }
}
