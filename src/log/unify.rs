//! The roles of a file, and the same roles for all files of a device.

use super::columns::{self, Facts, Roles};
use super::sign::Evidence;
use super::survey::Survey;
use super::{lost, uses, whose};

/// Roles from all that is known, the sign of the bank's current included.
///
/// # Errors
/// A column or unit in the design that is not there or makes no sense.
pub(crate) fn roles(facts: &Facts, evidence: &Evidence) -> Result<Roles, String> {
    let mut roles = columns::assign(facts)?;
    if evidence.goes_out_at_night() {
        whose::no_bank(facts, &mut roles);
    }
    lost::remark(facts, &mut roles);
    uses::remark_implausible(facts, &mut roles);
    uses::remark_unread(facts, &mut roles);
    let charging = facts.entry.and_then(|e| e.charging.as_deref());
    evidence.settle(charging, &facts.layout.titles, &mut roles);
    Ok(roles)
}

/// Gives the files of one device the same roles, from what all of them show together.
///
/// # Errors
/// As for a single file.
pub(crate) fn unify(files: &mut [&mut Survey]) -> Result<(), String> {
    let Some((first, rest)) = files.split_first_mut() else {
        return Ok(());
    };
    let mut stats = first.stats.clone();
    let mut evidence = std::mem::take(&mut first.evidence);
    for other in rest.iter() {
        for (mine, theirs) in stats.iter_mut().zip(&other.stats) {
            mine.join(theirs);
        }
        evidence.join(&other.evidence);
    }
    let found = roles(
        &Facts {
            layout: &first.layout,
            meanings: &first.meanings,
            stats: &stats,
            time: &first.plan.columns,
            entry: first.entry.as_ref(),
            shared: first.source.shared,
            daily: first.daily,
            nominal_v: first.nominal_v,
        },
        &evidence,
    )?;
    first.roles = found.clone();
    for other in rest.iter_mut() {
        other.roles = found.clone();
        other.daily = first.daily;
    }
    Ok(())
}
