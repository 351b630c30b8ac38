//! Reports by the published cell of their plants, for the map.

use crate::jobs::reports::summary::CellPlants;
use crate::web::charts::map::{Grown, Map};

/// The map of some reports; `None` where no place of theirs is published.
pub(crate) fn map(cells: &[CellPlants]) -> Option<Map> {
    let grown = cells.iter().map(|&CellPlants { cell, plants, alive }| Grown {
        latitude: cell.latitude(),
        longitude: cell.longitude(),
        plants,
        alive,
    });
    Map::new(&grown.collect::<Vec<_>>())
}
