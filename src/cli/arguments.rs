//! The arguments, as clap reads them.

use std::path::PathBuf;

use chrono::NaiveDate;
use chrono_tz::Tz;
use clap::{Args, Parser, Subcommand, ValueEnum};

use super::topic::Topic;
use crate::report::model::Severity;

/// Reconciles the logs of a small off-grid solar system with its design.
#[derive(Debug, Parser)]
#[command(name = "ampledger", version, about, max_term_width = 100)]
#[command(after_help = "Examples:
  ampledger new --ask my-van.toml
  ampledger plan --design my-van.toml
  ampledger inspect logs/ --write my-van.toml
  ampledger reconcile --design my-van.toml

Exit status:
  0  done, whatever was found
  1  it could not be done: a design or a log is wrong or cannot be read
  2  wrong usage
  3  done, and a finding as severe as --fail-on asked for was made

Results go to standard output, everything else to standard error. NO_COLOR is honoured.
ampledger COMMAND --help says more of one; ampledger explain lists kinds of finding and guides.")]
pub struct Arguments {
    /// Say nothing but errors and what was asked for in so many words, such as --json.
    #[arg(
        long,
        short,
        global = true,
        conflicts_with = "verbose",
        display_order = 900
    )]
    pub quiet: bool,
    /// Say on standard error how the design and the logs were understood.
    #[arg(long, short, global = true, display_order = 901)]
    pub verbose: bool,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Work out from logs and design what limited charging, and write the report.
    Reconcile(Reconcile),
    /// Reckon the design on its own: harvest by month, loads, autonomy, wires and ratings.
    Plan(Plan),
    /// Live the logged days through again with each change of the design, and say what to do first.
    Weigh(Weigh),
    /// Compare two reports of one system: did it get better?
    Compare(Compare),
    /// Show how log files are understood, without judging them.
    Inspect(Inspect),
    /// Make every output again from a report.json, without the logs.
    Render(Render),
    /// Say what a kind of finding means, how it is decided and what its limits are.
    Explain(Explain),
    /// Write a simulated trip with its design and its truth.
    Sample(Sample),
    /// Write a design file: commented, to fill in, or from your answers.
    New(New),
    /// Print what makes a shell complete commands and options.
    Shell(Shell),
    /// Write the manual pages.
    Manual(Manual),
}

/// `reconcile`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ampledger reconcile --design my-van.toml
  ampledger reconcile logs/bank.csv logs/controller.csv.gz --design my-van.toml
  ampledger reconcile 'logs/*.csv' --design my-van.toml --from 2026-05-14 --to 2026-05-28
  ampledger reconcile --design my-van.toml --out report --fail-on fix
  unzip -p logs.zip bank.csv | ampledger reconcile - --design my-van.toml --json")]
pub struct Reconcile {
    /// Files, folders, glob patterns, or - for standard input; default: the log entries of the design.
    #[arg(value_name = "LOG")]
    pub logs: Vec<PathBuf>,
    /// The design file.
    #[arg(long, value_name = "FILE")]
    pub design: PathBuf,
    /// Folder for the report; default: reports/ and the name of the design file.
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// First local date to take, inclusive.
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub from: Option<NaiveDate>,
    /// Last local date to take, inclusive.
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub to: Option<NaiveDate>,
    /// Zone of stamps that carry none, such as Europe/Lisbon; wins over the design.
    #[arg(long, value_name = "ZONE", value_parser = zone)]
    pub timezone: Option<Tz>,
    /// Date of a mend: compares the days before it with those from it on as well.
    #[arg(long, value_name = "DATE", value_parser = date, conflicts_with = "json")]
    pub mended: Option<NaiveDate>,
    /// Print report.json on standard output as well.
    #[arg(long)]
    pub json: bool,
    /// Print a short post for a forum instead of the summary, in Markdown, place and names left out;
    /// post.md in the folder holds the same.
    #[arg(long, conflicts_with = "json")]
    pub post: bool,
    /// Exit with 3 when a finding of this severity or worse was made; outputs are written all the same.
    #[arg(long, value_name = "SEVERITY")]
    pub fail_on: Option<FailOn>,
}

