//! The files of a report: the first one by one, the others together.

use super::format;
use super::model::{Input, Rows};

/// Files listed one by one.
const MOST: usize = 20;

/// Files listed one by one.
pub(super) fn listed(inputs: &[Input]) -> &[Input] {
    &inputs[..inputs.len().min(MOST)]
}

/// What stands for the other files, and their rows; `None` where there are none.
pub(super) fn others(inputs: &[Input]) -> Option<(String, Rows)> {
    let others = inputs.get(MOST..).filter(|r| !r.is_empty())?;
    let of = |part: fn(&Rows) -> u64| others.iter().map(|i| part(&i.rows)).sum::<u64>();
    let rows = Rows {
        read: of(|r| r.read),
        used: of(|r| r.used),
        repaired: of(|r| r.repaired),
        merged: of(|r| r.merged),
        refused: of(|r| r.refused),
    };
    let name = format!("and {} more", format::count(others.len(), "file"));
    Some((name, rows))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(read: u64) -> Input {
        Input {
            file: "a.csv".to_owned(),
            rows: Rows {
                read,
                used: read,
                ..Rows::default()
            },
            first: None,
            last: None,
            step_s: None,
            roles: std::collections::BTreeMap::new(),
            notes: Vec::new(),
        }
    }

    #[test]
    fn every_row_is_counted_once_however_many_files() {
        for count in [0, 1, MOST, MOST + 1, 1_000] {
            let inputs: Vec<Input> = (1..=count as u64).map(file).collect();
            let rest = others(&inputs);
            assert_eq!(rest.is_some(), count > MOST);
            let listed: u64 = listed(&inputs).iter().map(|i| i.rows.read).sum();
            let all = listed + rest.map_or(0, |r| r.1.read);
            assert_eq!(all, (1..=count as u64).sum::<u64>());
        }
    }
}
