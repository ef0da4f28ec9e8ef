//! Files that are whole or not there: written under a passing name beside the target, then renamed.

use std::io::{Result, Write as _};
use std::path::Path;
use std::time::Duration;

/// How passing files are called: before and after what makes each different.
const NAMED: (&str, &str) = (".ampledger-", ".part");
/// A passing file older than this was left by a run that was killed: none takes as long.
const STALE: Duration = Duration::from_secs(600);

/// Puts `content` at `target`, whose folder must exist: a reader sees the old file or the new one.
///
/// # Errors
/// Whatever the system says: no space, no permission, a folder in the way. The old file then stays.
pub fn put(target: &Path, content: &[u8]) -> Result<()> {
    passing(target, content)?
        .persist(target)
        .map_err(|e| e.error)?;
    Ok(())
}

/// As [`put`], where nothing stands there yet.
///
/// # Errors
/// As [`put`], and `AlreadyExists` where something does; that then stays as it is.
pub fn put_new(target: &Path, content: &[u8]) -> Result<()> {
    let passing = passing(target, content)?;
    passing.persist_noclobber(target).map_err(|e| e.error)?;
    Ok(())
}

/// Clears a folder of passing files that runs left behind when they were killed. What cannot be
/// removed stays: it harms nobody.
pub fn sweep(folder: &Path) {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        let name = entry.file_name();
        let name = name.to_string_lossy();
        let age = entry.metadata().and_then(|found| found.modified());
        let is_stale = age.is_ok_and(|at| at.elapsed().is_ok_and(|age| age > STALE));
        if name.starts_with(NAMED.0) && name.ends_with(NAMED.1) && is_stale {
            let _ = std::fs::remove_file(entry.path());
        }
    }
}

/// The content whole, under a passing name beside the target.
fn passing(target: &Path, content: &[u8]) -> Result<tempfile::NamedTempFile> {
    let beside = target
        .parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    builder.prefix(NAMED.0).suffix(NAMED.1);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        // Passing files are private by default; these are ordinary files (the system's mask applies).
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let mut passing = builder.tempfile_in(beside)?;
    passing.write_all(content)?;
    passing.as_file().sync_all()?;
    Ok(passing)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn the_new_file_takes_the_old_ones_place_and_leaves_nothing_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let target = folder.path().join("a.txt");
        put(&target, b"old").unwrap();
        put(&target, b"new").unwrap();
        assert_eq!(std::fs::read(&target).unwrap(), b"new");
        let refused = put_new(&target, b"newer").unwrap_err();
        assert_eq!(refused.kind(), std::io::ErrorKind::AlreadyExists);
        assert_eq!(std::fs::read(&target).unwrap(), b"new");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn what_killed_runs_left_is_swept_up_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let made = |name: &str, minutes: u64| {
            let file = std::fs::File::create(folder.path().join(name)).unwrap();
            let age = std::time::SystemTime::now() - Duration::from_secs(60 * minutes);
            file.set_modified(age).unwrap();
        };
        for (name, minutes) in [
            (".ampledger-a1.part", 30),
            (".ampledger-b2.part", 1),
            ("notes.part", 30),
            (".ampledger-notes", 30),
        ] {
            made(name, minutes);
        }
        sweep(folder.path());
        assert!(!folder.path().join(".ampledger-a1.part").exists());
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 3);
    }

    #[test]
    fn a_missing_folder_is_an_error() {
        let folder = tempfile::tempdir().unwrap();
        assert!(put(&folder.path().join("no/a.txt"), b"x").is_err());
    }
}
