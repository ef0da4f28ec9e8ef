//! Folding in the first pass already, by what the head of the file shows. Where all of the file
//! shows the same, the second pass is not needed.

use std::collections::BTreeMap;

use super::Request;
use super::batch::Batch;
use super::columns::Roles;
use super::device::{Device, Shape};
use super::fold::Period;
use super::readings::Tally;
use super::source::Kin;
use super::steps::JUMP;
use super::survey::{self, Survey};
use super::uses::Use;

/// The devices of a reading, folded while their files are surveyed.
#[derive(Default)]
pub(crate) struct Earlies<'a> {
    all: BTreeMap<Kin, Early<'a>>,
}

impl<'a> Earlies<'a> {
    /// Goes on with a file of a device, with the roles and the usual step its head shows; `None`
    /// where it does not fit the files of that device before.
    pub(crate) fn next_file(
        &mut self,
        kin: Kin,
        roles: &Roles,
        step: Option<f64>,
        hold: Option<f64>,
        request: &Request<'a>,
    ) -> Option<&mut Early<'a>> {
        let early = self.all.entry(kin).or_insert_with(|| {
            let limit = survey::gap_limit(hold, step);
            Early::begin(roles, limit, hold, request)
        });
        early.tallies.push(Tally::default());
        early.begins = true;
        early.same_sentinels &= early.uses == roles.uses;
        if !early.has_roles(roles) {
            early.device = None;
        }
        early.device.is_some().then_some(early)
    }

    /// The device of these files and their tallies, where all turned out as their heads showed.
    pub(crate) fn finish(&mut self, files: &[&Survey]) -> Option<(Device<'a>, Vec<Tally>)> {
        let first = files.first()?;
        self.all.remove(&first.kin())?.finish(files)
    }
}

/// A device folded while its files are surveyed, one after the other.
pub(crate) struct Early<'a> {
    /// Its shape, as the head of the first file shows it.
    pub(crate) shape: Shape,
    uses: Vec<Use>,
    load_volts: Option<Use>,
    /// `None` as soon as something does not fit.
    device: Option<Device<'a>>,
    tallies: Vec<Tally>,
    /// Whether the file at hand has given no rows yet.
    begins: bool,
    /// Whether the heads of all files show the same numbers for no reading.
    same_sentinels: bool,
}

impl<'a> Early<'a> {
    fn begin(roles: &Roles, limit: f64, hold: Option<f64>, request: &Request<'a>) -> Self {
        let shape = Shape::of(roles, limit, hold, Period::of(request));
        Self {
            device: Some(Device::new(shape.clone(), request.calendar)),
            shape,
            uses: roles.uses.clone(),
            load_volts: roles.load_volts.clone(),
            tallies: Vec::new(),
            begins: true,
            same_sentinels: true,
        }
    }

    /// Whether these are the roles it folds by, but for the numbers that stand for no reading.
    fn has_roles(&self, roles: &Roles) -> bool {
        let alike = |a: &Use, b: &Use| {
            let sentinels = b.sentinels.clone();
            *b == Use {
                sentinels,
                ..a.clone()
            }
        };
        let pairs = self.uses.iter().zip(&roles.uses);
        self.uses.len() == roles.uses.len()
            && pairs.into_iter().all(|(a, b)| alike(a, b))
            && match (&self.load_volts, &roles.load_volts) {
                (Some(a), Some(b)) => alike(a, b),
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
        let never = !columns.any(|c| file.stats.get(c).is_none_or(|s| s.sentinel));
        never
            || (self.same_sentinels
                && of(&self.uses, &self.load_volts) == of(&file.roles.uses, &file.roles.load_volts))
    }

    /// Takes in a batch of the file at hand.
    pub(crate) fn take(&mut self, batch: &Batch) {
        let (Some(device), Some(tally)) = (&mut self.device, self.tallies.last_mut()) else {
            return;
        };
        tally.take(batch);
        let Some(first) = batch.rows.at.first() else {
            return;
        };
        let begins = std::mem::replace(&mut self.begins, false);
        let follows = device.last.is_none_or(|last| {
            (*first > last || (!begins && *first == last)) && first - last <= JUMP
        });
        if follows && batch.pace.sorted && batch.pace.longest <= JUMP {
            let file = self.tallies.len() as u32 - 1;
            device.take_made(file, &batch.rows, &batch.made);
        } else {
            self.device = None;
        }
    }

    /// The device and the tallies of its files, where all of them turned out as their heads showed.
    fn finish(self, files: &[&Survey]) -> Option<(Device<'a>, Vec<Tally>)> {
        let limit = files.iter().map(|f| f.gap_limit()).fold(0.0, f64::max);
        let as_shown = |file: &&Survey| {
            file.sorted
                && file.clock_off.is_empty()
                && file.spread.is_none()
                && !file.daily
                && self.has_roles(&file.roles)
                && self.has_sentinels(file)
        };
        let all = self.tallies.len() == files.len()
            && limit == self.shape.limit
            && files.iter().all(as_shown);
        Some((self.device.filter(|_| all)?, self.tallies))
    }
}
