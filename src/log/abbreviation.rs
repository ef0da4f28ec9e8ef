//! Zones as people abbreviate them, in titles and behind stamps.

/// A zone's abbreviation: hours east of Greenwich, and whether it is that of summer time alone. One of
/// standard time is also said of a place all year round.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Abbreviated {
    pub(crate) hours: i32,
    pub(crate) summer: bool,
}

/// Abbreviations that mean one thing wherever small systems are logged.
const KNOWN: [(&str, i32, bool); 26] = [
    ("WET", 0, false),
    ("WEST", 1, true),
    ("BST", 1, true),
    ("CET", 1, false),
    ("MEZ", 1, false),
    ("CEST", 2, true),
    ("MESZ", 2, true),
    ("EET", 2, false),
    ("OEZ", 2, false),
    ("EEST", 3, true),
    ("OESZ", 3, true),
    ("EST", -5, false),
    ("EDT", -4, true),
    ("CDT", -5, true),
    ("MST", -7, false),
    ("MDT", -6, true),
    ("PST", -8, false),
    ("PDT", -7, true),
    ("AKDT", -8, true),
    ("AWST", 8, false),
    ("AEST", 10, false),
    ("AEDT", 11, true),
    ("NZST", 12, false),
    ("NZDT", 13, true),
    ("SAST", 2, false),
    ("HST", -10, false),
];

/// The zone an abbreviation in capitals stands for.
pub(crate) fn known(word: &str) -> Option<Abbreviated> {
    let found = KNOWN.iter().find(|(name, ..)| *name == word)?;
    Some(Abbreviated {
        hours: found.1,
        summer: found.2,
    })
}

/// The abbreviation among the words of a title, and the zone it stands for.
pub(crate) fn in_title(title: &str) -> Option<(&str, Abbreviated)> {
    let words = title.split(|c: char| !c.is_alphanumeric());
    words.filter_map(|word| Some((word, known(word)?))).next()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_capitals_that_stand_alone_are_a_zone() {
        let hours = |title: &str| in_title(title).map(|found| found.1.hours);
        assert_eq!(hours("Time (CEST)"), Some(2));
        assert_eq!(hours("Zeit MEZ"), Some(1));
        assert_eq!(hours("West wind"), None);
        assert_eq!(hours("BESTAND"), None);
    }
}
