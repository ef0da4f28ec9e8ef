//! Which files are of one device, and which side of the system a device shows.

use std::collections::BTreeMap;

use super::inspection::Question;
use super::readings::Tally;
use super::source::Kin;
use super::survey::Survey;
use super::{ReadError, unify};
use crate::mapping::Role;

/// Files of the same device: same entry, same folder, same header (or as many columns without one).
pub(super) fn group(surveys: &mut [Survey]) -> Result<Vec<Vec<usize>>, ReadError> {
    let mut groups: BTreeMap<Kin, Vec<usize>> = BTreeMap::new();
    let mut order = Vec::new();
    for (k, s) in surveys.iter().enumerate() {
        let key = s.kin();
        let members = groups.entry(key.clone()).or_default();
        if members.is_empty() {
            order.push(key);
        }
        members.push(k);
    }
    let groups: Vec<Vec<usize>> = order.iter().filter_map(|key| groups.remove(key)).collect();
    for members in groups.iter().filter(|m| m.len() > 1) {
        let name = surveys[members[0]].source.name.clone();
        let mut files: Vec<&mut Survey> = surveys
            .iter_mut()
            .enumerate()
            .filter(|(k, _)| members.contains(k))
            .map(|(_, s)| s)
            .collect();
        unify::unify(&mut files).map_err(|why| ReadError(format!("{name}: {why}")))?;
    }
    Ok(groups)
}

/// Next to a log of the bank's own current, a controller's battery voltage is that of its terminals.
pub(super) fn sides(surveys: &mut [Survey], groups: &[Vec<usize>]) -> Vec<String> {
    let is_bank = |s: &Survey| {
        s.roles.has(Role::BatteryCurrent)
            && s.roles.has(Role::BatteryVoltage)
            && !s.roles.has_array()
    };
    let bank = groups
        .iter()
        .find(|g| is_bank(&surveys[g[0]]))
        .map(|g| surveys[g[0]].source.name.clone());
    let Some(bank) = bank else { return Vec::new() };
    let mut notes = Vec::new();
    for members in groups {
        let first = &surveys[members[0]].roles;
        let charger =
            first.has_array() || first.has(Role::ChargeCurrent) || first.has(Role::ChargePower);
        if !charger || is_bank(&surveys[members[0]]) {
            continue;
        }
        let renamed = members
            .iter()
            .filter(|k| {
                surveys[**k]
                    .roles
                    .rename(Role::BatteryVoltage, Role::ChargeVoltage)
            })
            .count();
        if renamed > 0 {
            notes.push(format!("{}: its battery voltage is the controller's (charge_voltage); the bank's own is in {bank}", surveys[members[0]].source.name));
        }
    }
    notes
}

/// Files with the same columns that overlap in time and hardly ever agree are two devices; so are those
/// of which many rows contradict each other: at night all of them show the same nothing.
///
/// Gives the place of a file among the device's and the question.
pub(super) fn ask_devices(files: &[&Survey], tallies: &[Tally]) -> Vec<(usize, Question)> {
    let merged = tallies.iter().map(|t| t.merged).sum::<u64>() as f64;
    let contrary = tallies.iter().map(|t| t.apart).sum::<u64>() as f64;
    let mut asked = Vec::new();
    for (k, file) in files.iter().enumerate() {
        let step = file.step.unwrap_or(60.0);
        let overlap =
            |other: &Survey| (file.last.min(other.last) - file.first.max(other.first)) / step;
        let apart = |other: &&&Survey| {
            let overlap = overlap(other);
            let contradict = contrary >= 12.0 && contrary > 0.1 * (merged + contrary);
            overlap >= 12.0 && (merged < 0.2 * overlap || contradict)
        };
        // Where several overlap, the one named last stands for all.
        if let Some(other) = files[..k].iter().rfind(apart) {
            asked.push((k, question(file, other)));
        }
    }
    asked
}

fn question(file: &Survey, other: &Survey) -> Question {
    Question {
        text: format!(
            "it has the same columns as {} and overlaps it in time with different readings: two devices?",
            other.source.name
        ),
        settle: format!(
            "files = \"{}\"   # an entry for each, with name or controller",
            file.source.name
        ),
        blocking: true,
    }
}
