//! Full charges, and charge counted anew between them.
//!
//! Full means the voltage held, the bank's own current small, and long enough. A meter's "100 %" and a
//! controller's float lamp prove nothing.

use crate::calendar::Calendar;
use crate::design::Design;
use crate::expect::Expectation;
use crate::mapping::Role;
use crate::physics::bank;
use crate::timeline::{Series, Timeline};

/// The bank must come this close to the absorption voltage, V per 12 V (contract).
pub const NEAR_ABSORPTION_V: f64 = 0.15;
/// Share of the hold in which it must (trade reference 6.2).
const HELD_SHARE: f64 = 0.9;
/// Two fulls nearer than this are one, s.
const SAME_FULL_S: i64 = 3 * 3600;
/// A shunt's zero error, A, that lets a counted state of charge drift (trade reference: 0.05).
const SHUNT_OFFSET_A: f64 = 0.05;
/// Current that may have flowed unseen in a gap, share of capacity an hour: an ordinary charge or a
/// heavy load.
const UNSEEN_C: f64 = 0.10;

/// Full charges and counted charge.
#[derive(Debug, Clone, PartialEq)]
pub struct Charge {
    /// Whether bank current and voltage were logged, so that a full can be told at all.
    pub can_tell: bool,
    /// First moment (Unix seconds) at which each full charge was confirmed.
    pub fulls: Vec<i64>,
    /// Days (index into the grid's dates) with a full charge.
    pub full_days: Vec<bool>,
    /// Days that would have a full charge if what the design leaves open (the full current, the
    /// temperature compensation) were at the generous end of what is usual for the chemistry.
    pub perhaps_full_days: Vec<bool>,
    /// State of charge counted from the last (else back from the next) full, %, by moment of the grid.
    pub counted_pct: Vec<Option<f64>>,
    /// 90 % half-width of the counted figure, points.
    pub counted_error_pct: Vec<f64>,
}

impl Charge {
    /// Finds the fulls and counts between them.
    pub fn new(
        design: &Design,
        calendar: &Calendar,
        timeline: &Timeline,
        expected: &Expectation,
    ) -> Self {
        let moments = expected.grid.moments;
        let mut charge = Self {
            can_tell: false,
            fulls: Vec::new(),
            full_days: vec![false; expected.grid.dates.len()],
            perhaps_full_days: vec![false; expected.grid.dates.len()],
            counted_pct: vec![None; moments],
            counted_error_pct: vec![0.0; moments],
        };
        let (Some(volts), Some(amps)) = (
            timeline.series(Role::BatteryVoltage),
            timeline.series(Role::BatteryCurrent),
        ) else {
            return charge;
        };
        charge.can_tell = true;
        let logs = Logs {
            timeline,
            volts,
            amps,
        };
        for at in logs.held(design, expected, &Criterion::stated(design)) {
            charge.note_full(calendar, expected, at);
        }
        charge.perhaps_full_days.clone_from(&charge.full_days);
        if let Some(generous) = Criterion::generous(design) {
            for at in logs.held(design, expected, &generous) {
                if let Ok(day) = expected.grid.dates.binary_search(&calendar.date(at - 1)) {
                    charge.perhaps_full_days[day] = true;
                }
            }
        }
        charge.count(design, expected);
        charge
    }

    fn note_full(&mut self, calendar: &Calendar, expected: &Expectation, at: i64) {
        let date = calendar.date(at - 1);
        if let Ok(day) = expected.grid.dates.binary_search(&date) {
            self.full_days[day] = true;
            // One stay at the top is one full charge: its first moment stands for it.
            let same_stay = self
                .fulls
                .last()
                .is_some_and(|last| at - last < SAME_FULL_S || calendar.date(*last - 1) == date);
            if !same_stay {
                self.fulls.push(at);
            }
        }
    }

