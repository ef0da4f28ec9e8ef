//! `ampledger manual`: a manual page for the program and for each command, from the same definitions.

use std::path::Path;
use std::process::ExitCode;

use clap::CommandFactory as _;
use clap_mangen::Man;

use super::arguments::{Arguments, Manual};
use super::screen::Manner;
use super::{Failure, Outcome};
use crate::whole_file;

pub(super) fn run(arguments: &Manual, manner: Manner) -> Outcome {
    let folder = &arguments.folder;
    std::fs::create_dir_all(folder).map_err(|e| Failure::unwritable(folder, &e))?;
    let mut program = Arguments::command();
    program.build();
    page(&program, "ampledger", folder, manner)?;
    for command in program.get_subcommands().filter(|c| c.get_name() != "help") {
        let name = format!("ampledger-{}", command.get_name());
        // The page's own heading; a command knows only its last word.
        let titled = command.clone().display_name(name.clone());
        page(&titled, &name, folder, manner)?;
    }
    Ok(ExitCode::SUCCESS)
}

fn page(command: &clap::Command, name: &str, folder: &Path, manner: Manner) -> Result<(), Failure> {
    let file = folder.join(format!("{name}.1"));
    let mut bytes = Vec::new();
    Man::new(command.clone())
        .title(name)
        .render(&mut bytes)
        .and_then(|()| whole_file::put(&file, &bytes))
        .map_err(|e| Failure::unwritable(&file, &e))?;
    manner.tell(&format!("{}\n", file.display()));
    Ok(())
}
