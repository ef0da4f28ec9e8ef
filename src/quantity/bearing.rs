//! Winds as bearings: "south" and "SSE" as degrees clockwise from north.

/// The winds, clockwise from north.
const WINDS: [&str; 16] = [
    "n", "nne", "ne", "ene", "e", "ese", "se", "sse", "s", "ssw", "sw", "wsw", "w", "wnw", "nw",
    "nnw",
];

/// The bearing of a wind, degrees; its spaces, marks and capitals do not matter.
pub fn of_wind(text: &str) -> Option<f64> {
    let letters = text.chars().filter(|c| c.is_alphanumeric());
    let plain: String = letters.flat_map(char::to_lowercase).collect();
    let short: String = ["north", "south", "east", "west"]
        .iter()
        .fold(plain, |text, word| text.replace(word, &word[..1]));
    let place = WINDS.iter().position(|w| *w == short)?;
    Some(place as f64 * 22.5)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn winds_are_bearings_however_they_are_written() {
        assert_eq!(of_wind("south"), Some(180.0));
        assert_eq!(of_wind("South-West"), Some(225.0));
        assert_eq!(of_wind("north north east"), Some(22.5));
        assert_eq!(of_wind("S.S.E."), Some(157.5));
        assert_eq!(of_wind("sun"), None);
        assert_eq!(of_wind(""), None);
    }
}
