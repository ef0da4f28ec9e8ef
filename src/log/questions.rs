//! What only the owner can say of a file, with the design lines that would say it.

use super::columns::{self, Roles};
use super::inspection::Question;
use super::layout::Layout;
use super::no_table;
use super::stats::ColumnStats;
use super::survey::Survey;
use super::words::{self, Meaning};
use crate::mapping::Role;

/// Lowest and highest voltage a bank of 12 V shows at all; banks of 24 V and 48 V in proportion.
pub(crate) const BANK_12V: (f64, f64) = (9.0, 16.5);

/// Most different texts in a column that could name devices.
const DEVICES: usize = 8;

/// Most different names of quantities in a log of one value a row.
const NAMES: usize = 60;

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

/// Why nothing can be reckoned from a file.
pub(crate) fn useless(layout: &Layout, meanings: &[Meaning], stats: &[ColumnStats]) -> String {
    if let Some((column, names)) = one_value_a_row(layout) {
        return format!(
            "each row holds one value, and '{}' says which ({}): a log is read by columns; write it out with a column for each, or take one with an entry each: {}",
            layout.titles[column],
            names.join(", "),
            one_of(&layout.titles[column], &names[0])
        );
    }
    let first = layout.sample.first();
    let named = first.map(no_table::named_cells).unwrap_or_default();
    if !named.is_empty() {
        return format!("line {}: {named}", layout.first_row);
    }
    let worded = |k: &usize| {
        meanings[*k].quantity.is_some() && stats[*k].words > 0 && stats[*k].numbers == 0
    };
    if let Some(column) = (0..meanings.len()).find(worded) {
        return format!(
            "line {}, column '{}': '{}' is no number, and none of its rows holds one; check how the log was written out",
            layout.first_row,
            layout.titles[column],
            stats[column].first.as_deref().unwrap_or_default()
        );
    }
    format!(
        "only a time was found, no battery voltage, current, power or energy among {}; name them in [log.columns]",
        columns::listed(layout)
    )
}

fn has_letters(cell: &str) -> bool {
    let may_be = |b: u8| b.is_ascii_alphabetic() || !b.is_ascii();
    cell.bytes().any(may_be) && cell.contains(char::is_alphabetic)
}

fn one_of(title: &str, name: &str) -> String {
    format!("only = {{ column = \"{title}\", equals = \"{name}\" }}")
}

/// The column that says which quantity its row is of, with the first of its names.
fn one_value_a_row(layout: &Layout) -> Option<(usize, Vec<String>)> {
    (0..layout.titles.len()).find_map(|column| {
        let cells = layout.sample.column(column);
        if !cells.clone().any(has_letters) {
            return None;
        }
        let mut names: Vec<&str> = cells.collect();
        names.sort_unstable();
        names.dedup();
        if names.len() > NAMES || names.len() * 2 > layout.sample.len() {
            return None;
        }
        let is_quantity =
            |name: &&&str| has_letters(name) && words::meaning(name).quantity.is_some();
        let quantities = names.iter().filter(is_quantity).count();
        let names_them = quantities >= 2 && quantities * 2 >= names.len();
        names.truncate(4);
        let names = names.into_iter().map(str::to_owned);
        names_them.then(|| (column, names.collect()))
    })
}

/// A file of several columns of numbers of which none says what it is.
fn roles(survey: &Survey) -> Question {
    let layout = &survey.layout;
    if let Some((column, names)) = one_value_a_row(layout) {
        return Question {
            text: format!(
                "each row holds one value, and '{}' says which",
                layout.titles[column]
            ),
            settle: format!(
                "{}   # an entry for each, with its own [log.columns]",
                one_of(&layout.titles[column], &names[0])
            ),
            blocking: true,
        };
    }
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

/// Several devices in one file: rows share their stamps and a column of few different values parts
/// them, or a column titled as a device's name goes to and fro.
pub(crate) fn devices(
    layout: &Layout,
    roles: &Roles,
    time: &[usize],
    shared: bool,
) -> Option<Question> {
    let used: Vec<usize> = roles
        .uses
        .iter()
        .flat_map(|u| u.parts.iter().map(|p| p.0))
        .chain(time.iter().copied())
        .collect();
    let free = (0..layout.titles.len()).filter(|k| !used.contains(k));
    for column in free {
        let cells: Vec<&str> = layout.sample.column(column).collect();
        let mut different: Vec<&str> = cells.iter().copied().filter(|c| !c.is_empty()).collect();
        different.sort();
        different.dedup();
        if !(2..=DEVICES).contains(&different.len()) || cells.len() <= different.len() {
            continue;
        }
        let title = &layout.titles[column];
        let takes_turns = words::names_device(title) && goes_to_and_fro(&cells);
        if !(shared || takes_turns) {
            continue;
        }
        if one_value_a_row(layout).is_some() {
            return None;
        }
        let why = if shared {
            "rows share their stamps and"
        } else {
            "from row to row"
        };
        return Some(Question {
            text: format!(
                "{why} '{title}' takes {} values: several devices seem mixed in one file",
                different.len()
            ),
            settle: format!(
                "only = {{ column = \"{title}\", equals = \"{}\" }}   # an entry for each device wanted",
                different[0]
            ),
            blocking: true,
        });
    }
    None
}

/// Whether a column changes in nearly every second row at least, as the names of devices taking
/// turns do.
fn goes_to_and_fro(cells: &[&str]) -> bool {
    let changes = cells.windows(2).filter(|w| w[0] != w[1]).count();
    changes * 9 >= cells.len() * 4
}

/// Whether anything can be reckoned from these roles.
pub(crate) fn are_useful(roles: &Roles, daily: bool) -> bool {
    use Role::*;
    let electrical = [
        BatteryVoltage,
        BatteryCurrent,
        BatteryPower,
        ArrayCurrent,
        ArrayPower,
        ChargeVoltage,
        ChargeCurrent,
        ChargePower,
        LoadCurrent,
        LoadPower,
        OtherCurrent,
        HarvestTotal,
    ];
    let totals = [DayHarvest, DayLoad, DaySocLow, DayVoltsHigh];
    electrical.iter().any(|r| roles.has(*r)) || (daily && totals.iter().any(|r| roles.has(*r)))
}
