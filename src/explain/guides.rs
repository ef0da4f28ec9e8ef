//! Guides for owners.

/// A guide.
#[derive(Debug, Clone, Copy)]
pub struct Guide {
    /// What `explain` knows it by.
    pub name: &'static str,
    /// In one sentence.
    pub about: &'static str,
    /// The text.
    pub markdown: &'static str,
}

/// Every guide.
pub const GUIDES: [Guide; 2] = [
    Guide {
        name: "reading-the-report",
        about: "How to read the report: what comes first, how sure it is, what not to conclude.",
        markdown: include_str!("reading.md"),
    },
    Guide {
        name: "logging-well",
        about: "How to log well: which columns, how often, which day tells most.",
        markdown: include_str!("logging.md"),
    },
];

#[doc = include_str!("reading.md")]
pub mod reading_the_report {}

#[doc = include_str!("logging.md")]
pub mod logging_well {}
