//! The signals of a device: roles as logged, and those that follow from them row by row.

use super::batch::Pace;
use super::bins::{Bins, DaySums};
use super::columns::Roles;
use super::counter::forget_dips;
use super::fold::{Ahead, Folder, Strip};
use super::grid::Grid;
use super::inspection::Gap;
use super::merge::Sink;
use super::period::{OUTSIDE, Period};
use super::readings::Columns;
use crate::calendar::Calendar;
use crate::mapping::Role;
use crate::timeline::Series;

/// How a derived signal comes about, from the places of others.
#[derive(Debug, Clone)]
enum Recipe {
    /// The signal itself under another role.
    Same(usize),
    /// Volts x amperes.
    Product(usize, usize),
    /// Charging less loads; a missing part makes it missing.
    Net(Vec<usize>, usize),
    /// The rise of a running counter, without readings that fell out of its course.
    Rise(usize),
}

/// Roles and recipes of a device.
#[derive(Debug, Clone)]
pub(crate) struct Signals {
    /// Role of each place; `None` for the load terminals' voltage, which is no signal of its own.
    roles: Vec<Option<Role>>,
    recipes: Vec<(Role, Recipe)>,
    /// Roles the design names a column for.
    stated: Vec<Role>,
    pub(crate) notes: Vec<String>,
}

impl Signals {
    /// The signals that follow from a file's roles. Where volts and amperes of one side are both
    /// logged its power is their product, row by row; a power column then only stands in the
    /// inspection, unless the design names it.
    pub(crate) fn of(roles: &Roles) -> Self {
        let mut all: Vec<Option<Role>> = roles.uses.iter().map(|u| Some(u.role)).collect();
        all.push(None);
        let load_volts = roles.load_volts.as_ref().map(|_| all.len() - 1);
        let stated = roles
            .uses
            .iter()
            .filter(|u| u.how == "design")
            .map(|u| u.role)
            .collect();
        let mut signals = Self {
            roles: all,
            recipes: Vec::new(),
            notes: Vec::new(),
            stated,
        };
        signals.net_current();
        signals.charge_side();
        signals.power(
            Role::BatteryPower,
            Role::BatteryVoltage,
            Role::BatteryCurrent,
            None,
        );
        signals.power(
            Role::ArrayPower,
            Role::ArrayVoltage,
            Role::ArrayCurrent,
            None,
        );
        signals.power(
            Role::ChargePower,
            Role::ChargeVoltage,
            Role::ChargeCurrent,
            None,
        );
        signals.power(
            Role::LoadPower,
            Role::BatteryVoltage,
            Role::LoadCurrent,
            load_volts,
        );
        signals.counter();
        signals
    }

    fn place(&self, role: Role) -> Option<usize> {
        let logged = self.roles.iter().position(|r| *r == Some(role));
        logged.or_else(|| {
            self.recipes
                .iter()
                .position(|r| r.0 == role)
                .map(|k| self.roles.len() + k)
        })
    }

    fn net_current(&mut self) {
        if self.place(Role::BatteryCurrent).is_some() {
            return;
        }
        let (Some(charge), Some(load)) = (
            self.place(Role::ChargeCurrent),
            self.place(Role::LoadCurrent),
        ) else {
            return;
        };
        let mut plus = vec![charge];
        plus.extend(self.place(Role::OtherCurrent));
        self.recipes
            .push((Role::BatteryCurrent, Recipe::Net(plus, load)));
        self.notes
            .push("battery_current: not logged; charging current less load current".to_owned());
    }

    /// A controller's battery voltage is that of its own terminals.
    fn charge_side(&mut self) {
        let charging =
            self.place(Role::ChargeCurrent).is_some() || self.place(Role::ChargePower).is_some();
        if charging
            && self.place(Role::ChargeVoltage).is_none()
            && let Some(volts) = self.place(Role::BatteryVoltage)
        {
            self.recipes
                .push((Role::ChargeVoltage, Recipe::Same(volts)));
        }
    }

    fn power(&mut self, role: Role, volts: Role, amps: Role, instead: Option<usize>) {
        if self.stated.contains(&role) {
            return;
        }
        let volts = instead.or_else(|| self.place(volts));
        let volts = volts.or_else(|| {
            (role == Role::LoadPower)
                .then(|| self.place(Role::ChargeVoltage))
                .flatten()
        });
        if let (Some(volts), Some(amps)) = (volts, self.place(amps)) {
            let column = self.roles.iter().position(|r| *r == Some(role));
            if let Some(column) = column {
                self.roles[column] = None;
                self.notes.push(format!(
                    "{}: reckoned as volts x amperes, row by row; its own column is set aside",
                    role.name()
                ));
            }
            self.recipes.push((role, Recipe::Product(volts, amps)));
        }
    }

    /// Where no power of controller or array is logged, a running counter tells what came between rows.
    fn counter(&mut self) {
        let powers = [Role::ChargePower, Role::ArrayPower];
        if powers.into_iter().any(|role| self.place(role).is_some()) {
            return;
        }
        if let Some(counter) = self.place(Role::HarvestTotal) {
            self.recipes
                .push((Role::ChargePower, Recipe::Rise(counter)));
            self.notes.push(
                "harvest: no power is logged; counted by what harvest_total rises by".to_owned(),
            );
        }
    }

