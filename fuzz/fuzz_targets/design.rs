//! Any text as a design file: refused with words, or a design.

#![no_main]

use std::path::Path;

use ampledger::design::read;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let _ = read::read_text(text, Path::new("design.toml"), Path::new("."));
});
