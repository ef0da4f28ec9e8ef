//! What only the owner can say of a file, with the design lines that would say it.

use super::columns::Roles;
use super::inspection::Question;
use super::layout::Layout;
use super::stats::ColumnStats;
use super::survey::Survey;

/// Lowest and highest voltage a bank of 12 V shows at all; banks of 24 V and 48 V in proportion.
pub(crate) const BANK_12V: (f64, f64) = (9.0, 16.5);

/// Most different texts in a column that could name devices.
const DEVICES: usize = 8;

/// A file without a useful column: refused, or shown with a question where it has numbers at all.
///
/// # Errors
/// Why it cannot be used.
pub(crate) fn usable(mut survey: Survey, show: bool) -> Result<Survey, String> {
    let Some(why) = &survey.useless else {
        return Ok(survey);
    };
    let numbers = survey
        .stats
        .iter()
        .enumerate()
        .any(|(k, s)| s.numbers > 0 && !survey.plan.columns.contains(&k));
    if !show || !numbers {
        return Err(why.clone());
    }
    let asked = roles(&survey);
    survey.questions.push(asked);
    Ok(survey)
}

/// A file of several columns of numbers of which none says what it is.
fn roles(survey: &Survey) -> Question {
    let layout = &survey.layout;
    let numbers: Vec<usize> = (0..layout.titles.len())
        .filter(|k| !survey.plan.columns.contains(k) && survey.stats[*k].numbers > 0)
        .collect();
    let like = numbers
        .iter()
        .copied()
        .find(|k| is_like_a_bank(&survey.stats[*k]));
    let bare = layout.header_line.is_none();
    let name = |column: usize| {
        if bare {
            (column + 1).to_string()
        } else {
            format!("\"{}\"", layout.titles[column])
        }
    };
    let column = like
        .or(numbers.first().copied())
        .map_or_else(|| "2".to_owned(), name);
    let why = match like {
        Some(_) => "# its numbers could be a bank's",
        None => "# the column that is",
    };
    let mut settle = format!("[[log]]\nfiles = \"{}\"\n", file_of(&survey.source.name));
    if bare {
        settle.push_str("header = false\n");
    }
    settle.push_str(&format!(
        "[log.columns]\nbattery_voltage = {column}   {why}"
    ));
    Question {
        text: format!(
            "which of the columns is which cannot be told{}: name those you know",
            if bare {
                " without titles"
            } else {
                " by their titles"
            }
        ),
        settle,
        blocking: true,
    }
}

/// The name a design would give the file: its last part.
fn file_of(name: &str) -> &str {
    name.rsplit(['/', '\\']).next().unwrap_or(name)
}

/// Whether a column's numbers stay where a bank's voltage stays.
fn is_like_a_bank(stats: &ColumnStats) -> bool {
    let (Some(low), Some(high)) = (stats.min, stats.max) else {
        return false;
    };
    [1.0, 2.0, 4.0]
        .iter()
        .any(|n| low >= BANK_12V.0 * n && high <= BANK_12V.1 * n && stats.fraction)
}

/// Rows with the same stamp and a column of few different values: several devices in one file?
pub(crate) fn devices(layout: &Layout, roles: &Roles, time: &[usize]) -> Option<Question> {
    let used: Vec<usize> = roles
        .uses
        .iter()
        .flat_map(|u| u.parts.iter().map(|p| p.0))
        .chain(time.iter().copied())
        .collect();
    let free = (0..layout.titles.len()).filter(|k| !used.contains(k));
    for column in free {
        let mut different: Vec<&String> = layout
            .sample
            .iter()
            .filter_map(|r| r.get(column))
            .filter(|c| !c.is_empty())
            .collect();
        different.sort();
        different.dedup();
        if (2..=DEVICES).contains(&different.len()) && layout.sample.len() > different.len() {
            let title = &layout.titles[column];
            return Some(Question {
                text: format!(
                    "rows share their stamps and '{title}' takes {} values: several devices seem mixed in one file",
                    different.len()
                ),
                settle: format!(
                    "only = {{ column = \"{title}\", equals = \"{}\" }}",
                    different[0]
                ),
                blocking: true,
            });
        }
    }
    None
}
