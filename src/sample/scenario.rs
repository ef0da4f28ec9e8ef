//! What a case is made of: the system as its owner wrote it down, and what is true of it.

use chrono::NaiveDate;
use chrono_tz::Tz;

use crate::calendar::Calendar;
use crate::design::Chemistry;

pub(super) use super::wrong::{Faults, Logging};

/// Drop in the array's cable a design may have where it states none, percent of the string's Vmp.
pub(super) const ARRAY_DROP_LIMIT_PCT: f64 = 3.0;

/// One place of a trip.
#[derive(Debug, Clone)]
pub(super) struct Stop {
    /// First day there, counted from 0.
    pub(super) from_day: u32,
    pub(super) latitude: f64,
    pub(super) longitude: f64,
    pub(super) altitude_m: f64,
    pub(super) zone: Tz,
    /// Degrees by which the array truly leans north and east beyond the design's tilt.
    pub(super) lean: (f64, f64),
    pub(super) note: &'static str,
}

/// A panel's label.
#[derive(Debug, Clone, Copy)]
pub(super) struct PanelSpec {
    pub(super) power_w: f64,
    pub(super) vmp_v: f64,
    pub(super) imp_a: f64,
    pub(super) voc_v: f64,
    pub(super) isc_a: f64,
    /// Share per degree.
    pub(super) power_per_degree: f64,
    /// Share per degree.
    pub(super) voc_per_degree: f64,
    pub(super) fuse_a: f64,
}

/// The array.
#[derive(Debug, Clone)]
pub(super) struct ArraySpec {
    pub(super) panel: PanelSpec,
    pub(super) series: u32,
    pub(super) strings: u32,
    pub(super) tilt_deg: f64,
    pub(super) facing_deg: f64,
    pub(super) mounting: &'static str,
    /// Nominal operating cell temperature as mounted; the plant obeys it too.
    pub(super) noct_c: f64,
    pub(super) allowance: f64,
    /// What the array truly gives of its label while healthy.
    pub(super) true_scale: f64,
}

impl ArraySpec {
    /// Short-circuit current of all strings, A.
    pub(super) fn short_circuit_a(&self) -> f64 {
        self.panel.isc_a * f64::from(self.strings)
    }

    /// Label power, W.
    pub(super) fn label_w(&self) -> f64 {
        self.panel.power_w * f64::from(self.series * self.strings)
    }
}

/// A cable run.
#[derive(Debug, Clone)]
pub(super) struct CableSpec {
    pub(super) run: &'static str,
    pub(super) length_m: f64,
    pub(super) size_mm2: f64,
    pub(super) joints_mohm: f64,
    pub(super) fuse_a: Option<f64>,
    pub(super) ampacity_a: Option<f64>,
}

impl CableSpec {
    /// Both conductors at 30 C and the joints, ohm. Class-5 conductor values of IEC 60228 at 20 C.
    pub(super) fn ohm(&self) -> f64 {
        const CLASS_5: [(f64, f64); 9] = [
            (2.5, 7.98),
            (4.0, 4.95),
            (6.0, 3.30),
            (10.0, 1.91),
            (16.0, 1.21),
            (25.0, 0.780),
            (35.0, 0.554),
            (50.0, 0.386),
            (70.0, 0.272),
        ];
        let per_km = CLASS_5
            .iter()
            .find(|row| (row.0 - self.size_mm2).abs() < 0.01)
            .map_or(17.24 * 1.12 / self.size_mm2, |row| row.1);
        (2.0 * self.length_m * per_km * 1.0393 + self.joints_mohm) / 1000.0
    }
}

/// The charge controller.
#[derive(Debug, Clone)]
pub(super) struct ControllerSpec {
    pub(super) pwm: bool,
    pub(super) max_input_v: f64,
    /// Where the design states one.
    pub(super) max_input_a: Option<f64>,
    pub(super) max_output_a: f64,
    pub(super) efficiency: f64,
    pub(super) absorption_v: f64,
    pub(super) absorption_h: f64,
    pub(super) float_v: f64,
    /// mV per degree and 12 V.
    pub(super) compensation_mv: f64,
    pub(super) equalise: Option<Equalise>,
}

/// A planned charge of flooded cells well above absorption, after absorption of one day.
#[derive(Debug, Clone, Copy)]
pub(super) struct Equalise {
    pub(super) volts: f64,
    pub(super) hours: f64,
    pub(super) day: u32,
}

/// The bank.
#[derive(Debug, Clone)]
pub(super) struct BankSpec {
    pub(super) chemistry: Chemistry,
    pub(super) rated_ah: f64,
    /// What it truly holds.
    pub(super) true_ah: f64,
    pub(super) cells: u32,
    /// Ohmic resistance, ohm.
    pub(super) r0_ohm: f64,
    pub(super) reserve_pct: f64,
    /// Share of capacity.
    pub(super) full_current: f64,
    pub(super) max_days_between_full: f64,
    pub(super) max_charge_a: f64,
    pub(super) cut_off_v: f64,
    /// True state of charge at the first row, share.
    pub(super) start_soc: f64,
}

