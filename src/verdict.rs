//! Findings told as one story: what limits, how sure, and what to do first.

mod plain;
mod told;
mod unfaulted;

use crate::findings::Evidence;
use crate::findings::catalogue::{Found, rule};
use crate::report::model::{Confidence, Finding, Limiting, Severity, Verdict};

/// Most jobs named: more than three are a list of alarms, not a plan (owners' reference, part 3).
const MOST_ACTIONS: usize = 3;

/// One thing that takes energy, in the running for the verdict.
struct Candidate {
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
    let candidates = candidates(evidence, found);
    let few = (judged as f64) < evidence.design.judging.verdict_days;
    if few && worst != Severity::Stop && !sure_of_a_cause(evidence, found, &candidates) {
        return plain::too_little(evidence, found, judged);
    }
    let Some(first) = candidates.first() else {
        return plain::nothing(evidence, found);
    };
    // Sun and use are what is left where nothing is missing.
    let by_default = matches!(first.area, Limiting::Sun | Limiting::Use);
    if by_default && plain::is_open(evidence) {
        return plain::nothing(evidence, found);
    }
    let actions = actions(found, &candidates);
    Verdict {
        limiting: first.area,
        severity: worst,
        text: told::text(found, &candidates),
        confidence: first.confidence,
        first_action: actions.first().cloned(),
        story: told::story(evidence, found, &candidates),
        actions,
    }
}

/// Whether a fault that takes most is sure although few days can be judged: a day on which the controller
/// stands at its limit is not settled, just because nobody sees how much more there was.
fn sure_of_a_cause(evidence: &Evidence, found: &Found, candidates: &[Candidate]) -> bool {
    let readable = evidence.readable().count() as f64;
    let first = candidates.first().filter(|c| c.wh_per_day > 0.0);
    let finding = first.and_then(|c| {
        found
            .findings
            .iter()
            .find(|f| Some(f.kind.as_str()) == c.kind)
    });
    readable >= evidence.design.judging.verdict_days
        && finding.is_some_and(|f| f.confidence == Confidence::High && f.severity <= Severity::Fix)
}

/// Everything that takes energy, the largest first. What another finding explains is no cause of its own.
fn candidates(evidence: &Evidence, found: &Found) -> Vec<Candidate> {
    let mut list: Vec<Candidate> = found
        .findings
        .iter()
        .filter(|f| f.part_of.is_none())
        .filter_map(|finding| {
            let rule = rule(&finding.kind)?;
            let cause = (rule.cause)(evidence, finding)?;
            Some(Candidate {
                area: rule.area,
                wh_per_day: cause.wh_per_day,
                clause: cause.clause,
                kind: Some(rule.kind),
                confidence: finding.confidence,
            })
        })
        .collect();
    // A fault that costs nothing stands back behind a sun or a use that does.
    if list.iter().all(|c| c.wh_per_day <= 0.0) {
        list.extend(unfaulted::without_fault(evidence, found));
    }
    list.sort_by(|a, b| b.wh_per_day.total_cmp(&a.wh_per_day));
    list
}

/// What to do, in order: dangers, then causes by what they take, then other faults worth a job.
fn actions(found: &Found, candidates: &[Candidate]) -> Vec<String> {
    let asks = |f: &&Finding| f.part_of.is_none() && f.severity <= Severity::Fix;
    let dangers = found
        .findings
        .iter()
        .filter(|f| f.severity == Severity::Stop);
    // That the bank never gets full is what came of the rest.
    let symptom = |f: &&Finding| f.kind == "never-full";
    let others = found.findings.iter().filter(|f| asks(f) && !symptom(f));
    let last = found.findings.iter().filter(|f| asks(f) && symptom(f));
    let mut list: Vec<String> = Vec::new();
    let in_order = dangers
        .map(|f| f.kind.clone())
        .chain(candidates.iter().filter_map(|c| c.kind.map(str::to_owned)))
        .chain(others.map(|f| f.kind.clone()))
        .chain(last.map(|f| f.kind.clone()));
    for kind in in_order {
        if !list.contains(&kind) {
            list.push(kind);
        }
    }
    list.truncate(MOST_ACTIONS);
    list
}