/// `weigh`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ampledger weigh --design my-van.toml
  ampledger weigh --design my-van.toml --try array.panels_in_series=3
  ampledger weigh --design my-van.toml --try 'battery.capacity=200 Ah' --month 11
  ampledger weigh --design my-van.toml --try 'load.compressor fridge.when=day'")]
pub struct Weigh {
    /// Files, folders, glob patterns, or - for standard input; default: the log entries of the design.
    #[arg(value_name = "LOG")]
    pub logs: Vec<PathBuf>,
    /// The design file; its `[[option]]` entries are weighed too.
    #[arg(long, value_name = "FILE")]
    pub design: PathBuf,
    /// A design key with another value; several make one option each.
    #[arg(long = "try", value_name = "KEY=VALUE")]
    pub tries: Vec<String>,
    /// Live in this month (1 to 12) instead, with modelled sun.
    #[arg(long, value_name = "N", value_parser = month)]
    pub month: Option<u32>,
    /// First local date to take, inclusive.
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub from: Option<NaiveDate>,
    /// Last local date to take, inclusive.
    #[arg(long, value_name = "DATE", value_parser = date)]
    pub to: Option<NaiveDate>,
    /// Zone of stamps that carry none; wins over the design.
    #[arg(long, value_name = "ZONE", value_parser = zone)]
    pub timezone: Option<Tz>,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// `plan`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ampledger plan --design my-van.toml
  ampledger plan --design my-van.toml --json")]
pub struct Plan {
    /// The design file.
    #[arg(long, value_name = "FILE")]
    pub design: PathBuf,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// `compare`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ampledger compare may/report.json june/report.json
  ampledger compare may/report.json june/report.json --chart before-after.svg")]
pub struct Compare {
    /// The earlier report.json, or - for standard input.
    #[arg(value_name = "BEFORE")]
    pub before: PathBuf,
    /// The later report.json, or - for standard input.
    #[arg(value_name = "AFTER")]
    pub after: PathBuf,
    /// Draw it into this SVG file as well.
    #[arg(long, value_name = "FILE")]
    pub chart: Option<PathBuf>,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// Severity from which `--fail-on` counts.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum FailOn {
    /// Danger.
    Stop,
    /// Mend.
    Fix,
    /// Keep an eye on.
    Watch,
}

impl FailOn {
    /// The severity it stands for.
    pub fn severity(self) -> Severity {
        match self {
            FailOn::Stop => Severity::Stop,
            FailOn::Fix => Severity::Fix,
            FailOn::Watch => Severity::Watch,
        }
    }
}

/// `inspect`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ampledger inspect logs/
  ampledger inspect logs/ --write my-van.toml
  ampledger inspect --design my-van.toml
  zcat bank.csv.gz | ampledger inspect - --timezone Europe/Lisbon --json")]
pub struct Inspect {
    /// Files, folders, glob patterns, or - for standard input; default: the log entries of the design.
    #[arg(value_name = "LOG", required_unless_present_any = ["design", "write"])]
    pub logs: Vec<PathBuf>,
    /// A design file whose log entries say how to read.
    #[arg(long, value_name = "FILE")]
    pub design: Option<PathBuf>,
    /// Add what was found to the log entries of this design file, which is read like --design.
    #[arg(long, value_name = "FILE")]
    pub write: Option<PathBuf>,
    /// Zone of stamps that carry none.
    #[arg(long, value_name = "ZONE", value_parser = zone)]
    pub timezone: Option<Tz>,
    /// Print JSON instead of text.
    #[arg(long)]
    pub json: bool,
}

/// `render`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ampledger render reports/my-van/report.json
  ampledger render report.json --out elsewhere")]
pub struct Render {
    /// A report.json, or - for standard input.
    #[arg(value_name = "REPORT_JSON")]
    pub report: PathBuf,
    /// Folder for the outputs; default: the folder of the report.json, for standard input this one.
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Print a short post for a forum instead of the summary, in Markdown, place and names left out;
    /// post.md in the folder holds the same.
    #[arg(long)]
    pub post: bool,
}

/// `explain`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ampledger explain
  ampledger explain drop-battery-cable
  ampledger explain reading-the-report
  ampledger explain schema-design > design.schema.json")]
pub struct Explain {
    /// A kind of finding, a guide or a schema; default: the list of them.
    #[arg(value_name = "KIND", value_parser = Topic, hide_possible_values = true)]
    pub kind: Option<String>,
}

/// `sample`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ampledger sample trip
  ampledger sample trip --case barge-september --days 14 --step '5 min'
  ampledger sample trip --seed 7 --force")]
pub struct Sample {
    /// Folder to write into.
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Which case; an unknown name lists them.
    #[arg(long, value_name = "NAME")]
    pub case: Option<String>,
    /// How many days.
    #[arg(long, value_name = "N", value_parser = days)]
    pub days: Option<u32>,
    /// Step of the bank log, such as "10 s" or "15 min".
    #[arg(long, value_name = "DURATION", value_parser = step)]
    pub step: Option<u32>,
    /// How large the fault is, as a multiple of the smallest a log can show; default: drawn by the
    /// seed between 2 and 4.
    #[arg(long, value_name = "N", value_parser = size, allow_negative_numbers = true)]
    pub size: Option<f64>,
    /// Seed of all chance.
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = seed)]
    pub seed: u64,
    /// Write into a folder that holds something already.
    #[arg(long)]
    pub force: bool,
}

