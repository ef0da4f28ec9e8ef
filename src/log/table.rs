//! Lines cut into cells of text, held in one piece: the head of a file is some hundreds of cells, of
//! which most are looked at once.

use std::borrow::Cow;

use super::decode;

/// Lines cut into cells.
#[derive(Debug, Default)]
pub(crate) struct Table {
    /// The cells' text, one behind the other.
    text: String,
    /// Where each cell stands in the text.
    cells: Vec<(usize, usize)>,
    rows: Vec<Place>,
}

/// Where a row lies in its table.
#[derive(Debug, Clone, Copy)]
struct Place {
    /// Number of the line in its file.
    line: u64,
    from: usize,
    to: usize,
}

/// A row of a table.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Row<'t> {
    text: &'t str,
    cells: &'t [(usize, usize)],
    /// Number of the line in its file.
    pub(crate) line: u64,
}

impl Table {
    /// Adds a line, cut at these places; white space around a cell is left out.
    pub(crate) fn push(&mut self, line: u64, bytes: &[u8], ranges: &[(u32, u32)]) {
        let from = self.cells.len();
        // Most lines are plain text: looked at once, not cell by cell.
        let plain = std::str::from_utf8(bytes).ok().filter(|l| l.is_ascii());
        for &(low, high) in ranges {
            let range = low as usize..high as usize;
            let begin = self.text.len();
            match plain {
                Some(line) => self.text.push_str(line[range].trim_ascii()),
                None => self.text.push_str(decode::text(&bytes[range]).trim()),
            }
            self.cells.push((begin, self.text.len()));
        }
        let to = self.cells.len();
        self.rows.push(Place { line, from, to });
    }

    /// How many rows there are.
    pub(crate) fn len(&self) -> usize {
        self.rows.len()
    }

    /// A row by its place, which must be below [`Self::len`].
    pub(crate) fn row(&self, at: usize) -> Row<'_> {
        self.at(self.rows[at])
    }

    /// The first row.
    pub(crate) fn first(&self) -> Option<Row<'_>> {
        self.rows.first().map(|place| self.at(*place))
    }

    /// The rows from the first on.
    pub(crate) fn iter(
        &self,
    ) -> impl DoubleEndedIterator<Item = Row<'_>> + ExactSizeIterator + Clone {
        self.rows.iter().map(|place| self.at(*place))
    }

    /// The cells of a column, of the rows that reach so far.
    pub(crate) fn column(&self, column: usize) -> impl DoubleEndedIterator<Item = &str> + Clone {
        self.iter().filter_map(move |row| row.get(column))
    }

    /// Leaves only the rows at these places, in their order.
    pub(crate) fn keep(&mut self, places: &[usize]) {
        self.rows = places.iter().map(|at| self.rows[*at]).collect();
    }

    /// The first rows alone, in no more memory than they need.
    pub(crate) fn head(&self, most: usize) -> Self {
        let mut head = Self::default();
        for row in self.iter().take(most) {
            let from = head.cells.len();
            for cell in row.iter() {
                let begin = head.text.len();
                head.text.push_str(cell);
                head.cells.push((begin, head.text.len()));
            }
            let to = head.cells.len();
            head.rows.push(Place {
                line: row.line,
                from,
                to,
            });
        }
        head.text.shrink_to_fit();
        head.cells.shrink_to_fit();
        head.rows.shrink_to_fit();
        head
    }

    fn at(&self, place: Place) -> Row<'_> {
        Row {
            text: &self.text,
            cells: &self.cells[place.from..place.to],
            line: place.line,
        }
    }
}

impl<'t> Row<'t> {
    /// How many cells it has.
    pub(crate) fn len(&self) -> usize {
        self.cells.len()
    }

    /// A cell; `None` behind the last.
    pub(crate) fn get(&self, column: usize) -> Option<&'t str> {
        let (from, to) = *self.cells.get(column)?;
        Some(&self.text[from..to])
    }

    /// The cells of these columns, a space between; `None` where one of them is not there.
    pub(crate) fn joined(&self, columns: &[usize]) -> Option<Cow<'t, str>> {
        if let [column] = columns {
            return self.get(*column).map(Cow::Borrowed);
        }
        let cells: Option<Vec<&str>> = columns.iter().map(|k| self.get(*k)).collect();
        cells.map(|cells| Cow::Owned(cells.join(" ")))
    }

    /// All its cells.
    pub(crate) fn iter(&self) -> impl DoubleEndedIterator<Item = &'t str> + Clone + use<'t> {
        let text = self.text;
        self.cells.iter().map(move |(from, to)| &text[*from..*to])
    }

    /// The cells that hold anything.
    pub(crate) fn full(&self) -> impl DoubleEndedIterator<Item = &'t str> + Clone + use<'t> {
        self.iter().filter(|cell| !cell.is_empty())
    }

    /// The cells, each by itself.
    pub(crate) fn to_vec(self) -> Vec<String> {
        self.iter().map(str::to_owned).collect()
    }

    /// Whether its cells are these.
    pub(crate) fn is(&self, cells: &[String]) -> bool {
        self.cells.len() == cells.len() && self.iter().eq(cells.iter().map(String::as_str))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn table() -> Table {
        let mut table = Table::default();
        table.push(4, b"a; 12,5 ;", &[(0, 1), (2, 8), (9, 9)]);
        table.push(5, b"\xb0C;7", &[(0, 2), (3, 4)]);
        table.push(7, b"only", &[(0, 4)]);
        table
    }

    #[test]
    fn cells_are_trimmed_text_and_know_their_line() {
        let table = table();
        assert_eq!(table.row(0).to_vec(), ["a", "12,5", ""]);
        assert_eq!(table.row(1).to_vec(), ["\u{b0}C", "7"]);
        assert_eq!(table.row(2).line, 7);
        assert_eq!(table.row(2).get(1), None);
        assert_eq!(table.column(1).collect::<Vec<_>>(), ["12,5", "7"]);
        assert_eq!(table.row(0).joined(&[1, 0]).as_deref(), Some("12,5 a"));
        assert_eq!(table.row(2).joined(&[0, 1]), None);
    }

    #[test]
    fn rows_are_kept_by_place_and_a_head_holds_the_same_cells() {
        let mut table = table();
        table.keep(&[0, 2]);
        assert_eq!(table.len(), 2);
        assert!(table.row(1).is(&["only".to_owned()]));
        let head = table.head(1);
        assert_eq!(head.len(), 1);
        assert_eq!(head.row(0).to_vec(), table.row(0).to_vec());
        assert_eq!(head.row(0).line, 4);
    }
}
