//! Voltage of a cell at rest against its state of charge, about 25 C.
//!
//! The tables are averages of their chemistry. Honest tables of lead differ by 0.05 V for six
//! cells, and between 30 and 95 % a lithium iron phosphate cell moves less than a field meter's
//! error; so a reading is always given with the range that such an error leaves.

use crate::design::Chemistry;

/// Share of charge against volts of six cells: flooded lead, after the battery trade's own table.
const FLOODED_6: [(f64, f64); 5] = [
    (0.0, 11.89),
    (0.25, 12.06),
    (0.50, 12.24),
    (0.75, 12.45),
    (1.0, 12.65),
];
/// Absorbed glass mat, six cells; typical values, 0.1 V either way.
const AGM_6: [(f64, f64); 11] = [
    (0.0, 11.65),
    (0.1, 11.85),
    (0.2, 12.00),
    (0.3, 12.12),
    (0.4, 12.22),
    (0.5, 12.32),
    (0.6, 12.42),
    (0.7, 12.52),
    (0.8, 12.62),
    (0.9, 12.74),
    (1.0, 12.85),
];
/// Gel, six cells; typical values, 0.1 V either way.
const GEL_6: [(f64, f64); 5] = [
    (0.0, 11.80),
    (0.25, 12.10),
    (0.5, 12.38),
    (0.75, 12.65),
    (1.0, 12.90),
];
/// Lithium iron phosphate, one cell; typical values, 15 mV either way.
const LFP_1: [(f64, f64); 16] = [
    (0.0, 2.75),
    (0.01, 2.90),
    (0.02, 3.00),
    (0.05, 3.12),
    (0.1, 3.20),
    (0.2, 3.245),
    (0.3, 3.275),
    (0.4, 3.290),
    (0.5, 3.296),
    (0.6, 3.302),
    (0.7, 3.322),
    (0.8, 3.330),
    (0.9, 3.333),
    (0.95, 3.336),
    (0.99, 3.350),
    (1.0, 3.390),
];
/// Lithium nickel manganese cobalt, one cell; typical values. The ends are the usual limits.
const NMC_1: [(f64, f64); 7] = [
    (0.0, 3.00),
    (0.2, 3.45),
    (0.4, 3.60),
    (0.55, 3.70),
    (0.8, 3.90),
    (0.95, 4.10),
    (1.0, 4.20),
];

/// A state of charge read from a rest voltage, shares 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RestReading {
    /// Best reading.
    pub soc: f64,
    /// Least that table and meter allow.
    pub low: f64,
    /// Most that table and meter allow.
    pub high: f64,
}

/// The table of a chemistry and the cells its volts are for.
fn table(chemistry: Chemistry) -> (&'static [(f64, f64)], f64) {
    match chemistry {
        Chemistry::Flooded => (&FLOODED_6, 6.0),
        Chemistry::Agm => (&AGM_6, 6.0),
        Chemistry::Gel => (&GEL_6, 6.0),
        Chemistry::Lfp => (&LFP_1, 1.0),
        Chemistry::Nmc => (&NMC_1, 1.0),
    }
}

/// How far a true rest voltage may lie from the table's at a state of charge, V per cell. Public
/// tables of flooded lead agree to 0.06 V for six cells in the upper half, and part by a quarter of
/// a volt towards empty.
fn table_error_v(chemistry: Chemistry, soc: f64) -> f64 {
    match chemistry {
        Chemistry::Flooded => (0.06 + 0.20 * ((0.5 - soc) / 0.5).max(0.0)) / 6.0,
        Chemistry::Agm | Chemistry::Gel => 0.10 / 6.0,
        Chemistry::Lfp => 0.015,
        Chemistry::Nmc => 0.030,
    }
}

/// Straight between rows ascending in their first value; the end rows hold outside.
fn between(rows: impl Iterator<Item = (f64, f64)>, at: f64) -> f64 {
    let mut before: Option<(f64, f64)> = None;
    for (x, y) in rows {
        if at <= x {
            return match before {
                Some((x0, y0)) if x > x0 => y0 + (y - y0) * (at - x0) / (x - x0),
                _ => y,
            };
        }
        before = Some((x, y));
    }
    before.map_or(0.0, |row| row.1)
}

/// Rest voltage of one cell at a state of charge (share, held at 0 to 1), V.
pub fn rest_cell_v(chemistry: Chemistry, soc: f64) -> f64 {
    let (rows, cells) = table(chemistry);
    between(rows.iter().copied(), soc.clamp(0.0, 1.0)) / cells
}

fn soc_of(chemistry: Chemistry, cell_v: f64) -> f64 {
    let (rows, cells) = table(chemistry);
    between(rows.iter().map(|&(soc, v)| (v, soc)), cell_v * cells).clamp(0.0, 1.0)
}

/// State of charge from the rest voltage of one cell (V), with the range left by the table's own
/// error and the meter's (V per cell). A wide range says that the voltage tells nothing: it is
/// the caller's to refuse it.
pub fn soc_from_rest(chemistry: Chemistry, cell_v: f64, meter_error_v: f64) -> RestReading {
    let soc = soc_of(chemistry, cell_v);
    let error = table_error_v(chemistry, soc) + meter_error_v.max(0.0);
    RestReading {
        soc,
        low: soc_of(chemistry, cell_v - error),
        high: soc_of(chemistry, cell_v + error),
    }
}

/// Hours a bank must have rested before its voltage tells its charge.
pub fn rest_hours(chemistry: Chemistry) -> f64 {
    match chemistry {
        Chemistry::Flooded => 6.0,
        Chemistry::Agm | Chemistry::Gel => 2.0,
        Chemistry::Lfp | Chemistry::Nmc => 1.0,
    }
}

/// Current below which a bank counts as at rest, share of capacity per hour.
pub const REST_CURRENT_SHARE: f64 = 0.005;

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const ALL: [Chemistry; 5] = [
        Chemistry::Lfp,
        Chemistry::Agm,
        Chemistry::Gel,
        Chemistry::Flooded,
        Chemistry::Nmc,
    ];

    #[test]
    fn the_middle_of_iron_phosphate_tells_nothing() {
        let middle = soc_from_rest(Chemistry::Lfp, 3.30, 0.005);
        assert!(middle.high - middle.low > 0.3, "{middle:?}");
        let knee = soc_from_rest(Chemistry::Lfp, 3.05, 0.005);
        assert!(knee.high < 0.06, "{knee:?}");
    }

    #[test]
    fn lead_is_read_to_about_a_sixth() {
        let half = soc_from_rest(Chemistry::Flooded, 12.24 / 6.0, 0.0);
        assert!((half.soc - 0.5).abs() < 1e-9);
        assert!((0.10..0.22).contains(&(half.high - half.low)), "{half:?}");
    }

    proptest! {
        #[test]
        fn voltage_and_charge_undo_each_other(soc in 0.0..1.0f64, wild in proptest::num::f64::NORMAL) {
            for chemistry in ALL {
                let back = soc_of(chemistry, rest_cell_v(chemistry, soc));
                prop_assert!((back - soc).abs() < 1e-6);
                let read = soc_from_rest(chemistry, wild, 0.0);
                prop_assert!(read.low <= read.soc && read.soc <= read.high);
                prop_assert!(rest_cell_v(chemistry, wild).is_finite());
            }
        }
    }
}
