//! Simulated trips taken through the whole program, many at a time.

use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use ampledger::findings::catalogue::RULES;
use ampledger::reconcile::{Request, reconcile};
use ampledger::report::model::Report;
use ampledger::sample::{self, Case, SampleOptions, Truth};

/// A trip, what was true of it and what the program says.
pub struct Trip {
    pub case: &'static Case,
    pub truth: Truth,
    /// Text of its design.
    pub design: String,
    pub report: Report,
}

/// What to simulate: a case, a seed, and a size (`None`: drawn by the seed).
#[derive(Clone, Copy)]
pub struct Job {
    pub case: &'static Case,
    pub seed: u64,
    pub size: Option<f64>,
}

/// Simulates a trip and reconciles it.
pub fn run(job: Job) -> Trip {
    let folder = tempfile::tempdir().unwrap();
    let options = SampleOptions {
        case: Some(job.case.name.to_owned()),
        days: None,
        step_s: None,
        size: job.size,
        seed: job.seed,
        force: true,
    };
    sample::write(folder.path(), &options).unwrap();
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
    let next = AtomicUsize::new(0);
    let done = Mutex::new(Vec::with_capacity(jobs.len()));
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..cores {
            scope.spawn(|| {
                loop {
                    let i = next.fetch_add(1, Ordering::Relaxed);
                    let Some(job) = jobs.get(i) else { break };
                    let trip = run(*job);
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

/// The area the report names.
pub fn limiting(trip: &Trip) -> String {
    serde_json::to_value(trip.report.verdict.limiting)
        .unwrap()
        .as_str()
        .unwrap()
        .to_owned()
}

/// Whether the trip's own faults are all looked for and can be told from its log, so that the report
/// can know what limits.
pub fn can_be_judged(trip: &Trip) -> bool {
    let logged = |log: &str| trip.truth.signals.iter().any(|s| s.log == log);
    let whole = logged("bank") && logged("controller");
    let told = trip.case.name.starts_with("healthy") || !trip.case.kinds.is_empty();
    whole && told && trip.case.kinds.iter().all(|kind| looked_for(kind))
}
