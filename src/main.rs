//! Arguments in, exit status out.

use std::process::ExitCode;

fn main() -> ExitCode {
    ampledger::cli::run(std::env::args_os())
}
