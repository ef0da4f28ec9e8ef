//! What an owner's instruments and papers make of a trip: the ranges of an account are as wide as real
//! meters err and as designs differ from what was fitted, so whether they hold what was true shows only
//! on meters and designs that err.
//!
//! The truth stays as it was; each error is drawn once a trip, about nothing, with the spread that the
//! trade's tables state.

use std::fs;
use std::path::Path;

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng;
use rand_distr::{Distribution, Normal};

/// Gain of a current meter, standard deviation, share.
const CURRENT_GAIN: f64 = 0.01;
/// Voltmeters, standard deviation, V per 12 V.
const VOLTS: f64 = 0.03;
/// Zero of a shunt, standard deviation, A.
const SHUNT_ZERO_A: f64 = 0.05;
/// A run as laid against its length on paper, standard deviation, share.
const LENGTH: f64 = 0.10;
/// A panel's temperature as mounted against its design's, standard deviation, degrees.
const NOCT_C: f64 = 2.0;
/// A label's loss by heat against the panel's own, standard deviation, share of it.
const PER_DEGREE: f64 = 0.05;

/// What is wrong with a trip's meters.
struct Meters {
    bank_gain: f64,
    bank_zero_a: f64,
    bank_volts: f64,
    charge_gain: f64,
    charge_volts: f64,
    array_gain: f64,
}

/// Rewrites logs and design of a trip as such meters and such an owner would have written them.
pub(crate) fn read_by_them(folder: &Path, seed: u64) {
    let design = folder.join("design.toml");
    let text = fs::read_to_string(&design).unwrap();
    // Each case has other meters than the next, at the same seed too.
    let case: u64 = text.bytes().map(u64::from).sum();
    let mut chance = ChaCha8Rng::seed_from_u64(case << 32 ^ seed);
    let normal = Normal::new(0.0, 1.0).unwrap();
    let mut draw = || normal.sample(&mut chance);
    let units = nominal_v(&text) / 12.0;
    let meters = Meters {
        bank_gain: 1.0 + CURRENT_GAIN * draw(),
        bank_zero_a: SHUNT_ZERO_A * draw(),
        bank_volts: units * VOLTS * draw(),
        charge_gain: 1.0 + CURRENT_GAIN * draw(),
        charge_volts: units * VOLTS * draw(),
        array_gain: 1.0 + CURRENT_GAIN * draw(),
    };
    let written: String = text
        .lines()
        .map(|line| as_written(line, &mut draw) + "\n")
        .collect();
    fs::write(&design, written).unwrap();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_some_and(|e| e == "csv") {
            let log = fs::read_to_string(&path).unwrap();
            fs::write(&path, as_metered(&log, &meters)).unwrap();
        }
    }
}

fn nominal_v(design: &str) -> f64 {
    let table: toml::Table = design.parse().unwrap();
    let nominal = table["system"]["nominal"].as_str().unwrap();
    nominal.split(' ').next().unwrap().parse().unwrap()
}

/// A line of the design with what an owner measures or copies wrongly.
fn as_written(line: &str, draw: &mut impl FnMut() -> f64) -> String {
    let key = line.split(" = ").next().unwrap_or("");
    match key {
        "length" => with_number(line, |m| m * (1.0 + LENGTH * draw()).max(0.5)),
        "noct" => with_number(line, |c| c + NOCT_C * draw()),
        "power_per_degree" => with_number(line, |share| share * (1.0 + PER_DEGREE * draw())),
        _ => line.to_owned(),
    }
}

/// A line with another number in its quotes.
fn with_number(line: &str, change: impl FnOnce(f64) -> f64) -> String {
    let (before, rest) = line.split_once('"').unwrap();
    let (number, after) = rest.split_once(' ').unwrap();
    let changed = change(number.parse().unwrap());
    format!("{before}\"{changed:.4} {after}")
}

/// A log as its meters show it.
fn as_metered(log: &str, meters: &Meters) -> String {
    let mut lines = log.lines();
    let header = lines.next().unwrap();
    let titles: Vec<&str> = header.split(',').collect();
    let mut out = format!("{header}\n");
    for line in lines {
        let cells: Vec<String> = line
            .split(',')
            .zip(&titles)
            .map(|(cell, title)| shown(cell, title, meters))
            .collect();
        out.push_str(&cells.join(","));
        out.push('\n');
    }
    out
}

fn shown(cell: &str, title: &str, meters: &Meters) -> String {
    let Ok(value) = cell.parse::<f64>() else {
        return cell.to_owned();
    };
    // No meter makes a current of none: a controller that is off says so.
    let charging = |gain: f64| if value > 0.0 { value * gain } else { value };
    match title {
        "battery voltage (V)" => format!("{:.2}", value + meters.bank_volts),
        "battery current (A)" => {
            format!("{:.2}", value * meters.bank_gain + meters.bank_zero_a)
        }
        "charge voltage (V)" => format!("{:.2}", value + meters.charge_volts),
        "charge current (A)" => format!("{:.1}", charging(meters.charge_gain)),
        "panel current (A)" => format!("{:.2}", charging(meters.array_gain)),
        "panel power (W)" => format!("{:.1}", charging(meters.array_gain)),
        _ => cell.to_owned(),
    }
}
