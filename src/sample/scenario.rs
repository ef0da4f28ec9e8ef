//! What a case is made of: the system as its owner wrote it down, and what is true of it.

use std::borrow::Cow;

use chrono::NaiveDate;
use chrono_tz::Tz;

use crate::calendar::Calendar;
use crate::design::Chemistry;

pub(super) use super::wrong::{Faults, Logging};

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
    /// Share of a charging current that it stores while it is not nearly full.
    pub(super) sound_share: f64,
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
    pub(super) weather: Cow<'static, str>,
    /// Share of the beam that one vertical air mass lets through on an ordinary day there: what a "clear
    /// sky" means where no day is named.
    pub(super) haze: f64,
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
