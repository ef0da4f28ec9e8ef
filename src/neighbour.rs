//! The file that a misspelt name most likely means: the one beside it whose name is nearest.

use std::path::Path;

/// So many letters may be wrong, missing, too many or swapped.
const MOST_SLIPS: usize = 2;

/// The name in the same folder nearest to that of `path`, where one is near.
pub fn nearest(path: &Path) -> Option<String> {
    let wanted = path.file_name()?.to_string_lossy().into_owned();
    let folder = path
        .parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    std::fs::read_dir(folder)
        .ok()?
        .filter_map(|entry| Some(entry.ok()?.file_name().to_string_lossy().into_owned()))
        .map(|name| (strsim::damerau_levenshtein(&name, &wanted), name))
        .filter(|(slips, _)| *slips <= MOST_SLIPS)
        .min()
        .map(|(_, name)| name)
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_name_beside_it_is_meant() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["design.toml", "desire.toml", "log.csv"] {
            std::fs::write(folder.path().join(name), "").unwrap();
        }
        let meant = |name: &str| nearest(&folder.path().join(name));
        assert_eq!(meant("desing.toml").as_deref(), Some("design.toml"));
        assert_eq!(meant("lgo.csv").as_deref(), Some("log.csv"));
        assert_eq!(meant("other.toml"), None);
    }
}
