//! Shade that comes back at the same bearing of the sun.

use serde_json::json;

use crate::expect::Shadow;
use crate::findings::clock_off;
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck};
use crate::stats::quantile::median;
use crate::words::{about, date, days, percent, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "shade-repeating",
    area: Limiting::Array,
    meaning: "Something that stays put, a mast, a tree, a chimney, an awning, takes the sun from the array at the same bearing of the sun day after day.",
    decided: "Output over the clear-sky curve, at the array's own level of that day. A dip is 20 minutes or more below 70 % that a clear sky (above 90 %, within the haze of that sun's height) bounds on both sides, each edge sharp within 20 minutes. It is shade when its edges come back within 5 degrees of the sun's bearing on two days at one stop, and on one day more where another day there saw the same bearing bright. A dip that lasts from or to the low sun has one edge only and needs a day more still, an hour's length, the edge at 15 degrees of sun or more, and no full bank before it. Moments in which a full bank or a limit ruled are never looked at. Of several controllers that were logged apart each is held against the others too: where one gives less than 70 % of its usual part of what they give, for half an hour at the same bearings on two days under a bright sky, with a sharp edge on the evening's side and one before it or none since dawn, its arrays alone are shaded.",
    limits: "Needs the controller's output every 15 minutes or oftener and two clear days at one place with the bank low at that hour. Shade that takes less than a third of the output, or lasts less than 20 minutes, or swings with the boat, passes for cloud. Where the clock is wrong the bearings are wrong too, the hours are not.",
    cause: cause::by_loss,
    follows_from: &[],
    look,
};

/// Rows further apart than this blur every edge, s.
const COARSEST_S: f64 = 900.0;

fn look(evidence: &Evidence) -> Outcome {
    let signals = &evidence.expected.signals;
    if signals.harvest.is_none() {
        return Outcome::CannotTell {
            text: "whether shade comes back at some hour: the controller's side was not logged"
                .to_owned(),
            needs: "a log of the controller's output, volts and amperes, every 5 minutes"
                .to_owned(),
        };
    }
    if let Some(step_s) = evidence.harvest_step_s().filter(|s| *s > COARSEST_S) {
        return Outcome::CannotTell {
            text: format!(
                "whether shade comes back at some hour: with a row every {} minutes no edge is sharp",
                about(step_s / 60.0)
            ),
            needs: "the controller's output every 5 minutes".to_owned(),
        };
    }
    if let Some(minutes) = clock_off::turns_the_sun_min(evidence) {
        return Outcome::CannotTell {
            text: format!(
                "whether shade comes back at some hour: by first and last light the clock is about {} minutes off, and shade is told by where the sun stands",
                about(minutes)
            ),
            needs: "the clock put right, as the finding about it says, and this report made anew"
                .to_owned(),
        };
    }
    let clear = clear_days(evidence);
    let shadows = &evidence.expected.shade.shadows;
    if shadows.is_empty() && clear < evidence.design.judging.shade_days as usize {
        return Outcome::CannotTell {
            text: format!(
                "whether shade comes back at some hour: {} had an hour of clear sky with a bank that took it",
                days(clear)
            ),
            needs: "two clear days at one place with the bank low; the same dip on both is shade"
                .to_owned(),
        };
    }
    let Some(main) = largest(evidence) else {
        return Outcome::Fine(format!(
            "on {} with clear, unheld hours no dip came back at the same bearing of the sun",
            days(clear)
        ));
    };
    if evidence.unexplained_share() > evidence.design.judging.unexplained_most {
        return Outcome::CannotTell {
            text: format!(
                "a dip comes back at the same bearing of the sun, but {:.0} % of the offer is unexplained, too much to call it shade",
                100.0 * evidence.unexplained_share()
            ),
            needs: "a photograph of the array at that hour, on two days".to_owned(),
        };
    }
    Outcome::Found(Box::new(finding(evidence, main)))
}

fn clear_days(evidence: &Evidence) -> usize {
    evidence.expected.clear.days.iter().flatten().count()
}

