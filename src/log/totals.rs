//! Logs of one row a day: totals, taken as they stand and never integrated.

use std::collections::BTreeMap;

use super::merge::Sink;
use super::readings::Columns;
use super::{DayTotal, Request};
use crate::mapping::Role;

/// Takes the rows of a log of one row a day.
pub(crate) struct Totals<'a> {
    pub(crate) request: &'a Request<'a>,
    pub(crate) roles: Vec<Role>,
    pub(crate) days: BTreeMap<chrono::NaiveDate, DayTotal>,
}

impl Sink for Totals<'_> {
    fn take(&mut self, _file: u32, rows: &Columns) {
        for (row, at) in rows.at.iter().enumerate() {
            self.row(*at, rows.row(row));
        }
    }
}

impl Totals<'_> {
    fn row(&mut self, at: f64, values: impl Iterator<Item = f64>) {
        let date = self.request.calendar.date(at as i64);
        if self.request.from.is_some_and(|d| date < d) || self.request.to.is_some_and(|d| date > d)
        {
            return;
        }
        let day = self.days.entry(date).or_insert(DayTotal::empty(date));
        for (role, value) in self.roles.iter().zip(values).filter(|v| v.1.is_finite()) {
            match role {
                Role::DayHarvest => day.harvest_wh = Some(value),
                Role::DayLoad => day.load_wh = Some(value),
                Role::DaySocLow => day.soc_low_pct = Some(value),
                Role::DayVoltsHigh => day.volts_high_v = Some(value),
                _ => {}
            }
        }
    }
}
