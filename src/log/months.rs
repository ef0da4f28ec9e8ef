//! Names of months and weekdays in the languages of the vocabulary.

/// First letters of the months in the languages of the vocabulary.
const MONTHS: [&[&str]; 12] = [
    &["jan", "ene", "gen"],
    &["feb", "fev", "fév"],
    &["mar", "mär", "mrt", "maa", "mae"],
    &["apr", "avr", "abr"],
    &["may", "mai", "mei", "maj", "mag"],
    &["jun", "juin", "giu"],
    &["jul", "juil", "lug"],
    &["aug", "ago", "aoû", "aou"],
    &["sep", "set"],
    &["oct", "okt", "ott", "out"],
    &["nov"],
    &["dec", "dez", "dic", "des", "déc"],
];

/// The month a word begins to name, 1 to 12.
pub(crate) fn month_named(word: &str) -> Option<i32> {
    let word = word.to_lowercase();
    let long = MONTHS
        .iter()
        .position(|m| m.iter().any(|p| p.len() > 3 && word.starts_with(p)));
    long.or_else(|| {
        MONTHS
            .iter()
            .position(|m| m.iter().any(|p| word.starts_with(p)))
    })
    .map(|k| k as i32 + 1)
}

/// Whether a word begins like a weekday (and not like a month that is spelt alike).
pub(crate) fn is_weekday(word: &str) -> bool {
    const DAYS: [&str; 14] = [
        "mon", "tue", "wed", "thu", "fri", "sat", "sun", "die", "mit", "don", "fre", "sam", "son",
        "lun",
    ];
    let word = word.to_lowercase();
    DAYS.iter().any(|d| word.starts_with(d))
}
