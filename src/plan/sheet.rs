//! The checks under way: figures against limits, and what had to be left open.

use crate::design::Design;
use crate::design::checks::{Lack, Standing};
use crate::report::model::Severity;
use crate::report::planning::{Asked, Check};

/// What is compared.
pub(super) struct Subject {
    /// The kind of finding that tells the same.
    pub(super) kind: &'static str,
    /// What is checked, in words.
    pub(super) of: String,
    /// Unit of figure and limit.
    pub(super) unit: &'static str,
}

/// A figure against its limit.
pub(super) struct Figure {
    pub(super) value: f64,
    pub(super) limit: f64,
    pub(super) standing: Standing,
    pub(super) arithmetic: String,
}

/// The checks of one design.
pub(super) struct Sheet<'d> {
    pub(super) design: &'d Design,
    pub(super) checks: Vec<Check>,
    pub(super) asked: Vec<Asked>,
}

impl<'d> Sheet<'d> {
    pub(super) fn new(design: &'d Design) -> Self {
        Self {
            design,
            checks: Vec::new(),
            asked: Vec::new(),
        }
    }

    /// Notes a figure. `hangs_on` are design keys that safety hangs on: where one was filled in rather
    /// than stated, a figure within its limit is not called so, and the key is asked for.
    pub(super) fn figure(&mut self, subject: Subject, figure: Figure, hangs_on: &[&str]) {
        let design = self.design;
        let open: Vec<&str> = hangs_on
            .iter()
            .copied()
            .filter(|key| is_assumed(design, key))
            .collect();
        for key in &open {
            self.ask(
                &format!("{}: the design leaves {key} to be guessed", subject.of),
                &format!("{key}, as it is built"),
            );
        }
        let kept = figure.value <= figure.limit * (1.0 + 1e-9);
        let told = open.is_empty() || !kept;
        self.checks.push(Check {
            kind: subject.kind.to_owned(),
            r#where: subject.of,
            value: Some(figure.value),
            limit: Some(figure.limit),
            unit: subject.unit.to_owned(),
            ok: told.then_some(kept),
            severity: told.then(|| severity(figure.standing)),
            arithmetic: figure.arithmetic,
        });
    }

    /// Notes a check that cannot be made, with what of it is known.
    pub(super) fn open(
        &mut self,
        subject: Subject,
        value: Option<f64>,
        limit: Option<f64>,
        lack: &Lack,
    ) {
        self.ask(&lack.text, &lack.needs);
        self.checks.push(Check {
            kind: subject.kind.to_owned(),
            r#where: subject.of,
            value,
            limit,
            unit: subject.unit.to_owned(),
            ok: None,
            severity: None,
            arithmetic: format!("cannot tell {}", lack.text),
        });
    }

    /// Asks for something the design does not state, once.
    pub(super) fn ask(&mut self, text: &str, needs: &str) {
        if !self.asked.iter().any(|a| a.needs == needs) {
            self.asked.push(Asked {
                text: text.to_owned(),
                needs: needs.to_owned(),
            });
        }
    }
}

fn severity(standing: Standing) -> Severity {
    match standing {
        Standing::Danger => Severity::Stop,
        Standing::Mend => Severity::Fix,
        Standing::Watch => Severity::Watch,
        Standing::Fine => Severity::Fine,
    }
}

/// Whether a key was filled in; repeated sections add their name in brackets.
pub(super) fn is_assumed(design: &Design, key: &str) -> bool {
    design.assumed.iter().any(|a| {
        a.key
            .strip_prefix(key)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with(" ("))
    })
}