/// `new`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ampledger new my-van.toml
  ampledger new --ask my-van.toml
  ampledger new --ask my-van.toml < answers.txt")]
pub struct New {
    /// The design file to write; with --ask it may be left out and is asked for.
    #[arg(value_name = "FILE", required_unless_present = "ask")]
    pub file: Option<PathBuf>,
    /// Ask for the system part by part, check every answer, and write the design when it is whole.
    #[arg(long)]
    pub ask: bool,
    /// Write over an existing file.
    #[arg(long)]
    pub force: bool,
}

/// `shell`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ampledger shell bash > ~/.local/share/bash-completion/completions/ampledger
  ampledger shell zsh > ~/.zfunc/_ampledger
  ampledger shell fish > ~/.config/fish/completions/ampledger.fish")]
pub struct Shell {
    /// Which shell.
    #[arg(value_name = "SHELL")]
    pub shell: clap_complete::Shell,
}

/// `manual`.
#[derive(Debug, Args)]
#[command(after_help = "Examples:
  ampledger manual ~/.local/share/man/man1
  ampledger manual pages && man -l pages/ampledger.1")]
pub struct Manual {
    /// Folder to write the pages into; it is made where it is missing.
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
}

fn zone(text: &str) -> Result<Tz, String> {
    crate::calendar::zone(text)
}

fn date(text: &str) -> Result<NaiveDate, String> {
    NaiveDate::parse_from_str(text, "%Y-%m-%d")
        .map_err(|_| "a date is written year-month-day, for instance 2026-05-14".to_owned())
}

fn month(text: &str) -> Result<u32, String> {
    whole(text, 1, 12).ok_or_else(|| "a month is a whole number from 1 to 12".to_owned())
}

fn days(text: &str) -> Result<u32, String> {
    let most = crate::sample::MOST_DAYS;
    whole(text, 1, most).ok_or_else(|| format!("days are a whole number from 1 to {most}"))
}

fn seed(text: &str) -> Result<u64, String> {
    text.parse()
        .map_err(|_| "a seed is a whole number, 0 or more".to_owned())
}

fn whole(text: &str, least: u32, most: u32) -> Option<u32> {
    let number = text.parse().ok();
    number.filter(|n| (least..=most).contains(n))
}

fn size(text: &str) -> Result<f64, String> {
    let (least, most) = crate::sample::SIZES;
    text.parse()
        .ok()
        .filter(|size| (least..=most).contains(size))
        .ok_or_else(|| format!("a size is a number from {least} to {most}"))
}

fn step(text: &str) -> Result<u32, String> {
    let seconds = crate::quantity::parse(text, crate::quantity::Dimension::Duration)
        .map_err(|error| error.to_string())?;
    let whole = seconds.round() as u32;
    if crate::sample::is_step(whole) {
        Ok(whole)
    } else {
        Err(format!("a step is {}", crate::sample::STEPS))
    }
}
