//! The controller ended absorption while the bank still took charge.

use serde_json::json;

use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::physics::bank::full_hold_min;
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, date, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "absorption-short",
    area: Limiting::Settings,
    meaning: "The controller went from absorption to float on its timer while the bank was still taking more than its full current. Lead needs hours at absorption; each time it is cut off, a little of the bank stays uncharged.",
    decided: "From the logged stage: the bank's own current in the last minutes of absorption, and how long that lasted. An ending is early when the day saw no full charge and the current was still above the full current by more than a fifth: less is the ammeter's zero error, or a quarter of an hour; or when absorption lasted less than half as long as a full charge must be held (30 minutes for lead, 5 for lithium) and ended with more than half of the full current. Found when at least half of the endings are early, and at least three. Where too much resistance between controller and bank explains it, that is named instead.",
    limits: "Needs the controller's stage and the bank's own current. The controller's current includes the loads and says nothing here.",
    cause: cause::by_loss,
    follows_from: &["drop-battery-cable"],
    look,
};

/// The current at the end of absorption is clearly above the full current from this multiple of it on: at
/// absorption it halves in an hour or so, and an ammeter's zero may be off by a tenth of it.
const CLEARLY_ABOVE: f64 = 1.2;
/// Absorption that lasts less than this share of the time a full charge must be held, and ends above this
/// share of the full current, hardly was one.
const HARDLY: f64 = 0.5;

fn look(evidence: &Evidence) -> Outcome {
    let Some(endings) = evidence.absorption_endings() else {
        return Outcome::CannotTell {
            text: "whether absorption lasts long enough: the controller's stage and the bank's own current were not both logged".to_owned(),
            needs: "the stage in the controller's log beside the bank's current".to_owned(),
        };
    };
    let full = evidence.design.battery.full_current_a;
    let early: Vec<_> = endings.iter().filter(|e| e.early).collect();
    if endings.is_empty() {
        return Outcome::CannotTell {
            text: "whether absorption lasts long enough: it never ended by itself in this log"
                .to_owned(),
            needs: "a sunny day with the bank nearly full".to_owned(),
        };
    }
    if early.len() < 3 || 2 * early.len() < endings.len() {
        return Outcome::Fine(format!(
            "absorption ended {} times, {} of them too early",
            endings.len(),
            early.len()
        ));
    }
    let n = early.len() as f64;
    if super::drop_battery_cable::is_found(evidence) {
        return Outcome::Fine(format!(
            "absorption ended early {} times, which the resistance between controller and bank explains",
            early.len()
        ));
    }
    if super::charge_voltage_high::is_found(evidence) {
        return Outcome::CannotTell {
            text: "whether absorption lasts long enough: at a voltage set too high a bank takes current for gas, and is never done".to_owned(),
            needs: "the voltage set right, and a log of some days after it".to_owned(),
        };
    }
    let amps = early.iter().map(|e| e.amps).sum::<f64>() / n;
    let minutes = early.iter().map(|e| e.held_min).sum::<f64>() / n;
    let held = evidence.held_in_float();
    let per_day = evidence.per_judged_day(held);
    Outcome::Found(Box::new(Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Fix,
        confidence: if early.len() >= 5 { Confidence::High } else { Confidence::Medium },
        r#where: "the controller's absorption settings".to_owned(),
        from: early.first().map(|e| e.date.clone()),
        to: early.last().map(|e| e.date.clone()),
        days: early.iter().map(|e| e.date.clone()).collect(),
        lost_wh_per_day: Some(per_day),
        part_of: None,
        summary: format!(
            "{} times absorption ended too early, after about {} minutes with {} A still flowing into the bank; full would be below {} A, held for {} minutes. While the controller floated, {} a day more was on offer.",
            early.len(),
            about(minutes),
            about(amps),
            about(full),
            about(full_hold_min(evidence.design.battery.chemistry)),
            ranged(&per_day, "Wh")
        ),
        evidence: [
            ("held_min".to_owned(), json!(minutes)),
            ("ending_a".to_owned(), json!(amps)),
            ("full_current_a".to_owned(), json!(full)),
        ]
        .into(),
        why: vec![format!(
            "{} of {} endings between {} and {} were early.",
            early.len(),
            endings.len(),
            early.first().map_or(String::new(), |e| date(&e.date)),
            early.last().map_or(String::new(), |e| date(&e.date))
        )],
        also_possible: vec![
            "a full current in the design that is too low for a tired bank: its current no longer falls".to_owned(),
            "a load between controller and shunt that keeps the current up".to_owned(),
        ],
        next_check: NextCheck {
            tool: "the controller's settings and the bank monitor".to_owned(),
            r#where: "absorption time (or the current that ends it), then the bank's current on a sunny afternoon with loads off".to_owned(),
            healthy: format!(
                "absorption held for at least {} minutes with the bank's current below {} A and no longer falling, only then float",
                about(full_hold_min(evidence.design.battery.chemistry)),
                about(full)
            ),
            faulty: format!(
                "float after about {} minutes, the current ({} A here) still falling",
                about(minutes),
                about(amps)
            ),
            then: "lengthen absorption, or let the bank's current end it, as the battery's data sheet says".to_owned(),
            caution: "The battery maker's time and voltage win. Ventilate lead-acid: hydrogen is explosive. Lithium gets no long absorption.".to_owned(),
        },
        chart: Some("charts/charge.svg".to_owned()),
    }))
}

