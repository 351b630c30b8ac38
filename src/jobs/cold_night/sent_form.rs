//! The form of a cold night as it was sent: what stands in its fields, and how many rows of each kind it has.

use jiff::ToSpan;
use jiff::civil::Date;

use crate::input::scaled_fields::is_imperial;
use crate::jobs::cold_night::done::Done;
use crate::jobs::cold_night::field::{Field, NightField, StoreField};
use crate::science::cold_night::spell::days::MOST_NIGHTS;

/// Rows of figs a form begins with.
pub const FIRST_ROWS: usize = 3;
/// Most rows of figs.
pub const MOST_ROWS: usize = 60;
/// Rows of other plants.
pub const OTHER_ROWS: usize = 3;
/// Rows of places.
pub const PLACE_ROWS: usize = 6;
/// Rows of the grower's own log.
pub const LOG_ROWS: usize = 6;
/// Nights that one press adds to the form.
const NIGHTS_MORE: usize = 3;

/// Names and values as sent.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SentForm {
    pairs: Vec<(String, String)>,
}

impl SentForm {
    /// From what was sent.
    pub fn new(pairs: Vec<(String, String)>) -> Self {
        Self { pairs }
    }

    /// Names and values, for readers of single fields.
    pub fn pairs(&self) -> &[(String, String)] {
        &self.pairs
    }

    /// Names and values, to be shown again.
    pub fn into_pairs(self) -> Vec<(String, String)> {
        self.pairs
    }

    /// Whether nothing at all was sent.
    pub fn is_empty(&self) -> bool {
        self.pairs.is_empty()
    }

    /// What stands in a field, trimmed; blank counts as absent.
    pub fn text(&self, field: Field) -> Option<&str> {
        let name = field.name();
        self.pairs.iter().find(|(key, _)| *key == name).map(|(_, value)| value.trim()).filter(|value| !value.is_empty())
    }

    /// Whether a field was sent at all, as a pressed button is.
    pub fn has(&self, field: Field) -> bool {
        let name = field.name();
        self.pairs.iter().any(|(key, _)| *key == name)
    }

    /// Puts a value into a field in place of what stood there.
    pub fn set(&mut self, field: Field, value: impl Into<String>) {
        self.clear(field);
        self.pairs.push((field.name(), value.into()));
    }

    /// Puts in what is kept elsewhere under the names of this form.
    pub fn extend(&mut self, kept: impl IntoIterator<Item = (Field, String)>) {
        self.pairs.extend(kept.into_iter().map(|(field, value)| (field.name(), value)));
    }

    /// Empties a field.
    pub fn clear(&mut self, field: Field) {
        let name = field.name();
        self.pairs.retain(|(key, _)| *key != name);
    }

    /// Empties every field of the nights, and what goes with their number.
    pub fn clear_nights(&mut self) {
        let nights = (1..=MOST_NIGHTS).flat_map(|night| NightField::ALL.iter().map(move |field| Field::Night(night, *field)));
        let names: Vec<String> = nights.chain([Field::NightCount, Field::PlannedFrom]).map(Field::name).collect();
        self.pairs.retain(|(key, _)| !names.contains(key));
    }

    /// Whether it is typed in °F, square feet and US gallons.
    pub fn is_imperial(&self) -> bool {
        is_imperial(&self.pairs)
    }

    fn count(&self, field: Field) -> Option<usize> {
        self.text(field)?.parse().ok()
    }

    /// How many nights it has.
    pub fn nights(&self) -> usize {
        self.count(Field::NightCount).unwrap_or(1).clamp(1, MOST_NIGHTS)
    }

    /// The first planned night, from 1.
    pub fn first_planned(&self) -> usize {
        self.count(Field::PlannedFrom).unwrap_or(1).clamp(1, self.nights())
    }

    /// The date of each night, where the first has one.
    pub fn dates(&self) -> Vec<Option<Date>> {
        let first = self.text(Field::Date).and_then(|typed| typed.parse::<Date>().ok());
        (0_i64..).take(self.nights()).map(|n| first.and_then(|date| date.checked_add(n.days()).ok())).collect()
    }

    /// How many rows of figs it has.
    pub fn fig_rows(&self) -> usize {
        self.count(Field::FigRows).unwrap_or(FIRST_ROWS).clamp(1, MOST_ROWS)
    }

    /// How many rows of places it shows: those used, or asked for, and one more.
    pub fn place_rows(&self) -> usize {
        let used = |row: &usize| StoreField::ALL.iter().any(|field| self.text(Field::Store(*row, *field)).is_some());
        let last = (1..=PLACE_ROWS).filter(used).max().unwrap_or(1);
        (last + 1).max(self.count(Field::PlaceRows).unwrap_or(0)).min(PLACE_ROWS)
    }

    /// The same form with more nights, places or figs.
    pub fn grow(&mut self, what: &str) {
        let (field, rows) = match what {
            "nights" => (Field::NightCount, (self.nights() + NIGHTS_MORE).min(MOST_NIGHTS)),
            "places" => (Field::PlaceRows, (self.place_rows() + 1).min(PLACE_ROWS)),
            _ => (Field::FigRows, (self.fig_rows() + FIRST_ROWS).min(MOST_ROWS)),
        };
        self.set(field, rows.to_string());
    }

    /// What was ticked as done, in the order of the nights.
    pub fn done(&self) -> Vec<Done> {
        let name = Field::Done.name();
        let mut all: Vec<Done> = self.pairs.iter().filter(|(key, _)| *key == name).filter_map(|(_, value)| Done::read(value)).collect();
        all.sort_by_key(|done| done.night);
        all
    }
}
