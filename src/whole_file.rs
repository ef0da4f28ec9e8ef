//! Files that are whole or not there: written under a passing name beside the target, then renamed.

use std::io::{Result, Write as _};
use std::path::Path;

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

/// The content whole, under a passing name beside the target.
fn passing(target: &Path, content: &[u8]) -> Result<tempfile::NamedTempFile> {
    let beside = target
        .parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    builder.prefix(".ampledger-").suffix(".part");
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
    fn a_missing_folder_is_an_error() {
        let folder = tempfile::tempdir().unwrap();
        assert!(put(&folder.path().join("no/a.txt"), b"x").is_err());
    }
}
