//! What `inspect --write` would put into a design reads every log as it was read without.

use super::*;

use ampledger::design::log_entries;
use ampledger::design::read::read_text;

const DESIGN: &str = "[place]\nlatitude = 55.7\nlongitude = 12.6\ntimezone = \"Europe/Copenhagen\"\n\
    [array.panel]\npower = \"200 W\"\n[battery]\nchemistry = \"lfp\"\ncapacity = \"100 Ah\"\n";

fn seen(path: &Path, root: &Path, entries: &[LogEntry]) -> Result<Reading, String> {
    let calendar = calendar();
    log::look(&Request {
        paths: vec![path.to_owned()],
        entries,
        folder: Some(root),
        calendar: &calendar,
        zone: None,
        nominal_v: None,
        from: None,
        to: None,
    })
    .map_err(|e| e.0)
}

/// Roles with their columns, as far as columns have one.
fn roles(reading: &Reading) -> Vec<(String, String)> {
    let columns = reading.inspection.files.iter().flat_map(|f| &f.columns);
    columns
        .filter_map(|c| Some((c.name.clone(), c.role.clone()?)))
        .collect()
}

/// What differs once the log is read by what was written of it; empty where nothing does.
fn differs(file: &str, folder: &Path) -> String {
    let path = folder.join(file);
    fs::copy(super::folder().join(file), &path).unwrap();
    let before = seen(&path, folder, &[]).unwrap();
    let design = folder.join("design.toml");
    let write = |text: &str, reading: &Reading| {
        log_entries::with_entries(text, &design, &reading.suggestions)
            .unwrap()
            .0
    };
    let written = write(DESIGN, &before);
    let entries = read_text(&written, &design, folder).unwrap().logs;
    let after = match seen(&path, folder, &entries) {
        Ok(reading) => reading,
        Err(error) => return format!("{file}: {error}\n{written}"),
    };
    let measured = |reading: &Reading| {
        let mut lines: Vec<String> = reading
            .inspection
            .measured
            .iter()
            .map(|m| format!("{m:?}"))
            .collect();
        lines.sort();
        lines
    };
    let same = roles(&before) == roles(&after)
        && measured(&before) == measured(&after)
        && before.inspection.files[0].rows == after.inspection.files[0].rows;
    if !same {
        return format!("{file} is read otherwise by\n{written}");
    }
    let again = write(&written, &after);
    if again != written {
        return format!("{file}: written twice it is\n{again}");
    }
    String::new()
}

#[test]
fn what_is_written_reads_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let mut files: Vec<String> = fs::read_dir(super::folder())
        .unwrap()
        .map(|f| f.unwrap().path())
        .filter(|f| f.is_file())
        .map(|f| f.file_name().unwrap().to_string_lossy().into_owned())
        .filter(|f| f != "expected.txt" && entry_for(f).is_none())
        .collect();
    files.sort();
    assert!(files.len() >= 100);
    let wrong: Vec<String> = files
        .iter()
        .map(|file| differs(file, folder.path()))
        .filter(|found| !found.is_empty())
        .collect();
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}
