//! The only place that prints. A reader that closes the pipe early is no error.

use std::io::{BufRead as _, ErrorKind, IsTerminal, Write};
use std::sync::OnceLock;

use crate::design::Design;
use crate::words::of_file;

/// How much is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Manner {
    /// Errors, and what was asked for in so many words.
    Quiet,
    /// Results.
    Plain,
    /// Results, and on standard error how the inputs were understood.
    Verbose,
}

impl Manner {
    /// As the options say; they exclude each other.
    pub(super) fn new(quiet: bool, verbose: bool) -> Self {
        match (quiet, verbose) {
            (true, _) => Manner::Quiet,
            (_, true) => Manner::Verbose,
            _ => Manner::Plain,
        }
    }

    /// Prints on standard output unless quiet: what the files written say too, or what comes next.
    pub(super) fn tell(self, text: &str) {
        if self != Manner::Quiet {
            print(text);
        }
    }

    /// Prints a line on standard error unless quiet.
    pub(super) fn remark(self, text: &str) {
        if self != Manner::Quiet {
            complain(text);
        }
    }

    /// Prints a line on standard error where that was asked for.
    pub(super) fn detail(self, text: &str) {
        if self == Manner::Verbose {
            complain(text);
        }
    }

    /// Says what a design leaves to defaults.
    pub(super) fn of_design(self, design: &Design) {
        let name = design.file.display();
        self.detail(&format!("{name}: read"));
        for one in &design.assumed {
            self.detail(&format!(
                "{name}: assumed {} = {}: {}",
                one.key, one.value, one.why
            ));
        }
    }

    /// Whether passing remarks on a terminal are welcome.
    pub(super) fn is_watched(self) -> bool {
        self != Manner::Quiet && is_watched()
    }
}

/// Prints text on standard output, as it stands.
pub(super) fn print(text: &str) {
    let mut out = std::io::stdout().lock();
    let printed = out.write_all(text.as_bytes()).and_then(|()| out.flush());
    match printed {
        // Whoever closed the pipe has seen enough; there is nobody left to tell.
        Err(error) if error.kind() != ErrorKind::BrokenPipe => {
            // Said at the end, once: the first failure is the one to mend.
            let _ = UNPRINTED.set(of_file(&error));
        }
        _ => {}
    }
}

/// Why something could not be printed on standard output, where that was so.
pub(super) fn unprinted() -> Option<&'static str> {
    UNPRINTED.get().map(String::as_str)
}

static UNPRINTED: OnceLock<String> = OnceLock::new();

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
fn is_watched() -> bool {
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
