//! The table of moments, and its sums by day: the one place that works with data frames.

use std::ops::Range;

use polars::prelude::{Column, DataFrame, PolarsResult};

use crate::expect::Grid;

/// Energies of every moment, one column a quantity.
#[derive(Debug, Clone)]
pub struct Moments {
    frame: DataFrame,
    days: usize,
}

/// Sums by day of one column after another.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct DaySums {
    names: Vec<String>,
    columns: Vec<Vec<f64>>,
}

impl Moments {
    /// A table with the day of every moment and the given columns, for some days of the grid: each
    /// column with as many figures as those have moments.
    ///
    /// # Errors
    /// Columns of unequal length or of one name.
    pub fn new(
        grid: &Grid,
        days: Range<usize>,
        columns: Vec<(&str, Vec<f64>)>,
    ) -> PolarsResult<Self> {
        let day_of: Vec<u32> = days
            .clone()
            .flat_map(|day| std::iter::repeat_n((day - days.start) as u32, grid.day(day).len()))
            .collect();
        let mut all = vec![Column::new("day".into(), day_of)];
        all.extend(
            columns
                .into_iter()
                .map(|(name, values)| Column::new(name.into(), values)),
        );
        Ok(Self {
            frame: DataFrame::new_infer_height(all)?,
            days: days.len(),
        })
    }

    /// Sums of every column by day, in the order of the days.
    ///
    /// # Errors
    /// None for a table made by [`Moments::new`]; the data frame's own otherwise.
    #[allow(deprecated)] // The eager group-by is all that is wanted here; its successor brings 40 more crates.
    pub fn by_day(&self) -> PolarsResult<DaySums> {
        let names: Vec<String> = self
            .frame
            .get_column_names()
            .into_iter()
            .map(ToString::to_string)
            .filter(|n| n != "day")
            .collect();
        let sums = self.frame.group_by_stable(["day"])?.select(&names).sum()?;
        let keys = sums.column("day")?.u32()?;
        let mut columns = Vec::with_capacity(names.len());
        for name in &names {
            let values = sums.column(&format!("{name}_sum"))?.f64()?;
            let mut column = vec![0.0; self.days];
            for (day, value) in keys.iter().zip(values.iter()) {
                if let (Some(day), Some(value)) = (day, value) {
                    column[day as usize] = value;
                }
            }
            columns.push(column);
        }
        Ok(DaySums { names, columns })
    }
}

impl DaySums {
    /// Adds the days that follow, with the same columns; any columns where there is no day yet.
    pub fn append(&mut self, later: Self) {
        if self.names.is_empty() {
            *self = later;
            return;
        }
        for (column, more) in self.columns.iter_mut().zip(later.columns) {
            column.extend(more);
        }
    }

    /// Sum of a column on a day; 0 where the table has no such column.
    pub fn get(&self, name: &str, day: usize) -> f64 {
        self.names
            .iter()
            .position(|n| n == name)
            .map_or(0.0, |column| self.columns[column][day])
    }
}
