//! Which files are meant: files, folders, patterns, standard input, and the design's own lists.

use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::{ReadError, Request};

/// One file to be read.
#[derive(Debug)]
pub(crate) struct Source {
    /// Path as typed (for files of the design: as the entry spells it).
    pub(crate) name: String,
    /// Where the bytes are.
    pub(crate) path: PathBuf,
    /// Whether it was named outright: then it must be readable.
    pub(crate) named: bool,
    /// The `[[log]]` entry that lends it settings.
    pub(crate) entry: Option<usize>,
    /// Holds standard input for as long as it is read.
    _spill: Option<NamedTempFile>,
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
    let mut seen: Vec<PathBuf> = Vec::new();
    sources.retain(|source| {
        let real = fs::canonicalize(&source.path).unwrap_or_else(|_| source.path.clone());
        let fresh = !seen.contains(&real);
        seen.push(real);
        fresh
    });
    if sources.is_empty() {
        return Err(ReadError(
            "no log given: name a file, a folder or a pattern, or add a [[log]] entry with `files` to the design".to_owned(),
        ));
    }
    Ok(sources)
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
    for source in &mut sources[start..] {
        source.entry = lender(source, request);
    }
    Ok(())
}

/// The entry whose files match a given file: by its real path, or by pattern inside the folder.
fn lender(source: &Source, request: &Request) -> Option<usize> {
    let root = fs::canonicalize(folder_of(request)).ok()?;
    let real = fs::canonicalize(&source.path).ok()?;
    request.entries.iter().position(|entry| {
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
    })
}

/// A file, a folder or a pattern.
fn push_path(path: &Path, typed: &str, sources: &mut Vec<Source>) -> Result<(), ReadError> {
    if path.is_dir() {
        let found = in_folder(path).map_err(|e| cannot(typed, &e))?;
        if found.is_empty() {
            return Err(ReadError(format!(
                "{typed}: no .csv, .tsv or .txt file (or .gz of one) in this folder"
            )));
        }
        for file in found {
            let name = Path::new(typed).join(file.file_name().unwrap_or_default());
            sources.push(source(name.to_string_lossy().into_owned(), file, false));
        }
        return Ok(());
    }
    if path.exists() {
        sources.push(source(typed.to_owned(), path.to_owned(), true));
        return Ok(());
    }
    if typed.contains(['*', '?', '[']) {
        return from_pattern(path, typed, sources);
    }
    let near = nearest_in_folder(path)
        .map(|n| format!("; did you mean '{n}'?"))
        .unwrap_or_default();
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
        return Err(ReadError(format!("{typed}: no file matches this pattern")));
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
    Source {
        name,
        path,
        named,
        entry: None,
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

fn nearest_in_folder(path: &Path) -> Option<String> {
    let wanted = path.file_name()?.to_string_lossy().into_owned();
    let folder = path
        .parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let mut names: Vec<String> = fs::read_dir(folder)
        .ok()?
        .filter_map(|e| Some(e.ok()?.file_name().to_string_lossy().into_owned()))
        .filter(|name| strsim::damerau_levenshtein(name, &wanted) <= 2)
        .collect();
    names.sort();
    names.into_iter().next()
}

/// Standard input can be read only once, and a log is read twice.
fn standard_input() -> Result<Source, ReadError> {
    let spill = || -> io::Result<NamedTempFile> {
        let mut file = NamedTempFile::new()?;
        io::copy(&mut io::stdin().lock(), &mut file)?;
        file.flush()?;
        Ok(file)
    };
    let file = spill().map_err(|e| cannot("-", &e))?;
    Ok(Source {
        name: "-".to_owned(),
        path: file.path().to_owned(),
        named: true,
        entry: None,
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
            format!("breaks off or is damaged ({error})")
        }
        _ => error.to_string(),
    };
    ReadError(format!("{name}: {why}"))
}

/// Digest of names and bytes, 64 bits: a multiply-and-rotate hash over eight bytes at a time, with
/// each name and each file's length mixed in. Stable over versions and machines; not cryptographic.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Digest(u64);

impl Digest {
    pub(crate) fn new() -> Self {
        Self(0xcbf2_9ce4_8422_2325)
    }

    fn word(&mut self, word: u64) {
        self.0 = (self.0 ^ word)
            .wrapping_mul(0x9e37_79b9_7f4a_7c15)
            .rotate_left(29);
    }

    pub(crate) fn bytes(&mut self, bytes: &[u8]) {
        for chunk in bytes.chunks(8) {
            let mut word = [0_u8; 8];
            word[..chunk.len()].copy_from_slice(chunk);
            self.word(u64::from_le_bytes(word));
        }
    }

    /// Mixes in a file, block by block.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub(crate) fn file(&mut self, path: &Path) -> io::Result<u64> {
        let mut file = fs::File::open(path)?;
        let mut block = vec![0_u8; 1 << 16];
        let mut total = 0_u64;
        loop {
            let mut filled = 0;
            while filled < block.len() {
                match file.read(&mut block[filled..])? {
                    0 => break,
                    got => filled += got,
                }
            }
            self.bytes(&block[..filled]);
            total += filled as u64;
            if filled < block.len() {
                self.word(total);
                return Ok(total);
            }
        }
    }

    pub(crate) fn hex(self) -> String {
        // Two closing turns spread the last word over all bits.
        let mut last = self;
        last.word(0);
        last.word(0);
        format!("{:016x}", last.0)
    }
}
