//! A night read from a form, with what leads back to the form.

use crate::jobs::cold_night::ColdNightInput;
use crate::science::cold_night::stage::CoverKind;

/// A night read from a form, with what leads back to the form.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FormNight {
    /// The calculation's input.
    pub input: ColdNightInput,
    /// Row of the form of each plant.
    pub row_of: Vec<usize>,
    /// Row of the form of each place.
    pub places: Vec<usize>,
    /// Kinds of cover, in the order of the input.
    pub(super) covers: Vec<CoverKind>,
    /// Places that are kept shelters: index of the place, id of the shelter.
    pub(super) shelters: Vec<(usize, String)>,
}
