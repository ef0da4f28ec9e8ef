//! Low charge, loads by hour and nights of the made-up cabin.

use super::super::model::{ChartData, How, LoadHours, LowCharge, NightCurrent};

/// The three of them; the other points are left empty.
pub(super) fn all() -> ChartData {
    ChartData {
        low_charge: Some(low_charge()),
        load_hours: Some(load_hours()),
        night_current: Some(night_current()),
        ..ChartData::default()
    }
}

fn low_charge() -> LowCharge {
    let levels_pct: Vec<f64> = (0..=20).map(|i| 5.0 * f64::from(i)).collect();
    let below = |shift: f64| -> Vec<f64> {
        levels_pct
            .iter()
            .map(|l| 5.6 * (l - 26.0 + shift).clamp(0.0, 72.0))
            .collect()
    };
    LowCharge {
        counted_h: Some(below(0.0)),
        counted_low_h: Some(below(-4.0)),
        counted_high_h: Some(below(4.0)),
        counted_covered_h: 403.2,
        meter_h: Some(below(-6.0)),
        meter_covered_h: 403.2,
        levels_pct,
    }
}

fn load_hours() -> LoadHours {
    let of = |factor: f64| -> Vec<Option<f64>> {
        (0..24)
            .map(|h| Some(factor * if (18..22).contains(&h) { 95.0 } else { 38.0 }))
            .collect()
    };
    LoadHours {
        mean_w: of(1.0),
        low_w: of(0.8),
        high_w: of(1.3),
        days: vec![24; 24],
        budget_w: Some((0..24).map(|h| if h < 7 { 60.0 } else { 40.0 }).collect()),
        how: How::Inferred,
    }
}

fn night_current() -> NightCurrent {
    let of = |factor: f64| -> Vec<Option<f64>> {
        (0..24)
            .map(|i| (i != 20).then_some(factor * if i < 5 { 7.1 } else { 2.9 }))
            .collect()
    };
    NightCurrent {
        median_a: of(1.0),
        low_a: of(0.8),
        high_a: of(1.2),
        nights: 23,
        floor_a: Some(2.7),
        budget_a: Some(0.6),
        lines: (0..8)
            .map(|i| (super::date(i), of(0.8 + 0.05 * i as f64)))
            .collect(),
    }
}
