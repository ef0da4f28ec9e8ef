//! The page of a kind of finding, from its rule, its settings and its smallest size.

use super::text::wrapped;
use crate::design::judging::{SETTINGS, Setting};
use crate::findings::catalogue::Rule;
use crate::smallest::SMALLEST;

/// One part of a page: a heading and its lines, some of them set in further.
struct Part {
    heading: &'static str,
    lines: Vec<Line>,
}

enum Line {
    Text(String),
    /// A word of the design, and what it says.
    Item(String, String),
}

/// What can be said of a kind.
pub struct Page {
    kind: &'static str,
    parts: Vec<Part>,
}

/// The page of a rule.
pub fn page(rule: &Rule) -> Page {
    let said = |heading, text: &str| Part {
        heading,
        lines: vec![Line::Text(text.to_owned())],
    };
    let parts = [
        Some(said("What it means", rule.meaning)),
        Some(said("How it is decided", rule.decided)),
        Some(said("Limits", rule.limits)),
        smallest(rule),
        explained_by(rule),
        settings(rule),
    ];
    Page {
        kind: rule.kind,
        parts: parts.into_iter().flatten().collect(),
    }
}

impl Page {
    /// As a terminal shows it.
    pub fn text(&self) -> String {
        let mut text = format!("{}\n", self.kind);
        for part in &self.parts {
            text.push_str(&format!("\n{}\n", part.heading));
            for line in &part.lines {
                match line {
                    Line::Text(words) => text.push_str(&wrapped(words, "  ")),
                    Line::Item(word, words) => {
                        text.push_str(&format!("  {word}\n{}", wrapped(words, "      ")));
                    }
                }
            }
        }
        text
    }

    /// As a page of the documentation.
    pub fn markdown(&self) -> String {
        let mut text = format!("# {}\n", self.kind);
        for part in &self.parts {
            text.push_str(&format!("\n## {}\n\n", plain(part.heading)));
            for line in &part.lines {
                match line {
                    Line::Text(words) => text.push_str(&format!("{}\n\n", plain(words))),
                    Line::Item(word, words) => {
                        text.push_str(&format!("- `{word}`: {}\n", plain(words)));
                    }
                }
            }
            text.truncate(text.trim_end().len());
            text.push('\n');
        }
        text
    }
}

/// Words with nothing in them that the documentation would take for a link, a mark or emphasis.
fn plain(words: &str) -> String {
    words
        .chars()
        .flat_map(|c| {
            let mark = matches!(c, '[' | ']' | '<' | '>' | '*' | '_' | '`' | '#');
            mark.then_some('\\').into_iter().chain([c])
        })
        .collect()
}

/// The smallest that a log can show, and the columns it takes.
fn smallest(rule: &Rule) -> Option<Part> {
    let least = SMALLEST.iter().find(|s| s.kind == rule.kind)?;
    let columns = match least.columns {
        [] => "none; the design alone tells".to_owned(),
        columns => columns.join(", "),
    };
    let size = format!(
        "{}: {} {}",
        least.figure,
        crate::words::about(least.value),
        least.unit
    );
    Some(Part {
        heading: "Smallest that shows",
        lines: vec![
            Line::Text(format!("{}.", size.trim_end())),
            Line::Text(format!("Why: {}.", least.why.trim_end_matches('.'))),
            Line::Text(format!("Columns: {columns}.")),
        ],
    })
}

fn explained_by(rule: &Rule) -> Option<Part> {
    (!rule.follows_from.is_empty()).then(|| Part {
        heading: "Told as a consequence where one of these is found too",
        lines: vec![Line::Text(rule.follows_from.join(", "))],
    })
}

/// The settings that decide a kind, with default, meaning and source.
fn settings(rule: &Rule) -> Option<Part> {
    let lines: Vec<Line> = SETTINGS
        .iter()
        .filter(|s| s.kinds.contains(&rule.kind))
        .map(setting)
        .collect();
    (!lines.is_empty()).then_some(Part {
        heading: "Settings, with their defaults (change one under [judging] in the design)",
        lines,
    })
}

fn setting(setting: &Setting) -> Line {
    let word = setting.key.path.trim_start_matches("judging.");
    Line::Item(
        format!("{word} = {}", setting.key.example),
        format!("{} Source: {}.", setting.meaning.trim(), setting.source),
    )
}
