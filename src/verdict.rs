//! Findings told as one story: what limits, how sure, and what to do first.

use crate::findings::catalogue::{Found, rule};
use crate::findings::{Evidence, thresholds};
use crate::report::model::{Confidence, DayState, Finding, Limiting, Severity, Verdict};
use crate::words::{about, date, days, percent, ranged};

/// One thing that takes energy, in the running for the verdict.
struct Cause {
    area: Limiting,
    wh_per_day: f64,
    clause: String,
    kind: Option<&'static str>,
    confidence: Confidence,
}

/// What limits this system.
pub fn verdict(evidence: &Evidence, found: &Found) -> Verdict {
    // The bank's side alone can't judge the array, but it can judge the bank and the use.
    let judged = if evidence.accounts.attribution.estimated {
        evidence.readable().count()
    } else {
        evidence.judged().count()
    };
    let worst = found
        .findings
        .first()
        .map_or(Severity::Fine, |f| f.severity);
    if judged < thresholds::VERDICT_DAYS && worst != Severity::Stop {
        return too_little(evidence, judged);
    }
    let mut causes = causes(evidence, found);
    causes.sort_by(|a, b| b.wh_per_day.total_cmp(&a.wh_per_day));
    let Some(first) = causes.first() else {
        return nothing(evidence, found);
    };
    let limiting = first.area;
    let confidence = first.confidence;
    let first_action = found
        .findings
        .iter()
        .find(|f| f.severity == Severity::Stop)
        .map(|f| f.kind.clone())
        .or_else(|| first.kind.map(str::to_owned));
    Verdict {
        limiting,
        severity: worst,
        text: text(found, &causes),
        confidence,
        first_action,
        story: next_after(found, first)
            .into_iter()
            .chain(story(evidence, found))
            .collect(),
    }
}

/// Where a danger comes first, the check for the larger cause is named right after it.
fn next_after(found: &Found, first: &Cause) -> Option<String> {
    let danger = found
        .findings
        .iter()
        .find(|f| f.severity == Severity::Stop)?;
    let cause = found
        .findings
        .iter()
        .find(|f| Some(f.kind.as_str()) == first.kind)?;
    (danger.kind != cause.kind).then(|| {
        format!(
            "Make it safe first. Then, for the larger cause: {}, {}.",
            cause.next_check.tool, cause.next_check.r#where
        )
    })
}

fn causes(evidence: &Evidence, found: &Found) -> Vec<Cause> {
    let mut causes = Vec::new();
    for finding in &found.findings {
        let lost = finding.lost_wh_per_day.map_or(0.0, |i| i.value);
        let cause = match finding.kind.as_str() {
            "harvest-short" => Cause {
                area: Limiting::Array,
                wh_per_day: lost,
                clause: array_clause(evidence, finding),
                kind: Some("harvest-short"),
                confidence: finding.confidence,
            },
            // A drop that costs next to nothing limits nothing.
            "drop-battery-cable" if finding.severity <= Severity::Fix => {
                let held = evidence.held_short().wh / evidence.judged().count().max(1) as f64;
                Cause {
                    area: Limiting::Wiring,
                    wh_per_day: lost + held,
                    clause: wiring_clause(evidence, lost + held),
                    kind: Some("drop-battery-cable"),
                    confidence: finding.confidence,
                }
            }
            "controller-limiting" | "absorption-short" | "load-over-budget" => Cause {
                area: rule(&finding.kind).map_or(Limiting::Settings, |r| r.area),
                wh_per_day: lost,
                clause: lower(&first_sentence(&finding.summary)),
                kind: rule(&finding.kind).map(|r| r.kind),
                confidence: finding.confidence,
            },
            // Costs no energy by itself, so it leads only where nothing else is found.
            "soc-unreliable" => Cause {
                area: Limiting::Settings,
                wh_per_day: 0.0,
                clause: lower(&first_sentence(&finding.summary)),
                kind: Some("soc-unreliable"),
                confidence: finding.confidence,
            },
            _ => continue,
        };
        causes.push(cause);
    }
    if causes.is_empty() {
        causes.extend(without_fault(evidence, found));
    }
    causes
}

