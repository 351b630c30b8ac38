//! Land and sea, as far as a coarse outline tells: Natural Earth 4.1.0, 1:110,000,000 (public domain), `seed-data/land-outline.txt`.

use std::sync::LazyLock;

use super::gazetteer::Gazetteer;
use super::{distance, invented};

/// Rings of the outline: longitude and latitude, °.
pub static LAND: LazyLock<Vec<Vec<(f64, f64)>>> = LazyLock::new(|| {
    let point = |text: &str| {
        let (longitude, latitude) = text.split_once(' ')?;
        Some((longitude.parse().ok()?, latitude.parse().ok()?))
    };
    let rings = include_str!("../../seed-data/land-outline.txt").lines().filter(|line| !line.starts_with('#'));
    rings.map(|ring| ring.split(',').filter_map(point).collect()).collect()
});

/// A point farther than this from every town and outside the outline is taken to be at sea, km. The outline is drawn for a scale at which a
/// bay of 50 km is hardly seen, and small islands are missing from it, but people live there: DESIGN.
const FROM_TOWNS_KM: f64 = 25.0;

/// Whether a point lies within the outline of land, by the number of edges that a line eastward crosses (even–odd rule).
pub fn within_outline(latitude: f64, longitude: f64) -> bool {
    let crosses = |(a, b): (&(f64, f64), &(f64, f64))| {
        let ((x1, y1), (x2, y2)) = (*a, *b);
        (y1 > latitude) != (y2 > latitude) && longitude < x1 + (latitude - y1) / (y2 - y1) * (x2 - x1)
    };
    let crossings = |ring: &Vec<(f64, f64)>| {
        let next = ring.iter().cycle().skip(1);
        ring.iter().zip(next).filter(|edge| crosses(*edge)).count()
    };
    LAND.iter().map(crossings).sum::<usize>() % 2 == 1
}

/// How far the nearest town is, km, where a point lies at sea; `None` on land and near every shore.
pub fn at_sea(gazetteer: &Gazetteer, latitude: f64, longitude: f64) -> Option<f64> {
    // The towns of the demonstration lie where there are none.
    let is_invented =
        invented::INVENTED.iter().any(|(_, north, east)| distance::km((latitude, longitude), (*north, *east)) < FROM_TOWNS_KM);
    if is_invented || within_outline(latitude, longitude) {
        return None;
    }
    gazetteer.near((latitude, longitude), 1).first().map(|(_, km)| *km).filter(|km| *km > FROM_TOWNS_KM)
}

#[cfg(test)]
mod tests {
    use super::*;

    // Places by any atlas; from memory.
    #[test]
    fn oceans_are_sea_and_continents_islands_and_shores_are_not() {
        let gazetteer = Gazetteer::embedded().unwrap();
        for (latitude, longitude, what) in [
            (35.0, -45.0, "Atlantic"),
            (-30.0, 90.0, "Indian Ocean"),
            (56.5, 3.0, "North Sea"),
            (40.0, 5.5, "Mediterranean"),
            (0.0, 0.0, "Gulf of Guinea"),
        ] {
            assert!(at_sea(gazetteer, latitude, longitude).is_some(), "{what}");
        }
        for (latitude, longitude, what) in [
            (48.2, 16.4, "Vienna"),
            (47.6, -122.4, "Seattle"),
            (35.9, 14.5, "Malta"),
            (49.2, -2.1, "Jersey"),
            (-33.9, 151.2, "Sydney"),
            (44.0, 12.7, "a beach at Rimini"),
            (45.4, 12.3, "Venice"),
        ] {
            assert_eq!(at_sea(gazetteer, latitude, longitude), None, "{what}");
        }
    }
}
