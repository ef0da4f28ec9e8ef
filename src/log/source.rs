//! Which files are meant: files, folders, patterns, standard input, and the design's own lists.

use std::collections::HashMap;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::{ReadError, Request};
use crate::mapping::{ColumnRef, LogEntry, Role};
use crate::neighbour;

/// Most files of one reading: each takes some memory and a look at its head.
const MOST_FILES: usize = 20_000;

/// One file to be read.
#[derive(Debug)]
pub(crate) struct Source {
    /// Path as typed (for files of the design: as the entry spells it).
    pub(crate) name: String,
    /// Where the bytes are.
    pub(crate) path: PathBuf,
    /// Whether it was named outright: then it must be readable.
    pub(crate) named: bool,
    /// How many bytes it had when it was found; none where that could not be told.
    pub(crate) bytes: u64,
    /// The `[[log]]` entry that lends it settings.
    pub(crate) entry: Option<usize>,
    /// Whether other entries take other columns of it: then only those are taken that its own names.
    pub(crate) shared: bool,
    /// Holds standard input for as long as it is read.
    _spill: Option<NamedTempFile>,
}

/// What files of one device have in common: the entry, the folder, the titles.
pub(crate) type Kin = (Option<usize>, String, Vec<String>);

impl Source {
    /// What it shares with other files of its device.
    pub(crate) fn kin(&self, titles: &[String]) -> Kin {
        let folder = self.path.parent().map(|p| p.to_string_lossy().into_owned());
        (self.entry, folder.unwrap_or_default(), titles.to_vec())
    }
}

/// Extensions taken from folders.
const EXTENSIONS: [&str; 3] = [".csv", ".tsv", ".txt"];

/// Expands what was asked for into files, in a stable order, each once.
///
/// # Errors
/// A path that does not exist, a pattern or folder without a log, an entry's path outside the
/// design's folder, nothing asked for at all.
pub(crate) fn expand(request: &Request) -> Result<Vec<Source>, ReadError> {
    let mut sources = Vec::new();
    if request.paths.is_empty() {
        from_entries(request, &mut sources)?;
    } else {
        for path in &request.paths {
            from_argument(path, request, &mut sources)?;
        }
    }
    if sources.len() > MOST_FILES {
        return Err(ReadError(format!(
            "{} files: a file a day is {MOST_FILES} in fifty years; name a narrower folder or pattern, or put them together first",
            sources.len()
        )));
    }
    each_once(&mut sources, request);
    if sources.is_empty() {
        return Err(ReadError(
            "no log given: name a file, a folder or a pattern, or add a [[log]] entry with `files` to the design".to_owned(),
        ));
    }
    Ok(sources)
}

/// Leaves each file once; one of several devices once for each entry that takes other rows of it, or other
/// columns.
fn each_once(sources: &mut Vec<Source>, request: &Request) {
    let mut seen: HashMap<PathBuf, Vec<usize>> = HashMap::new();
    let mut kept: Vec<Source> = Vec::new();
    for source in sources.drain(..) {
        let real = fs::canonicalize(&source.path).unwrap_or_else(|_| source.path.clone());
        let before = seen.entry(real).or_default();
        let entry_of = |source: &Source| request.entries.get(source.entry?);
        let all_are = |other: &dyn Fn(&LogEntry, &LogEntry) -> bool| {
            let apart = |k: &usize| {
                let both = entry_of(&kept[*k]).zip(entry_of(&source));
                both.is_some_and(|(one, two)| other(one, two))
            };
            before.iter().all(apart)
        };
        let shares = !before.is_empty() && all_are(&|one, two| other_columns(one, two));
        if shares || all_are(&|one, two| other_rows(one, two)) {
            for k in before.iter().filter(|_| shares) {
                kept[*k].shared = true;
            }
            before.push(kept.len());
            kept.push(Source {
                shared: shares,
                ..source
            });
        }
    }
    *sources = kept;
}

/// Whether two entries take different rows.
fn other_rows(one: &LogEntry, two: &LogEntry) -> bool {
    one.only.is_some() && two.only.is_some() && one.only != two.only
}