    /// Roles that are not logged but put together from others of the same row, or counted.
    pub(crate) fn derived(&self) -> Vec<Role> {
        let mut derived = Vec::new();
        if self.recipes.iter().any(|r| r.0 == Role::BatteryCurrent) {
            derived.extend([Role::BatteryCurrent, Role::BatteryPower]);
        }
        if self.is_counted() {
            derived.push(Role::ChargePower);
        }
        derived
    }

    /// Whether the controller's power is the rise of a counter.
    pub(crate) fn is_counted(&self) -> bool {
        let rises = |recipe: &Recipe| matches!(recipe, Recipe::Rise(_));
        self.recipes.iter().any(|(_, recipe)| rises(recipe))
    }

    fn count(&self) -> usize {
        self.roles.len() + self.recipes.len()
    }

    fn role(&self, place: usize) -> Option<Role> {
        self.roles
            .get(place)
            .copied()
            .unwrap_or_else(|| Some(self.recipes[place - self.roles.len()].0))
    }
}

/// What the folding of a device depends on, apart from its rows.
#[derive(Debug, Clone)]
pub(crate) struct Shape {
    pub(crate) signals: Signals,
    /// How long a value stays good in a log written only on change, seconds.
    hold: Option<f64>,
    /// Longest step between rows that is no gap, seconds.
    pub(crate) limit: f64,
    period: Period,
}

impl Shape {
    /// The shape of a device with these roles.
    pub(crate) fn of(roles: &Roles, limit: f64, hold: Option<f64>, period: Period) -> Self {
        Self {
            signals: Signals::of(roles),
            hold,
            limit,
            period,
        }
    }

    /// Places that are signals, with a folder for each.
    fn folders(&self) -> Vec<(usize, Folder)> {
        (0..self.signals.count())
            .filter_map(|place| Some((place, self.signals.role(place)?)))
            .map(|(place, role)| {
                let folder = Folder::new(role, self.limit, self.period);
                let counts = role == Role::ChargePower && self.signals.is_counted();
                (place, if counts { folder.counting() } else { folder })
            })
            .collect()
    }
}

/// Rows made into signals, and into cells as far as that can be done without the rows before.
#[derive(Debug, Default)]
pub(crate) struct Made {
    /// Signals by place.
    signals: Vec<Vec<f64>>,
    /// Cells of the rows' instants.
    cells: Vec<u32>,
    /// The step between the instants, where all are known to be the same.
    steady: Option<f64>,
    /// Cells made ahead, by folder; empty where the rows do not allow it.
    ahead: Vec<Ahead>,
}

impl Made {
    fn strip<'r>(&'r self, rows: &'r Columns, place: usize) -> Strip<'r> {
        Strip {
            steady: self.steady,
            at: &rows.at,
            cells: &self.cells,
            values: self.signal(rows, place),
        }
    }

    /// A signal: as it was put in its place, else as it stands in the rows.
    fn signal<'r>(&'r self, rows: &'r Columns, place: usize) -> &'r [f64] {
        let put = &self.signals[place];
        match rows.values.get(place) {
            Some(logged) if put.is_empty() => logged,
            _ => put,
        }
    }

    /// Makes room for signals; those logged stay where they are unless they have to be changed.
    fn begin(&mut self, rows: &Columns, steady: Option<f64>, shape: &Shape) {
        self.steady = steady;
        let logged = shape.signals.roles.len();
        self.signals.resize_with(shape.signals.count(), Vec::new);
        self.signals.iter_mut().for_each(Vec::clear);
        for now in &mut self.signals[rows.values.len().min(logged)..logged] {
            now.resize(rows.at.len(), f64::NAN);
        }
        self.cells.clear();
        self.cells
            .extend(rows.at.iter().map(|at| shape.period.cell(*at)));
    }

    /// Reckons the signals that follow from others.
    fn derive(&mut self, rows: &Columns, shape: &Shape) {
        let logged = shape.signals.roles.len();
        for (k, (_, recipe)) in shape.signals.recipes.iter().enumerate() {
            let mut now = std::mem::take(&mut self.signals[logged + k]);
            let known = |place: usize| self.signal(rows, place);
            match recipe {
                Recipe::Same(a) => now.extend_from_slice(known(*a)),
                Recipe::Rise(counter) => {
                    now.extend_from_slice(known(*counter));
                    forget_dips(&mut now);
                }
                Recipe::Product(a, b) => {
                    now.extend(known(*a).iter().zip(known(*b)).map(|(a, b)| a * b));
                }
                Recipe::Net(plus, minus) => now.extend((0..rows.at.len()).map(|row| {
                    plus.iter().map(|p| known(*p)[row]).sum::<f64>() - known(*minus)[row]
                })),
            }
            self.signals[logged + k] = now;
        }
    }
}

