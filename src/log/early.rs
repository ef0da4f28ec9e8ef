//! Folding in the first pass already, by what the head of the file shows. Where all of the file
//! shows the same, the second pass is not needed.

use std::collections::BTreeMap;
use std::io;

use super::batch::Batch;
use super::columns::Roles;
use super::device::{Device, Shape};
use super::merge::{self, Sink};
use super::readings::Tally;
use super::sorter::Sorter;
use super::source::Kin;
use super::steps::JUMP;
use super::survey::{Follower, Head, Survey};
use super::uses::Use;
use super::watch::Hands;
use crate::calendar::Calendar;

/// The devices of a reading, folded while their files are surveyed.
pub(crate) struct Earlies<'a> {
    calendar: &'a Calendar,
    all: BTreeMap<Kin, Early<'a>>,
    /// Whose file is at hand.
    now: Kin,
}

impl<'a> Earlies<'a> {
    /// No devices yet, of logs by this calendar.
    pub(crate) fn new(calendar: &'a Calendar) -> Self {
        Self {
            calendar,
            all: BTreeMap::new(),
            now: Kin::default(),
        }
    }

    /// Forgets a device, whose files are surveyed anew.
    pub(crate) fn forget(&mut self, kin: &Kin) {
        self.all.remove(kin);
    }

    /// The device of these files and their tallies, where all turned out as their heads showed.
    pub(crate) fn finish(
        &mut self,
        files: &[&Survey],
        hands: Hands,
    ) -> Option<(Device<'a>, Vec<Tally>)> {
        let first = files.first()?;
        self.all.remove(&first.kin())?.finish(files, hands)
    }
}

impl Follower for Earlies<'_> {
    fn begin(&mut self, head: Head) {
        let Head { kin, roles, shape } = head;
        self.now.clone_from(&kin);
        let early = self.all.entry(kin);
        let early = early.or_insert_with(|| Early::begin(&roles, shape.clone(), self.calendar));
        early.next_file(&roles, &shape);
    }

    fn take(&mut self, batch: &mut Batch) -> io::Result<()> {
        if let Some(early) = self.all.get_mut(&self.now) {
            early.take(batch);
        }
        Ok(())
    }
}

/// Where the rows go.
enum Fold<'a> {
    /// As long as they are in order.
    InOrder(Box<Device<'a>>),
    /// Where they are in no order from the beginning.
    Sorting(Box<Sorter>),
}

/// A device folded while its files are surveyed, one after the other.
struct Early<'a> {
    /// Its shape, as the head of the first file shows it.
    shape: Shape,
    uses: Vec<Use>,
    load_volts: Option<Use>,
    calendar: &'a Calendar,
    /// `None` as soon as something does not fit.
    fold: Option<Fold<'a>>,
    tallies: Vec<Tally>,
    /// Whether the file at hand has given no rows yet.
    begins: bool,
    /// Whether the rows of the file at hand are made ready for its shape.
    made: bool,
    /// Whether the heads of all files show the same numbers for no reading.
    same_sentinels: bool,
}

impl<'a> Early<'a> {
    fn begin(roles: &Roles, shape: Shape, calendar: &'a Calendar) -> Self {
        Self {
            calendar,
            fold: Some(Fold::InOrder(Box::new(Device::new(
                shape.clone(),
                calendar,
            )))),
            shape,
            uses: roles.uses.clone(),
            load_volts: roles.load_volts.clone(),
            tallies: Vec::new(),
            begins: true,
            made: true,
            same_sentinels: true,
        }
    }

    /// Goes on with a file of the roles and the shape its head shows.
    fn next_file(&mut self, roles: &Roles, shape: &Shape) {
        self.tallies.push(Tally::default());
        self.begins = true;
        self.made = shape.limit == self.shape.limit;
        self.same_sentinels &= self.uses == roles.uses;
        if !self.has_roles(roles) {
            self.fold = None;
        }
    }

