//! Roles, rows and energies of every log.

use super::*;

/// What a line of `expected.txt` finds wrong with a reading; empty where all is right.
fn faults(fields: &[&str], reading: &Reading) -> String {
    let [_, rows, first, roles, role, plus, minus] = fields else {
        return "a malformed line".to_owned();
    };
    let file = &reading.inspection.files[0];
    let mut wrong = String::new();
    let r = file.rows;
    let seen = format!(
        "{}/{}/{}/{}/{}",
        r.read, r.used, r.repaired, r.merged, r.refused
    );
    if seen != *rows {
        let _ = write!(wrong, " rows {seen}, not {rows};");
    }
    if file.first.as_deref() != Some(first) {
        let _ = write!(wrong, " first {:?}, not {first};", file.first);
    }
    let found: Vec<&str> = file
        .columns
        .iter()
        .filter_map(|c| c.role.as_deref())
        .collect();
    for role in roles.split(' ').filter(|r| !found.contains(r)) {
        let _ = write!(wrong, " no {role} among {found:?};");
    }
    let (plus, minus): (f64, f64) = (plus.parse().unwrap(), minus.parse().unwrap());
    match total(reading, role) {
        None => wrong.push_str(" no such energy;"),
        Some(m) => {
            let (a, b) = (m.wh_in.unwrap_or(-1.0), m.wh_out.unwrap_or(-1.0));
            if !close(a, plus, 1e-4) || !close(b, minus, 1e-4) {
                let _ = write!(
                    wrong,
                    " {a:.4} Wh in and {b:.4} out, not {plus} and {minus};"
                );
            }
        }
    }
    wrong
}

#[test]
fn every_habit_is_read_as_it_was_meant() {
    let expected = fs::read_to_string(folder().join("expected.txt")).unwrap();
    let mut wrong = String::new();
    let mut count = 0;
    for line in expected.lines().filter(|l| !l.starts_with('#')) {
        let fields: Vec<&str> = line.split(" | ").collect();
        count += 1;
        let said = match read(fields[0]) {
            Ok(reading) => faults(&fields, &reading),
            Err(error) => format!(" {error}"),
        };
        if !said.is_empty() {
            let _ = writeln!(wrong, "{}:{said}", fields[0]);
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
    assert!(count >= 60, "only {count} logs");
}
