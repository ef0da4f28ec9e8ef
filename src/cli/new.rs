//! `ampledger new`: a commented design file to fill in.

use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};
use std::process::ExitCode;

use super::arguments::New;
use super::{Failure, Outcome, screen};
use crate::design::template::template;

pub(super) fn run(arguments: &New) -> Outcome {
    let file = &arguments.file;
    let mut options = OpenOptions::new();
    options.write(true);
    if arguments.force {
        options.create(true).truncate(true);
    } else {
        options.create_new(true);
    }
    let written = options
        .open(file)
        .and_then(|mut f| f.write_all(template().as_bytes()));
    match written {
        Ok(()) => {
            screen::print(&format!(
                "Wrote {}. Fill in what your labels and data sheets say, then:\n\n  ampledger reconcile LOGS --design {}\n",
                file.display(),
                file.display()
            ));
            Ok(ExitCode::SUCCESS)
        }
        Err(error) if error.kind() == ErrorKind::AlreadyExists => Err(Failure::new(format!(
            "{}: exists already; choose another name, or --force to write over it",
            file.display()
        ))),
        Err(error) => Err(Failure::new(format!(
            "{}: can't be written: {error}; choose a folder you may write to",
            file.display()
        ))),
    }
}
