//! A run of rows in the order of ids, with where each name's rows stand among them.

use std::sync::OnceLock;

use super::row::Row;

/// Rows of neighbouring ids.
#[derive(Debug, Clone, Default)]
pub(super) struct Block {
    rows: Vec<Row>,
    /// Places of the rows, by name and then by id: found again after a change, once, for all who ask.
    by_name: OnceLock<Box<[u16]>>,
}

impl Block {
    pub fn new(rows: Vec<Row>) -> Self {
        Self { rows, by_name: OnceLock::new() }
    }

    pub fn rows(&self) -> &[Row] {
        &self.rows
    }

    /// How many rows there is room for.
    #[cfg(test)]
    pub fn capacity(&self) -> usize {
        self.rows.capacity()
    }

    /// The rows, to be changed.
    pub fn rows_mut(&mut self) -> &mut Vec<Row> {
        self.by_name.take();
        &mut self.rows
    }

    fn by_name(&self) -> &[u16] {
        self.by_name.get_or_init(|| {
            // A block holds a few thousand rows, so that a place takes two bytes.
            let mut places: Box<[u16]> = (0..=u16::MAX).take(self.rows.len()).collect();
            places.sort_unstable_by_key(|&place| (self.rows.get(usize::from(place)).map(|row| row.name), place));
            places
        })
    }

    /// Finds where names stand, so that nobody who asks has to wait for it.
    pub fn prepare(&self) {
        self.by_name();
    }

    /// The rows of a name, in the order of ids.
    pub fn of_name(&self, name: u32) -> impl DoubleEndedIterator<Item = &Row> {
        let (places, rows) = (self.by_name(), &self.rows);
        let name_at = |place: &u16| rows.get(usize::from(*place)).map(|row| row.name);
        let begin = places.partition_point(|place| name_at(place) < Some(name));
        let end = places.partition_point(|place| name_at(place) <= Some(name));
        places.get(begin..end).unwrap_or_default().iter().filter_map(|&place| rows.get(usize::from(place)))
    }
}
