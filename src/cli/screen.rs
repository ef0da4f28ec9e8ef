//! The only place that prints. A reader that closes the pipe early is no error.

use std::io::Write;

/// Prints text on standard output, as it stands.
pub(super) fn print(text: &str) {
    // Whoever closed the pipe has seen enough; there is nobody left to tell.
    let _ = std::io::stdout().lock().write_all(text.as_bytes());
}

/// Prints a message on standard error, a line of its own.
pub(super) fn complain(text: &str) {
    let _ = writeln!(std::io::stderr().lock(), "{}", text.trim_end());
}
