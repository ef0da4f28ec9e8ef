//! All files surveyed. Small ones are read several at a time, and their rows handed on in the order
//! of the files: what comes out does not depend on how many threads there are.

use std::io;
use std::mem;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::vec::IntoIter;

use super::assemble::Use;
use super::batch::Batch;
use super::date_order::{self, Seen, Settled};
use super::digest::{Digest, Digested};
use super::early::Earlies;
use super::inspection::Skipped;
use super::source::{Kin, Source};
use super::spare::Spare;
use super::stamp::Order;
use super::survey::{self, Follower, Head, Survey};
use super::watch::Hands;
use super::{ReadError, Request, questions};

/// Files up to this size are read several at a time, larger ones one at a time by all threads, bytes.
const SMALL: u64 = 4 << 20;
/// Files are taken up to so many bytes at once, and their news sent together: to wake whoever listens
/// takes as long as to read a day at a row a minute.
const AT_ONCE: u64 = 1 << 18;
/// News sent together.
const TOGETHER: usize = 8;
/// Bundles of news that wait for the files before theirs; about all of a small file.
const WAITING: usize = 4;
/// Lots of files begun ahead of the one that is listened to.
const AHEAD: usize = 3;
/// Files told of where none can be read.
const TOLD: usize = 12;

/// What came of all files.
pub(super) struct Surveys {
    pub(super) found: Vec<Survey>,
    pub(super) skipped: Vec<Skipped>,
    /// Of all bytes, and the names of the files.
    pub(super) digest: Digest,
}

/// What came of a file.
struct Outcome {
    name: String,
    named: bool,
    bytes: u64,
    survey: Result<Survey, String>,
    /// Of its bytes, where they can be read.
    digest: Option<Digest>,
}

/// What files are surveyed for and with.
#[derive(Clone, Copy)]
pub(super) struct Job<'j> {
    pub(super) request: &'j Request<'j>,
    pub(super) how: Use,
    pub(super) hands: Hands<'j>,
}

/// Surveys every file: a bad one that was named ends it all, a bad one of a folder is passed over.
pub(super) fn all(
    sources: Vec<Source>,
    job: Job,
    earlies: &mut Earlies,
) -> Result<Surveys, ReadError> {
    let mut all = Surveys {
        found: Vec::new(),
        skipped: Vec::new(),
        digest: Digest::new(),
    };
    through(sources, None, job, earlies, &mut |outcome| {
        all.digest.bytes(outcome.name.as_bytes());
        if let Some(digest) = outcome.digest {
            all.digest.join(digest);
        }
        all.keep(outcome)
    })?;
    all.date(job, earlies)?;
    if all.found.is_empty() {
        let said = |s: &Skipped| format!("{}: {}", s.file, s.why);
        let mut whys: Vec<String> = all.skipped.iter().take(TOLD).map(said).collect();
        let more = all.skipped.len().saturating_sub(TOLD);
        whys.extend((more > 0).then(|| format!("and {more} more")));
        return Err(ReadError(format!(
            "none of the files can be read:\n{}",
            whys.join("\n")
        )));
    }
    Ok(all)
}

/// Who takes what came of files, in their order.
type Keep<'k> = &'k mut dyn FnMut(Outcome) -> Result<(), ReadError>;

/// Surveys files; `order` is how files beside them write their dates.
fn through(
    sources: Vec<Source>,
    order: Option<Order>,
    job: Job,
    earlies: &mut Earlies,
    keep: Keep,
) -> Result<(), ReadError> {
    let mut sources = sources.into_iter().peekable();
    while let Some(source) = sources.next() {
        let mut run = vec![source];
        if job.hands.threads > 1 && is_small(&run[0]) {
            run.extend(std::iter::from_fn(|| sources.next_if(is_small)));
        }
        if let [_, _, ..] = run[..] {
            together(run, order, job, earlies, keep)?;
            continue;
        }
        for source in run {
            keep(one(source, order, job, earlies))?;
        }
    }
    Ok(())
}

impl Surveys {
    fn keep(&mut self, outcome: Outcome) -> Result<(), ReadError> {
        let name = outcome.name;
        match outcome.survey {
            Ok(found) => self.found.push(found),
            Err(why) if outcome.named => return Err(ReadError(format!("{name}: {why}"))),
            Err(why) => self.skipped.push(Skipped { file: name, why }),
        }
        Ok(())
    }

