//! The design as far as it was told.

use std::path::{Path, PathBuf};

use crate::design::answer::read_unfinished;
use crate::design::{Assumed, Design, DesignError};

/// One section with what was answered, in the order of the questions.
#[derive(Debug, Clone, PartialEq)]
struct Part {
    path: &'static str,
    repeated: bool,
    answers: Vec<(&'static str, toml::Value)>,
}

/// The design as far as it was told.
#[derive(Debug, Clone, PartialEq)]
pub struct Draft {
    file: PathBuf,
    parts: Vec<Part>,
}

impl Draft {
    /// Nothing yet, to be written to `file`.
    pub fn new(file: &Path) -> Self {
        Self {
            file: file.to_path_buf(),
            parts: Vec::new(),
        }
    }

    /// Begins another entry of a repeated section; what is put there next goes into it.
    pub(super) fn begin(&mut self, path: &'static str) {
        self.parts.push(Part {
            path,
            repeated: true,
            answers: Vec::new(),
        });
    }

    /// Forgets the last entry of a repeated section.
    pub(super) fn forget(&mut self, path: &'static str) {
        if let Some(at) = self
            .parts
            .iter()
            .rposition(|p| p.path == path && p.repeated)
        {
            self.parts.remove(at);
        }
    }

    /// Puts an answer, in place of one given before.
    pub(super) fn put(&mut self, key: &'static str, value: toml::Value) {
        let (path, word) = key.rsplit_once('.').unwrap_or(("", key));
        let at = self.parts.iter().rposition(|p| p.path == path);
        let at = at.unwrap_or_else(|| {
            self.parts.push(Part {
                path,
                repeated: false,
                answers: Vec::new(),
            });
            self.parts.len() - 1
        });
        let answers = &mut self.parts[at].answers;
        match answers.iter_mut().find(|a| a.0 == word) {
            Some(found) => found.1 = value,
            None => answers.push((word, value)),
        }
    }

    /// Takes an answer back.
    pub(super) fn take(&mut self, key: &str) {
        let (path, word) = key.rsplit_once('.').unwrap_or(("", key));
        if let Some(part) = self.parts.iter_mut().rfind(|p| p.path == path) {
            part.answers.retain(|a| a.0 != word);
        }
    }

    /// The design so far, judged by its own reader.
    ///
    /// # Errors
    /// What does not fit together, without the file's name before it.
    pub(super) fn read(&self) -> Result<Design, String> {
        let strip = |e: DesignError| {
            let before = format!("{}: ", self.file.display());
            e.0.lines()
                .map(|line| line.strip_prefix(before.as_str()).unwrap_or(line))
                .collect::<Vec<_>>()
                .join("\n")
        };
        read_unfinished(&self.text(), &self.file).map_err(strip)
    }

    /// What the design's reader takes for a key of the last entry where nothing is said.
    pub(super) fn default_of(&self, key: &str) -> Option<Assumed> {
        let design = self.read().ok()?;
        let matches = |a: &&Assumed| {
            a.key
                .strip_prefix(key)
                .is_some_and(|rest| rest.is_empty() || rest.starts_with(" ("))
        };
        design.assumed.iter().rfind(matches).cloned()
    }

    /// The design file: sections in the order in which they were begun.
    pub fn text(&self) -> String {
        let mut text = String::new();
        for part in self.parts.iter().filter(|p| !p.answers.is_empty()) {
            if !text.is_empty() {
                text.push('\n');
            }
            text.push_str(&match part.repeated {
                true => format!("[[{}]]\n", part.path),
                false => format!("[{}]\n", part.path),
            });
            for (word, value) in &part.answers {
                text.push_str(&format!("{word} = {value}\n"));
            }
        }
        text
    }

    /// The whole file: head, design, and what was taken for granted as remarks.
    pub fn file_text(&self) -> String {
        let mut text = format!(
            "# The system as built. Change what is wrong; \"ampledger explain schema-design\" prints every key.\n\n{}",
            self.text()
        );
        let assumed = self.read().map(|d| d.assumed).unwrap_or_default();
        if !assumed.is_empty() {
            text.push_str("\n# Taken for granted, because nothing was said:\n");
            for one in assumed {
                text.push_str(&format!("#   {} = {} ({})\n", one.key, one.value, one.why));
            }
        }
        text
    }
}
