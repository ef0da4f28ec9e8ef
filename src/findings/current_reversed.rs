//! The bank's current logged the wrong way round.

use serde_json::json;

use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::mapping::Role;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::timeline::{Channel, Sign};

pub(super) const RULE: Rule = Rule {
    kind: "current-reversed",
    area: Limiting::Log,
    meaning: "The log counts current out of the bank as positive, or the design states a sign that the readings contradict. Turned the wrong way, every energy and every full charge is wrong.",
    decided: "Charging raises the bank's voltage and its state of charge, and in a solar system it happens by day. Where the design states no sign and the readings show that the log counts discharging as positive, the current is turned round and that is remarked. Where the design states a sign and at least two of these tells say the opposite while none agrees, the design was followed and is to be mended.",
    limits: "Needs the bank's voltage or state of charge beside its current, and current both ways. A bank that is full all the time, or held at one voltage, shows nothing.",
    cause: cause::none,
    follows_from: &[],
    look,
};

fn look(evidence: &Evidence) -> Outcome {
    let bank = evidence
        .timeline
        .channel(Role::BatteryCurrent)
        .or_else(|| evidence.timeline.channel(Role::BatteryPower));
    let Some(channel) = bank else {
        return Outcome::NotApplicable;
    };
    match channel.sign {
        Sign::AsWritten => {
            Outcome::Fine("charging counts as positive in the bank's log".to_owned())
        }
        Sign::Stated => Outcome::Fine("the bank's current counts as the design states".to_owned()),
        Sign::Turned => Outcome::Found(Box::new(turned(channel))),
        Sign::Contradicted => Outcome::Found(Box::new(contradicted(evidence, channel))),
    }
}

fn turned(channel: &Channel) -> Finding {
    finding(
        Severity::Watch,
        channel,
        format!(
            "The log \"{}\" counts current out of the bank as positive; it was turned round, and the figures here have it right.",
            channel.source
        ),
        "turned round by the readings",
        "Nothing in the design states the sign; voltage, state of charge or day against night show it.".to_owned(),
        "write charging = \"negative\" in this log's [[log]] entry of the design, so that it need not be told from the readings each time".to_owned(),
    )
}

fn contradicted(evidence: &Evidence, channel: &Channel) -> Finding {
    let stated = evidence
        .design
        .logs
        .iter()
        .find(|entry| entry.name.as_deref() == Some(channel.source.as_str()))
        .or_else(|| evidence.design.logs.iter().find(|e| e.charging.is_some()))
        .and_then(|entry| entry.charging.as_deref())
        .unwrap_or("positive");
    let right = if stated == "negative" {
        "positive"
    } else {
        "negative"
    };
    finding(
        Severity::Fix,
        channel,
        format!(
            "The design says that charging counts as {stated} in the log \"{}\", but the bank's voltage rises while it is said to discharge: energies, loads and full charges here are wrong until that is mended.",
            channel.source
        ),
        "stated in the design, contradicted by the readings",
        "At least two of these say so and none speaks against it: steps of voltage with steps of current, voltage with current, state of charge with current, day against night.".to_owned(),
        format!("write charging = \"{right}\" in this log's [[log]] entry, and run again"),
    )
}

fn finding(
    severity: Severity,
    channel: &Channel,
    summary: String,
    told: &str,
    why: String,
    then: String,
) -> Finding {
    Finding {
        kind: RULE.kind.to_owned(),
        severity,
        confidence: Confidence::High,
        r#where: format!("the log \"{}\"", channel.source),
        from: None,
        to: None,
        days: Vec::new(),
        lost_wh_per_day: None,
        part_of: None,
        summary,
        evidence: [
            ("how".to_owned(), json!(told)),
            ("role".to_owned(), json!(channel.role.name())),
        ]
        .into(),
        why: vec![why],
        also_possible: vec![
            "the shunt's two sense wires exchanged, or its two heavy sides".to_owned(),
            "a column that is the loads' current and not the bank's: then name the columns in the design".to_owned(),
        ],
        next_check: NextCheck {
            tool: "the bank monitor's display".to_owned(),
            r#where: "its current at noon in sun, loads off, and again at night with a light on".to_owned(),
            healthy: "one sign at noon and the other at night, as the design states".to_owned(),
            faulty: "the other way round".to_owned(),
            then,
            caution: "Nothing has to be opened for this. Leave the shunt's heavy bolts alone while anything is connected.".to_owned(),
        },
        chart: None,
    }
}
