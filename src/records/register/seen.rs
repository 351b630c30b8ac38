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
    rows: &'a [&'a Row],
    /// Whether a row is the first of its plant.
    is_first: Vec<bool>,
    len: usize,
}

impl<'a> PlantsSeen<'a> {
    /// Plants of these rows, of a register with so many plants.
    pub fn of(plants: usize, rows: &'a [&'a Row]) -> Self {
        let mut by_number = vec![None; plants];
        let is_first: Vec<bool> =
            rows.iter().map(|row| by_number.get_mut(row.plant as usize).is_some_and(|place| add(place, row))).collect();
        let len = is_first.iter().filter(|first| **first).count();
        Self { by_number, rows, is_first, len }
    }

    /// How many plants.
    pub fn len(&self) -> usize {
        self.len
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// Each plant with one of its rows, which tells where it stands.
    pub fn iter(&self) -> impl Iterator<Item = (&Row, &PlantSeen)> {
        let first = self.rows.iter().zip(&self.is_first).filter(|(_, first)| **first);
        first.filter_map(|(row, _)| Some((*row, self.by_number.get(row.plant as usize)?.as_ref()?)))
    }
}

/// Puts down what a row says of its plant; whether it is the first that does.
fn add(place: &mut Option<PlantSeen>, row: &Row) -> bool {
    let (year, alive) = (row.winter.year(), row.vitality == Vitality::Alive);
    let bit = 1 << (year.unsigned_abs() % 64);
    let Some(seen) = place else {
        *place = Some(PlantSeen { name: row.name, alive, newest: year, winters: bit });
        return true;
    };
    seen.winters |= bit;
    // Of two reports of one winter the later counts.
    if year >= seen.newest {
        (seen.newest, seen.alive) = (year, alive);
    }
    false
}