/// Makes rows into signals and cells, away from the rows before them: for [`Sink::take_made`].
pub(crate) struct Maker {
    shape: Shape,
    folders: Vec<(usize, Folder)>,
}

impl Maker {
    /// A maker for devices of that shape.
    pub(crate) fn new(shape: &Shape) -> Self {
        Self {
            shape: shape.clone(),
            folders: shape.folders(),
        }
    }

    /// Makes a batch of rows that go on at a pace.
    pub(crate) fn make(&mut self, rows: &Columns, pace: Pace, into: &mut Made) {
        into.begin(rows, pace.steady, &self.shape);
        into.derive(rows, &self.shape);
        let inside = into.cells.first().is_some_and(|cell| *cell != OUTSIDE)
            && into.cells.last().is_some_and(|cell| *cell != OUTSIDE);
        // Where a value stays good for a while, rows before these count.
        if self.shape.hold.is_some() || !inside || !pace.sorted {
            into.ahead.clear();
            return;
        }
        let mut ahead = std::mem::take(&mut into.ahead);
        ahead.resize_with(self.folders.len(), Ahead::default);
        for ((place, folder), ahead) in self.folders.iter_mut().zip(&mut ahead) {
            folder.ahead(into.strip(rows, *place), ahead);
        }
        into.ahead = ahead;
    }
}

/// Folds the rows of a device.
///
/// Memory: its bins.
pub(crate) struct Device<'a> {
    pub(crate) shape: Shape,
    calendar: &'a Calendar,
    folders: Vec<(usize, Folder)>,
    bins: Vec<Bins>,
    made: Made,
    /// Instant and value last seen, by place.
    held: Vec<(f64, f64)>,
    /// Instant of the last row.
    pub(crate) last: Option<f64>,
    pub(crate) gaps: Vec<(u32, Gap)>,
}

impl<'a> Device<'a> {
    pub(crate) fn new(shape: Shape, calendar: &'a Calendar) -> Self {
        let folders = shape.folders();
        Self {
            calendar,
            bins: folders.iter().map(|_| Bins::default()).collect(),
            folders,
            made: Made::default(),
            held: vec![(f64::NEG_INFINITY, f64::NAN); shape.signals.roles.len()],
            last: None,
            gaps: Vec::new(),
            shape,
        }
    }

    /// Role, bins and sums by file and day of each signal.
    pub(crate) fn finish(self, grid: &Grid) -> Vec<(Role, Series, DaySums)> {
        let calendar = self.calendar;
        let folders = self.folders.into_iter().zip(self.bins);
        folders
            .map(|((_, mut folder), mut bins)| {
                folder.close();
                collect(&mut folder, &mut bins, calendar);
                let (series, days) = bins.on(grid);
                (folder.role, series, days)
            })
            .collect()
    }

    /// In a log written only on change, a cell left empty still has its last value.
    fn carry(&mut self, rows: &Columns) {
        let Some(hold) = self.shape.hold else { return };
        let logged = self.made.signals.iter_mut().zip(&rows.values);
        for ((put, values), held) in logged.zip(&mut self.held) {
            put.extend_from_slice(values);
            for (at, value) in rows.at.iter().zip(put) {
                if value.is_finite() {
                    *held = (*at, *value);
                } else if at - held.0 <= hold {
                    *value = held.1;
                }
            }
        }
    }

    fn note_gaps(&mut self, file: u32, rows: &Columns) {
        for &at in &rows.at {
            if let Some(before) = self.last
                && at - before > self.shape.limit
                && self.gaps.len() < 1000
            {
                let gap = Gap {
                    from: self.calendar.rfc3339(before as i64),
                    to: self.calendar.rfc3339(at as i64),
                };
                self.gaps.push((file, gap));
            }
            self.last = Some(at);
        }
    }
}

/// Moves the cells a folder has closed into bins.
fn collect(folder: &mut Folder, bins: &mut Bins, calendar: &Calendar) {
    for cell in &folder.closed {
        bins.add(cell, calendar);
    }
    folder.closed.clear();
}

impl Sink for Device<'_> {
    fn take(&mut self, file: u32, rows: &Columns) {
        self.note_gaps(file, rows);
        self.made.begin(rows, None, &self.shape);
        self.carry(rows);
        self.made.derive(rows, &self.shape);
        for ((place, folder), bins) in self.folders.iter_mut().zip(&mut self.bins) {
            folder.take(self.made.strip(rows, *place), file);
            collect(folder, bins, self.calendar);
        }
    }

    fn shape(&self) -> Option<Shape> {
        Some(self.shape.clone())
    }

    fn take_made(&mut self, file: u32, rows: &Columns, made: &Made) {
        if made.ahead.is_empty() {
            self.take(file, rows);
            return;
        }
        self.note_gaps(file, rows);
        for (((place, folder), bins), ahead) in
            self.folders.iter_mut().zip(&mut self.bins).zip(&made.ahead)
        {
            folder.take_with(made.strip(rows, *place), ahead, file);
            collect(folder, bins, self.calendar);
        }
    }
}
