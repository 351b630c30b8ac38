//! A place that words name, at a garden's height, and why words name none.

use super::coordinates::{CoordinateError, Point};
use super::town::Town;
use crate::science::climate::site_estimate::SiteEstimate;

/// Largest difference in height over which a town's estimate is carried, m: the stations behind the lapse reach as far.
pub const LARGEST_HEIGHT_M: f64 = 2500.0;
/// Lowest and highest ground accepted, m: the shore of the Dead Sea and the summit of Everest, rounded outward.
pub const GROUND_M: (f64, f64) = (-450.0, 8900.0);

/// Why words name no place.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlaceError {
    /// Coordinates that are none.
    #[error(transparent)]
    Coordinates(#[from] CoordinateError),
    /// Nothing was typed.
    #[error("type a town, with its country if it is not a large one (Graz, Austria), or coordinates (47.07, 15.44)")]
    Empty,
    /// No town goes by that name.
    #[error(
        "no town “{read}” is known among those of 500 people or more; accepted: its name in any language, with country or region after a \
         comma, or coordinates (47.07, 15.44); a postal code is not a name"
    )]
    Unknown {
        /// What was typed.
        read: String,
    },
    /// The name may be known, the word after it is no country or region.
    #[error(
        "“{read}”: “{word}” is no country or region that is known; leave it out, or write it as “Austria”, “AT”, “North Carolina”, “NC”"
    )]
    UnknownRegion {
        /// What was typed.
        read: String,
        /// The word.
        word: String,
    },
    /// The point is far from every town.
    #[error("{latitude:.2}, {longitude:.2} is {km:.0} km from the nearest town, {town}: at sea or in the wilderness. Latitude comes first")]
    FarAway {
        /// Latitude.
        latitude: f64,
        /// Longitude.
        longitude: f64,
        /// Distance.
        km: f64,
        /// Label of the nearest town.
        town: String,
    },
    /// A garden too far above or below the town.
    #[error(
        "{metres:.0} m is {by:.0} m {direction} {town} ({town_m:.0} m): too far to say anything of its winters; choose a town near the garden's height"
    )]
    OtherHeight {
        /// The garden.
        metres: f64,
        /// The difference.
        by: f64,
        /// above or below.
        direction: &'static str,
        /// Label of the town.
        town: String,
        /// The town's elevation.
        town_m: f64,
    },
    /// No ground lies so high or so deep.
    #[error("an elevation of {metres} m is on no ground; {low} to {high} m is accepted", low = GROUND_M.0, high = GROUND_M.1)]
    NoGround {
        /// What was given.
        metres: f64,
    },
}

/// A place on the Earth with what is known of it: a town, or a point near one, at its own height where that is given.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// The town whose estimate is used.
    pub town: Town,
    /// The point asked for, where it was one, and its distance from the town, km.
    pub point: Option<(Point, f64)>,
    /// Height of the garden, m, where given.
    pub elevation_m: Option<f64>,
    /// The estimate there.
    pub estimate: SiteEstimate,
    /// Other towns of exactly that name.
    pub namesakes: usize,
}

impl Spot {
    /// Latitude and longitude, degrees.
    pub fn at(&self) -> (f64, f64) {
        self.point.map_or(self.town.at, |(p, _)| (p.latitude, p.longitude))
    }

    /// How far the garden lies above its town, m; `None` where one of the heights is not known.
    pub fn above_town_m(&self) -> Option<f64> {
        Some(self.elevation_m? - self.town.elevation_m?)
    }
}