    /// Whether these are the roles it folds by, but for the numbers that stand for no reading.
    fn has_roles(&self, roles: &Roles) -> bool {
        let mut pairs = self.uses.iter().zip(&roles.uses);
        self.uses.len() == roles.uses.len()
            && pairs.all(|(a, b)| a.is_but_for_sentinels(b))
            && match (&self.load_volts, &roles.load_volts) {
                (Some(a), Some(b)) => a.is_but_for_sentinels(b),
                (None, None) => true,
                _ => false,
            }
    }

    /// Whether what stands for no reading is the same, or never seen in the file.
    fn has_sentinels(&self, file: &Survey) -> bool {
        let of = |uses: &[Use], load: &Option<Use>| -> Vec<Vec<f64>> {
            uses.iter()
                .chain(load)
                .map(|u| u.sentinels.clone())
                .collect()
        };
        let uses = file.roles.uses.iter().chain(&file.roles.load_volts);
        let mut columns = uses.flat_map(|u| u.parts.iter().map(|p| p.0));
        let never = !columns.any(|c| file.stats.get(c).is_none_or(|s| s.sentinel.is_some()));
        never
            || (self.same_sentinels
                && of(&self.uses, &self.load_volts) == of(&file.roles.uses, &file.roles.load_volts))
    }

    /// Takes in a batch of the file at hand.
    fn take(&mut self, batch: &Batch) {
        let (Some(fold), Some(tally)) = (self.fold.take(), self.tallies.last_mut()) else {
            return;
        };
        tally.take(batch);
        let Some(first) = batch.rows.at.first() else {
            self.fold = Some(fold);
            return;
        };
        let begins = std::mem::replace(&mut self.begins, false);
        let file = self.tallies.len() as u32 - 1;
        let sort = |mut sorter: Box<Sorter>| {
            // What cannot be written out now is said by the second pass.
            sorter.take(file, &batch.rows).ok()?;
            Some(Fold::Sorting(sorter))
        };
        self.fold = match fold {
            Fold::Sorting(sorter) => sort(sorter),
            Fold::InOrder(device) if device.last.is_none() && !batch.pace.sorted => {
                sort(Box::new(Sorter::new(batch.rows.values.len())))
            }
            Fold::InOrder(mut device) => {
                let follows = device.last.is_none_or(|last| {
                    (*first > last || (!begins && *first == last)) && first - last <= JUMP
                });
                let fits = follows && batch.pace.sorted && batch.pace.longest <= JUMP;
                match (fits, self.made) {
                    (true, true) => device.take_made(file, &batch.rows, &batch.made),
                    (true, false) => device.take(file, &batch.rows),
                    (false, _) => {}
                }
                fits.then_some(Fold::InOrder(device))
            }
        };
    }

    /// The device and the tallies of its files, where all of them turned out as their heads showed.
    fn finish(mut self, files: &[&Survey], hands: Hands) -> Option<(Device<'a>, Vec<Tally>)> {
        let limit = files.iter().map(|f| f.gap_limit()).fold(0.0, f64::max);
        let as_shown = |file: &&Survey| {
            file.clock_off.is_empty()
                && file.spread.is_none()
                && !file.daily
                && self.has_roles(&file.roles)
                && self.has_sentinels(file)
        };
        if self.tallies.len() != files.len() || !files.iter().all(as_shown) {
            return None;
        }
        match self.fold.take()? {
            Fold::InOrder(device) => {
                let whole = limit == self.shape.limit && files.iter().all(|f| f.sorted);
                whole.then_some((*device, self.tallies))
            }
            Fold::Sorting(sorter) => {
                self.shape.limit = limit;
                let width = self.uses.len() + usize::from(self.load_volts.is_some());
                let mut device = Device::new(self.shape, self.calendar);
                merge::hand_on(*sorter, width, hands, &mut self.tallies, &mut device).ok()?;
                Some((device, self.tallies))
            }
        }
    }
}