/// What all shadows, or one of them, took, Wh over the period.
fn taken(evidence: &Evidence, only: Option<usize>) -> Interval {
    let parts = &evidence.accounts.attribution.shade;
    let sum = |pick: fn(&Interval) -> f64| -> f64 {
        parts
            .iter()
            .enumerate()
            .filter(|(m, _)| {
                only.is_none_or(|wanted| evidence.expected.shade.over(*m) == Some(wanted))
            })
            .map(|(_, part)| pick(part))
            .sum()
    };
    Interval::new(sum(|i| i.value), sum(|i| i.low), sum(|i| i.high))
}

/// The shadow that took most.
fn largest(evidence: &Evidence) -> Option<usize> {
    (0..evidence.expected.shade.shadows.len()).max_by(|a, b| {
        let wh = |i: usize| taken(evidence, Some(i)).value;
        wh(*a).total_cmp(&wh(*b))
    })
}

/// A shadow's hours of the local day, `HH:MM`, the middle of its days.
fn hours(evidence: &Evidence, shadow: &Shadow) -> (String, String) {
    let clock = |pick: fn(&std::ops::Range<usize>) -> usize| {
        let minutes: Vec<f64> = shadow
            .dips
            .iter()
            .map(|dip| {
                let at = evidence.expected.grid.time_of(pick(dip));
                let local = evidence.calendar.local(at);
                let midnight = local.date().and_time(chrono::NaiveTime::MIN);
                (local - midnight).num_minutes() as f64
            })
            .collect();
        let middle = median(&minutes).unwrap_or(0.0).round() as i64;
        format!("{:02}:{:02}", middle / 60 % 24, middle % 60)
    };
    (clock(|dip| dip.start), clock(|dip| dip.end))
}

/// Two-sided and on many days is sure; one edge alone is a hint.
fn confidence(shadow: &Shadow) -> Confidence {
    match (shadow.open, shadow.refuted_on, shadow.shown_on.len()) {
        (false, 0, 4..) => Confidence::High,
        (true, _, ..5) => Confidence::Low,
        _ => Confidence::Medium,
    }
}

/// Where it was, in the owner's own words where the design has them.
fn place(evidence: &Evidence, shadow: &Shadow) -> String {
    let legs = &evidence.design.place.legs;
    let spot = match shadow.stop {
        0 => &evidence.design.place.base,
        n => &legs[n - 1].1,
    };
    match &spot.note {
        Some(note) if !legs.is_empty() => format!(" at the stop \"{note}\""),
        _ => String::new(),
    }
}

/// Whose panels they are, where one controller's alone are in the shade.
fn of_part(evidence: &Evidence, shadow: &Shadow) -> String {
    let controller = shadow.on.map(|k| &evidence.design.controllers[k]);
    match controller.and_then(|c| c.name.as_ref()) {
        Some(name) => format!(" on \"{name}\""),
        None => String::new(),
    }
}

fn finding(evidence: &Evidence, main: usize) -> Finding {
    let shadow = &evidence.expected.shade.shadows[main];
    let lost = evidence.mean_over_judged(|m| Some(evidence.accounts.attribution.shade[m]));
    let (from, to) = hours(evidence, shadow);
    let depth = Interval::new(
        1.0 - shadow.left.value,
        1.0 - shadow.left.high,
        1.0 - shadow.left.low,
    );
    let shown = evidence.dates_of(&shadow.shown_on);
    // It takes of every day that it falls on, seen as a dip or not.
    let grid = &evidence.expected.grid;
    let taken_from = |day: &usize| {
        grid.day(*day)
            .any(|m| evidence.accounts.attribution.shade[m].value > 0.0)
    };
    let struck: Vec<usize> = (0..grid.dates.len()).filter(taken_from).collect();
    let struck = evidence.dates_of(&struck);
    Finding {
        kind: RULE.kind.to_owned(),
        severity: evidence.severity_of_loss(lost, &shown),
        confidence: confidence(shadow),
        r#where: format!(
            "what stands between the sun and the panels{}",
            of_part(evidence, shadow)
        ),
        from: shown.first().cloned(),
        to: shown.last().cloned(),
        days: shown.clone(),
        lost_wh_per_day: Some(lost),
        part_of: None,
        summary: format!(
            "Something shades the panels{} from {from} to {to}{}: {}. With the sun between {:.0} and {:.0} degrees it took {} of the output, on each of {}.",
            of_part(evidence, shadow),
            place(evidence, shadow),
            evidence.lost_told(&lost, &struck),
            shadow.sun_deg.0,
            shadow.sun_deg.1,
            share(&depth),
            days(shown.len()),
        ),
        evidence: [
            ("from_time".to_owned(), json!(from)),
            ("to_time".to_owned(), json!(to)),
            ("sun_from_deg".to_owned(), json!(shadow.sun_deg.0)),
            ("sun_to_deg".to_owned(), json!(shadow.sun_deg.1)),
            ("depth".to_owned(), json!(depth.value)),
            ("depth_range".to_owned(), json!(depth)),
            (
                "shadows".to_owned(),
                json!(evidence.expected.shade.shadows.len()),
            ),
        ]
        .into(),
        why: reasons(evidence, main, &shown),
        also_possible: also_possible(shadow),
        next_check: next_check(&from, &to),
        chart: Some("charts/heat.svg".to_owned()),
    }
}

