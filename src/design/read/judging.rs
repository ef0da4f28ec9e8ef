//! `[judging]`: the settings that an owner wants otherwise.

use toml::de::DeTable;

use super::super::judging::{Judging, SETTINGS};
use super::super::problems::Notes;
use super::super::section::Section;

pub(super) fn read(root: &DeTable<'_>, notes: &mut Notes) -> Judging {
    let section = Section::single(root, "judging", notes);
    let mut judging = Judging::default();
    for setting in SETTINGS {
        let word = setting.key.path.trim_start_matches("judging.");
        if let Some(value) = section.number(word, notes) {
            (setting.set)(&mut judging, value);
        }
    }
    judging
}