    /// Counts charge forwards from each full and backwards from the first, with an error that grows with
    /// time (shunt offset), with charge passed (efficiency) and in gaps.
    fn count(&mut self, design: &Design, expected: &Expectation) {
        let Some(amps) = &expected.signals.bank_a else {
            return;
        };
        let grid = &expected.grid;
        let anchors: Vec<usize> = self
            .fulls
            .iter()
            .filter_map(|at| usize::try_from((at - grid.start) / crate::expect::STEP_S).ok())
            .filter(|m| *m < grid.moments)
            .collect();
        let Some(first) = anchors.first().copied() else {
            return;
        };
        let capacity = design.battery.capacity_ah.max(0.1);
        let efficiency = bank::coulombic_efficiency(design.battery.chemistry);
        let drift_per_step = 100.0 * SHUNT_OFFSET_A * grid.step_h() / capacity;
        let unsure = (efficiency.high - efficiency.low) / 2.0;
        let step = |m: usize| 100.0 * (amps.in_h[m] * efficiency.value - amps.out_h[m]) / capacity;
        let unseen = |m: usize| 100.0 * UNSEEN_C * grid.step_h() * (1.0 - amps.coverage(m));
        let error =
            |m: usize| drift_per_step + 100.0 * amps.in_h[m] * unsure / capacity + unseen(m);
        let (mut pct, mut off) = (100.0, 1.0);
        for m in first..grid.moments {
            if anchors.contains(&m) {
                (pct, off) = (100.0, 1.0);
            }
            self.set(m, pct, off);
            pct = f64::min(pct + step(m), 100.0);
            off += error(m);
        }
        (pct, off) = (100.0, 1.0);
        for m in (0..first).rev() {
            pct -= step(m);
            off += error(m);
            self.set(m, pct, off);
        }
    }

    fn set(&mut self, moment: usize, pct: f64, error: f64) {
        // A figure unsure by half the bank is no figure.
        if error < 50.0 {
            self.counted_pct[moment] = Some(pct.clamp(0.0, 100.0));
        }
        self.counted_error_pct[moment] = error;
    }
}

/// A pack that opened jumps by at least this to the set voltage, V per 12 V,
const JUMP_V: f64 = 0.5;
/// taking less than this on the way, share of capacity; one that fills takes some percent from there.
const TAKEN: f64 = 0.005;
/// This much drawn since the last full charge, share of capacity,
const DRAWN: f64 = 0.03;
/// with less than this share of it put back, is not full, whatever a meter's zero does.
const PUT_BACK: f64 = 0.5;

/// A current this small is none: sums of many readings are no more exact, A.
const NOTHING_A: f64 = 1e-6;

/// What counts as full.
struct Criterion {
    /// Highest current into the bank, A.
    full_a: f64,
    /// Whether the voltage is compensated for temperature.
    compensated: bool,
}

impl Criterion {
    /// As the design says, defaults included.
    fn stated(design: &Design) -> Self {
        Self {
            full_a: design.battery.full_current_a,
            compensated: true,
        }
    }

    /// What the design leaves to defaults taken generously; `None` where it leaves nothing open.
    fn generous(design: &Design) -> Option<Self> {
        let open = |key: &str| design.assumed.iter().any(|a| a.key == key);
        let (current, compensation) = (
            open("battery.full_current"),
            open("controller.compensation"),
        );
        let usual = bank::full_current_share(design.battery.chemistry);
        (current || compensation).then_some(Self {
            full_a: if current {
                usual.high * design.battery.capacity_ah
            } else {
                design.battery.full_current_a
            },
            compensated: !compensation,
        })
    }
}

/// The bank's own logs.
struct Logs<'a> {
    timeline: &'a Timeline,
    volts: &'a Series,
    amps: &'a Series,
}