/// Whether two entries name columns to read, and none that the other reads too.
fn other_columns(one: &LogEntry, two: &LogEntry) -> bool {
    let read = |entry: &LogEntry| -> Vec<ColumnRef> {
        let named = entry.columns.iter();
        let named = named.filter(|(role, _)| !matches!(role, Role::Time | Role::Ignore));
        named.flat_map(|(_, map)| map.columns.clone()).collect()
    };
    let (one, two) = (read(one), read(two));
    !one.is_empty() && !two.is_empty() && one.iter().all(|column| !two.contains(column))
}

fn from_entries(request: &Request, sources: &mut Vec<Source>) -> Result<(), ReadError> {
    let folder = folder_of(request);
    for (index, entry) in request.entries.iter().enumerate() {
        for file in &entry.files {
            let start = sources.len();
            push_path(&folder.join(file), file, sources)?;
            let root =
                fs::canonicalize(folder).map_err(|e| cannot(&folder.display().to_string(), &e))?;
            for source in &mut sources[start..] {
                source.entry = Some(index);
                let real = fs::canonicalize(&source.path).map_err(|e| cannot(&source.name, &e))?;
                if !real.starts_with(&root) {
                    return Err(ReadError(format!(
                        "{}: lies outside the design's folder; [[log]] files must be inside it, or give the path on the command line",
                        source.name
                    )));
                }
            }
        }
    }
    Ok(())
}

/// The design's folder. That of a design named without one is empty, which joins but can't be
/// looked up.
fn folder_of<'a>(request: &Request<'a>) -> &'a Path {
    request
        .folder
        .filter(|folder| !folder.as_os_str().is_empty())
        .unwrap_or(Path::new("."))
}

fn from_argument(
    path: &Path,
    request: &Request,
    sources: &mut Vec<Source>,
) -> Result<(), ReadError> {
    let start = sources.len();
    if path.as_os_str() == "-" {
        sources.push(standard_input()?);
    } else {
        push_path(path, &path.to_string_lossy(), sources)?;
    }
    for mut found in sources.split_off(start) {
        let mut lenders = lenders(&found, request).into_iter();
        found.entry = lenders.next();
        let more: Vec<Source> = lenders
            .filter(|k| takes_a_part(&request.entries[*k]))
            .map(|k| Source {
                entry: Some(k),
                ..source(found.name.clone(), found.path.clone(), found.named)
            })
            .collect();
        sources.push(found);
        sources.extend(more);
    }
    Ok(())
}

/// Whether an entry takes some rows or columns of its files rather than all.
fn takes_a_part(entry: &LogEntry) -> bool {
    entry.only.is_some() || !entry.columns.is_empty()
}

/// The entries whose files match a given file: by its real path, or by pattern inside the folder.
fn lenders(source: &Source, request: &Request) -> Vec<usize> {
    if request.entries.is_empty() {
        return Vec::new();
    }
    let root = fs::canonicalize(folder_of(request));
    let (Ok(root), Ok(real)) = (root, fs::canonicalize(&source.path)) else {
        return Vec::new();
    };
    let matches = |entry: &LogEntry| {
        entry.files.iter().any(|file| {
            let tidy = file.trim_start_matches("./");
            let escaped = glob::Pattern::escape(&root.to_string_lossy());
            source.name == *file
                || real == root.join(tidy)
                || real
                    .parent()
                    .is_some_and(|p| p == root.join(tidy.trim_end_matches('/')))
                || glob::Pattern::new(&format!("{escaped}/{tidy}"))
                    .is_ok_and(|p| p.matches_path(&real))
        })
    };
    let entries = request.entries.iter().enumerate();
    entries.filter(|e| matches(e.1)).map(|e| e.0).collect()
}

/// A file, a folder or a pattern.
fn push_path(path: &Path, typed: &str, sources: &mut Vec<Source>) -> Result<(), ReadError> {
    if path.is_dir() {
        let found = in_folder(path).map_err(|e| cannot(typed, &e))?;
        if found.is_empty() {
            return Err(ReadError(format!(
                "{typed}: no .csv, .tsv or .txt file (or .gz of one) in this folder; name the one that holds the logs"
            )));
        }
        for file in found {
            let name = Path::new(typed).join(file.file_name().unwrap_or_default());
            sources.push(source(name.to_string_lossy().into_owned(), file, false));
        }
        return Ok(());
    }
    if is_pipe(path) {
        let mut pipe = fs::File::open(path).map_err(|e| cannot(typed, &e))?;
        sources.push(spilled(typed, &mut pipe)?);
        return Ok(());
    }
    if path.exists() {
        sources.push(source(typed.to_owned(), path.to_owned(), true));
        return Ok(());
    }
    if typed.contains(['*', '?', '[']) {
        return from_pattern(path, typed, sources);
    }
    let near = neighbour::nearest(path)
        .map(|n| format!("; did you mean '{n}'?"))
        .unwrap_or_else(|| "; check its name and its folder".to_owned());
    Err(ReadError(format!("{typed}: no such file{near}")))
}

