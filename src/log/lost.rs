//! Rows of a lost link: a meter that hears nothing writes 0 for all it would have heard.

use super::columns::{Facts, Roles};
use super::readings::Columns;
use super::uses::Use;
use crate::mapping::Role;

/// Says what becomes of rows of 0 where a bank's voltage comes to that.
pub(crate) fn remark(facts: &Facts, roles: &mut Roles) {
    if Lost::of(roles).places.is_empty() {
        return;
    }
    let is_zero = |u: &&Use| {
        let stats = facts.stats.get(u.parts[0].0);
        is_bank(u.role) && stats.is_some_and(|s| s.min == Some(0.0) && s.max > Some(0.0))
    };
    if let Some(role) = roles.uses.iter().find(is_zero).map(|u| u.role) {
        roles.notes.push(format!(
            "{} is 0 in places: rows in which all is 0 are those of a lost link and count as missing",
            role.name()
        ));
    }
}

fn is_bank(role: Role) -> bool {
    matches!(role, Role::BatteryVoltage | Role::ChargeVoltage)
}

/// Places that say whether a row holds readings at all.
#[derive(Debug, Clone, Default)]
pub(crate) struct Lost {
    /// Measured values, the bank's voltage among them; empty where there are too few to tell.
    places: Vec<usize>,
}

impl Lost {
    /// Of a file's roles: it takes a bank's voltage, which is never 0, and another value.
    pub(crate) fn of(roles: &Roles) -> Self {
        let counts = |role: Role| {
            !matches!(
                role,
                Role::Stage | Role::Latitude | Role::Longitude | Role::HarvestTotal
            )
        };
        let places: Vec<usize> = (0..roles.uses.len())
            .filter(|k| counts(roles.uses[*k].role))
            .collect();
        let bank = roles.uses.iter().any(|u| is_bank(u.role));
        if bank && places.len() > 1 {
            Self { places }
        } else {
            Self::default()
        }
    }

    /// Takes the values of rows away where all that they have are 0, the bank's voltage too.
    pub(crate) fn clear(&self, rows: &mut Columns) {
        let Some(first) = self.places.first() else {
            return;
        };
        for row in 0..rows.at.len() {
            if rows.values[*first][row] == 0.0
                && self.places.iter().all(|k| rows.values[*k][row] == 0.0)
            {
                rows.values.iter_mut().for_each(|v| v[row] = f64::NAN);
            }
        }
    }
}
