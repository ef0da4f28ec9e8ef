//! Which mark parts whole numbers from fractions, and which only groups thousands.

use super::table::Table;
use super::words::Kind;
use super::{stamp, words};

/// Fewest cells with groups of three from which thousands marks are believed.
const FEWEST: usize = 8;

/// Voltages a small system shows while it lives.
const VOLTS: (f64, f64) = (1.0, 1_000.0);

/// What the cells with marks in them come to.
#[derive(Debug, Default)]
struct Marks {
    points: usize,
    commas: usize,
    /// Cells whose one mark leaves three digits behind it, by mark: either kind of mark.
    trios: [usize; 2],
    /// Such cells that begin with a lone 0, which no thousand does.
    small: [usize; 2],
}

/// The decimal mark from cells that can be read one way only.
pub(crate) fn of_cells(sample: &Table, delimiter: u8, titles: &[String]) -> u8 {
    let mut marks = Marks::default();
    for cell in sample.iter().flat_map(|row| row.iter()) {
        if let Some(body) = number_in(cell) {
            marks.take(body);
        }
    }
    for (k, mark) in ['.', ','].into_iter().enumerate() {
        let others = if mark == '.' {
            marks.points - marks.trios[0] + marks.commas
        } else {
            marks.points + marks.commas
        };
        if others == 0
            && marks.trios[k] >= FEWEST
            && marks.small[k] == 0
            && (groups(sample, mark) || by_volts(sample, mark, titles))
        {
            return if mark == '.' { b',' } else { b'.' };
        }
    }
    // Points that all stand before three digits group thousands where commas stand before others.
    if marks.commas > 0
        && marks.points == marks.trios[0]
        && marks.trios[0] > 0
        && marks.small[0] == 0
        && delimiter != b','
    {
        return b',';
    }
    // "12,345" alone: a thousands mark where points are about, else a decimal mark.
    let decimal = || delimiter != b',' || volts_need(sample, titles);
    if marks.points == 0 && marks.trios[1] > 0 && decimal() {
        marks.commas += marks.trios[1];
    }
    if marks.commas > marks.points {
        b','
    } else {
        b'.'
    }
}

/// The digits and marks of a cell that holds a number and maybe a unit.
fn number_in(cell: &str) -> Option<&str> {
    if stamp::is_reading(cell) {
        return Some(cell.trim_start_matches('-'));
    }
    if stamp::looks_like_time(cell) {
        return None;
    }
    let body = cell.trim_start_matches(['-', '+']);
    let body = body.trim_end_matches(|c: char| !c.is_ascii_digit());
    // Most have nothing but digits and a mark, one byte each.
    let plain = |b: u8| b.is_ascii_digit() || matches!(b, b'.' | b',' | b'\'' | b' ');
    let fits = |c: char| c == '\u{a0}' || u8::try_from(c).is_ok_and(plain);
    let all = body.bytes().all(plain) || body.chars().all(fits);
    (!body.is_empty() && all).then_some(body)
}

impl Marks {
    fn take(&mut self, body: &str) {
        // The last place of either mark, and how many there are.
        let (mut points, mut commas) = ((0, 0), (0, 0));
        for (at, byte) in body.bytes().enumerate() {
            match byte {
                b'.' => points = (points.0 + 1, at),
                b',' => commas = (commas.0 + 1, at),
                _ => {}
            }
        }
        let (mark, at) = match (points, commas) {
            ((1.., point), (1.., comma)) if point > comma => return self.points += 1,
            ((1.., _), (1.., _)) => return self.commas += 1,
            ((1, point), _) => (0, point),
            (_, (1, comma)) => (1, comma),
            _ => return,
        };
        let trio = body.len() - at == 4;
        self.trios[mark] += usize::from(trio);
        self.small[mark] += usize::from(trio && body.starts_with('0'));
        if mark == 0 {
            self.points += 1;
        } else if !trio {
            self.commas += 1;
        }
    }
}

/// Voltages a small system shows while it lives, whichever mark is which.
fn makes_sense(volts: f64) -> bool {
    (VOLTS.0..VOLTS.1).contains(&volts)
}

/// Whether a column of volts with their unit in its title makes sense only with commas before decimals:
/// 12.910 V is a bank, 12 910 V none.
fn volts_need(sample: &Table, titles: &[String]) -> bool {
    grouped_volts(sample, ',', titles)
        .any(|grouped| makes_sense(grouped / 1e3) && !makes_sense(grouped))
}

/// Whether a column of volts with their unit in its title makes sense only with grouped thousands:
/// `12,530` mV is a bank, 12.53 mV nothing.
fn by_volts(sample: &Table, mark: char, titles: &[String]) -> bool {
    grouped_volts(sample, mark, titles)
        .any(|grouped| makes_sense(grouped) && !makes_sense(grouped / 1e3))
}

/// Volts in the columns that name their unit, the mark left out of a cell of each that has it.
fn grouped_volts<'t>(
    sample: &'t Table,
    mark: char,
    titles: &'t [String],
) -> impl Iterator<Item = f64> + 't {
    titles
        .iter()
        .enumerate()
        .filter_map(move |(column, title)| {
            let unit = words::meaning(title)
                .unit
                .filter(|u| u.kind == Kind::Voltage)?;
            let cell = sample
                .column(column)
                .filter_map(number_in)
                .find(|c| c.contains(mark))?;
            let digits: f64 = cell.replace(mark, "").parse().ok()?;
            Some(digits * unit.factor)
        })
}

/// Whether a column holds grouped thousands: three digits behind every mark, and whole numbers below
/// a thousand that have none.
fn groups(sample: &Table, mark: char) -> bool {
    let width = sample.iter().map(|row| row.len()).max().unwrap_or(0);
    (0..width).any(|column| {
        let cells = sample.column(column).filter_map(number_in);
        let (mut grouped, mut plain, mut long) = (0_usize, 0_usize, 0_usize);
        for body in cells {
            match (body.contains(mark), body.len()) {
                (true, _) => grouped += 1,
                (false, 1..=3) => plain += 1,
                (false, _) => long += 1,
            }
        }
        grouped > 0 && plain * 20 > grouped && long == 0
    })
}