/// A share with its range, where the range says anything.
fn share(depth: &Interval) -> String {
    if depth.high - depth.low < 0.02 {
        format!("{:.0} %", 100.0 * depth.value)
    } else {
        percent(depth)
    }
}

fn reasons(evidence: &Evidence, main: usize, shown: &[String]) -> Vec<String> {
    let shadow = &evidence.expected.shade.shadows[main];
    let judging = &evidence.design.judging;
    let list: Vec<String> = shown.iter().map(|d| date(d)).collect();
    let mut why = vec![
        format!(
            "The output fell from over {:.0} % to under {:.0} % of the clear-sky curve within 20 minutes{}, at the same bearing of the sun within {} degrees, on {}.",
            100.0 * judging.shade_beside,
            100.0 * judging.shade_below,
            if shadow.open { "" } else { " and came back as fast" },
            5,
            list.join(", ")
        ),
        "The sky in the shade is drawn from the clear moments beside it; what is missing from that is the loss.".to_owned(),
        format!(
            "Cloud keeps to no bearing; a full bank holds its voltage, and such hours are not looked at. {}",
            match shadow.refuted_on {
                0 => "No day at that stop saw that bearing bright.".to_owned(),
                n => format!("On {} at that stop, before or after, the same bearing was bright: something was moved.", days(n)),
            }
        ),
    ];
    let others = evidence.expected.shade.shadows.iter().enumerate();
    why.extend(others.filter(|(i, _)| *i != main).map(|(i, other)| {
        let (from, to) = hours(evidence, other);
        format!(
            "Another shadow{}{}, from {from} to {to}, took {} in all.",
            match of_part(evidence, other) {
                none if none.is_empty() => none,
                whose => format!(" on the panels{whose}"),
            },
            place(evidence, other),
            ranged(&taken(evidence, Some(i)), "Wh")
        )
    }));
    why
}

fn also_possible(shadow: &Shadow) -> Vec<String> {
    let mut list = vec![
        "cloud that came at the same hour on those days, as over hills or a coast".to_owned(),
        "a controller that loses the best point at that hour and finds it again".to_owned(),
    ];
    if shadow.open {
        list.push("a full bank that the log's voltages do not show".to_owned());
        list.push("a horizon of hills or houses".to_owned());
    }
    list
}

fn next_check(from: &str, to: &str) -> NextCheck {
    NextCheck {
        tool: "a camera on a stick, and a towel".to_owned(),
        r#where: format!("the array, from the ground or the deck, half way between {from} and {to} on a clear day"),
        healthy: "no shadow on any panel, not even a rope's".to_owned(),
        faulty: "a shadow across a panel: a small one can take a third of it or all of a string".to_owned(),
        then: "move what throws it, or the array, or the berth; a towel over one panel at a time tells which panels matter".to_owned(),
        caution: "No walking on a wet or moving roof or deck; a stick and a phone do. Hands off connectors: panels are live in daylight. Local code and a licensed practitioner come first where wiring is changed.".to_owned(),
    }
}
