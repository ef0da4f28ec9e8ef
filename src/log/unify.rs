//! The roles of a file, and the same roles for all files of a device.

use super::columns::{self, Facts, Roles};
use super::layout::Layout;
use super::sign::Evidence;
use super::stats::ColumnStats;
use super::survey::Survey;
use super::words::Meaning;
use crate::mapping::LogEntry;

/// Roles from all that is known, the sign of the bank's current included.
pub(crate) fn roles(
    layout: &Layout,
    meanings: &[Meaning],
    stats: &[ColumnStats],
    time: &[usize],
    entry: Option<&LogEntry>,
    daily: bool,
    evidence: &Evidence,
) -> Result<Roles, String> {
    let mut roles = columns::assign(&Facts {
        layout,
        meanings,
        stats,
        time,
        entry,
        daily,
    })?;
    evidence.settle(entry.and_then(|e| e.charging.as_deref()), &mut roles);
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
        &first.layout,
        &first.meanings,
        &stats,
        &first.plan.columns,
        first.entry.as_ref(),
        first.daily,
        &evidence,
    )?;
    first.roles = found.clone();
    for other in rest.iter_mut() {
        other.roles = found.clone();
        other.daily = first.daily;
    }
    Ok(())
}