    /// Surveys the files of a device anew where the dates of some could be read either way and all of
    /// them together show which: a file a day seldom shows it alone.
    fn date(&mut self, job: Job, earlies: &mut Earlies) -> Result<(), ReadError> {
        let is_open = |s: &Survey| {
            let settled = s.dates.as_ref().map(Seen::settled);
            matches!(settled, Some(Settled::Open(_)))
        };
        let mut open: Vec<Kin> = self
            .found
            .iter()
            .filter(|s| is_open(s))
            .map(Survey::kin)
            .collect();
        open.sort();
        open.dedup();
        for kin in open {
            let members = self.found.iter().filter(|s| s.kin() == kin);
            let Some(order) = date_order::across(members.filter_map(|s| s.dates.as_ref())) else {
                continue;
            };
            earlies.forget(&kin);
            let (again, others): (Vec<_>, Vec<_>) = self
                .found
                .drain(..)
                .enumerate()
                .partition(|(_, s)| s.kin() == kin);
            let places: Vec<usize> = again.iter().map(|(place, _)| *place).collect();
            let sources = again.into_iter().map(|(_, s)| s.source).collect();
            let mut outcomes = Vec::new();
            through(sources, Some(order), job, earlies, &mut |outcome| {
                outcomes.push(outcome);
                Ok(())
            })?;
            let mut others = others.into_iter().peekable();
            for (place, outcome) in places.into_iter().zip(outcomes) {
                while let Some((_, other)) = others.next_if(|o| o.0 < place) {
                    self.found.push(other);
                }
                self.keep(outcome)?;
            }
            self.found.extend(others.map(|(_, other)| other));
        }
        Ok(())
    }
}

fn is_small(source: &Source) -> bool {
    source.bytes <= SMALL
}

/// Surveys a file.
fn one(source: Source, order: Option<Order>, job: Job, follower: &mut dyn Follower) -> Outcome {
    let (named, name, path) = (source.named, source.name.clone(), source.path.clone());
    let bytes = source.bytes;
    let survey = survey::survey(source, job.request, order, job.hands, follower)
        .and_then(|found| questions::usable(found, job.how == Use::Show));
    let digest = match &survey {
        Ok(found) => found.digest,
        // It counts for the digest whether it can be used or not.
        Err(_) if !named => Digested::open(&path, Some(Digest::new()))
            .and_then(|file| file.finish())
            .unwrap_or_default(),
        Err(_) => None,
    };
    Outcome {
        name,
        named,
        bytes,
        survey,
        digest,
    }
}

/// What a file on its way has to tell.
enum News {
    Begin(Box<Head>),
    Rows(Box<Batch>),
    Over(Box<Outcome>),
}

/// Files nobody has begun with, and where their news are to be looked for, in their order.
struct Queue {
    sources: IntoIter<Source>,
    desks: SyncSender<Receiver<Vec<News>>>,
}

/// Surveys files by several threads, each a few files at a time.
fn together(
    sources: Vec<Source>,
    order: Option<Order>,
    job: Job,
    earlies: &mut Earlies,
    keep: Keep,
) -> Result<(), ReadError> {
    let Job {
        request,
        how,
        hands,
    } = job;
    let count = sources.len();
    let (desks, in_order) = sync_channel(AHEAD);
    let queue = Arc::new(Mutex::new(Queue {
        sources: sources.into_iter(),
        desks,
    }));
    let spare = hands.spare;
    std::thread::scope(|scope| {
        for _ in 0..hands.threads.min(count) {
            let queue = Arc::clone(&queue);
            scope.spawn(move || {
                let hands = Hands {
                    threads: 1,
                    tell: &|_| (),
                    spare,
                };
                let job = Job {
                    request,
                    how,
                    hands,
                };
                work(&queue, order, job);
            });
        }
        // With the last thread the queue ends, and with it what is listened to; when this ends early,
        // threads find nobody who listens, and end.
        drop(queue);
        for news in in_order {
            for told in news.iter().flatten() {
                match told {
                    News::Begin(head) => earlies.begin(*head),
                    News::Rows(mut batch) => {
                        // It takes whatever comes.
                        let _ = earlies.take(&mut batch);
                        spare.keep_batch(*batch);
                    }
                    News::Over(outcome) => {
                        (hands.tell)(outcome.bytes);
                        keep(*outcome)?;
                    }
                }
            }
        }
        Ok(())
    })
}

fn lock<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Surveys files as long as there are any and somebody listens.
fn work(queue: &Mutex<Queue>, order: Option<Order>, job: Job) {
    let spare = job.hands.spare;
    while let Some((sources, news)) = next(queue) {
        let mut teller = Teller {
            news,
            waiting: Vec::new(),
            spare,
        };
        for source in sources {
            let outcome = one(source, order, job, &mut teller);
            teller.waiting.push(News::Over(Box::new(outcome)));
        }
        // Where nobody listens any more the queue will say so.
        let _ = teller.send();
    }
}

/// The next files, with where to tell of them.
fn next(queue: &Mutex<Queue>) -> Option<(Vec<Source>, SyncSender<Vec<News>>)> {
    let mut queue = lock(queue);
    let mut sources = vec![queue.sources.next()?];
    let mut bytes = sources[0].bytes;
    while bytes < AT_ONCE
        && let Some(source) = queue.sources.next()
    {
        bytes += source.bytes;
        sources.push(source);
    }
    let (news, desk) = sync_channel(WAITING);
    queue.desks.send(desk).ok()?;
    Some((sources, news))
}

/// Tells of files on another thread.
struct Teller<'s> {
    news: SyncSender<Vec<News>>,
    waiting: Vec<News>,
    spare: &'s Spare,
}

