//! The circuit of one step: array, cable, controller, run, bank, loads and other charging.

use super::charger::Stage;
use super::panels::{self, SWITCH_V};
use super::run::{DayFrame, Runner};
use super::scenario::Engine;

/// Electrical state of a step.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Flow {
    pub(super) array_v: f64,
    pub(super) array_a: f64,
    /// Power at the controller's input, W.
    pub(super) input_w: f64,
    pub(super) charge_v: f64,
    pub(super) charge_a: f64,
    pub(super) bank_v: f64,
    pub(super) bank_a: f64,
    pub(super) load_a: f64,
    pub(super) other_a: f64,
    pub(super) run_ohm: f64,
    /// Whether voltage, not sun or a limit, set the current.
    pub(super) held: bool,
}

/// What light there is on the array, W/m2, and what shadow and missing strings leave of it, shares.
#[derive(Debug, Clone, Copy)]
pub(super) struct OnArray {
    pub(super) light: f64,
    pub(super) shade: f64,
    pub(super) whole: f64,
}

impl Flow {
    /// Voltage at the controller's array terminals, where it measures.
    pub(super) fn array_v_at_input(&self) -> f64 {
        if self.array_a > 0.0 {
            self.input_w / self.array_a
        } else {
            self.array_v
        }
    }
}

impl Runner<'_> {
    /// Solves the plant for one step: array, controller, run, bank and loads.
    pub(super) fn flow(
        &mut self,
        frame: &DayFrame,
        hour: f64,
        air_c: f64,
        on_array: OnArray,
        ready_w: f64,
    ) -> Flow {
        let s = self.scenario;
        let run_ohm = s.run_ohm("controller-battery") + frame.joint_ohm;
        let (v0, r0) = self.bank.line(self.dt_s, true);
        let load_a = self.load_current(frame, hour, air_c);
        let other_a = self.engine_current(frame, hour, (v0, r0), load_a);

        let awake = self.charger.stage != Stage::Off && ready_w > 0.0;
        let ceiling = self.charger.ceiling_v(self.weather.battery_c);
        let side_a = other_a - load_a;
        let solve =
            |v: f64, r: f64| self.output_current(v + r * side_a, r + run_ohm, ready_w, ceiling);
        let (mut amps, mut held) = if awake { solve(v0, r0) } else { (0.0, false) };
        let (mut v, mut r) = (v0, r0);
        if amps + side_a < 0.0 {
            (v, r) = self.bank.line(self.dt_s, false);
            (amps, held) = if awake { solve(v, r) } else { (0.0, false) };
        }
        let bank_a = amps + side_a;
        let bank_v = v + r * bank_a;
        let charge_v = bank_v + run_ohm * amps;
        let (array_v, array_a, input_w) = self.array_side(on_array, amps, charge_v, held);
        self.last_bank_v = bank_v;
        self.last_charge_v = charge_v;
        Flow {
            array_v,
            array_a,
            input_w,
            charge_v,
            charge_a: amps,
            bank_v,
            bank_a,
            load_a,
            other_a,
            run_ohm,
            held,
        }
    }

    /// Current the loads draw, A, at the voltage of the step before. They drop out at the cut-off
    /// and come back well above it.
    fn load_current(&mut self, frame: &DayFrame, hour: f64, air_c: f64) -> f64 {
        let stated = self.scenario.bank.cut_off_v;
        let cut_off_v = self.scenario.faults.cut_off_v.unwrap_or(stated);
        let back_v = if self.loads_on {
            0.0
        } else {
            0.06 * self.scenario.nominal_v
        };
        self.loads_on = self.last_bank_v > cut_off_v + back_v;
        let wanted_w = frame.loads.watts(hour, air_c);
        let reserve_pct = self.scenario.bank.reserve_pct;
        let given_up = self.keep_reserve && 100.0 * self.bank.soc < reserve_pct;
        if self.loads_on && !given_up {
            wanted_w / self.last_bank_v
        } else {
            self.outcome.unserved_j += wanted_w * self.dt_s;
            0.0
        }
    }

    /// Current of the engine's charger, A: its own, as far as the absorption voltage allows on the
    /// bank's line (volts, ohm).
    fn engine_current(&self, frame: &DayFrame, hour: f64, line: (f64, f64), load_a: f64) -> f64 {
        let runs =
            |e: &&Engine| e.day == frame.day && (e.start_h..e.start_h + e.hours).contains(&hour);
        let room_a = (self.scenario.controller.absorption_v - line.0) / line.1 + load_a;
        let engine = self.scenario.engine.iter().find(runs);
        engine.map_or(0.0, |e| e.current_a.min(room_a.max(0.0)))
    }

    /// Current out of the controller into a line `v + r I`: the least of what the sun gives, what
    /// the voltage allows and what the controller may; and whether the voltage it was.
    fn output_current(&self, v: f64, r: f64, ready_w: f64, ceiling: f64) -> (f64, bool) {
        let sun_a = if self.scenario.controller.pwm {
            ready_w / self.last_charge_v
        } else {
            2.0 * ready_w / (v + (v * v + 4.0 * r * ready_w).sqrt())
        };
        let free_a = sun_a.min(self.output_limit_a());
        let volts_a = ((ceiling - v) / r).max(0.0);
        (free_a.min(volts_a), volts_a < free_a)
    }

    /// What the array's terminals see while `amps` leave the controller at `charge_v`:
    /// array voltage and current, and the power at the controller's input.
    fn array_side(
        &self,
        on_array: OnArray,
        amps: f64,
        charge_v: f64,
        held: bool,
    ) -> (f64, f64, f64) {
        let OnArray {
            light,
            shade,
            whole,
        } = on_array;
        let array = &self.scenario.array;
        let ohm = self.scenario.run_ohm("array-controller");
        if light < 1.0 || whole <= 0.0 {
            return (0.0, 0.0, 0.0);
        }
        let (vmp, voc) = panels::string_volts(array, light, self.weather.cell_c);
        if amps <= 0.0 {
            return (voc, 0.0, 0.0);
        }
        if self.scenario.controller.pwm {
            let input_v = charge_v + SWITCH_V;
            let array_a = amps / self.conversion().switched_share();
            return (input_v + array_a * ohm, array_a, input_v * array_a);
        }
        let conversion = self.conversion();
        let needed_w = conversion.input(charge_v * amps);
        let scale = array.true_scale * self.scenario.faults.dirt.unwrap_or(1.0) * whole * shade;
        let best_w =
            panels::label_power(array, light, self.weather.cell_c) * scale * conversion.tracking();
        let used = if held {
            (needed_w / best_w.max(1e-9)).clamp(0.0, 1.0)
        } else {
            1.0
        };
        // Held back, the array climbs from its best voltage toward its open one.
        let at_v = vmp + (voc - vmp) * (1.0 - used).sqrt();
        // Current that brings `needed_w` through the cable from a source at `at_v`.
        let amps_in =
            2.0 * needed_w / (at_v + (at_v * at_v - 4.0 * ohm * needed_w).max(0.0).sqrt());
        (at_v, amps_in, needed_w)
    }
}
