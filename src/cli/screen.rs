//! The only place that prints. A reader that closes the pipe early is no error.

use std::io::{BufRead as _, IsTerminal, Write};

/// Prints text on standard output, as it stands.
pub(super) fn print(text: &str) {
    // Whoever closed the pipe has seen enough; there is nobody left to tell.
    let _ = std::io::stdout().lock().write_all(text.as_bytes());
}

/// Prints a message on standard error, a line of its own.
pub(super) fn complain(text: &str) {
    let _ = writeln!(std::io::stderr().lock(), "{}", text.trim_end());
}

/// The next line of standard input, without its end; `None` at its end.
pub(super) fn line() -> Option<String> {
    let _ = std::io::stdout().flush();
    let mut bytes = Vec::new();
    match std::io::stdin().lock().read_until(b'\n', &mut bytes) {
        Ok(1..) => {
            let line = String::from_utf8_lossy(&bytes);
            Some(line.trim_end_matches(['\r', '\n']).to_owned())
        }
        _ => None,
    }
}

/// Whether standard input is somebody typing.
pub(super) fn is_typed() -> bool {
    std::io::stdin().is_terminal()
}

/// Whether standard error is a terminal somebody may be looking at.
pub(super) fn is_watched() -> bool {
    std::io::stderr().is_terminal()
}

/// Puts a passing remark on the terminal's line, in place of the one before; an empty one takes it
/// away.
pub(super) fn remark(text: &str) {
    let mut terminal = std::io::stderr().lock();
    // Beginning of the line, the text, the rest of the line cleared. Nobody is hurt where it fails.
    let _ = write!(terminal, "\r{text}\x1b[K");
    let _ = terminal.flush();
}