fn from_pattern(path: &Path, typed: &str, sources: &mut Vec<Source>) -> Result<(), ReadError> {
    let pattern = path.to_string_lossy();
    let found = glob::glob(&pattern)
        .map_err(|e| ReadError(format!("{typed}: not a valid pattern: {}", e.msg)))?;
    let mut files: Vec<PathBuf> = found
        .filter_map(Result::ok)
        .filter(|f| f.is_file())
        .collect();
    files.sort();
    if files.is_empty() {
        return Err(ReadError(format!(
            "{typed}: no file matches this pattern; check it, and the folder it starts from"
        )));
    }
    // As typed: the part of the path that was put in front is taken off again.
    let front = pattern.strip_suffix(typed).unwrap_or_default().to_owned();
    for file in files {
        let full = file.to_string_lossy().into_owned();
        let name = full.strip_prefix(&front).unwrap_or(&full).to_owned();
        sources.push(source(name, file, false));
    }
    Ok(())
}

fn source(name: String, path: PathBuf, named: bool) -> Source {
    let bytes = fs::metadata(&path).map_or(0, |found| found.len());
    Source {
        name,
        path,
        named,
        bytes,
        entry: None,
        shared: false,
        _spill: None,
    }
}

fn in_folder(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
            .to_lowercase();
        let bare = name.strip_suffix(".gz").unwrap_or(&name);
        if path.is_file() && !name.starts_with('.') && EXTENSIONS.iter().any(|e| bare.ends_with(e))
        {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

fn standard_input() -> Result<Source, ReadError> {
    spilled("-", &mut io::stdin().lock())
}

/// Whether a path is what another program writes into.
#[cfg(unix)]
fn is_pipe(path: &Path) -> bool {
    use std::os::unix::fs::FileTypeExt as _;
    fs::metadata(path).is_ok_and(|found| found.file_type().is_fifo())
}

/// Only Unix has pipes among its files.
#[cfg(not(unix))]
fn is_pipe(_: &Path) -> bool {
    false
}

/// What can be read only once is put into a passing file, since a log may be read twice.
fn spilled(name: &str, input: &mut dyn io::Read) -> Result<Source, ReadError> {
    let spill = |input: &mut dyn io::Read| -> io::Result<(NamedTempFile, u64)> {
        let mut file = NamedTempFile::new()?;
        let bytes = io::copy(input, &mut file)?;
        file.flush()?;
        Ok((file, bytes))
    };
    let (file, bytes) = spill(input).map_err(|e| cannot(name, &e))?;
    Ok(Source {
        name: name.to_owned(),
        path: file.path().to_owned(),
        named: true,
        bytes,
        entry: None,
        shared: false,
        _spill: Some(file),
    })
}

/// Words for a file that cannot be read.
pub(crate) fn cannot(name: &str, error: &io::Error) -> ReadError {
    let why = match error.kind() {
        io::ErrorKind::NotFound => "no such file".to_owned(),
        io::ErrorKind::PermissionDenied => "may not be read: no permission".to_owned(),
        io::ErrorKind::IsADirectory => "is a folder".to_owned(),
        io::ErrorKind::UnexpectedEof | io::ErrorKind::InvalidInput | io::ErrorKind::InvalidData => {
            format!("breaks off or is damaged ({error}); copy the log again")
        }
        // Logs are only read: what needs space is what has to be put down on the way.
        io::ErrorKind::StorageFull => format!(
            "no space is left in {} for what has to be put down while it is read; make room there, or set TMPDIR to a folder that has some",
            std::env::temp_dir().display()
        ),
        _ => crate::words::of_file(error),
    };
    ReadError(format!("{name}: {why}"))
}