impl BankSpec {
    /// Nominal voltage over 12 V.
    fn units(&self) -> f64 {
        f64::from(self.cells) / if self.chemistry.is_lead() { 6.0 } else { 4.0 }
    }

    /// The most resistance a healthy bank of this kind has, ohm (trade reference 6.8, for 100 Ah and
    /// 12 V: lithium 8 mohm, AGM and gel 6, flooded 9).
    pub(super) fn highest_usual_ohm(&self) -> f64 {
        let for_100_ah = match self.chemistry {
            Chemistry::Lfp | Chemistry::Nmc => 0.008,
            Chemistry::Agm | Chemistry::Gel => 0.006,
            Chemistry::Flooded => 0.009,
        };
        for_100_ah * self.units() * 100.0 / self.rated_ah
    }

    /// The low end of what a healthy bank gives back of its charge (trade reference 6.5).
    pub(super) fn lowest_usual_efficiency(&self) -> f64 {
        match self.chemistry {
            Chemistry::Lfp | Chemistry::Nmc => 0.99,
            Chemistry::Agm | Chemistry::Gel => 0.90,
            Chemistry::Flooded => 0.80,
        }
    }

    /// Voltage below which its cells must not go, V.
    pub(super) fn cell_limit_v(&self) -> f64 {
        let cell_v = match self.chemistry {
            Chemistry::Lfp => 2.5,
            Chemistry::Nmc => 3.0,
            Chemistry::Agm | Chemistry::Gel | Chemistry::Flooded => 1.75,
        };
        cell_v * f64::from(self.cells)
    }

    /// Between which temperatures it may be charged, C.
    pub(super) fn charge_limits_c(&self) -> (f64, f64) {
        if self.chemistry.is_lead() {
            (-15.0, 45.0)
        } else {
            (0.0, 45.0)
        }
    }
}

/// How a load behaves through the day.
#[derive(Debug, Clone, Copy)]
pub(super) enum Pattern {
    /// On all the time.
    Always,
    /// A thermostat's cycle of so many minutes.
    Cycle(f64),
    /// One block a day that begins somewhere between two hours.
    Block(f64, f64),
}

/// One load: a line of the budget, and how it is really used.
#[derive(Debug, Clone)]
pub(super) struct LoadSpec {
    pub(super) name: &'static str,
    pub(super) power_w: f64,
    /// Budgeted running hours a day.
    pub(super) hours: f64,
    pub(super) when: &'static str,
    pub(super) inverter: bool,
    pub(super) pattern: Pattern,
    /// True use over budgeted use.
    pub(super) factor: f64,
}

/// An inverter.
#[derive(Debug, Clone, Copy)]
pub(super) struct InverterSpec {
    pub(super) efficiency: f64,
    pub(super) idle_w: f64,
    pub(super) hours: f64,
}

/// A stretch of charging from something else than the sun.
#[derive(Debug, Clone, Copy)]
pub(super) struct Engine {
    pub(super) day: u32,
    pub(super) start_h: f64,
    pub(super) hours: f64,
    pub(super) current_a: f64,
}

/// Something that throws a shadow from a sector of the sky.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shade {
    pub(super) azimuth_from: f64,
    pub(super) azimuth_to: f64,
    /// The shadow falls while the sun is lower than this.
    pub(super) below_deg: f64,
    /// Share of each string's bypass sections in the shadow.
    pub(super) sections: f64,
}

impl Shade {
    /// Whether the sun stands behind it.
    pub(super) fn covers(&self, azimuth: f64, elevation: f64) -> bool {
        (self.azimuth_from..self.azimuth_to).contains(&azimuth) && elevation < self.below_deg
    }
}