impl Teller<'_> {
    fn send(&mut self) -> io::Result<()> {
        let gone = |_| io::Error::other("nobody wants the file any more");
        self.news.send(mem::take(&mut self.waiting)).map_err(gone)
    }
}

impl Follower for Teller<'_> {
    fn begin(&mut self, head: Head) {
        self.waiting.push(News::Begin(Box::new(head)));
    }

    fn take(&mut self, batch: &mut Batch) -> io::Result<()> {
        let empty = self.spare.batch();
        self.waiting
            .push(News::Rows(Box::new(mem::replace(batch, empty))));
        match self.waiting.len() < TOGETHER {
            true => Ok(()),
            false => self.send(),
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use std::fmt::Write as _;
    use std::path::Path;

    use super::*;
    use crate::calendar::Calendar;
    use crate::log::source;

    /// Thirty files of a quarter of an hour, one of them no log, one of a few blocks.
    fn write(folder: &Path) {
        for file in 0..30 {
            let mut text = "Time,Battery voltage (V),Battery current (A)\n".to_owned();
            let rows = if file == 7 { 20_000 } else { 400 };
            let start = 1_800_000_000 + i64::from(file) * 40_000;
            for k in 0..rows {
                let at = chrono::DateTime::from_timestamp(start + k * 2, 0).unwrap();
                let (volts, amps) = (12.5 + (k % 97) as f64 / 100.0, (k % 61) as f64 - 30.5);
                let _ = writeln!(text, "{},{volts:.2},{amps}", at.format("%Y-%m-%d %H:%M:%S"));
            }
            if file == 11 {
                text = "not a log".to_owned();
            }
            std::fs::write(folder.join(format!("{file:02}.csv")), text).unwrap();
        }
    }

    fn request<'a>(folder: &Path, calendar: &'a Calendar) -> Request<'a> {
        Request {
            paths: vec![folder.to_path_buf()],
            entries: &[],
            folder: None,
            calendar,
            zone: None,
            nominal_v: None,
            from: None,
            to: None,
        }
    }

    fn job<'j>(request: &'j Request<'j>, spare: &'j Spare, threads: usize) -> Job<'j> {
        let hands = Hands {
            threads,
            tell: &|_| (),
            spare,
        };
        Job {
            request,
            how: Use::Reckon,
            hands,
        }
    }

    /// What the files come to, and the days of the devices folded on the way.
    fn survey(folder: &Path, threads: usize) -> (Vec<String>, Vec<String>, Digest) {
        let calendar = Calendar::fixed(chrono_tz::UTC);
        let request = request(folder, &calendar);
        let sources = source::expand(&request).unwrap();
        let spare = Spare::default();
        let job = job(&request, &spare, threads);
        let mut earlies = Earlies::new(&calendar);
        let all = super::all(sources, job, &mut earlies).unwrap();
        let says = |s: &Survey| format!("{} {:?} {:?} {}", s.source.name, s.rows, s.stats, s.last);
        let mut said: Vec<String> = all.found.iter().map(says).collect();
        said.extend(all.skipped.iter().map(|s| format!("{}: {}", s.file, s.why)));
        let files: Vec<&Survey> = all.found.iter().collect();
        let (device, tallies) = earlies.finish(&files, job.hands).unwrap();
        let grid = crate::log::grid::Grid::over(1_800_000_000.0, 1_801_300_000.0, false);
        let folded = device.finish(&grid).into_iter();
        let mut days: Vec<String> = folded
            .map(|(role, series, _)| format!("{role:?} {series:?}"))
            .collect();
        days.extend(tallies.iter().map(|t| format!("{t:?}")));
        (said, days, all.digest)
    }

    #[test]
    fn files_read_several_at_a_time_say_and_fold_the_same() {
        let folder = tempfile::tempdir().unwrap();
        write(folder.path());
        let one = survey(folder.path(), 1);
        assert_eq!(one.0.len(), 30);
        for threads in [2, 5] {
            let many = survey(folder.path(), threads);
            assert_eq!(many.0, one.0);
            assert!(many.1 == one.1, "what was folded differs");
            assert_eq!(many.2, one.2);
        }
    }

    #[test]
    fn the_first_bad_file_that_was_named_ends_it() {
        let folder = tempfile::tempdir().unwrap();
        write(folder.path());
        std::fs::write(folder.path().join("21.csv"), "").unwrap();
        let calendar = Calendar::fixed(chrono_tz::UTC);
        let mut request = request(folder.path(), &calendar);
        request.paths = (0..30)
            .map(|k| folder.path().join(format!("{k:02}.csv")))
            .collect();
        for threads in [1, 4] {
            let sources = source::expand(&request).unwrap();
            let spare = Spare::default();
            let job = job(&request, &spare, threads);
            let mut earlies = Earlies::new(&calendar);
            let all = super::all(sources, job, &mut earlies);
            let message = all.err().unwrap().0;
            assert!(message.contains("11.csv: "), "{message}");
        }
    }
}
