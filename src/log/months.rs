//! Names of months, weekdays and halves of the day, in the languages of the vocabulary.

use super::vocabulary::{LANGUAGES, Language};
use super::words;

/// A word in lower case, without accents.
fn plain(word: &str) -> String {
    let mut out = String::with_capacity(word.len());
    word.chars().for_each(|c| words::plain_letters(c, &mut out));
    out
}

/// The month a word begins to name, 1 to 12; of several stems that fit the longest counts.
pub(crate) fn month_named(word: &str) -> Option<i32> {
    let word = plain(word);
    let stems = LANGUAGES.iter().flat_map(|l| l.months.iter().zip(1..));
    stems
        .flat_map(|(stems, month)| stems.iter().map(move |stem| (*stem, month)))
        .filter(|(stem, _)| word.starts_with(stem))
        .max_by_key(|(stem, _)| stem.len())
        .map(|(_, month)| month)
}

/// Whether a word begins like a weekday; some begin like a month as well.
pub(crate) fn is_weekday(word: &str) -> bool {
    let word = plain(word);
    let begins = |stem: &&'static str| {
        if stem.len() < 3 {
            word == **stem
        } else {
            word.starts_with(*stem)
        }
    };
    LANGUAGES
        .iter()
        .flat_map(|l: &&Language| l.weekdays)
        .any(begins)
}

/// Whether letters (without points and spaces) begin with a word for the time before or after noon:
/// true after noon, with the number of its letters.
pub(crate) fn half_named(letters: &str) -> Option<(bool, usize)> {
    let letters = plain(letters);
    LANGUAGES
        .iter()
        .flat_map(|l| [(false, l.halves[0]), (true, l.halves[1])])
        .flat_map(|(late, stems)| stems.iter().map(move |stem| (late, stem.len(), *stem)))
        .filter(|(_, _, stem)| letters.starts_with(stem))
        .max_by_key(|found| found.1)
        .map(|(late, len, _)| (late, len))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn months_of_ten_languages() {
        for (word, month) in [
            ("May", 5),
            ("März", 3),
            ("févr.", 2),
            ("août", 8),
            ("juin", 6),
            ("juillet", 7),
            ("ene", 1),
            ("giugno", 6),
            ("outubro", 10),
            ("maart", 3),
            ("maj", 5),
            ("des", 12),
        ] {
            assert_eq!(month_named(word), Some(month), "{word}");
        }
        assert_eq!(month_named("bulk"), None);
    }

    #[test]
    fn halves_of_the_day() {
        assert_eq!(half_named("pm"), Some((true, 2)));
        assert_eq!(half_named("fm"), Some((false, 2)));
        assert_eq!(half_named("nachm"), Some((true, 5)));
        assert_eq!(half_named("utc"), None);
    }
}