impl Logs<'_> {
    /// Ends of bins (Unix seconds) at which the criterion had been met for as long as it must.
    fn held(&self, design: &Design, expected: &Expectation, full: &Criterion) -> Vec<i64> {
        let (timeline, amps) = (self.timeline, self.amps);
        let hold_s = (bank::full_hold_min(design.battery.chemistry) * 60.0) as i64;
        let bins = (hold_s / timeline.bin_s).max(1) as usize;
        let above = |bin: usize| {
            let at = timeline.time_of(bin);
            let shift = if full.compensated {
                compensation_at(design, expected, at)
            } else {
                0.0
            };
            let least = expected.absorption_v + shift - near_v(design);
            self.volts.mean(bin).is_some_and(|v| v >= least)
        };
        // A lithium bank too cold to be charged refuses, at any voltage, and takes nothing for it; one without
        // such a guard is filled all the same.
        let open_a = bank::most_through_an_open_pack_a(design.battery.capacity_ah);
        let refuses = |bin: usize| {
            let moment =
                (timeline.time_of(bin) - expected.grid.start).div_euclid(crate::expect::STEP_S);
            let bank_c = expected.signals.bank_c.as_ref();
            let here_c = usize::try_from(moment).ok().and_then(|m| bank_c?.mean(m));
            !design.battery.chemistry.is_lead()
                && here_c.is_some_and(|c| c <= design.battery.charge_from_c)
                && amps.mean(bin).is_none_or(|a| a <= open_a)
        };
        let held: Vec<bool> = (0..timeline.bins)
            .map(|bin| above(bin) && !refuses(bin))
            .collect();
        let mut found = Vec::new();
        let mut in_window = 0usize;
        let (mut ah, mut covered_s) = (0.0, 0.0);
        for bin in 0..timeline.bins {
            in_window += usize::from(held[bin]);
            ah += amps.in_h[bin] - amps.out_h[bin];
            covered_s += f64::from(amps.covered_s[bin]);
            if bin >= bins {
                in_window -= usize::from(held[bin - bins]);
                ah -= amps.in_h[bin - bins] - amps.out_h[bin - bins];
                covered_s -= f64::from(amps.covered_s[bin - bins]);
            }
            let whole = bin + 1 >= bins && covered_s >= HELD_SHARE * hold_s as f64;
            let enough = in_window as f64 >= HELD_SHARE * bins as f64 && held[bin];
            let mean_a = ah * 3600.0 / covered_s.max(1.0);
            if whole && enough && (-NOTHING_A..=full.full_a).contains(&mean_a) {
                found.push(bin);
            }
        }
        if !design.battery.chemistry.is_lead() {
            self.drop_refused(design, expected, &mut found);
        }
        found.iter().map(|bin| timeline.time_of(bin + 1)).collect()
    }

    /// Leaves out the bins in which a lithium pack had opened: its voltage jumps to the set one and it takes
    /// nothing on the way, though much was drawn since it was last full and little of it put back.
    fn drop_refused(&self, design: &Design, expected: &Expectation, found: &mut Vec<usize>) {
        let capacity = design.battery.capacity_ah;
        let low_v = expected.absorption_v - JUMP_V * design.nominal_v() / 12.0;
        let moved = |of: &[f64], bins: std::ops::Range<usize>| of[bins].iter().sum::<f64>();
        let (mut full, mut seen) = (0, None);
        found.retain(|bin| {
            // What is said of the beginning of a stay holds for all of it.
            if let Some((last, is_full)) = seen
                && last + 1 == *bin
            {
                seen = Some((*bin, is_full));
                full = if is_full { *bin } else { full };
                return is_full;
            }
            let below = |b: &usize| self.volts.mean(*b).is_some_and(|v| v < low_v);
            let rising = (full..*bin).rev().find(below).unwrap_or(full);
            let drawn = moved(&self.amps.out_h, full..*bin);
            let hold_h = bank::full_hold_min(design.battery.chemistry) / 60.0;
            let bins = (hold_h / self.timeline.bin_h()).max(1.0) as usize;
            let now_a = moved(&self.amps.in_h, (bin + 1).saturating_sub(bins)..bin + 1) / hold_h;
            let refused = now_a <= bank::most_through_an_open_pack_a(capacity)
                && drawn > DRAWN * capacity
                && moved(&self.amps.in_h, full..*bin) < PUT_BACK * drawn
                && moved(&self.amps.in_h, rising..*bin) < TAKEN * capacity;
            seen = Some((*bin, !refused));
            full = if refused { full } else { *bin };
            !refused
        });
    }
}

/// How close to absorption the bank must come, V.
fn near_v(design: &Design) -> f64 {
    NEAR_ABSORPTION_V * design.nominal_v() / 12.0
}

/// What temperature compensation adds to the set point at an instant, V.
fn compensation_at(design: &Design, expected: &Expectation, at: i64) -> f64 {
    let moment = (at - expected.grid.start).div_euclid(crate::expect::STEP_S);
    usize::try_from(moment).ok().map_or(0.0, |m| {
        crate::expect::setpoints::compensation_v(design, &expected.signals, m)
    })
}

/// Bank voltage above which the bank counts as held at absorption, V, compensated for temperature.
pub fn full_above_v(design: &Design, expected: &Expectation, at: i64) -> f64 {
    expected.absorption_v + compensation_at(design, expected, at) - near_v(design)
}
