//! With no fault found: the sun, the use, or what holds the controller back.

use super::Candidate;
use crate::expect::offer::UNPLANNED_SHARE;
use crate::findings::Evidence;
use crate::findings::catalogue::Found;
use crate::quantity::Interval;
use crate::report::model::{Confidence, Day, DayState, Limiting, Severity};
use crate::words::{about, days, ranged};

/// Loads that take this share of the harvest leave a bank nothing to fill with: the rest is what lead
/// loses in charging.
const ALL_OF_IT: f64 = 0.8;

/// Lithium hardly loses any.
const ALL_BUT_NOTHING: f64 = 0.95;

/// Loads this far above the budget are more than planned, share of it.
const CLEARLY_OVER: f64 = 0.05;

/// A bank that is full on this share of days or fewer is seldom full.
const SELDOM: f64 = 0.25;

/// With no fault in the way of a bank that runs low or never fills: the sun, or the use.
pub(super) fn without_fault(evidence: &Evidence, found: &Found) -> Option<Candidate> {
    if !is_hungry(evidence, found) {
        return None;
    }
    if let Some(cause) = held_unfilled(evidence, found) {
        return Some(cause);
    }
    let n = evidence.accounts.days.len().max(1) as f64;
    let entry = |name: &str| {
        evidence
            .accounts
            .account
            .harvest
            .iter()
            .find(|e| e.name == name)
            .map_or(0.0, |e| e.wh / n)
    };
    let missing = -(entry("season") + entry("weather"));
    let missing_range = ranged(&missing_range(evidence), "Wh");
    let budget = crate::design::budget::budget(evidence.design).total_wh;
    let load = evidence
        .accounts
        .account
        .bank
        .iter()
        .find(|e| e.name == "loads")
        .map_or(0.0, |e| e.wh / n);
    let over = if budget > 0.0 { load - budget } else { 0.0 };
    let deficit = load - entry("harvested");
    let unplanned = if budget > 0.0 {
        budget - entry("planned")
    } else {
        0.0
    };
    if over <= CLEARLY_OVER * budget
        && deficit > 0.0
        && let Some(sun) = dull_throughout(evidence, [load, budget], entry("harvested"))
    {
        return Some(sun);
    }
    // What was missing in the end must be that, and not a sky that made up for it.
    if unplanned > missing.max(over).max(0.0) && deficit > 0.5 * unplanned {
        let plan = &evidence.design.plan;
        let stated = plan.harvest_wh.is_some() || plan.sun_hours.is_some();
        return Some(too_little_planned(
            stated,
            [budget, entry("planned"), load, entry("harvested")],
            unplanned,
        ));
    }
    if missing > over.max(0.0) && missing > 0.0 {
        if evidence.accounts.attribution.estimated {
            return Some(Candidate {
                area: Limiting::Log,
                wh_per_day: missing,
                clause: format!(
                    "about {} Wh a day came in by the bank's own figures, {} less than planned, and this log can't tell whether sky, panels or wiring kept it back: it needs the controller's output beside the bank's",
                    about(entry("harvested")),
                    missing_range
                ),
                kind: None,
                confidence: Confidence::Low,
            });
        }
        return Some(Candidate {
            area: Limiting::Sun,
            wh_per_day: missing,
            clause: format!(
                "the sky, by season and weather together, brought {} a day less than planned, and the array took what there was",
                missing_range
            ),
            kind: None,
            confidence: Confidence::Medium,
        });
    }
    if deficit > 0.0 || over > CLEARLY_OVER * budget {
        return Some(Candidate {
            area: Limiting::Use,
            wh_per_day: deficit.max(over),
            clause: format!(
                "the loads took about {} Wh a day and {} Wh were harvested",
                about(load),
                about(entry("harvested"))
            ),
            // With loads as planned there is no culprit to find.
            kind: (over > CLEARLY_OVER * budget).then_some("use-exceeds-harvest"),
            confidence: Confidence::Medium,
        });
    }
    let all_of_it = if evidence.design.battery.chemistry.is_lead() {
        ALL_OF_IT
    } else {
        ALL_BUT_NOTHING
    };
    (load >= all_of_it * entry("harvested")).then(|| Candidate {
        area: Limiting::Use,
        wh_per_day: 0.0,
        clause: format!(
            "the loads took about {} Wh a day of the {} Wh that sun and panels brought, as planned, which leaves too little to fill the bank: less use, more panels or another source",
            about(load),
            about(entry("harvested"))
        ),
        kind: None,
        confidence: Confidence::Medium,
    })
}

/// A sky that was dull on most days, where an ordinary one of that season would have fed the loads: it is the
/// sun, even where no more than that was planned with.
fn dull_throughout(
    evidence: &Evidence,
    [load, budget]: [f64; 2],
    harvested: f64,
) -> Option<Candidate> {
    let judged: Vec<_> = evidence.judged().collect();
    let dull = evidence.in_state(DayState::Dull).len();
    let sum = |of: fn(&Day) -> Option<f64>| judged.iter().filter_map(|d| of(d)).sum::<f64>();
    let (clear, offered) = (sum(|d| d.clear_wh), sum(|d| d.offered_wh));
    let usual = UNPLANNED_SHARE * clear / judged.len().max(1) as f64;
    if 2 * dull <= judged.len() || usual < load.max(budget) {
        return None;
    }
    Some(Candidate {
        area: Limiting::Sun,
        wh_per_day: load - harvested,
        clause: format!(
            "the sky was dull on {dull} of {}, with {:.0} % of clear days' light in all: {} Wh a day came in, and the loads took about {} Wh",
            days(judged.len()),
            100.0 * offered / clear.max(1.0),
            about(harvested),
            about(load)
        ),
        kind: None,
        confidence: Confidence::Medium,
    })
}

