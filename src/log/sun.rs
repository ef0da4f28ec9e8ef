//! Whether the sun stands where the clock says: a check of zone and clock from the harvest's middle.

use super::grid::Grid;
use crate::calendar::Calendar;
use crate::mapping::Role;
use crate::timeline::Series;

/// The hour of the local clock by which half of a day's sun is gone: noon by the sun lies at 12 h on
/// a clock of the zone's own meridian, up to 1 h later in its west, and 1 h later in summer time.
const MIDDLE_H: f64 = 13.0;

/// Hours off that no place in its zone, no slope of an array and no morning cloud explains: each
/// comes to about one, a steep array facing east or west to two.
const OFF_H: f64 = 3.5;

/// Share of the harvest that must stand together for its middle to mean anything (length of the
/// mean vector on the 24 h circle; an even spread over 12 h has 0.64).
const TOGETHER: f64 = 0.5;

/// Fewest hours a log must cover.
const FEWEST_H: f64 = 20.0;

/// Says where the sun culminates on the local clock, where that cannot be right.
pub(crate) fn remark(
    role: Role,
    series: &Series,
    grid: &Grid,
    calendar: &Calendar,
) -> Option<String> {
    if !matches!(
        role,
        Role::ArrayPower | Role::ArrayCurrent | Role::Irradiance
    ) || series.covered_h() < FEWEST_H
    {
        return None;
    }
    let (mut east, mut north, mut sum) = (0.0_f64, 0.0_f64, 0.0_f64);
    for (bin, wh) in series.in_h.iter().enumerate().filter(|b| *b.1 > 0.0) {
        let at = grid.start + bin as i64 * grid.bin_s;
        let local = (at + i64::from(calendar.offset_s(at))).rem_euclid(86_400);
        let angle = local as f64 / 86_400.0 * std::f64::consts::TAU;
        east += wh * angle.sin();
        north += wh * angle.cos();
        sum += wh;
    }
    if sum <= 0.0 || east.hypot(north) < TOGETHER * sum {
        return None;
    }
    let middle = (east.atan2(north) / std::f64::consts::TAU * 24.0).rem_euclid(24.0);
    let off = (middle - MIDDLE_H + 36.0).rem_euclid(24.0) - 12.0;
    if off.abs() < OFF_H {
        return None;
    }
    let minutes = (middle * 60.0).round() as i64;
    Some(format!(
        "the middle of the harvest lies at {:02}:{:02} on the clock of {}: the clock or its zone is off by hours; see `timezone` and `clock_shift`",
        minutes / 60 % 24,
        minutes % 60,
        calendar.zone_at(grid.start).name()
    ))
}
