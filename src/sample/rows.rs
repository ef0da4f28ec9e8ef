//! The rows of the logs: what the meters show of each step.

use super::charger::Stage;
use super::flow::Flow;
use super::meters::rounded;
use super::run::Runner;

/// A row as the meters showed it, at a true instant.
#[derive(Debug, Clone)]
pub(super) struct Row<T> {
    /// True instant, Unix seconds.
    pub(super) at: i64,
    pub(super) shown: T,
}

/// What the bank monitor shows.
#[derive(Debug, Clone, Copy)]
pub(super) struct BankRow {
    pub(super) volts: f64,
    pub(super) amps: f64,
    pub(super) soc_pct: f64,
    pub(super) battery_c: f64,
}

/// What the controller shows.
#[derive(Debug, Clone, Copy)]
pub(super) struct ControllerRow {
    pub(super) array_v: f64,
    pub(super) array_a: f64,
    pub(super) array_w: f64,
    pub(super) charge_v: f64,
    pub(super) charge_a: f64,
    /// 0 where it is not logged.
    pub(super) load_a: f64,
    pub(super) stage: Stage,
}

impl Runner<'_> {
    /// Shows the step to the meters and writes rows where a log's step falls.
    pub(super) fn show(&mut self, t: i64, flow: &Flow, gap: bool) {
        let (volts, amps) = (flow.bank_v, self.meters.shunt(flow.bank_a));
        let truly = self.bank.soc;
        let off = (self.counter.soc_pct() - 100.0 * truly.clamp(0.0, 1.0)).abs();
        self.outcome.meter_off_pct = self.outcome.meter_off_pct.max(off);
        if let Some(jump) = self.counter.count(volts, amps, self.dt_s)
            && truly < 0.95
        {
            self.outcome.false_full.push(t);
            self.outcome.worst_jump_pct = self
                .outcome
                .worst_jump_pct
                .max(jump.max(100.0 * (1.0 - truly)));
        }
        let logging = &self.scenario.logging;
        let stage = self.charger.stage;
        if logging.bank && t % i64::from(logging.bank_step_s) == 0 {
            let (volts, amps) = self
                .meters
                .bank(flow.bank_v, flow.bank_a, &mut self.meter_dice);
            let shown = BankRow {
                volts,
                amps,
                soc_pct: rounded(self.counter.soc_pct(), 10.0),
                battery_c: rounded(self.weather.battery_c, 10.0),
            };
            if !gap {
                self.outcome.bank_rows.push(Row { at: t, shown });
            }
        }
        if logging.controller && t % i64::from(logging.controller_step_s) == 0 {
            let (array_v, array_a, array_w) =
                self.meters
                    .array(flow.array_v_at_input(), flow.array_a, &mut self.meter_dice);
            let (charge_v, charge_a) =
                self.meters
                    .output(flow.charge_v, flow.charge_a, &mut self.meter_dice);
            let load_a = if logging.loads {
                self.meters.loads(flow.load_a, &mut self.meter_dice)
            } else {
                0.0
            };
            let shown = ControllerRow {
                array_v,
                array_a,
                array_w,
                charge_v,
                charge_a,
                load_a,
                stage,
            };
            if !gap {
                self.outcome.controller_rows.push(Row { at: t, shown });
            }
        }
    }
}
