//! Rules that judge several arrays, controllers or cables of one design: the worst is reported, and
//! what the design does not say of one hides no danger of another.

use crate::design::checks::{Lack, Standing};
use crate::findings::Outcome;
use crate::report::model::{Finding, Severity};

pub(super) use crate::design::checks::ARITHMETIC_ONLY;

/// The severity of a figure that stands so to its limit.
pub(super) fn severity(standing: Standing) -> Severity {
    match standing {
        Standing::Danger => Severity::Stop,
        Standing::Mend => Severity::Fix,
        Standing::Watch => Severity::Watch,
        Standing::Fine => Severity::Fine,
    }
}

/// What came of one array, controller or cable.
pub(super) enum Verdict {
    /// Something to say, and how far it is past its limit: 1 is at the limit.
    Found(f64, Box<Finding>),
    /// Looked for and fine, with the figures.
    Fine(String),
    /// The design does not say enough.
    CannotTell {
        /// What is not known.
        text: String,
        /// What would settle it.
        needs: String,
    },
}

impl Verdict {
    pub(super) fn found(past: f64, finding: Finding) -> Self {
        Verdict::Found(past, Box::new(finding))
    }

    pub(super) fn lacking(lack: Lack) -> Self {
        Verdict::CannotTell {
            text: lack.text,
            needs: lack.needs,
        }
    }
}

/// The worst of several: the gravest finding, among equals the one furthest past its limit; else what
/// is not known; else all that is fine.
pub(super) fn worst(verdicts: Vec<Verdict>) -> Outcome {
    let (mut found, mut fine, mut unknown) = (Vec::new(), Vec::new(), Vec::new());
    for verdict in verdicts {
        match verdict {
            Verdict::Found(past, finding) => found.push((past, finding)),
            Verdict::Fine(text) => fine.push(text),
            Verdict::CannotTell { text, needs } => unknown.push((text, needs)),
        }
    }
    found.sort_by(|a, b| a.1.severity.cmp(&b.1.severity).then(b.0.total_cmp(&a.0)));
    let others: Vec<String> = found.iter().skip(1).map(|f| f.1.summary.clone()).collect();
    if let Some((_, mut finding)) = found.into_iter().next() {
        finding
            .why
            .extend(others.iter().map(|o| format!("Beside it: {o}")));
        return Outcome::Found(finding);
    }
    if let Some((text, needs)) = unknown.into_iter().next() {
        return Outcome::CannotTell { text, needs };
    }
    if fine.is_empty() {
        return Outcome::NotApplicable;
    }
    Outcome::Fine(fine.join("; "))
}
