//! Files that are no text tables, known by how they begin, whatever their name.

/// How files begin, what they are, and what to do about it.
const BEGINNINGS: [(&[u8], &str); 15] = [
    (b"PK\x03\x04", WORKBOOK),
    (b"\xd0\xcf\x11\xe0", WORKBOOK),
    (b"\x89PNG", PICTURE),
    (b"\xff\xd8\xff", PICTURE),
    (b"GIF8", PICTURE),
    (
        b"%PDF",
        "is a PDF document; a log is needed as text, with a row for each reading",
    ),
    (
        b"SQLite format 3",
        "is a database; write the table out as CSV",
    ),
    (b"BZh", PACKED),
    (b"\xfd7zXZ", PACKED),
    (b"\x28\xb5\x2f\xfd", PACKED),
    (b"7z\xbc\xaf", PACKED),
    (b"Rar!", PACKED),
    (b"\x7fELF", PROGRAM),
    (b"MZ", PROGRAM),
    (b"PAR1", "is a column store; write the table out as CSV"),
];

const WORKBOOK: &str = "is a spreadsheet workbook or another zip archive, whatever its name; open it and save the sheet as CSV, or unpack it";
const PICTURE: &str = "is a picture; a log is needed as text, with a row for each reading";
const PACKED: &str = "is packed in a way that is not read here; unpack it, or pack it with gzip";
const PROGRAM: &str = "is a program, not a log";

/// First bytes of a file that are looked at.
const LOOKED_AT: usize = 1024;

/// Why a file is no log, where its first bytes, unpacked, show that.
pub(crate) fn what(front: &[u8]) -> Option<&'static str> {
    let bytes = &front[..front.len().min(LOOKED_AT)];
    if let Some(found) = BEGINNINGS.iter().find(|b| bytes.starts_with(b.0)) {
        // Two letters may begin a text as well; a program has NUL bytes soon after.
        return (found.0.len() > 2 || bytes.contains(&0)).then_some(found.1);
    }
    if !bytes.is_empty() && bytes.iter().all(|b| *b == 0) {
        return Some(
            "holds nothing but NUL bytes: it was set aside on the card and never written; copy the log again",
        );
    }
    let odd = |b: &&u8| **b < 0x20 && !matches!(**b, 0 | b'\t' | b'\n' | b'\r' | 0x0c | 0x1b);
    if bytes.iter().filter(odd).count() * 20 > bytes.len() {
        return Some(
            "holds bytes that are no text: it is packed, encrypted or damaged; a log is needed as text, with a row for each reading",
        );
    }
    of_text(bytes)
}

/// Text in another form than a table.
fn of_text(bytes: &[u8]) -> Option<&'static str> {
    let text = String::from_utf8_lossy(bytes).to_lowercase();
    let text = text.trim_start_matches('\u{feff}').trim_start();
    if ["<!doctype html", "<html", "<head"]
        .iter()
        .any(|b| text.starts_with(b))
    {
        return Some(
            "is a web page, not a log; it may be the login page of what you downloaded from: download the log again",
        );
    }
    if text.starts_with("<?xml") || text.starts_with("<svg") {
        return Some("is XML; a log is needed as a table, with a row for each reading");
    }
    let json = text.starts_with("{\"")
        || text.starts_with("[{")
        || text.starts_with("{ \"")
        || text.starts_with("{\n")
        || text.starts_with("[\n");
    json.then_some("is JSON; a log is needed as a table, with a title for each column and a row for each reading: write it out as CSV")
}
