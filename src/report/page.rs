//! Plain text of at most 80 columns under way: lines, headings and wrapped paragraphs.

use super::format::{plain, tie};

/// Widest line.
pub(super) const COLUMNS: usize = 80;

/// A page under way.
#[derive(Default)]
pub(super) struct Page {
    pub(super) text: String,
}

impl Page {
    pub(super) fn line(&mut self, line: &str) {
        self.text.push_str(plain(line).trim_end());
        self.text.push('\n');
    }

    pub(super) fn blank(&mut self) {
        self.text.push('\n');
    }

    pub(super) fn heading(&mut self, words: &str) {
        self.blank();
        self.line(words);
    }

    /// Words wrapped to the width, continued lines indented like the first's text.
    pub(super) fn paragraph(&mut self, words: &str, lead: &str) {
        let indent = " ".repeat(lead.chars().count());
        let mut line = lead.to_string();
        let mut empty = true;
        // Tied figures are measured as they will stand: a terminal's unit is longer than its sign.
        let tied = tie(&plain(words)).replace("m\u{3a9}", "mohm");
        for word in tied.split_ascii_whitespace().flat_map(pieces) {
            let longer = line.chars().count() + usize::from(!empty) + word.chars().count();
            if !empty && longer > COLUMNS {
                self.line(&line);
                line.clone_from(&indent);
                empty = true;
            }
            if !empty {
                line.push(' ');
            }
            line.push_str(&word);
            empty = false;
        }
        if !empty {
            self.line(&line);
        }
    }
}

/// A word longer than a line is cut, so that no line is ever too wide.
fn pieces(word: &str) -> Vec<String> {
    let letters: Vec<char> = word.chars().filter(|c| !c.is_control()).collect();
    letters
        .chunks(COLUMNS - 20)
        .map(|c| c.iter().collect())
        .collect()
}

/// Owner's text on one line, without control characters and not too long.
pub(super) fn one_line(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(40).collect()
}
