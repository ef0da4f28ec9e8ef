//! The controller's charging programme: bulk, absorption by a timer, float, and back.

use super::scenario::{ControllerSpec, Equalise, Faults};

/// Where the programme stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stage {
    /// Too dark.
    Off,
    /// All that comes goes in.
    Bulk,
    /// Voltage held high.
    Absorption,
    /// Voltage held low.
    Float,
    /// Voltage held far above absorption, for flooded cells.
    Equalise,
}

impl Stage {
    /// The word in the log.
    pub(super) fn word(self) -> &'static str {
        match self {
            Stage::Off => "off",
            Stage::Bulk => "bulk",
            Stage::Absorption => "absorption",
            Stage::Float => "float",
            Stage::Equalise => "equalise",
        }
    }
}

/// The programme with its clocks.
#[derive(Debug, Clone)]
pub(super) struct Charger {
    /// Stage now.
    pub(super) stage: Stage,
    absorption_v: f64,
    float_v: f64,
    absorption_s: f64,
    /// Bank current that ends absorption before its time, A.
    ends_a: f64,
    equalise: Option<Equalise>,
    compensation_v: f64,
    /// Nominal voltage over 12 V.
    units: f64,
    absorbed_s: f64,
    /// How long the current has been below what ends absorption, s.
    tail_s: f64,
    equalised_s: f64,
    /// Day of the trip.
    day: u32,
    low_s: f64,
    dark_s: f64,
}

impl Charger {
    /// As set, faults included.
    pub(super) fn new(spec: &ControllerSpec, faults: &Faults, nominal_v: f64) -> Self {
        let units = nominal_v / 12.0;
        let set_v = faults.set_v.unwrap_or(spec.absorption_v);
        // It holds what it reads.
        let more_v = faults.controller_reads_low_v.unwrap_or(0.0);
        Self {
            stage: Stage::Off,
            absorption_v: set_v + more_v,
            float_v: spec.float_v.min(set_v) + more_v,
            absorption_s: spec.absorption_h * 3600.0,
            ends_a: faults.absorption_ends_a.unwrap_or(f64::NEG_INFINITY),
            equalise: spec.equalise,
            compensation_v: spec.compensation_mv / 1000.0 * units,
            units,
            absorbed_s: 0.0,
            tail_s: 0.0,
            equalised_s: 0.0,
            day: 0,
            low_s: 0.0,
            dark_s: 1.0e9,
        }
    }

    /// A new day of the trip begins.
    pub(super) fn begin_day(&mut self, day: u32) {
        self.day = day;
    }

    /// Wakes with the light and sleeps without it; a new morning begins a new programme.
    pub(super) fn wake(&mut self, available_w: f64, dt_s: f64) {
        if self.stage == Stage::Off {
            self.dark_s += dt_s;
            if available_w > 3.0 {
                if self.dark_s > 7_200.0 {
                    self.absorbed_s = 0.0;
                }
                self.stage = Stage::Bulk;
                self.dark_s = 0.0;
                self.low_s = 0.0;
            }
        } else if available_w < 1.0 {
            self.stage = Stage::Off;
        }
    }

    /// Voltage it will not go above now, V, at a battery temperature.
    pub(super) fn ceiling_v(&self, battery_c: f64) -> f64 {
        let set = match (self.stage, self.equalise) {
            (Stage::Float, _) => self.float_v,
            (Stage::Equalise, Some(equalise)) => equalise.volts,
            _ => self.absorption_v,
        };
        set + self.compensation_v * (battery_c - 25.0)
    }

    /// Moves the programme on after `dt_s` at output voltage `volts` with `bank_a` into the bank;
    /// `held` where the voltage, not the sun, set the current.
    pub(super) fn advance(
        &mut self,
        volts: f64,
        held: bool,
        bank_a: f64,
        battery_c: f64,
        dt_s: f64,
    ) {
        let ceiling = self.ceiling_v(battery_c);
        let falls_back = match self.stage {
            Stage::Absorption => volts < ceiling - 0.6 * self.units,
            Stage::Float => volts < ceiling - 0.5 * self.units,
            Stage::Off | Stage::Bulk | Stage::Equalise => false,
        };
        self.low_s = if falls_back { self.low_s + dt_s } else { 0.0 };
        match self.stage {
            Stage::Bulk if held => self.stage = Stage::Absorption,
            Stage::Absorption => {
                if volts > ceiling - 0.1 * self.units {
                    self.absorbed_s += dt_s;
                }
                let tapered = held && bank_a < self.ends_a;
                self.tail_s = if tapered { self.tail_s + dt_s } else { 0.0 };
                if self.absorbed_s >= self.absorption_s || self.tail_s > 120.0 {
                    self.stage = self.after_absorption();
                    self.tail_s = 0.0;
                } else if self.low_s > 300.0 {
                    self.stage = Stage::Bulk;
                }
            }
            Stage::Equalise => {
                self.equalised_s += dt_s;
                if self
                    .equalise
                    .is_none_or(|e| self.equalised_s >= e.hours * 3600.0)
                {
                    self.stage = Stage::Float;
                }
            }
            Stage::Float if self.low_s > 300.0 => {
                self.stage = Stage::Bulk;
                self.absorbed_s = 0.0;
            }
            _ => {}
        }
    }

    /// Float, or the planned equalising where this is its day.
    fn after_absorption(&self) -> Stage {
        match self.equalise {
            Some(e) if e.day == self.day && self.equalised_s < e.hours * 3600.0 => Stage::Equalise,
            _ => Stage::Float,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn absorption_ends_by_the_clock() {
        let spec = ControllerSpec {
            pwm: false,
            max_input_v: 100.0,
            max_input_a: None,
            max_output_a: 30.0,
            efficiency: 0.96,
            absorption_v: 14.2,
            absorption_h: 1.0,
            float_v: 13.5,
            compensation_mv: 0.0,
            equalise: None,
        };
        let mut charger = Charger::new(&spec, &Faults::default(), 12.0);
        charger.wake(50.0, 10.0);
        assert_eq!(charger.stage, Stage::Bulk);
        charger.advance(14.2, true, 20.0, 25.0, 10.0);
        assert_eq!(charger.stage, Stage::Absorption);
        for _ in 0..359 {
            charger.advance(14.2, true, 20.0, 25.0, 10.0);
        }
        assert_eq!(charger.stage, Stage::Absorption);
        charger.advance(14.2, true, 20.0, 25.0, 10.0);
        assert_eq!(charger.stage, Stage::Float);
        assert_eq!(charger.ceiling_v(25.0), 13.5);
    }
}
