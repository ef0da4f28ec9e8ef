//! What the controller's current beside it says of the sign of the bank's: more from the controller is
//! more into the bank, whatever the loads do.
//!
//! A log by itself may mislead: a pack that refuses charge jumps to the set voltage while nothing flows.

use super::Reading;
use crate::mapping::Role;
use crate::timeline::{Channel, Series, Sign, Timeline};

/// Width of the stretches compared, s: two loggers a minute apart agree over it.
const STRETCH_S: i64 = 900;
/// A change of the controller's current counts from this share of its highest mean.
const STEP_SHARE: f64 = 0.05;
/// Fewest such changes.
const FEWEST: usize = 20;
/// The two run against each other where their changes are alike to this, the wrong way round.
const AGAINST: f64 = -0.3;

/// Turns the bank's current and power round where the controller's current shows that their sign, which
/// the design does not state, was read the wrong way.
pub(super) fn set_right(reading: &mut Reading) {
    let roles = [Role::BatteryCurrent, Role::BatteryPower];
    let timeline = &mut reading.timeline;
    let mut all = timeline.channels.iter().chain(&timeline.also);
    let Some(source) = timeline.channel(Role::BatteryCurrent).map(|c| &c.source) else {
        return;
    };
    // Of several meters of the bank the sums by file would not say whose they are.
    let alone = all.all(|c| !roles.contains(&c.role) || c.source == *source);
    if !alone || !runs_against(timeline) {
        return;
    }
    let source = source.clone();
    for channel in &mut timeline.channels {
        if roles.contains(&channel.role) {
            turn(channel);
        }
    }
    for sum in &mut reading.inspection.measured {
        if roles.iter().any(|role| role.name() == sum.role) {
            std::mem::swap(&mut sum.wh_in, &mut sum.wh_out);
            std::mem::swap(&mut sum.ah_in, &mut sum.ah_out);
        }
    }
    reading.inspection.notes.push(format!(
        "the sign of the bank's current in \"{source}\" was taken from the controller's current beside it"
    ));
}

fn turn(channel: &mut Channel) {
    let series = &mut channel.series;
    std::mem::swap(&mut series.in_h, &mut series.out_h);
    std::mem::swap(&mut series.min, &mut series.max);
    for end in series.min.iter_mut().chain(&mut series.max) {
        *end = -*end;
    }
    channel.sign = match channel.sign {
        Sign::Turned => Sign::AsWritten,
        _ => Sign::Turned,
    };
}

/// Whether the bank's current, by a sign that nobody stated, falls where the controller's rises.
fn runs_against(timeline: &Timeline) -> bool {
    let Some(bank) = timeline.channel(Role::BatteryCurrent) else {
        return false;
    };
    let given: Vec<&Series> = timeline
        .channels
        .iter()
        .filter(|c| c.role == Role::ChargeCurrent)
        .map(|c| &c.series)
        .collect();
    if given.is_empty() || !matches!(bank.sign, Sign::AsWritten | Sign::Turned) {
        return false;
    }
    let width = usize::try_from(STRETCH_S / timeline.bin_s.max(1)).unwrap_or(1);
    let mean = |series: &Series, from: usize| {
        let bins = from..(from + width).min(timeline.bins);
        let seen: Vec<f64> = bins.filter_map(|bin| series.mean(bin)).collect();
        crate::stats::quantile::mean(&seen)
    };
    let stretches: Vec<Option<(f64, f64)>> = (0..timeline.bins)
        .step_by(width.max(1))
        .map(|from| {
            let charge: Option<Vec<f64>> = given.iter().map(|s| mean(s, from)).collect();
            Some((charge?.iter().sum(), mean(&bank.series, from)?))
        })
        .collect();
    let most = stretches.iter().flatten().fold(0.0_f64, |m, s| m.max(s.0));
    let changes: Vec<(f64, f64)> = stretches
        .windows(2)
        .filter_map(|pair| Some((pair[0]?, pair[1]?)))
        .map(|(a, b)| (b.0 - a.0, b.1 - a.1))
        .filter(|change| change.0.abs() > STEP_SHARE * most)
        .collect();
    let sum = |f: fn(&(f64, f64)) -> f64| changes.iter().map(f).sum::<f64>();
    let scale = (sum(|c| c.0 * c.0) * sum(|c| c.1 * c.1)).sqrt();
    changes.len() >= FEWEST && scale > 0.0 && sum(|c| c.0 * c.1) / scale < AGAINST
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two days of a sun behind clouds, with the bank's current written one way or the other.
    fn timeline(sign: f64) -> Timeline {
        const BINS: usize = 2 * 288;
        let charge = |bin: usize| {
            let hour = (bin % 288) as f64 / 12.0;
            let cloud = if (bin / 3).is_multiple_of(4) {
                0.3
            } else {
                1.0
            };
            (20.0 - (hour - 12.0).powi(2)).max(0.0) * cloud
        };
        let load = |bin: usize| if bin % 9 < 4 { 6.0 } else { 1.0 };
        let channel = |role: Role, of: &dyn Fn(usize) -> f64| {
            let mut series = Series::empty(BINS);
            for bin in 0..BINS {
                let value = of(bin);
                series.in_h[bin] = value.max(0.0) / 12.0;
                series.out_h[bin] = (-value).max(0.0) / 12.0;
                series.covered_s[bin] = 300.0;
                series.min[bin] = value as f32;
                series.max[bin] = value as f32;
            }
            Channel {
                role,
                controller: None,
                source: "log".to_owned(),
                step_s: 300.0,
                counted: false,
                sign: Sign::AsWritten,
                series,
            }
        };
        Timeline {
            start: 0,
            bin_s: 300,
            bins: BINS,
            channels: vec![
                channel(Role::ChargeCurrent, &charge),
                channel(Role::BatteryCurrent, &|bin| {
                    sign * (charge(bin) - load(bin))
                }),
            ],
            also: Vec::new(),
        }
    }

    #[test]
    fn the_controller_shows_which_way_the_bank_counts() {
        assert!(!runs_against(&timeline(1.0)));
        assert!(runs_against(&timeline(-1.0)));
    }

    #[test]
    fn a_sign_that_the_design_states_is_left() {
        let mut stated = timeline(-1.0);
        for channel in &mut stated.channels {
            channel.sign = Sign::Stated;
        }
        assert!(!runs_against(&stated));
    }

    #[test]
    fn a_turned_channel_is_the_other_way_round_in_every_bin() {
        let right = timeline(1.0);
        let mut turned = timeline(-1.0);
        turned.channels.iter_mut().for_each(turn);
        let (a, b) = (&right.channels[1].series, &turned.channels[1].series);
        assert_eq!(a, b);
        assert_eq!(turned.channels[1].sign, Sign::Turned);
    }
}