/// A whole case.
#[derive(Debug, Clone)]
pub(super) struct Scenario {
    pub(super) case: &'static str,
    pub(super) system: &'static str,
    pub(super) story: &'static str,
    pub(super) nominal_v: f64,
    pub(super) first_day: NaiveDate,
    pub(super) days: u32,
    /// A letter a day, repeated where the trip is longer.
    pub(super) weather: &'static str,
    /// Mean air temperature and half the swing between night and day, C.
    pub(super) air_c: (f64, f64),
    /// Degrees by which the bank's place is warmer than the air.
    pub(super) locker_c: f64,
    /// Temperature the plan reckons with.
    pub(super) plan_air_c: f64,
    pub(super) sun_hours: f64,
    pub(super) record_low_c: f64,
    pub(super) stops: Vec<Stop>,
    pub(super) array: ArraySpec,
    pub(super) controller: ControllerSpec,
    pub(super) bank: BankSpec,
    pub(super) cables: Vec<CableSpec>,
    pub(super) inverter: Option<InverterSpec>,
    pub(super) loads: Vec<LoadSpec>,
    /// Days on which hardly anyone is there: from, to (not included), share of the usual use.
    pub(super) quiet: (u32, u32, f64),
    pub(super) engine: Vec<Engine>,
    pub(super) events: Vec<(u32, &'static str)>,
    /// Name and cost of an upgrade: one more string.
    pub(super) upgrade: (&'static str, f64),
    pub(super) faults: Faults,
    pub(super) logging: Logging,
    pub(super) seed: u64,
}

impl Scenario {
    /// The cable of a run, ohm.
    pub(super) fn run_ohm(&self, run: &str) -> f64 {
        self.cables
            .iter()
            .find(|c| c.run == run)
            .map_or(0.0, CableSpec::ohm)
    }

    /// Drop in the array's cable at the strings' best current, percent of the string's Vmp.
    pub(super) fn array_drop_pct(&self) -> f64 {
        let panel = &self.array.panel;
        let amps = panel.imp_a * f64::from(self.array.strings);
        let volts = panel.vmp_v * f64::from(self.array.series);
        100.0 * amps * self.run_ohm("array-controller") / volts
    }

    /// Open voltage of a string in the record cold, V.
    pub(super) fn cold_voc_v(&self) -> f64 {
        let panel = &self.array.panel;
        let cold = 1.0 + panel.voc_per_degree * (self.record_low_c - 25.0);
        f64::from(self.array.series) * panel.voc_v * cold
    }

    /// Current of the array and the controller's limit it passes, A: a switching controller must
    /// bear 1.25 times the short-circuit current, an input what its label says.
    pub(super) fn undersized_controller(&self) -> Option<(f64, f64)> {
        let amps = self.array.short_circuit_a();
        let rated = self.controller.max_output_a;
        let input = self.controller.max_input_a.filter(|limit| amps > *limit);
        input
            .map(|limit| (amps, limit))
            .or((self.controller.pwm && 1.25 * amps > rated).then_some((1.25 * amps, rated)))
    }

    /// A run that carries more than its stated ampacity: the run, its current and the ampacity, A.
    pub(super) fn undersized_cable(&self) -> Option<(&'static str, f64, f64)> {
        self.cables.iter().find_map(|cable| {
            let amps = match cable.run {
                "array-controller" => self.array.short_circuit_a(),
                "controller-battery" => self.controller.max_output_a,
                _ => return None,
            };
            let ampacity = cable.ampacity_a.filter(|a| amps > *a)?;
            Some((cable.run, amps, ampacity))
        })
    }

    /// A fuse above its cable's ampacity: the run, the fuse and the ampacity, A.
    pub(super) fn unsuitable_fuse(&self) -> Option<(&'static str, f64, f64)> {
        self.cables.iter().find_map(|cable| {
            let (fuse, ampacity) = (cable.fuse_a?, cable.ampacity_a?);
            (fuse > ampacity).then_some((cable.run, fuse, ampacity))
        })
    }

    /// The date of a day of the trip.
    pub(super) fn date(&self, day: u32) -> NaiveDate {
        self.first_day + chrono::Days::new(u64::from(day))
    }

    /// The stop that holds on a day.
    pub(super) fn stop(&self, day: u32) -> &Stop {
        let i = self.stops.partition_point(|s| s.from_day <= day);
        &self.stops[i.saturating_sub(1)]
    }

    /// The local days of the trip.
    pub(super) fn calendar(&self) -> Calendar {
        let base = self.stops[0].zone;
        let changes = self.stops[1..]
            .iter()
            .map(|s| {
                (
                    Calendar::fixed(s.zone).start_of(self.date(s.from_day)),
                    s.zone,
                )
            })
            .collect();
        Calendar::with_changes(base, changes)
    }

    /// Share of the usual use on a day.
    pub(super) fn presence(&self, day: u32) -> f64 {
        let (from, to, share) = self.quiet;
        if (from..to).contains(&day) {
            share
        } else {
            1.0
        }
    }

    /// Drops what a shorter trip no longer comes to: later stops, events, runs of the engine, gaps
    /// and faults.
    pub(super) fn keep_within_trip(&mut self) {
        let days = self.days;
        self.stops.retain(|s| s.from_day < days);
        self.events.retain(|e| e.0 < days);
        self.engine.retain(|e| e.day < days);
        self.logging.gaps.retain(|g| g.0 < days);
        self.controller.equalise = self.controller.equalise.filter(|e| e.day < days);
        self.faults.keep_within(days);
    }

    /// What the budget has running all day, W at the bank.
    pub(super) fn standing_w(&self) -> f64 {
        let all_day = self.loads.iter().filter(|l| l.hours >= 24.0);
        all_day.map(|l| l.power_w).sum()
    }

    /// What the owner budgeted, Wh a day at the bank.
    pub(super) fn budget_wh(&self) -> f64 {
        let lines: f64 = self
            .loads
            .iter()
            .map(|l| {
                let share = match self.inverter {
                    Some(i) if l.inverter => i.efficiency,
                    _ => 1.0,
                };
                l.power_w * l.hours / share
            })
            .sum();
        lines + self.inverter.map_or(0.0, |i| i.idle_w * i.hours)
    }
}
