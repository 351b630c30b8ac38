//! Where damage of a kind begins for a plain tree, and the axis on which the catalogue draws it.

use crate::model::snapshot::{CultivarModel, Snapshot};
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::exposure::{Circumstances, expose};
use crate::science::shortlist::Thresholds;
use crate::units::Celsius;
use crate::web::charts::axis::TemperatureAxis;

/// Coldest and warmest end of the axis of the catalogue, °C.
const AXIS: (f64, f64) = (-35.0, 0.0);

/// The axis of the catalogue and of a cultivar's own page.
pub(crate) fn own_axis() -> TemperatureAxis {
    TemperatureAxis::between(Celsius::literal(AXIS.0), Celsius::literal(AXIS.1))
}

/// Thresholds of an established plant in the ground, fully hardened in midwinter, uncovered.
pub(crate) fn own_thresholds(snapshot: &Snapshot, standing: &CultivarModel) -> Thresholds {
    let plain = expose(&Circumstances::plain_night(WinterMinimum::exactly(Celsius::literal(AXIS.0))), &snapshot.priors);
    Thresholds::of(|_| Some(plain.clone()), &standing.belief, &snapshot.scale)
}
