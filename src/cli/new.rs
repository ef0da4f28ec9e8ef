//! `ampledger new`: a commented design file to fill in, or one made from an owner's answers.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use super::arguments::New;
use super::screen::Manner;
use super::{Failure, Outcome, screen};
use crate::design::template::template;
use crate::design::{self, Design};
use crate::interview::{Draft, Talk, interview};
use crate::plan::plan;
use crate::report::plan_text;
use crate::whole_file;

pub(super) fn run(arguments: &New, manner: Manner) -> Outcome {
    if arguments.ask {
        return ask(arguments, manner);
    }
    let Some(file) = &arguments.file else {
        return Err(Failure::usage("name the design file to write"));
    };
    write(file, template(), arguments.force)?;
    manner.tell(&format!(
        "Wrote {}. Fill in what your labels and data sheets say, then:\n\n  ampledger plan --design {}\n  ampledger reconcile LOGS --design {}\n",
        file.display(),
        file.display(),
        file.display()
    ));
    Ok(ExitCode::SUCCESS)
}

/// The whole file or none, and never over one that stands there unless that was asked for.
fn write(file: &Path, text: &str, force: bool) -> Result<(), Failure> {
    let written = match force {
        true => whole_file::put(file, text.as_bytes()),
        false => whole_file::put_new(file, text.as_bytes()),
    };
    written.map_err(|error| match error.kind() {
        ErrorKind::AlreadyExists => exists(file),
        _ => Failure::unwritable(file, &error),
    })
}

fn exists(file: &Path) -> Failure {
    Failure::new(format!(
        "{}: exists already; choose another name, or --force to write over it",
        file.display()
    ))
}

/// The talk by way of the terminal, or of a pipe.
#[derive(Default)]
struct Terminal {
    /// Answers given so far, and the last of them.
    lines: usize,
    last: String,
    /// Piped answers that were not taken, in their order.
    refused: Vec<String>,
}

impl Talk for Terminal {
    fn say(&mut self, text: &str) {
        screen::print(text);
    }

    fn ask(&mut self, question: &str) -> Option<String> {
        screen::print(question);
        let line = screen::line();
        self.lines += 1;
        self.last = line.clone().unwrap_or_default();
        if !screen::is_typed() {
            // What is typed shows itself and ends its line; what is piped does neither.
            screen::print(&format!("{}\n", self.last.trim_end()));
        }
        line
    }

    fn refuse(&mut self, question: &str, why: &str) {
        self.say(&format!("  {why}\n"));
        if !screen::is_typed() {
            let (line, answer) = (self.lines, self.last.trim());
            self.refused.push(format!(
                "line {line}, \"{answer}\", for \"{question}\": {why}"
            ));
        }
    }
}

impl Terminal {
    /// What was piped and not taken. Each such question was asked again, so the answer behind it went
    /// to it.
    fn untaken(&self) -> Option<String> {
        const SHOWN: usize = 5;
        let count = self.refused.len();
        let shown = self.refused.iter().take(SHOWN);
        let list: String = shown.map(|one| format!("\n  {one}")).collect();
        let more = count.checked_sub(SHOWN).filter(|more| *more > 0);
        let more = more.map_or(String::new(), |more| format!("\n  and {more} more"));
        (count > 0).then(|| {
            format!(
                "{count} piped {} not taken, and each such question was put again to the answer behind it:{list}{more}",
                if count == 1 { "answer was" } else { "answers were" }
            )
        })
    }
}

fn ask(arguments: &New, manner: Manner) -> Outcome {
    let mut talk = Terminal::default();
    let ended = |talk: &Terminal| {
        Failure::new(format!(
            "the answers ended before the questions; nothing was written, so answer to the end (an empty line takes what stands in brackets){}",
            talk.untaken()
                .map_or(String::new(), |said| format!("\n{said}"))
        ))
    };
    let file = match &arguments.file {
        Some(file) => file.clone(),
        None => asked_file(&mut talk).ok_or_else(|| ended(&talk))?,
    };
    if file.exists() {
        if !arguments.force {
            return Err(exists(&file));
        }
        talk.say(&format!(
            "{} will be written over when all is answered.\n\n",
            file.display()
        ));
    }
    let mut draft = Draft::new(&file);
    interview(&mut talk, &mut draft).map_err(|_| ended(&talk))?;
    let text = draft.file_text();
    let design = design::read::read_text(&text, &file, Path::new(""))
        .map_err(|e| Failure::new(e.to_string()))?;
    write(&file, &text, arguments.force)?;
    if let Some(said) = talk.untaken() {
        manner.remark(&format!(
            "warning: {said}\nRead {} through.",
            file.display()
        ));
    }
    manner.tell(&done(&file, &design));
    Ok(ExitCode::SUCCESS)
}

/// Where to write when the command line does not say.
fn asked_file(talk: &mut Terminal) -> Option<PathBuf> {
    const USUAL: &str = "my-system.toml";
    let typed = talk.ask(&format!("File to write [{USUAL}]: "))?;
    Some(PathBuf::from(match typed.trim() {
        "" => USUAL,
        name => name,
    }))
}

/// What was written, what its figures say already, and what comes next.
fn done(file: &Path, design: &Design) -> String {
    let shown = file.display();
    let next = match design.logs.is_empty() {
        true => format!("ampledger inspect LOGS --write {shown}"),
        false => format!("ampledger reconcile --design {shown}"),
    };
    format!(
        "\nWrote {shown}.\n{}\nNext:\n  ampledger plan --design {shown}\n  {next}\n",
        plan_text::remarks(&plan(design))
    )
}
