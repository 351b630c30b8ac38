//! Which line of a CSV file a row stands on.

use csv::{Position, Reader, StringRecord};

/// Lines of a file by the positions that a CSV reader gives its rows, the header being line 1.
///
/// Of a line end of two bytes the reader leaves the second to the row after, so that all its positions are then one line too low. Where an
/// empty line stands before a row, the empty line is named.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lines {
    lag: u64,
}

impl Lines {
    /// From a reader that has read `header` and nothing more.
    pub fn of<R: std::io::Read>(reader: &Reader<R>, header: &StringRecord) -> Self {
        let header_lines = 1 + header.iter().map(|cell| cell.matches('\n').count() as u64).sum::<u64>();
        Self { lag: u64::from(reader.position().line() <= header_lines) }
    }

    /// Line of a row, 1 where the reader does not know.
    pub fn line(self, position: Option<&Position>) -> u64 {
        position.map_or(1, |position| position.line() + self.lag)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_stand_on_the_lines_an_editor_shows_whatever_ends_them() {
        for end in ["\n", "\r\n"] {
            let text = ["a,b", "1,\"two", "lines\"", "3,4", "5,6"].join(end);
            let mut reader = Reader::from_reader(text.as_bytes());
            let header = reader.headers().unwrap().clone();
            let lines = Lines::of(&reader, &header);
            let found: Vec<u64> = reader.records().map(|row| lines.line(row.unwrap().position())).collect();
            assert_eq!(found, [2, 4, 5], "{end:?}");
        }
    }

    #[test]
    fn a_heading_of_two_lines_is_counted() {
        for end in ["\n", "\r\n"] {
            let text = ["\"a", "more\",b", "1,2"].join(end);
            let mut reader = Reader::from_reader(text.as_bytes());
            let header = reader.headers().unwrap().clone();
            let lines = Lines::of(&reader, &header);
            let row = reader.records().next().unwrap().unwrap();
            assert_eq!(lines.line(row.position()), 3, "{end:?}");
        }
    }
}
