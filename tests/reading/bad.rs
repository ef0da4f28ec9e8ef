//! Input that cannot be read.

use super::*;

#[test]
fn bad_input_is_told_with_what_and_where_and_what_to_do() {
    let root = folder().join("bad");
    let mut seen = String::new();
    let mut files: Vec<PathBuf> = fs::read_dir(&root)
        .unwrap()
        .map(|f| f.unwrap().path())
        .collect();
    files.retain(|f| f.file_name().unwrap() != "messages.txt");
    files.sort();
    for file in files {
        let file = file.file_name().unwrap().to_string_lossy().into_owned();
        let entries: Vec<LogEntry> = entry_for(&file).into_iter().collect();
        let message = read_with(&[root.join(&file)], &root, &entries)
            .err()
            .unwrap_or("was read".to_owned());
        let front = format!("{}/", root.display());
        let _ = writeln!(seen, "{}", message.replace(&front, ""));
    }
    let kept = root.join("messages.txt");
    if std::env::var_os("UPDATE_EXPECT").is_some_and(|v| v == "1") {
        fs::write(&kept, &seen).unwrap();
    }
    assert_eq!(seen, fs::read_to_string(kept).unwrap());
}

/// A log of the shape most have, and what it says when read.
fn said_of(bytes: &[u8]) -> String {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("x.csv");
    fs::write(&path, bytes).unwrap();
    read_with(&[path], folder.path(), &[])
        .err()
        .unwrap_or_default()
}

#[test]
fn a_line_that_never_ends_is_no_table() {
    let said = said_of(&vec![b'7'; 3 << 20]);
    assert!(said.contains("no table found"), "{said}");
}

#[test]
fn a_million_columns_are_read_or_refused_but_end() {
    let mut text = "Time,Battery voltage (V)".to_owned();
    text.push_str(&",x".repeat(1_000_000));
    text.push('\n');
    for minute in 0..3 {
        let _ = writeln!(text, "2026-05-14 10:0{minute}:00,12.{minute}");
    }
    let said = said_of(text.as_bytes());
    assert!(said.is_empty() || said.contains("x.csv"), "{said}");
}