/// With no fault in the way of a bank that runs low or never fills: the sun, or the use.
fn without_fault(evidence: &Evidence, found: &Found) -> Option<Cause> {
    let hungry = found
        .findings
        .iter()
        .any(|f| f.kind == "never-full" || f.kind == "use-exceeds-harvest");
    if !hungry {
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
    if missing > over.max(0.0) && missing > 0.0 {
        if evidence.accounts.attribution.estimated {
            return Some(Cause {
                area: Limiting::Log,
                wh_per_day: missing,
                clause: format!(
                    "about {} Wh a day came in by the bank's own figures, {} Wh less than planned, and this log can't tell whether sky, panels or wiring kept it back: it needs the controller's output beside the bank's",
                    about(entry("harvested")),
                    about(missing)
                ),
                kind: None,
                confidence: Confidence::Low,
            });
        }
        return Some(Cause {
            area: Limiting::Sun,
            wh_per_day: missing,
            clause: format!(
                "season and weather brought about {} Wh a day less than planned, and the array took what there was",
                about(missing)
            ),
            kind: None,
            confidence: Confidence::Medium,
        });
    }
    (deficit > 0.0 || over > 0.0).then(|| Cause {
        area: Limiting::Use,
        wh_per_day: deficit.max(over),
        clause: format!(
            "the loads took about {} Wh a day and {} Wh were harvested",
            about(load),
            about(entry("harvested"))
        ),
        kind: Some("use-exceeds-harvest"),
        confidence: Confidence::Medium,
    })
}

/// The bank is never full although the controller holds back day after day: what it is set to, or how
/// it measures, keeps the bank from filling.
fn held_unfilled(evidence: &Evidence, found: &Found) -> Option<Cause> {
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
    let wh = held.iter().filter_map(|d| d.held_back_wh).sum::<f64>() / judged.max(1) as f64;
    Some(Cause {
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

fn array_clause(evidence: &Evidence, finding: &Finding) -> String {
    let level = evidence
        .accounts
        .reductions
        .iter()
        .max_by_key(|r| r.shown_on.len())
        .map(|r| {
            format!(
                " the panels gave only {} of what that sky should bring",
                percent(&r.left)
            )
        })
        .unwrap_or_else(|| " the panels gave less than the sky offered".to_owned());
    let since = finding
        .from
        .as_deref()
        .map_or(String::new(), |d| format!("from {}", date(d)));
    let lost = finding.lost_wh_per_day.map_or(String::new(), |i| {
        format!(", {} a day lost over the trip", ranged(&i, "Wh"))
    });
    format!("{since}{level}{lost}")
}

fn wiring_clause(evidence: &Evidence, wh_per_day: f64) -> String {
    let Ok(fit) = &evidence.accounts.run else {
        return "the run from controller to bank has too much resistance".to_owned();
    };
    format!(
        "the run from controller to bank has {} where {} mohm are right, so at {} A the bank gets {} V less than the controller shows; about {} Wh a day burn in it or are held back",
        ranged(&fit.resistance_mohm, "mohm"),
        about(fit.design_mohm.unwrap_or(0.0)),
        about(fit.at_a),
        about(fit.at_a * fit.resistance_mohm.value / 1000.0),
        about(wh_per_day)
    )
}

fn text(found: &Found, causes: &[Cause]) -> String {
    let mut sentences: Vec<String> = found
        .findings
        .iter()
        .filter(|f| f.severity == Severity::Stop)
        .map(|f| match f.kind.as_str() {
            "drop-battery-cable" => format!(
                "Danger first: at least {} W of heat where there should be none, in the run from controller to bank.",
                f.evidence
                    .get("heat_w")
                    .and_then(|h| h.get("low"))
                    .and_then(serde_json::Value::as_f64)
                    .map_or_else(|| "5".to_owned(), about)
            ),
            _ => f.summary.clone(),
        })
        .collect();
    if let Some(full) = found.findings.iter().find(|f| f.kind == "never-full") {
        sentences.push(first_sentence(&full.summary));
    }
    let clauses: Vec<String> = causes.iter().map(|c| c.clause.clone()).collect();
    match clauses.as_slice() {
        [] => {}
        [one] => sentences.push(format!("{}.", capital(one))),
        [first, rest @ ..] => {
            sentences.push(format!("The larger cause: {first}."));
            sentences.push(format!("Also: {}.", rest.join("; ")));
        }
    }
    sentences.join(" ")
}

fn first_sentence(text: &str) -> String {
    match text.find(". ") {
        Some(end) => text[..=end].to_owned(),
        None => text.to_owned(),
    }
}

/// A sentence as a clause: its first letter small, its full stop gone.
fn lower(sentence: &str) -> String {
    let mut chars = sentence.trim_end_matches('.').chars();
    chars
        .next()
        .map(|c| c.to_lowercase().chain(chars).collect())
        .unwrap_or_default()
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map(|c| c.to_uppercase().chain(chars).collect())
        .unwrap_or_default()
}

/// How the findings explain one another, a sentence each.
fn story(evidence: &Evidence, found: &Found) -> Vec<String> {
    let has = |kind: &str| found.findings.iter().any(|f| f.kind == kind);
    let mut story = Vec::new();
    let held = evidence.held_short();
    if has("drop-battery-cable") && held.hours >= 0.5 {
        story.push(format!(
            "The resistance makes the controller reach its voltage early: for {} hours on {} it held back although the bank stood {} V lower and still wanted charge.",
            about(held.hours),
            days(held.days),
            about(held.drop_v)
        ));
    }
    if has("harvest-short") && has("never-full") {
        story.push("What the panels did not bring could not go into the bank either.".to_owned());
    }
    let full = evidence.in_state(DayState::Full).len();
    let dull = evidence.in_state(DayState::Dull).len();
    let set_aside: Vec<String> = [
        (full, "on which the controller held back"),
        (dull, "under a dull sky"),
    ]
    .into_iter()
    .filter(|(n, _)| *n > 0)
    .map(|(n, what)| format!("{} {what}", days(n)))
    .collect();
    if !set_aside.is_empty() {
        story.push(format!(
            "Not held against the panels: {}.",
            set_aside.join(", ")
        ));
    }
    story
}

fn nothing(evidence: &Evidence, found: &Found) -> Verdict {
    let n = evidence.readable().count();
    let full = evidence
        .accounts
        .charge
        .full_days
        .iter()
        .filter(|f| **f)
        .count();
    let faults: Vec<&Finding> = found
        .findings
        .iter()
        .filter(|f| rule(&f.kind).is_some_and(|r| r.area != Limiting::Log))
        .collect();
    let all = evidence.accounts.days.len();
    // Days without readings are not spoken for.
    let span = if n == all {
        days(n)
    } else {
        format!("the {n} of {} with enough readings", days(all))
    };
    let text = match faults.first() {
        Some(finding) => format!("Nothing limits this system for now. {}", finding.summary),
        None if evidence.accounts.attribution.estimated => format!(
            "Nothing that the bank's own figures show over {} needs mending; whether the panels give what they should takes the controller's log.",
            span
        ),
        None if !evidence.accounts.charge.can_tell => format!(
            "Nothing that this log can show needs mending, over {}.",
            span
        ),
        None => format!(
            "Nothing needs mending: over {} the panels gave what the sky offered as far as the bank took it, and the bank was full on {}.",
            span,
            days(full)
        ),
    };
    let calibrated = evidence.expected.clear.calibrated && !evidence.accounts.attribution.estimated;
    let confidence = match n {
        5.. if calibrated => Confidence::High,
        // A bank full day after day needs no clear hours to be believed.
        5.. if 2 * full >= n => Confidence::Medium,
        _ => Confidence::Low,
    };
    Verdict {
        limiting: Limiting::Nothing,
        severity: faults.first().map_or(Severity::Fine, |f| f.severity),
        text,
        confidence,
        first_action: faults.first().map(|f| f.kind.clone()),
        story: story(evidence, found),
    }
}

/// A log that can be read but not judged.
fn too_little(evidence: &Evidence, judged: usize) -> Verdict {
    let n = evidence.accounts.days.len();
    let measured: f64 = evidence.accounts.attribution.harvest.iter().sum();
    let seen = if measured > 0.5 {
        format!(" About {} Wh were harvested in it.", about(measured))
    } else {
        String::new()
    };
    Verdict {
        limiting: Limiting::Log,
        severity: Severity::Watch,
        text: format!(
            "This log is too little to judge the system by: {} of {} can be judged, and it takes at least {}.{seen}",
            judged,
            days(n),
            thresholds::VERDICT_DAYS
        ),
        confidence: Confidence::Low,
        first_action: None,
        story: vec![
            "Log the bank's volts and amperes and the controller's output every minute to five minutes, through at least a week with some sun, beginning with a full charge.".to_owned(),
        ],
    }
}