/// Panels that were never meant to bring what the loads were meant to take, or would not under an ordinary
/// sky, where no plan was stated: budget, plan, loads and harvest, Wh a day.
fn too_little_planned(
    stated: bool,
    [budget, planned, load, harvested]: [f64; 4],
    short: f64,
) -> Candidate {
    let (budget, planned) = (about(budget), about(planned));
    let design = if stated {
        format!(
            "the design itself brings too little: the panels are planned for {planned} Wh a day and the loads for {budget} Wh"
        )
    } else {
        format!(
            "the panels are too few for these loads: an ordinary sky of this season brings about {planned} Wh a day, and the loads are planned for {budget} Wh"
        )
    };
    Candidate {
        area: Limiting::Use,
        wh_per_day: short,
        clause: format!(
            "{design}; {} Wh were harvested and {} Wh used",
            about(harvested),
            about(load)
        ),
        kind: None,
        confidence: Confidence::Medium,
    }
}

/// What season and weather together took of the plan, Wh a day, as unsure as what the sky offered: the clear
/// sky's own error is in both of them and cancels.
fn missing_range(evidence: &Evidence) -> Interval {
    let days = &evidence.accounts.days;
    let n = days.len().max(1) as f64;
    let steps = &evidence.accounts.account.harvest;
    let value: f64 = steps
        .iter()
        .filter(|e| e.name == "season" || e.name == "weather")
        .map(|e| e.wh)
        .sum();
    let offered = || days.iter().filter_map(|d| d.intervals.get("offered_wh"));
    let more: f64 = offered().map(|i| i.value - i.low).sum();
    let less: f64 = offered().map(|i| i.high - i.value).sum();
    Interval::new(-value / n, (-value - less) / n, (-value + more) / n)
}

/// The bank runs low or never fills. One that is drained night after night counts where it is seldom full:
/// where it is full most days, the nights are the trouble and not what comes in.
fn is_hungry(evidence: &Evidence, found: &Found) -> bool {
    let full = evidence
        .accounts
        .days
        .iter()
        .filter(|d| d.reached_full == Some(true));
    let seldom_full = full.count() as f64 <= SELDOM * evidence.accounts.days.len() as f64;
    let told = found.findings.iter().any(|f| match f.kind.as_str() {
        "never-full" | "use-exceeds-harvest" => true,
        "bank-drained" => f.severity <= Severity::Fix && seldom_full,
        _ => false,
    });
    told || (seldom_full && sinks_under_clouds(evidence))
}

/// A bank that gave more than it got back through days most of which were dull: its owner saw it sink.
fn sinks_under_clouds(evidence: &Evidence) -> bool {
    let judged = evidence.judged().count();
    let n = judged.max(1) as f64;
    let sum = |of: fn(&Day) -> Option<f64>| evidence.judged().filter_map(of).sum::<f64>() / n;
    let came = sum(|d| d.harvest_wh) + sum(|d| d.other_charge_wh);
    2 * evidence.in_state(DayState::Dull).len() > judged
        && sum(|d| d.load_wh) - came > evidence.accounts.yardsticks.worth_a_job_wh
}

/// The bank is never full although the controller holds back day after day: what it is set to, or how
/// it measures, keeps the bank from filling.
fn held_unfilled(evidence: &Evidence, found: &Found) -> Option<Candidate> {
    if !found.findings.iter().any(|f| f.kind == "never-full") {
        return None;
    }
    let judged = evidence.judged().count();
    let held: Vec<_> = evidence
        .in_state(DayState::Full)
        .into_iter()
        .filter(|d| d.reached_full == Some(false))
        .collect();
    if 2 * held.len() < judged.max(1) {
        return None;
    }
    let all: f64 = held.iter().filter_map(|d| d.held_back_wh).sum();
    let wh = all / judged.max(1) as f64;
    if evidence.refused_wh() > 0.5 * all {
        return Some(Candidate {
            area: Limiting::Battery,
            wh_per_day: wh,
            clause: format!(
                "on {} of {} the pack was colder than it may be charged and let nothing in, about {} Wh a day: warm it before the sun is up, and never charge it round its protection",
                held.len(),
                days(judged),
                about(wh)
            ),
            kind: Some("never-full"),
            confidence: Confidence::Medium,
        });
    }
    Some(Candidate {
        area: Limiting::Settings,
        wh_per_day: wh,
        clause: format!(
            "on {} of {} the controller held back, about {} Wh a day, without the bank getting full: look at its voltages and times first",
            held.len(),
            days(judged),
            about(wh)
        ),
        kind: Some("never-full"),
        confidence: Confidence::Medium,
    })
}
