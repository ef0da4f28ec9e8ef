//! Puts the outputs in their folder: each file whole or not at all, the page last.

use std::path::{Path, PathBuf};

use super::model::Report;
use super::{charts, compare_text, days_csv, html, json, post, text};
use crate::whole_file;

/// Why outputs could not be written.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    /// A file or folder refused.
    #[error("{}: cannot {deed}: {}; choose another folder with --out, or make this one writable", .path.display(), crate::words::of_file(.why))]
    Refused {
        /// File or folder.
        path: PathBuf,
        /// What was tried.
        deed: &'static str,
        /// What the system says.
        why: std::io::Error,
    },
    /// The report could not be put into JSON.
    #[error(transparent)]
    Json(#[from] json::JsonError),
    /// The page could not be put together.
    #[error("report.html: {0}")]
    Page(#[from] html::HtmlError),
}

/// What changed by a mend, for programs and for people, under the output folder.
const COMPARISON: [&str; 2] = ["comparison.json", "comparison.txt"];

/// Writes `report.json`, `days.csv`, `report.txt`, `post.md`, the charts and, last, `report.html` into `folder`;
/// of a report that compares the days before and after a mend `comparison.json` and `comparison.txt` too.
///
/// Everything is made before anything is written. A file of ours that this report has nothing for is
/// removed; files that are not ours are never touched. Returns the files in the order written.
///
/// # Errors
/// When a file or folder refuses.
pub fn write(report: &Report, folder: &Path) -> Result<Vec<PathBuf>, WriteError> {
    write_with(report, &json::render(report)?, folder)
}

/// [`write()`] for a report whose JSON is at hand.
///
/// # Errors
/// When a file or folder refuses.
pub fn write_with(report: &Report, json: &str, folder: &Path) -> Result<Vec<PathBuf>, WriteError> {
    let drawn = charts::all(report);
    let page = html::render(report, &drawn)?;
    let compared = match &report.comparison {
        Some(compared) => Some([json::render(compared)?, compare_text::render(compared)]),
        None => None,
    };
    let mut files: Vec<(&str, &str)> = Vec::new();
    let (csv, plain, post) = (
        days_csv::render(report),
        text::render(report),
        post::render(report),
    );
    files.push(("report.json", json));
    files.push(("days.csv", &csv));
    files.push(("report.txt", &plain));
    files.push(("post.md", &post));
    if let Some(texts) = &compared {
        files.extend(COMPARISON.into_iter().zip(texts.iter().map(String::as_str)));
    }
    let charts: Vec<String> = drawn.iter().map(|c| c.file_of(&report.run)).collect();
    files.extend(
        drawn
            .iter()
            .map(|c| c.file)
            .zip(charts.iter().map(String::as_str)),
    );
    make_folder(folder)?;
    if !drawn.is_empty() {
        make_folder(&folder.join("charts"))?;
    }
    whole_file::sweep(folder);
    whole_file::sweep(&folder.join("charts"));
    let names: Vec<&str> = files.iter().map(|(name, _)| *name).collect();
    let mut written = Vec::new();
    for (name, content) in files {
        written.push(put(folder, name, content)?);
    }
    for stale in charts::FILES.iter().chain(&COMPARISON) {
        if !names.contains(stale) {
            remove(&folder.join(stale))?;
        }
    }
    written.push(put(folder, "report.html", &page)?);
    Ok(written)
}

fn refused(path: &Path, deed: &'static str) -> impl FnOnce(std::io::Error) -> WriteError {
    let path = path.to_path_buf();
    move |why| WriteError::Refused { path, deed, why }
}

fn make_folder(folder: &Path) -> Result<(), WriteError> {
    std::fs::create_dir_all(folder).map_err(refused(folder, "make the folder"))
}

fn put(folder: &Path, name: &str, content: &str) -> Result<PathBuf, WriteError> {
    let target = folder.join(name);
    whole_file::put(&target, content.as_bytes()).map_err(refused(&target, "write"))?;
    Ok(target)
}

fn remove(path: &Path) -> Result<(), WriteError> {
    match std::fs::remove_file(path) {
        Err(why) if why.kind() != std::io::ErrorKind::NotFound => Err(refused(path, "remove")(why)),
        _ => Ok(()),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::report::demo;

    #[test]
    fn the_page_comes_last_and_nothing_passing_is_left() {
        let folder = tempfile::tempdir().unwrap();
        let written = write(&demo::faulty(), folder.path()).unwrap();
        assert_eq!(written.last().unwrap(), &folder.path().join("report.html"));
        assert_eq!(written.len(), 5 + COMPARISON.len() + charts::FILES.len());
        let names: Vec<String> = std::fs::read_dir(folder.path())
            .unwrap()
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .collect();
        assert_eq!(names.len(), 6 + COMPARISON.len(), "{names:?}");
    }

    #[test]
    fn old_charts_of_ours_go_and_foreign_files_stay() {
        let folder = tempfile::tempdir().unwrap();
        write(&demo::faulty(), folder.path()).unwrap();
        let foreign = folder.path().join("charts/holiday.svg");
        std::fs::write(&foreign, "mine").unwrap();
        write(&demo::useless(), folder.path()).unwrap();
        assert!(!folder.path().join(charts::DROP).exists());
        for of_the_mend in COMPARISON {
            assert!(!folder.path().join(of_the_mend).exists());
        }
        assert_eq!(std::fs::read_to_string(&foreign).unwrap(), "mine");
    }

    #[test]
    fn a_chart_says_of_which_run_it_is_and_the_page_says_it_once_for_all() {
        let folder = tempfile::tempdir().unwrap();
        let report = demo::faulty();
        write(&report, folder.path()).unwrap();
        let said = format!("data-run=\"{}\"", report.run);
        for chart in charts::FILES {
            let svg = std::fs::read_to_string(folder.path().join(chart)).unwrap();
            let (root, _) = svg.split_once('>').unwrap();
            assert!(root.starts_with("<svg ") && root.contains(&said), "{chart}");
        }
        let page = std::fs::read_to_string(folder.path().join("report.html")).unwrap();
        assert!(!page.contains("data-run"));
    }

    #[test]
    fn the_same_report_gives_the_same_bytes() {
        let (a, b) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let first = write(&demo::faulty(), a.path()).unwrap();
        let second = write(&demo::faulty(), b.path()).unwrap();
        for (x, y) in first.iter().zip(&second) {
            assert_eq!(
                std::fs::read(x).unwrap(),
                std::fs::read(y).unwrap(),
                "{}",
                x.display()
            );
        }
    }

    #[test]
    fn an_error_names_the_file_and_the_way_out() {
        let folder = tempfile::tempdir().unwrap();
        let blocked = folder.path().join("file");
        std::fs::write(&blocked, "").unwrap();
        let error = write(&demo::healthy(), &blocked).unwrap_err().to_string();
        assert!(error.contains("file") && error.contains("--out"), "{error}");
    }
}
