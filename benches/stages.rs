//! How long each stage takes on sixty days of a bank and a controller log at one row a minute:
//! `cargo bench`. The whole program against a data-frame engine is in README.md beside this file.

#![allow(missing_docs, clippy::unwrap_used)] // The harness makes public items of its own.

use std::sync::OnceLock;

use ampledger::account::Accounts;
use ampledger::calendar::Calendar;
use ampledger::design::{self, Design};
use ampledger::expect::Expectation;
use ampledger::findings::{self, Evidence};
use ampledger::log::{self, Reading};
use ampledger::reconcile::{self, Judged};
use ampledger::replay::{Asked, weigh};
use ampledger::report::model::Report;
use ampledger::report::{charts, html, text};
use ampledger::sample::{self, SampleOptions};
use divan::{Bencher, black_box};
use tempfile::TempDir;

fn main() {
    divan::main();
}

/// A trip in its folder and everything made of it.
struct Trip {
    folder: TempDir,
    design: Design,
    calendar: Calendar,
    reading: Reading,
    expected: Expectation,
    accounts: Accounts,
    judged: Judged,
    report: Report,
}

impl Trip {
    fn request(&self) -> reconcile::Request {
        request(&self.folder)
    }

    fn read(&self) -> Reading {
        read(&self.design, &self.calendar)
    }

    fn expect(&self) -> Expectation {
        let dates = &self.expected.grid.dates;
        let (first, last) = (dates[0], dates[dates.len() - 1]);
        Expectation::new(
            &self.design,
            &self.calendar,
            &self.reading.timeline,
            first,
            last,
        )
    }

    fn account(&self) -> Accounts {
        Accounts::with_totals(
            &self.design,
            &self.calendar,
            &self.reading.timeline,
            &self.expected,
            &self.reading.day_totals,
        )
    }

    fn evidence(&self) -> Evidence<'_> {
        Evidence {
            design: &self.design,
            calendar: &self.calendar,
            expected: &self.expected,
            accounts: &self.accounts,
            timeline: &self.reading.timeline,
        }
    }
}

fn request(folder: &TempDir) -> reconcile::Request {
    reconcile::Request {
        logs: Vec::new(),
        design: folder.path().join("design.toml"),
        from: None,
        to: None,
        zone: None,
    }
}

fn read(design: &Design, calendar: &Calendar) -> Reading {
    let asked = log::Request {
        paths: Vec::new(),
        entries: &design.logs,
        folder: Some(&design.folder),
        calendar,
        zone: None,
        nominal_v: design.system.nominal_v,
        from: None,
        to: None,
    };
    log::read(&asked).unwrap()
}

fn trip() -> &'static Trip {
    static TRIP: OnceLock<Trip> = OnceLock::new();
    TRIP.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let options = SampleOptions {
            case: Some("barge-september".to_owned()),
            days: Some(60),
            step_s: Some(60),
            place: None,
            size: None,
            seed: 1,
            force: true,
        };
        sample::write(folder.path(), &options).unwrap();
        let design = design::read(&folder.path().join("design.toml")).unwrap();
        let calendar = design.place.calendar();
        let reading = read(&design, &calendar);
        let judged = reconcile::judge(&request(&folder)).unwrap();
        let report = reconcile::reconcile(&request(&folder)).unwrap();
        Trip {
            design,
            calendar,
            reading,
            expected: judged.expected.clone(),
            accounts: judged.accounts.clone(),
            judged,
            report,
            folder,
        }
    })
}

#[divan::bench]
fn a_reading(bencher: Bencher<'_, '_>) {
    let trip = trip();
    bencher.bench(|| black_box(trip.read()));
}

#[divan::bench]
fn b_expectation(bencher: Bencher<'_, '_>) {
    let trip = trip();
    bencher.bench(|| black_box(trip.expect()));
}

#[divan::bench]
fn c_account(bencher: Bencher<'_, '_>) {
    let trip = trip();
    bencher.bench(|| black_box(trip.account()));
}

#[divan::bench]
fn d_findings(bencher: Bencher<'_, '_>) {
    let trip = trip();
    bencher.bench(|| black_box(findings::look(&trip.evidence())));
}

#[divan::bench(sample_count = 5)]
fn e_replay_five_options_500_draws(bencher: Bencher<'_, '_>) {
    let trip = trip();
    let asked = Asked {
        options: Vec::new(),
        month: None,
        draws: ampledger::replay::DRAWS,
    };
    bencher.bench(|| black_box(weigh(&trip.judged.weighing(), &asked)));
}

#[divan::bench]
fn f_charts(bencher: Bencher<'_, '_>) {
    let trip = trip();
    bencher.bench(|| black_box(charts::all(&trip.report)));
}

#[divan::bench]
fn g_page_and_text(bencher: Bencher<'_, '_>) {
    let trip = trip();
    let drawn = charts::all(&trip.report);
    bencher.bench(|| {
        (
            black_box(html::render(&trip.report, &drawn).is_ok()),
            black_box(text::render(&trip.report)),
        )
    });
}

#[divan::bench]
fn h_whole_reconcile(bencher: Bencher<'_, '_>) {
    let trip = trip();
    bencher.bench(|| black_box(reconcile::reconcile(&trip.request())));
}
