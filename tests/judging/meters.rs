//! Two meters of one quantity, and a current logged the wrong way round.

use ampledger::mapping::Role;
use ampledger::report::model::{Finding, Severity};
use ampledger::timeline::{Channel, Sign, Timeline};

use crate::plant::{Judged, Minute, More, Plant, following, resting, series};

/// Days of sun and a fridge; the bank's shunt shows `gain` times what charging less loads and less
/// `unseen` amperes make.
fn with_loads(plant: &Plant, gain: f64, unseen: f64) -> Judged<'_> {
    let mut timeline = plant.timeline(|day, minute| {
        let load = if minute % 47 < 15 { 6.0 } else { 2.0 };
        let watts = plant.clear_w(day, minute);
        let m = if watts > 0.0 {
            following(watts, 8.0)
        } else {
            resting()
        };
        Minute {
            bank_a: gain * (m.charge_a - load - unseen),
            more: More {
                load_a: Some(load),
                ..More::default()
            },
            ..m
        }
    });
    name_sources(&mut timeline);
    plant.judge_timeline(timeline)
}

fn name_sources(timeline: &mut Timeline) {
    for channel in &mut timeline.channels {
        let of_bank = matches!(
            channel.role,
            Role::BatteryVoltage | Role::BatteryCurrent | Role::BatteryPower
        );
        channel.source = if of_bank { "bank" } else { "roof" }.to_owned();
    }
}

fn ratio(finding: &Finding) -> f64 {
    finding.evidence["ratio"].as_f64().unwrap()
}

#[test]
fn a_shunt_that_reads_a_share_too_much_or_too_little_is_found() {
    let plant = Plant::new("lfp", 6);
    for gain in [1.12, 0.88] {
        let judged = with_loads(&plant, gain, 0.0);
        let found = judged.found("logs-disagree").unwrap();
        assert!((ratio(&found) - gain).abs() < 0.01, "{}", ratio(&found));
        assert!(found.evidence["what"].as_str().unwrap().contains("bank"));
        assert!(found.also_possible.iter().any(|a| a.contains("wired past")));
    }
}

#[test]
fn meters_within_their_gains_agree() {
    let plant = Plant::new("lfp", 6);
    for gain in [1.0, 1.04, 0.96] {
        let judged = with_loads(&plant, gain, 0.0);
        assert!(judged.found("logs-disagree").is_none(), "{gain}");
        assert!(judged.fine("logs-disagree").is_some());
    }
}

#[test]
fn loads_that_no_meter_shows_are_no_disagreement() {
    let plant = Plant::new("lfp", 6);
    assert!(
        with_loads(&plant, 1.0, 2.5)
            .found("logs-disagree")
            .is_none()
    );
}

#[test]
fn the_bank_that_gives_less_than_its_loads_take_disagrees() {
    // Half of the load is wired past the shunt: by night the bank's meter shows too little.
    let plant = Plant::new("lfp", 6);
    let judged = with_loads(&plant, 1.0, -1.6);
    let found = judged.found("logs-disagree").unwrap();
    assert!(ratio(&found) < 0.9);
    assert!(
        found
            .also_possible
            .iter()
            .any(|a| a.contains("past the shunt"))
    );
}

#[test]
fn bank_and_controller_alone_cannot_tell() {
    let plant = Plant::new("lfp", 6);
    let mut timeline = plant.timeline(|day, minute| {
        let watts = plant.clear_w(day, minute);
        let m = if watts > 0.0 {
            following(watts, 8.0)
        } else {
            resting()
        };
        Minute {
            bank_a: 1.2 * m.bank_a,
            ..m
        }
    });
    name_sources(&mut timeline);
    let judged = plant.judge_timeline(timeline);
    assert!(judged.found("logs-disagree").is_none());
    assert!(judged.unknown("logs-disagree").is_some());
}

/// The bank's current in a second log, times a gain.
fn twice(plant: &Plant, gain: f64) -> Judged<'_> {
    let mut timeline = plant.timeline(|day, minute| {
        let watts = plant.clear_w(day, minute);
        if watts > 0.0 {
            following(watts, 8.0)
        } else {
            resting()
        }
    });
    let bank = timeline.channel(Role::BatteryCurrent).unwrap().clone();
    let values: Vec<Option<f64>> = (0..timeline.bins)
        .map(|bin| bank.series.mean(bin).map(|a| a / gain))
        .collect();
    timeline.also.push(Channel {
        source: "second".to_owned(),
        series: series(&values),
        ..bank
    });
    plant.judge_timeline(timeline)
}

#[test]
fn a_current_logged_in_two_places_is_compared() {
    let plant = Plant::new("lfp", 4);
    let found = twice(&plant, 1.15).found("logs-disagree").unwrap();
    assert!((ratio(&found) - 1.15).abs() < 0.005);
    assert_eq!(found.severity, Severity::Fix);
    assert_eq!(
        twice(&plant, 1.08).found("logs-disagree").unwrap().severity,
        Severity::Watch
    );
    assert!(twice(&plant, 1.0).found("logs-disagree").is_none());
}

/// An energy counter in steps of 10 Wh, times a gain.
fn with_counter(plant: &Plant, gain: f64) -> Judged<'_> {
    let mut timeline = plant.timeline(|day, minute| {
        let watts = plant.clear_w(day, minute);
        if watts > 0.0 {
            following(watts, 8.0)
        } else {
            resting()
        }
    });
    let power = timeline.channel(Role::ChargePower).unwrap().clone();
    let mut total = 5000.0;
    let values: Vec<Option<f64>> = (0..timeline.bins)
        .map(|bin| {
            total += gain * power.series.in_h[bin];
            Some((total / 10.0f64).floor() * 10.0)
        })
        .collect();
    timeline.channels.push(Channel {
        role: Role::HarvestTotal,
        series: series(&values),
        ..power
    });
    plant.judge_timeline(timeline)
}

#[test]
fn an_energy_counter_is_held_against_the_power_added_up() {
    let plant = Plant::new("lfp", 4);
    let found = with_counter(&plant, 1.3).found("logs-disagree").unwrap();
    assert!((ratio(&found) - 1.3).abs() < 0.02, "{}", ratio(&found));
    // A counter at the array's side counts the controller's own use as well.
    for gain in [1.0, 1.06, 0.97] {
        assert!(
            with_counter(&plant, gain).found("logs-disagree").is_none(),
            "{gain}"
        );
    }
}

#[test]
fn a_current_turned_round_is_remarked_and_one_contradicted_is_to_be_mended() {
    let plant = Plant::new("lfp", 2);
    let look = |sign: Sign| {
        let mut timeline = plant.timeline(|_, _| resting());
        for channel in &mut timeline.channels {
            channel.sign = sign;
        }
        plant.judge_timeline(timeline).found("current-reversed")
    };
    let turned = look(Sign::Turned).unwrap();
    assert_eq!(turned.severity, Severity::Watch);
    assert!(turned.next_check.then.contains("charging = \"negative\""));
    let contradicted = look(Sign::Contradicted).unwrap();
    assert_eq!(contradicted.severity, Severity::Fix);
    assert!(look(Sign::AsWritten).is_none());
    assert!(look(Sign::Stated).is_none());
}
