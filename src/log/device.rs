//! The signals of a device: roles as logged, and those that follow from them row by row.

use super::columns::Roles;
use super::fold::{Folder, Grid};
use super::inspection::Gap;
use super::merge::Sink;
use super::readings::Columns;
use super::survey::Survey;
use crate::calendar::Calendar;
use crate::mapping::Role;

/// How a derived signal comes about, from the places of others.
#[derive(Debug, Clone)]
enum Recipe {
    /// The signal itself under another role.
    Same(usize),
    /// Volts x amperes.
    Product(usize, usize),
    /// Charging less loads; a missing part makes it missing.
    Net(Vec<usize>, usize),
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

    /// Roles that are not logged but put together from others of the same row.
    pub(crate) fn derived(&self) -> Vec<Role> {
        let net = self.recipes.iter().any(|r| r.0 == Role::BatteryCurrent);
        if net {
            vec![Role::BatteryCurrent, Role::BatteryPower]
        } else {
            Vec::new()
        }
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

/// Folds the rows of a device.
///
/// Memory: its folders' bins.
pub(crate) struct Device<'a> {
    pub(crate) signals: Signals,
    grid: &'a Grid,
    calendar: &'a Calendar,
    pub(crate) folders: Vec<Folder>,
    folder_of: Vec<Option<usize>>,
    /// Signals of the rows at hand, by place, and the cells of their instants.
    signals_now: Vec<Vec<f64>>,
    cells: Vec<u32>,
    held: Vec<(f64, f64)>,
    hold: Option<f64>,
    limit: f64,
    last: Option<f64>,
    pub(crate) gaps: Vec<(u32, Gap)>,
}

impl<'a> Device<'a> {
    pub(crate) fn new(files: &[&Survey], grid: &'a Grid, calendar: &'a Calendar) -> Self {
        let signals = files
            .first()
            .map_or_else(|| Signals::of(&Roles::default()), |f| Signals::of(&f.roles));
        let limit = files.iter().map(|f| f.gap_limit()).fold(0.0, f64::max);
        let mut folders = Vec::new();
        let mut folder_of = Vec::new();
        for place in 0..signals.count() {
            folder_of.push(signals.role(place).map(|role| {
                folders.push(Folder::new(role, grid.bins, limit));
                folders.len() - 1
            }));
        }
        let count = signals.count();
        Self {
            signals,
            grid,
            calendar,
            folders,
            folder_of,
            signals_now: vec![Vec::new(); count],
            cells: Vec::new(),
            held: vec![(f64::NEG_INFINITY, f64::NAN); count],
            hold: files.first().and_then(|f| f.hold),
            limit,
            last: None,
            gaps: Vec::new(),
        }
    }

    /// Puts the rows' values in their places. In a log written only on change, a cell left empty
    /// still has its last value.
    fn put(&mut self, rows: &Columns) {
        let logged = self.signals.roles.len();
        for (place, now) in self.signals_now[..logged].iter_mut().enumerate() {
            now.clear();
            match rows.values.get(place) {
                Some(values) => now.extend_from_slice(values),
                None => now.resize(rows.at.len(), f64::NAN),
            }
            let Some(hold) = self.hold else { continue };
            let held = &mut self.held[place];
            for (at, value) in rows.at.iter().zip(now) {
                if value.is_finite() {
                    *held = (*at, *value);
                } else if at - held.0 <= hold {
                    *value = held.1;
                }
            }
        }
    }

    /// Reckons the signals that follow from others.
    fn derive(&mut self, rows: usize) {
        let logged = self.signals.roles.len();
        for (k, (_, recipe)) in self.signals.recipes.iter().enumerate() {
            let (known, rest) = self.signals_now.split_at_mut(logged + k);
            let now = &mut rest[0];
            now.clear();
            match recipe {
                Recipe::Same(a) => now.extend_from_slice(&known[*a]),
                Recipe::Product(a, b) => {
                    now.extend(known[*a].iter().zip(&known[*b]).map(|(a, b)| a * b));
                }
                Recipe::Net(plus, minus) => now.extend((0..rows).map(|row| {
                    plus.iter().map(|p| known[*p][row]).sum::<f64>() - known[*minus][row]
                })),
            }
        }
    }

    fn note_gaps(&mut self, file: u32, at: &[f64]) {
        for &at in at {
            if let Some(before) = self.last
                && at - before > self.limit
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

impl Sink for Device<'_> {
    fn take(&mut self, file: u32, rows: &Columns) {
        self.note_gaps(file, &rows.at);
        self.put(rows);
        self.derive(rows.at.len());
        self.cells.clear();
        self.cells
            .extend(rows.at.iter().map(|at| self.grid.cell(*at)));
        for (values, folder) in self.signals_now.iter().zip(&self.folder_of) {
            if let Some(folder) = folder {
                self.folders[*folder].take(&rows.at, &self.cells, values, file, self.grid);
            }
        }
    }
}
