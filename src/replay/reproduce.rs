//! Whether the replay gives back the trip as it was logged: without that it gives no advice.

use super::course::{Course, MOMENTS};
use super::plant::Plant;
use super::reference::{GAP, Reference};
use super::run::{Chance, Trace, run};
use crate::design::Design;
use crate::expect::Expectation;
use crate::physics::bank;
use crate::report::weighing::Reproduced;

/// Largest difference of charge through the bank, %.
pub const MOST_AH_PCT: f64 = 3.0;
/// Largest difference of state of charge at the end of a day, points.
pub const MOST_SOC_POINTS: f64 = 5.0;
/// A day counts where this share of it was read.
const LEAST_COVERAGE: f64 = 0.8;
/// Sets the bank's charge efficiency within its usual range to what fits the log best, and says how
/// well the replay then gives back the trip.
pub fn reproduce(
    design: &Design,
    expected: &Expectation,
    course: &Course,
    reference: &Reference,
    plant: &mut Plant,
) -> Reproduced {
    let mut best: Option<(f64, f64, f64, Compared)> = None;
    let mut tried = |plant: &mut Plant, efficiency: f64, gassing: f64| -> Option<f64> {
        (plant.bank.efficiency, plant.bank.gassing) = (efficiency, gassing);
        let compared = compare(expected, course, reference, plant)?;
        let more_in = compared.more_in;
        let error = compared.ah_pct / MOST_AH_PCT + compared.soc_points / MOST_SOC_POINTS;
        if best.as_ref().is_none_or(|b| error < b.2 - 0.02) {
            best = Some((efficiency, gassing, error, compared));
        }
        Some(more_in)
    };
    let usual = bank::coulombic_efficiency(design.battery.chemistry);
    for efficiency in [usual.value, usual.low, usual.high] {
        tried(plant, efficiency, 0.0);
    }
    if design.battery.chemistry.is_lead() {
        for efficiency in BELOW_GASSING {
            let (mut low, mut high) = (0.0, MOST_GASSING);
            for _ in 0..8 {
                let middle = f64::midpoint(low, high);
                match tried(plant, efficiency, middle) {
                    Some(more) if more > 0.0 => high = middle,
                    _ => low = middle,
                }
            }
        }
    }
    let Some((efficiency, gassing, _, compared)) = best else {
        return cannot(
            "no day has enough readings of the bank's current and its state of charge to hold a replay against",
        );
    };
    (plant.bank.efficiency, plant.bank.gassing) = (efficiency, gassing);
    told(&compared, reference)
}

/// Charge that lead stores of charge put in while it does not gas (trade reference 6.5: more than 95 %
/// below four fifths).
const BELOW_GASSING: [f64; 2] = [0.95, 0.98];
/// The last fifth of a charge is where storing falls to nothing at the earliest (the same).
const MOST_GASSING: f64 = 0.2;

/// A replay that was not tried, and why.
pub fn cannot(why: &str) -> Reproduced {
    Reproduced {
        why: why.to_owned(),
        ..Reproduced::default()
    }
}

struct Compared {
    ah_pct: f64,
    /// Charge into the bank, replayed less logged, Ah.
    more_in: f64,
    soc_points: f64,
    worst_day: String,
    days: usize,
}

fn told(compared: &Compared, reference: &Reference) -> Reproduced {
    let ok = compared.ah_pct <= MOST_AH_PCT && compared.soc_points <= MOST_SOC_POINTS;
    let figures = format!(
        "charge through the bank within {:.1} %, state of charge within {:.1} points at the end of each of {} days ({})",
        compared.ah_pct, compared.soc_points, compared.days, reference.from
    );
    let why = if ok {
        format!("The replay gives back the trip as logged: {figures}.")
    } else {
        format!(
            "The replay does not give back the trip as logged: {figures}; at most {MOST_AH_PCT:.0} % and {MOST_SOC_POINTS:.0} points are allowed, and the worst day is {}. Something that the log or the design does not hold moved the bank, so nothing is weighed.",
            compared.worst_day
        )
    };
    Reproduced {
        ah_pct: Some(compared.ah_pct),
        soc_points: Some(compared.soc_points),
        ok,
        why,
    }
}

/// Stretches of days without a long gap, each with the state of charge it begins with.
fn stretches(expected: &Expectation, reference: &Reference) -> Vec<(std::ops::Range<usize>, f64)> {
    let grid = &expected.grid;
    let gap_in = |day: usize| {
        let mut run = 0;
        grid.day(day).any(|m| {
            run = if expected.signals.coverage(m) > 0.2 {
                0
            } else {
                run + 1
            };
            run >= GAP
        })
    };
    let starts_at = |day: usize| grid.day(day).take(MOMENTS).find_map(|m| reference.soc[m]);
    let mut found: Vec<(std::ops::Range<usize>, f64)> = Vec::new();
    let mut open = false;
    for day in 0..grid.dates.len() {
        if gap_in(day) {
            open = false;
            continue;
        }
        match found.last_mut() {
            Some(last) if open => last.0.end = day + 1,
            _ => {
                if let Some(soc) = starts_at(day) {
                    found.push((day..day + 1, soc));
                    open = true;
                }
            }
        }
    }
    found
}

fn compare(
    expected: &Expectation,
    course: &Course,
    reference: &Reference,
    plant: &Plant,
) -> Option<Compared> {
    let amps = expected.signals.bank_a.as_ref()?;
    let grid = &expected.grid;
    let mut ah = [(0.0, 0.0), (0.0, 0.0)];
    let (mut worst, mut worst_day, mut days) = (0.0f64, String::new(), 0);
    for (stretch, start) in stretches(expected, reference) {
        let mut trace = Trace::default();
        let chance = Chance {
            days: stretch.clone().collect(),
            ..Chance::none(plant, 0)
        };
        run(plant, course, start, &chance, Some(&mut trace));
        let mut step = 0;
        for (i, day) in stretch.enumerate() {
            let moments: Vec<usize> = grid.day(day).collect();
            let covered = moments.iter().map(|m| amps.coverage(*m)).sum::<f64>();
            for chunk in moments.chunks(MOMENTS) {
                let logged: f64 = chunk.iter().map(|m| amps.net(*m)).sum();
                let read = chunk.iter().all(|m| amps.coverage(*m) > 0.9);
                let replayed = trace.net_ah[step];
                step += 1;
                if read {
                    ah[0] = (ah[0].0 + logged.max(0.0), ah[0].1 + replayed.max(0.0));
                    ah[1] = (ah[1].0 + (-logged).max(0.0), ah[1].1 + (-replayed).max(0.0));
                }
            }
            let end = moments.last().and_then(|m| reference.soc[*m]);
            if covered < LEAST_COVERAGE * moments.len() as f64 {
                continue;
            }
            let Some(end) = end else { continue };
            days += 1;
            let off = 100.0 * (trace.day_end[i] - end).abs();
            if off >= worst {
                (worst, worst_day) = (off, grid.dates[day].to_string());
            }
        }
    }
    let through = ah[0].0 + ah[1].0;
    if days == 0 || through <= 0.0 {
        return None;
    }
    // Each direction against the mean of both, so that a bank hardly charged does not divide by nothing.
    let pct = |(logged, replayed): (f64, f64)| {
        100.0 * (replayed - logged).abs() / logged.max(through / 4.0)
    };
    Some(Compared {
        ah_pct: pct(ah[0]).max(pct(ah[1])),
        more_in: ah[0].1 - ah[0].0,
        soc_points: worst,
        worst_day,
        days,
    })
}
