//! What `inspect` says of every log.

use super::*;

/// What `inspect` says of each log, as it stands in `tests/logs/said`; `UPDATE_EXPECT=1` writes it
/// anew: read the difference before committing it.
#[test]
fn every_log_is_described_as_on_record() {
    let root = folder();
    let update = std::env::var_os("UPDATE_EXPECT").is_some_and(|v| v == "1");
    let mut files: Vec<PathBuf> = fs::read_dir(&root)
        .unwrap()
        .map(|f| f.unwrap().path())
        .filter(|f| f.is_file() && f.file_name().unwrap() != "expected.txt")
        .collect();
    files.sort();
    assert!(files.len() >= 90);
    let mut differ = String::new();
    for path in files {
        let file = path.file_name().unwrap().to_string_lossy().into_owned();
        let said = described(&file);
        let record = root.join("said").join(format!("{file}.txt"));
        if update {
            fs::write(&record, &said).unwrap();
        }
        let want = fs::read_to_string(&record).unwrap_or_default();
        if said != want {
            let _ = writeln!(differ, "{file}\nsaid:\n{said}on record:\n{want}");
        }
    }
    assert!(differ.is_empty(), "\n{differ}");
}

fn described(file: &str) -> String {
    let root = folder();
    let entries: Vec<LogEntry> = entry_for(file).into_iter().collect();
    let calendar = calendar();
    let request = Request {
        paths: vec![root.join(file)],
        entries: &entries,
        folder: Some(&root),
        calendar: &calendar,
        zone: None,
        nominal_v: None,
        from: None,
        to: None,
    };
    let mut seen = log::look(&request).unwrap().inspection;
    for found in &mut seen.files {
        file.clone_into(&mut found.file);
    }
    for measured in &mut seen.measured {
        file.clone_into(&mut measured.file);
    }
    log::inspect_text::text(&seen)
}
