//! Bins of time with what was measured in them: the only thing that passes from reading to judging.
//!
//! All channels share one grid of equal bins aligned to Unix time. A bin holds the exact integral
//! of the straight lines between neighbouring rows, split at zero crossings, so that sums of bins
//! are the contract's trapezoid to the last digit; time in a gap is simply not covered.

use crate::mapping::Role;

/// Charging stage codes as stored in the [`Role::Stage`] channel.
pub mod stage {
    /// Not charging.
    pub const OFF: f64 = 0.0;
    /// Charging with all there is.
    pub const BULK: f64 = 1.0;
    /// Held at the absorption voltage.
    pub const ABSORPTION: f64 = 2.0;
    /// Held at the float voltage.
    pub const FLOAT: f64 = 3.0;
    /// Equalising (flooded lead).
    pub const EQUALISE: f64 = 4.0;
    /// The controller reports a fault.
    pub const FAULT: f64 = 5.0;
}

/// One measured signal on the grid. All vectors have the timeline's number of bins.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Series {
    /// Integral of the positive part, unit x hours (Wh for W, Ah for A, Vh for V).
    pub in_h: Vec<f64>,
    /// Integral of the negative part, as a positive number, unit x hours.
    pub out_h: Vec<f64>,
    /// Seconds of the bin that rows cover (0 in a gap).
    pub covered_s: Vec<f32>,
    /// Lowest row value in the bin; infinity where no row falls into it.
    pub min: Vec<f32>,
    /// Highest row value in the bin; minus infinity where no row falls into it.
    pub max: Vec<f32>,
}

impl Series {
    /// A series of `bins` empty bins.
    pub fn empty(bins: usize) -> Self {
        Self {
            in_h: vec![0.0; bins],
            out_h: vec![0.0; bins],
            covered_s: vec![0.0; bins],
            min: vec![f32::INFINITY; bins],
            max: vec![f32::NEG_INFINITY; bins],
        }
    }

    /// Time-weighted mean over the covered part of a bin.
    pub fn mean(&self, bin: usize) -> Option<f64> {
        let covered = f64::from(*self.covered_s.get(bin)?);
        (covered > 0.5).then(|| (self.in_h[bin] - self.out_h[bin]) * 3600.0 / covered)
    }

    /// Hours covered by rows.
    pub fn covered_h(&self) -> f64 {
        self.covered_s.iter().map(|s| f64::from(*s)).sum::<f64>() / 3600.0
    }
}

/// How the sign of a bank's current came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sign {
    /// As the log writes it: charging is positive, as far as the data show.
    #[default]
    AsWritten,
    /// As the design states it.
    Stated,
    /// The data show that the log counts discharging as positive: turned round.
    Turned,
    /// The design states a sign that the data contradict; the design was followed.
    Contradicted,
}

/// A signal, what it means and where it came from.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// What was measured: volts, amperes, watts, percent, degrees Celsius or W/m2 by role.
    /// Power roles are always present where a voltage and a current were logged together.
    pub role: Role,
    /// The controller whose side it shows, as named in the design, where there are several.
    pub controller: Option<String>,
    /// The log (entry name or file stem) it came from.
    pub source: String,
    /// Median step of the rows, seconds.
    pub step_s: f64,
    /// How its sign came about, where it is the bank's current or power.
    pub sign: Sign,
    /// Whether it is the rise of a running counter rather than a power as logged.
    pub counted: bool,
    /// The values.
    pub series: Series,
}

/// Everything measured, on one grid.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Timeline {
    /// Start of the first bin, Unix seconds, a multiple of `bin_s`.
    pub start: i64,
    /// Width of a bin, seconds; divides 900, so that local midnights fall between bins.
    pub bin_s: i64,
    /// Number of bins.
    pub bins: usize,
    /// The signals: the best channel of each role and controller.
    pub channels: Vec<Channel>,
    /// What other logs hold of the same signals: not judged by, but compared with.
    pub also: Vec<Channel>,
}

impl Timeline {
    /// Start of a bin, Unix seconds.
    pub fn time_of(&self, bin: usize) -> i64 {
        self.start + bin as i64 * self.bin_s
    }

    /// End of the last bin, Unix seconds.
    pub fn end(&self) -> i64 {
        self.time_of(self.bins)
    }

    /// The bin an instant falls into, where it is inside the grid.
    pub fn bin_at(&self, instant: i64) -> Option<usize> {
        let offset = instant.checked_sub(self.start)?;
        let bin = usize::try_from(offset.div_euclid(self.bin_s)).ok()?;
        (bin < self.bins).then_some(bin)
    }

    /// Width of a bin in hours.
    pub fn bin_h(&self) -> f64 {
        self.bin_s as f64 / 3600.0
    }

    /// What a channel read in a bin: the mean where several rows fall into a bin; else the row itself,
    /// since a mean of the line to its neighbours blurs steps; `None` in the stretches between rows.
    pub fn reading(&self, channel: &Channel, bin: usize) -> Option<f64> {
        if channel.step_s <= self.bin_s as f64 / 2.0 {
            return channel.series.mean(bin);
        }
        let (low, high) = (
            f64::from(*channel.series.min.get(bin)?),
            f64::from(*channel.series.max.get(bin)?),
        );
        (low.is_finite() && high.is_finite()).then(|| f64::midpoint(low, high))
    }

    /// The first channel with that role.
    pub fn channel(&self, role: Role) -> Option<&Channel> {
        self.channels.iter().find(|c| c.role == role)
    }

    /// The values of the first channel with that role.
    pub fn series(&self, role: Role) -> Option<&Series> {
        self.channel(role).map(|c| &c.series)
    }

    /// The first channel with that role on the side of a controller (`None`: any).
    pub fn channel_of(&self, role: Role, controller: Option<&str>) -> Option<&Channel> {
        self.channels.iter().find(|c| {
            c.role == role && (controller.is_none() || c.controller.as_deref() == controller)
        })
    }
}
