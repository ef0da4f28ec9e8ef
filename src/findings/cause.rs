//! How a finding stands in the verdict: what it costs a day, and in which words.

use crate::findings::Evidence;
use crate::report::model::{Finding, Severity};
use crate::words::{first_sentence, lower_first};

/// What a finding takes, in the running for what limits this system.
#[derive(Debug, Clone, PartialEq)]
pub struct Cause {
    /// Energy that mending it would give back, Wh a judged day.
    pub wh_per_day: f64,
    /// The claim as a clause: small first letter, no full stop.
    pub clause: String,
}

/// The finding's own loss, with the first sentence of its summary. A loss not worth a job limits nothing.
pub fn by_loss(_: &Evidence, finding: &Finding) -> Option<Cause> {
    (finding.severity <= Severity::Fix).then(|| Cause {
        wh_per_day: finding.lost_wh_per_day.map_or(0.0, |i| i.value),
        clause: clause_of(finding),
    })
}

/// Costs no energy by itself: it leads only where nothing else does.
pub fn without_cost(_: &Evidence, finding: &Finding) -> Option<Cause> {
    (finding.severity <= Severity::Fix).then(|| Cause {
        wh_per_day: 0.0,
        clause: clause_of(finding),
    })
}

/// The first sentence of its summary as a clause.
pub fn clause_of(finding: &Finding) -> String {
    lower_first(first_sentence(&finding.summary).trim_end_matches('.'))
}

/// Limits nothing: a danger or a remark that leaves the harvest and the bank's filling as they are.
pub fn none(_: &Evidence, _: &Finding) -> Option<Cause> {
    None
}
