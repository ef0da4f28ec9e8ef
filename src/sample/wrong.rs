//! What is wrong with a trip, and how its meters and loggers see the plant.

use super::scenario::Shade;

/// What is wrong. All `None`: healthy.
#[derive(Debug, Clone, Default)]
pub(super) struct Faults {
    /// Resistance beyond the design in the controller-battery run, mohm, and its first day.
    pub(super) joint: Option<(f64, u32)>,
    /// Share of the strings out, first day and the day it is whole again.
    pub(super) strings_out: Option<(f64, u32, u32)>,
    /// The array's breaker is off: day, from hour, to hour.
    pub(super) breaker_off: Option<(u32, f64, f64)>,
    /// What dirt leaves of the light, share.
    pub(super) dirt: Option<f64>,
    /// Shadow.
    pub(super) shade: Option<Shade>,
    /// Output current the controller really stops at, A.
    pub(super) limit_a: Option<f64>,
    /// Bank current at which the controller really ends absorption, A.
    pub(super) absorption_ends_a: Option<f64>,
    /// Absorption voltage the controller is really set to, V.
    pub(super) set_v: Option<f64>,
    /// How a meter calls full what is not.
    pub(super) false_full: Option<FalseFull>,
    /// Factor on every load.
    pub(super) heavy_use: Option<f64>,
    /// Power of something always on that no budget knows of, W.
    pub(super) standby_w: Option<f64>,
    /// Voltage at which the loads really drop out, V.
    pub(super) cut_off_v: Option<f64>,
    /// Current a worn lead bank turns to gas and heat at 2.4 V a cell and 25 C, A.
    pub(super) gassing_a: Option<f64>,
    /// Share of the charge that leaks away beside what such a bank always loses.
    pub(super) leak: Option<f64>,
    /// Ampere the shunt reads beside the truth.
    pub(super) shunt_offset_a: Option<f64>,
    /// Share by which the shunt reads more than there is.
    pub(super) shunt_gain: Option<f64>,
    /// The logged current has discharge positive.
    pub(super) shunt_reversed: bool,
    /// Volts by which the controller reads less than there is; it charges by that reading.
    pub(super) controller_reads_low_v: Option<f64>,
}

impl Faults {
    /// Drops what a shorter trip no longer comes to.
    pub(super) fn keep_within(&mut self, days: u32) {
        self.joint = self.joint.filter(|f| f.1 < days);
        self.strings_out = self.strings_out.filter(|f| f.1 < days);
        self.breaker_off = self.breaker_off.filter(|f| f.0 < days);
    }

    /// Share of the strings at work at an hour of a day.
    pub(super) fn whole(&self, day: u32, hour: f64) -> f64 {
        match (self.breaker_off, self.strings_out) {
            (Some((at, from, to)), _) if day == at && (from..to).contains(&hour) => 0.0,
            (_, Some((share, from, to))) if (from..to).contains(&day) => 1.0 - share,
            _ => 1.0,
        }
    }
}

/// A meter's own rule for "full", set badly.
#[derive(Debug, Clone, Copy)]
pub(super) struct FalseFull {
    /// Voltage that must be reached, V.
    pub(super) volts: f64,
    /// Current that must not be passed, share of capacity.
    pub(super) current_share: f64,
    /// For so long.
    pub(super) minutes: f64,
    /// Points below full from which it looks.
    pub(super) from_points: f64,
}

/// How meters and loggers see the plant.
#[derive(Debug, Clone)]
pub(super) struct Logging {
    pub(super) bank_step_s: u32,
    pub(super) controller_step_s: u32,
    /// Seconds each log's clock is ahead.
    pub(super) clock_s: (i64, i64),
    /// Missing stretches: day, from hour, to hour.
    pub(super) gaps: Vec<(u32, f64, f64)>,
    /// Gain errors of the shunt, the bank's voltmeter and the controller's voltmeter, shares.
    pub(super) gains: (f64, f64, f64),
    /// Volts the controller's voltmeter reads beside the bank's.
    pub(super) volts_apart: f64,
    /// Whether stamps are UTC with a `Z` rather than bare local time.
    pub(super) utc: bool,
    /// Whether there is a bank monitor's log.
    pub(super) bank: bool,
    /// Whether there is a controller's log.
    pub(super) controller: bool,
    /// Whether the controller logs its output voltage.
    pub(super) charge_volts: bool,
    /// Whether the controller logs the loads' current.
    pub(super) loads: bool,
}