/// One change from absorption to float.
#[derive(Debug, Clone, PartialEq)]
pub struct Ending {
    /// Local date.
    pub date: String,
    /// Bank current in the last moment of absorption, A.
    pub amps: f64,
    /// How long absorption had lasted, minutes.
    pub held_min: f64,
    /// Whether it came too early: the day saw no full charge, and the bank still took clearly more than its
    /// full current, or absorption hardly lasted while it took about as much.
    pub early: bool,
}

impl Evidence<'_> {
    /// Changes from absorption to float; `None` where stage or bank current was not logged.
    pub fn absorption_endings(&self) -> Option<Vec<Ending>> {
        use crate::timeline::stage;
        let signals = &self.expected.signals;
        let (stages, amps) = (signals.stage.as_ref()?, signals.bank_a.as_ref()?);
        let grid = &self.expected.grid;
        let code = |m: usize| stages.mean(m).map(f64::round);
        let mut endings = Vec::new();
        for m in 1..grid.moments {
            // The moment of the change itself is a mixture: look at the last whole one before it.
            if code(m) != Some(stage::FLOAT) || code(m - 1) == Some(stage::FLOAT) {
                continue;
            }
            let Some(last) = (m.saturating_sub(3)..m)
                .rev()
                .find(|k| stages.mean(*k) == Some(stage::ABSORPTION))
            else {
                continue;
            };
            let held = (0..=last)
                .rev()
                .take_while(|k| code(*k) == Some(stage::ABSORPTION))
                .count();
            if let Some(a) = amps.mean(last) {
                let day = grid.day_of(m);
                let held_min = held as f64 * grid.step_h() * 60.0;
                let battery = &self.design.battery;
                let hardly_held = held_min < HARDLY * full_hold_min(battery.chemistry);
                endings.push(Ending {
                    date: grid.dates[day].to_string(),
                    amps: a,
                    held_min,
                    early: !self.accounts.charge.full_days[day]
                        && (a > CLEARLY_ABOVE * battery.full_current_a
                            || hardly_held && a > HARDLY * battery.full_current_a),
                });
            }
        }
        Some(endings)
    }

    /// Energy held back while the controller floated, Wh over the period.
    pub fn held_in_float(&self) -> Interval {
        use crate::timeline::stage;
        let mut sum = (0.0, 0.0, 0.0);
        let Some(stages) = &self.expected.signals.stage else {
            return Interval::exact(0.0);
        };
        for m in 0..self.expected.grid.moments {
            if stages.mean(m).map(f64::round) == Some(stage::FLOAT) {
                let held = &self.accounts.attribution.held[m];
                sum.0 += held.value;
                sum.1 += held.low;
                sum.2 += held.high;
            }
        }
        Interval::new(sum.0, sum.1, sum.2)
    }
}
