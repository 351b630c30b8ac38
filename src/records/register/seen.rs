//! Plants among some rows: how many there are, whether each lives by its newest winter, and how many winters are told of it.

use super::row::Row;
use crate::records::words::Vitality;

/// What some rows say of one plant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PlantSeen {
    /// Number of what it is named after.
    pub name: u32,
    /// Whether it lives by its newest winter.
    pub alive: bool,
    newest: i16,
    /// A bit for each winter by its year; those 64 years apart share one.
    winters: u64,
}

impl PlantSeen {
    /// Winters told of it.
    pub const fn winters(&self) -> usize {
        self.winters.count_ones() as usize
    }
}

/// A place for each plant of a register, filled row by row in the order of their ids.
#[derive(Debug)]
pub struct PlantsSeen<'a> {
    by_number: Vec<Option<PlantSeen>>,
    /// The first row of each plant, in the order seen.
    rows: Vec<&'a Row>,
}

impl<'a> PlantsSeen<'a> {
    /// Plants of these rows, of a register with so many plants.
    pub fn of(plants: usize, rows: impl Iterator<Item = &'a Row>) -> Self {
        let mut seen = Self { by_number: vec![None; plants], rows: Vec::new() };
        rows.for_each(|row| seen.add(row));
        seen
    }

    fn add(&mut self, row: &'a Row) {
        let Some(place) = self.by_number.get_mut(row.plant as usize) else { return };
        let (year, alive) = (row.winter.year(), row.vitality == Vitality::Alive);
        let bit = 1 << (year.unsigned_abs() % 64);
        match place {
            None => {
                *place = Some(PlantSeen { name: row.name, alive, newest: year, winters: bit });
                self.rows.push(row);
            }
            Some(seen) => {
                seen.winters |= bit;
                // Of two reports of one winter the later counts.
                if year >= seen.newest {
                    (seen.newest, seen.alive) = (year, alive);
                }
            }
        }
    }

    /// How many plants.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Each plant with one of its rows, which tells where it stands.
    pub fn iter(&self) -> impl Iterator<Item = (&Row, &PlantSeen)> {
        self.rows.iter().filter_map(|row| Some((*row, self.by_number.get(row.plant as usize)?.as_ref()?)))
    }
}
