//! Simulated trips taken through the whole program, many at a time.

use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use ampledger::findings::catalogue::{RULES, rule};
use ampledger::reconcile::{Request, reconcile};
use ampledger::report::model::{Account, Limiting, Report};
use ampledger::sample::{self, Case, SampleOptions, Truth};
use ampledger::smallest;

/// A trip, what was true of it and what the program says.
pub struct Trip {
    pub case: &'static Case,
    pub truth: Truth,
    /// Text of its design.
    pub design: String,
    pub report: Report,
}

/// What to simulate: a case, a seed, a size (`None`: drawn by the seed), and the seed of another place than
/// the case's own.
#[derive(Clone, Copy)]
pub struct Job {
    pub case: &'static Case,
    pub seed: u64,
    pub size: Option<f64>,
    pub place: Option<u64>,
}

/// What is done to a trip's files, by its seed, before they are read.
pub type Alter = fn(&Path, u64);

/// Simulates a trip and reconciles it.
fn run(job: Job, alter: Option<Alter>) -> Trip {
    let folder = tempfile::tempdir().unwrap();
    let options = SampleOptions {
        case: Some(job.case.name.to_owned()),
        days: None,
        step_s: None,
        place: job.place,
        size: job.size,
        seed: job.seed,
        force: true,
    };
    sample::write(folder.path(), &options).unwrap();
    if let Some(alter) = alter {
        alter(folder.path(), job.seed);
    }
    let report = reconcile(&Request {
        logs: Vec::new(),
        design: folder.path().join("design.toml"),
        from: None,
        to: None,
        zone: None,
    })
    .unwrap();
    let truth = std::fs::read_to_string(folder.path().join("truth.json")).unwrap();
    Trip {
        case: job.case,
        design: std::fs::read_to_string(folder.path().join("design.toml")).unwrap(),
        truth: serde_json::from_str(&truth).unwrap(),
        report,
    }
}

/// Runs all jobs on the machine's cores; the trips come back in the order of the jobs.
pub fn run_all(jobs: &[Job]) -> Vec<Trip> {
    run_altered(jobs, None)
}

/// The same with something done to every trip's files before they are read.
pub fn run_altered(jobs: &[Job], alter: Option<Alter>) -> Vec<Trip> {
    let next = AtomicUsize::new(0);
    let done = Mutex::new(Vec::with_capacity(jobs.len()));
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..cores {
            scope.spawn(|| {
                loop {
                    let i = next.fetch_add(1, Ordering::Relaxed);
                    let Some(job) = jobs.get(i) else { break };
                    let trip = run(*job, alter);
                    done.lock().unwrap().push((i, trip));
                }
            });
        }
    });
    let mut trips = done.into_inner().unwrap();
    trips.sort_by_key(|(i, _)| *i);
    trips.into_iter().map(|(_, trip)| trip).collect()
}

/// Whether a rule looks for this kind.
pub fn looked_for(kind: &str) -> bool {
    RULES.iter().any(|rule| rule.kind == kind)
}

/// Whether the report names the area that limits. Where nothing is lost to a fault the truth is that
/// nothing limits; the report may name that fault's own area then.
pub fn limiting_is_right(trip: &Trip) -> bool {
    let named = limiting(trip);
    let own = |kind: &&str| rule(kind).is_some_and(|r| area(r.area) == named);
    named == trip.truth.limiting
        || trip.truth.limiting == "nothing" && trip.case.kinds.iter().any(own)
}

/// The area the report names.
pub fn limiting(trip: &Trip) -> String {
    area(trip.report.verdict.limiting)
}

fn area(limiting: Limiting) -> String {
    let name = serde_json::to_value(limiting).unwrap();
    name.as_str().unwrap().to_owned()
}

/// Whether the trip's own faults are all looked for and can be told from its log, so that the report
/// can know what limits.
pub fn can_be_judged(trip: &Trip) -> bool {
    let logged = |log: &str| trip.truth.signals.iter().any(|s| s.log == log);
    let whole = logged("bank") && logged("controller");
    let told = trip.case.name.starts_with("healthy") || !trip.case.kinds.is_empty();
    whole && told && trip.case.kinds.iter().all(|kind| looked_for(kind))
}

fn step(account: &Account, wanted: &str) -> f64 {
    account
        .harvest
        .iter()
        .find(|e| e.name == wanted)
        .map_or(0.0, |e| e.wh)
}

/// Whether a finding of this kind is true of the trip, by the truth's own figures.
pub fn is_true(kind: &str, trip: &Trip) -> bool {
    trip.truth.faults.iter().any(|f| f.kind == kind) || follows(kind, trip)
}

/// What the truth does not list as a fault and its figures bear out all the same.
fn follows(kind: &str, trip: &Trip) -> bool {
    let days = &trip.truth.days;
    let sum = |f: fn(&sample::TruthDay) -> f64| days.iter().map(f).sum::<f64>();
    let least = |kind: &str| smallest::of(kind).unwrap().value;
    match kind {
        // On some day a tenth of the offer was lost, though the bank was near full for much of it.
        "harvest-short" => days
            .iter()
            .any(|d| d.lost_wh > (least(kind) * d.offered_wh).max(50.0)),
        // Strings that are out for good leave a weak array.
        "array-weak" => {
            -step(&trip.truth.account, "array")
                > least(kind) * sum(|d| d.offered_wh - d.unmeasured_wh)
        }
        // The bank gave half the share that always shows: more than any harvest over it.
        "use-exceeds-harvest" => {
            let short = sum(|d| d.load_wh - d.harvest_wh - d.other_charge_wh);
            short > 0.5 * least(kind) * sum(|d| d.load_wh)
        }
        // Rated power at nominal voltage beyond the controller's output.
        "controller-undersized" => {
            let design: toml::Table = trip.design.parse().unwrap();
            let rated = text(&design, "controller", "max_output").unwrap_or(f64::INFINITY);
            trip.report.system.array_w / trip.report.system.nominal_v > rated
        }
        _ => false,
    }
}

/// The number of a quantity in the design.
fn text(design: &toml::Table, section: &str, key: &str) -> Option<f64> {
    let quantity = design.get(section)?.get(key)?.as_str()?;
    quantity.split(' ').next()?.parse().ok()
}
