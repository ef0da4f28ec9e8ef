//! More current into the bank than it may take.

use serde_json::json;

use crate::account::rolling;
use crate::design::Chemistry;
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::mapping::Role;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::timeline::Channel;
use crate::words::about;

pub(super) const RULE: Rule = Rule {
    kind: "charge-current-high",
    area: Limiting::Battery,
    meaning: "More current went into the bank than it is made for. It heats the cells, gases lead, ages lithium, and can make a pack's protection cut off.",
    decided: "The bank's own current, averaged over 10 minutes, above the design's max_charge_current by more than the meter's error (3 %): stop. Where the design states none, the usual share of capacity stands in (flooded and gel 25 %, AGM 40 %, lithium 50 % an hour), and passing it is only to watch.",
    limits: "Needs the bank's own current. The controller's current includes the loads: it can clear the bank, never accuse it. Peaks shorter than 10 minutes, or than three rows of the log, are not seen.",
    cause: cause::none,
    follows_from: &[],
    look,
};

/// How long a current must last to count, s: shorter ones hardly warm a bank.
const HELD_S: f64 = 600.0;

fn look(evidence: &Evidence) -> Outcome {
    let limit = Limit::new(evidence);
    if let Some(channel) = evidence.timeline.channel(Role::BatteryCurrent) {
        let seen = Highest::new(evidence, channel, limit.amps);
        return match seen.amps {
            None => unknown(&limit),
            Some(amps) if seen.days.is_empty() => Outcome::Fine(format!(
                "at most {} A went into the bank for ten minutes; {} A is {}",
                about(amps.max(0.0)),
                about(limit.amps),
                limit.word()
            )),
            Some(amps) => Outcome::Found(Box::new(finding(evidence, &limit, &seen, amps))),
        };
    }
    // Without the bank's own current, all that the one controller gave bounds it, if nothing else charges.
    let alone = evidence.design.chargers.is_empty() && evidence.design.controllers.len() == 1;
    match evidence.timeline.channel(Role::ChargeCurrent) {
        Some(channel) if alone => match Highest::new(evidence, channel, limit.amps).amps {
            Some(amps) if amps <= limit.amps => Outcome::Fine(format!(
                "the controller gave at most {} A for ten minutes; {} A is {}",
                about(amps.max(0.0)),
                about(limit.amps),
                limit.word()
            )),
            _ => unknown(&limit),
        },
        _ => unknown(&limit),
    }
}

fn unknown(limit: &Limit) -> Outcome {
    Outcome::CannotTell {
        text: format!(
            "whether more than {} A went into the bank: its own current was not logged",
            about(limit.amps)
        ),
        needs: "a shunt in the bank's negative lead, logged".to_owned(),
    }
}

/// The most the bank may take.
struct Limit {
    amps: f64,
    stated: bool,
}

impl Limit {
    fn new(evidence: &Evidence) -> Self {
        let battery = &evidence.design.battery;
        // Trade reference 8.6: the upper end of what is usual for the chemistry.
        let share = match battery.chemistry {
            Chemistry::Flooded | Chemistry::Gel => 0.25,
            Chemistry::Agm => 0.4,
            Chemistry::Lfp | Chemistry::Nmc => 0.5,
        };
        Self {
            amps: battery.max_charge_a.unwrap_or(share * battery.capacity_ah),
            stated: battery.max_charge_a.is_some(),
        }
    }

    fn word(&self) -> &'static str {
        if self.stated {
            "the design's limit"
        } else {
            "a usual limit for this chemistry (assumed)"
        }
    }
}

/// The highest current held, and when the limit was passed.
struct Highest {
    amps: Option<f64>,
    minutes: f64,
    days: Vec<usize>,
}

impl Highest {
    fn new(evidence: &Evidence, channel: &Channel, limit_a: f64) -> Self {
        let over = limit_a * (1.0 + evidence.design.judging.current_over);
        let timeline = evidence.timeline;
        let inside = |bin: usize| evidence.day_of_bin(bin).is_some();
        let amps = rolling::means(timeline, channel, HELD_S)
            .into_iter()
            .enumerate()
            .filter(|(bin, _)| inside(*bin))
            .filter_map(|(_, mean)| mean)
            .max_by(f64::total_cmp);
        let marked =
            rolling::bins_where(timeline, channel, HELD_S, |bin, a| inside(bin) && a > over);
        let (minutes, days) = evidence.time_in(&marked);
        Self {
            amps,
            minutes,
            days,
        }
    }
}

fn finding(evidence: &Evidence, limit: &Limit, seen: &Highest, amps: f64) -> Finding {
    let days = evidence.dates_of(&seen.days);
    Finding {
        kind: RULE.kind.to_owned(),
        severity: if limit.stated { Severity::Stop } else { Severity::Watch },
        confidence: match (limit.stated, seen.days.len()) {
            (true, 2..) => Confidence::High,
            (true, _) => Confidence::Medium,
            (false, _) => Confidence::Low,
        },
        r#where: "the bank".to_owned(),
        from: days.first().cloned(),
        to: days.last().cloned(),
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "The bank was charged with {} A for ten minutes or longer; {} A is {}. It was above that for about {} minutes on {}.",
            about(amps),
            about(limit.amps),
            limit.word(),
            about(seen.minutes),
            crate::words::days(days.len())
        ),
        days,
        evidence: [
            ("current_a".to_owned(), json!(amps)),
            ("limit_a".to_owned(), json!(limit.amps)),
            ("minutes".to_owned(), json!(seen.minutes)),
        ]
        .into(),
        why: vec![format!(
            "The bank's own current, averaged over ten minutes, passed {} A plus {} % for the meter's error.",
            about(limit.amps),
            about(100.0 * evidence.design.judging.current_over)
        )],
        also_possible: vec![
            "a shunt set to the wrong rating, so that every current reads too high".to_owned(),
            if limit.stated {
                "several batteries in parallel whose limit in the design is that of one".to_owned()
            } else {
                "a battery that takes more than is usual: its data sheet decides (max_charge_current in the design)".to_owned()
            },
        ],
        next_check: NextCheck {
            tool: "a DC clamp meter and the battery's data sheet".to_owned(),
            r#where: "around the bank's plus lead while everything charges at once".to_owned(),
            healthy: format!("below {} A", about(limit.amps)),
            faulty: format!("about {} A, as in the log", about(amps)),
            then: "lower the current limit of the charger or controller that brings the most, or do not charge from all sources at once".to_owned(),
            caution: "Stop charging a battery that is hot, bulged or smelling. Cables and fuses carry this current too: check that they are made for it. Local code and a licensed practitioner come first.".to_owned(),
        },
        chart: None,
    }
}
