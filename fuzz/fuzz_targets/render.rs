//! Any text as a report.json: refused with words, or rendered.

#![no_main]

use ampledger::report::{charts, html, json, text};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|content: &str| {
    if let Ok(report) = json::parse(content) {
        let _ = text::summary(&report);
        let _ = html::render(&report, &charts::all(&report));
    }
});
