//! What is wrong with a line that is no TOML, in an owner's words.

/// Quotes that word processors and phones put in place of straight ones.
const CURLED: [char; 6] = [
    '\u{201c}', '\u{201d}', '\u{201e}', '\u{2018}', '\u{2019}', '\u{ab}',
];

/// What is wrong and how to write it; `said` is the parser's word for it, used where no plainer one is
/// known.
pub(super) fn explained(said: &str, line: &str) -> String {
    let line = line.trim();
    if let Some(mark) = line.chars().find(|c| CURLED.contains(c)) {
        return format!("{mark} is no straight quote; write \" before and after a text");
    }
    if said.contains("duplicate") {
        let name = line.split('=').next().unwrap_or(line).trim();
        return format!("{name} stands here a second time; keep one of the two");
    }
    if let Some(section) = line.strip_prefix('[') {
        if !section.contains(']') {
            return format!("the ] behind the section's name is missing: {line}]");
        }
    } else if let Some((key, value)) = line.split_once('=') {
        if let Some(why) = of_value(key.trim(), value.trim()) {
            return why;
        }
    } else if let Some((key, value)) = line.split_once(':') {
        return format!("write {} = {} (= instead of :)", key.trim(), value.trim());
    } else if !line.is_empty() {
        return format!("{line} is neither a [section] nor key = value");
    }
    format!("not TOML: {said}; write one key = value a line, texts and quantities in double quotes")
}

/// What is wrong with a value as it stands behind its key.
fn of_value(key: &str, value: &str) -> Option<String> {
    let value = value.split(" #").next().unwrap_or(value).trim();
    if value.is_empty() {
        return Some(format!("nothing stands behind {key} ="));
    }
    if has_decimal_comma(value) {
        let point = value.replacen(',', ".", 1);
        return Some(format!("the decimal mark is a point: {key} = {point}"));
    }
    if let Some(mark) = value.chars().next().filter(|c| matches!(c, '"' | '\'')) {
        let text = value.trim_matches(|c| matches!(c, '"' | '\''));
        let closed = value.len() > 1 && value[1..].find(mark).is_some();
        return (!closed).then(|| {
            format!("the text behind {key} begins with {mark} and does not end with it: write {key} = \"{text}\"")
        });
    }
    let opens = value.starts_with(['[', '{']);
    (!opens).then(|| format!("a text or a quantity stands in double quotes: {key} = \"{value}\""))
}

/// Whether a bare number has a comma in it.
fn has_decimal_comma(value: &str) -> bool {
    value.split_once(',').is_some_and(|(whole, rest)| {
        let whole = whole.strip_prefix('-').unwrap_or(whole);
        !whole.is_empty()
            && whole.bytes().all(|b| b.is_ascii_digit())
            && rest.starts_with(|c: char| c.is_ascii_digit())
    })
}

#[cfg(test)]
mod tests {
    use super::explained;

    #[test]
    fn each_slip_is_named_with_the_line_to_write() {
        for (line, expected) in [
            (
                "power = two",
                "a text or a quantity stands in double quotes: power = \"two\"",
            ),
            (
                "power = 100 W  # each",
                "in double quotes: power = \"100 W\"",
            ),
            ("name = \"a", "does not end with it: write name = \"a\""),
            (
                "capacity = '200 Ah\"",
                "does not end with it: write capacity = \"200 Ah\"",
            ),
            (
                "[system",
                "the ] behind the section's name is missing: [system]",
            ),
            (
                "latitude = 47,5",
                "the decimal mark is a point: latitude = 47.5",
            ),
            (
                "capacity: \"200 Ah\"",
                "write capacity = \"200 Ah\" (= instead of :)",
            ),
            ("name = \u{201c}Van\u{201d}", "is no straight quote"),
            ("power =", "nothing stands behind power ="),
            ("van", "van is neither a [section] nor key = value"),
            ("hours = [1, 2", "not TOML: so it is"),
        ] {
            let found = explained("so it is", line);
            assert!(found.contains(expected), "{line}: {found}");
        }
        assert!(
            explained("duplicate key", "power = 1").starts_with("power stands here a second time")
        );
    }
}
