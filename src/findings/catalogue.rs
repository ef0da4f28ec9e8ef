//! The one list of rules, and how they are run.

use crate::findings::{Cause, Evidence};
use crate::report::model::{Checked, Finding, Limiting, Severity, Unknown};

/// What a rule came to.
pub enum Outcome {
    /// Something to say.
    Found(Box<Finding>),
    /// Does not concern this system.
    NotApplicable,
    /// Looked for and fine, with the figures seen.
    Fine(String),
    /// Not to be told from this log, and what would settle it.
    CannotTell {
        /// What is not known.
        text: String,
        /// The measurement that would settle it.
        needs: String,
    },
}

/// A kind of finding.
pub struct Rule {
    /// Kind, as in reports.
    pub kind: &'static str,
    /// The area its mending belongs to.
    pub area: Limiting,
    /// What it means for the owner.
    pub meaning: &'static str,
    /// How it is decided.
    pub decided: &'static str,
    /// What it can't do.
    pub limits: &'static str,
    /// How a finding of this kind stands in the verdict; `None`: it limits nothing.
    pub cause: fn(&Evidence, &Finding) -> Option<Cause>,
    /// Kinds that explain this one where they are found too, the likeliest first: it is then told as
    /// their consequence and asks for no action of its own.
    pub follows_from: &'static [&'static str],
    /// Looks at the evidence.
    pub look: fn(&Evidence) -> Outcome,
}

/// Every rule, dangers first.
pub const RULES: &[Rule] = &[
    super::cold_charge::RULE,
    super::cold_voltage_over_limit::RULE,
    super::fuse_unsuitable::RULE,
    super::controller_undersized::RULE,
    super::hot_charge::RULE,
    super::cell_limit_passed::RULE,
    super::runaway_signs::RULE,
    super::charge_voltage_high::RULE,
    super::charge_current_high::RULE,
    super::array_dark::RULE,
    super::array_part_out::RULE,
    super::array_weak::RULE,
    super::shade_repeating::RULE,
    super::harvest_short::RULE,
    super::drop_battery_cable::RULE,
    super::drop_rising::RULE,
    super::drop_array_cable::RULE,
    super::cable_undersized::RULE,
    super::controller_limiting::RULE,
    super::charge_voltage_low::RULE,
    super::absorption_short::RULE,
    super::never_full::RULE,
    super::capacity_low::RULE,
    super::charge_loss_high::RULE,
    super::battery_resistance_high::RULE,
    super::bank_drained::RULE,
    super::soc_unreliable::RULE,
    super::standby_high::RULE,
    super::load_over_budget::RULE,
    super::use_exceeds_harvest::RULE,
    super::meter_offset::RULE,
    super::clock_off::RULE,
    super::current_reversed::RULE,
    super::logs_disagree::RULE,
    super::current_offset::RULE,
    super::log_gaps::RULE,
];

/// The rule of a kind.
pub fn rule(kind: &str) -> Option<&'static Rule> {
    RULES.iter().find(|r| r.kind == kind)
}

/// What all rules came to.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Found {
    /// Findings, worst first, then in the order of the catalogue.
    pub findings: Vec<Finding>,
    /// Looked for and fine.
    pub checked: Vec<Checked>,
    /// Not to be told.
    pub unknown: Vec<Unknown>,
}

/// Runs every rule.
pub fn look(evidence: &Evidence) -> Found {
    let mut found = Found::default();
    for rule in RULES {
        match (rule.look)(evidence) {
            Outcome::Found(finding) => found.findings.push(*finding),
            Outcome::NotApplicable => {}
            Outcome::Fine(text) => found.checked.push(Checked {
                kind: rule.kind.to_owned(),
                text,
            }),
            Outcome::CannotTell { text, needs } => found.unknown.push(Unknown {
                kind: rule.kind.to_owned(),
                text,
                needs,
            }),
        }
    }
    found.findings.sort_by_key(|f| f.severity);
    tell_consequences(&mut found.findings);
    found
}

/// Names, for each finding that another one explains, that other one. A danger is never only a
/// consequence.
fn tell_consequences(findings: &mut [Finding]) {
    let kinds: Vec<(String, Severity)> = findings
        .iter()
        .map(|f| (f.kind.clone(), f.severity))
        .collect();
    for finding in findings.iter_mut().filter(|f| f.severity != Severity::Stop) {
        let roots = rule(&finding.kind).map_or(&[][..], |r| r.follows_from);
        finding.part_of = roots
            .iter()
            .find(|root| {
                kinds
                    .iter()
                    .any(|(kind, s)| kind == *root && *s <= Severity::Fix)
            })
            .map(|root| (*root).to_owned());
    }
}
