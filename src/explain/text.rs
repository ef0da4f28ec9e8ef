//! Running text for a terminal.

/// Width of running text on the screen.
const WIDTH: usize = 78;

/// Words wrapped to the width, every line set in.
pub(super) fn wrapped(text: &str, indent: &str) -> String {
    set(text, indent, indent)
}

/// Words wrapped to the width, the first line led by `lead`.
fn set(text: &str, lead: &str, indent: &str) -> String {
    let mut out = String::new();
    let mut line = lead.to_owned();
    let mut empty = true;
    for word in text.split_whitespace() {
        if !empty && line.chars().count() + word.chars().count() + 1 > WIDTH {
            out.push_str(line.trim_end());
            out.push('\n');
            line = indent.to_owned();
        }
        line.push_str(word);
        line.push(' ');
        empty = false;
    }
    out.push_str(line.trim_end());
    out.push('\n');
    out
}

/// A guide as plain text: headings, paragraphs of one line and items of one line, as guides are written.
pub(super) fn from_markdown(markdown: &str) -> String {
    let mut out = String::new();
    for line in markdown.lines() {
        let bare = line.replace(['*', '`'], "");
        if line.starts_with('#') {
            out.push_str(bare.trim_start_matches('#').trim());
            out.push('\n');
        } else if let Some(item) = bare.strip_prefix("- ") {
            out.push_str(&set(item, "  - ", "    "));
        } else if bare.is_empty() {
            out.push('\n');
        } else {
            out.push_str(&wrapped(&bare, "  "));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn guides_lose_their_marks_and_keep_their_words() {
        let text = from_markdown("# Head\n\nSome *words* and `code`.\n\n- an item\n");
        assert_eq!(text, "Head\n\n  Some words and code.\n\n  - an item\n");
    }

    #[test]
    fn lines_keep_their_width() {
        for line in wrapped(&"word ".repeat(60), "      ").lines() {
            assert!(
                line.len() <= WIDTH && line.starts_with("      word"),
                "{line}"
            );
        }
    }
}
