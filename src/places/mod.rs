//! Towns: found by name or coordinates, each with a first estimate of its climate, from one embedded file.
//!
//! Pure look-up over the bytes of `seed-data/places.bin`, which `cargo bench --bench places -- build FOLDER` writes (see
//! `tests/bench/places.rs`). Nothing is unpacked at start; a look-up inflates the few blocks it shows.
//!
//! | file | holds |
//! |---|---|
//! | [`mod@file`] | where each part of the file lies |
//! | [`block`] | 128 towns, packed |
//! | [`index`] | names to towns: exact, by prefix, with one slip; most people first |
//! | [`one_slip`] | names within one letter of another, in any script |
//! | [`folding`] | names as they are compared |
//! | [`regions`] | regions and countries, and the words for them |
//! | [`words`] | what was typed, taken apart |
//! | [`coordinates`] | latitude and longitude as people and ISO 6709 write them |
//! | [`stations`] | weather stations near a point |
//! | [`spot`] | a place that words name, and why words name none |
//! | [`land`] | land and sea, by a coarse outline |
//! | [`station_list`] | the same from the archive's own texts, newer than the file |
//! | [`town`] | a town with its estimate |
//! | [`gazetteer`] | the questions that others ask |
//! | [`invented`] | the towns of the demonstration |
//! | [`attribution`] | whose data it is |

pub mod attribution;
pub mod block;
pub mod coordinates;
pub mod distance;
pub mod error;
pub mod file;
pub mod folding;
pub mod gazetteer;
pub mod index;
pub mod invented;
pub mod land;
pub mod one_slip;
pub mod regions;
pub mod spot;
pub mod station_list;
pub mod stations;
pub mod town;
pub mod words;

pub use attribution::ATTRIBUTION;
pub use coordinates::{CoordinateError, Point};
pub use error::PlacesError;
pub use gazetteer::Gazetteer;
pub use spot::{PlaceError, Spot};
pub use station_list::StationList;
pub use stations::{ArchiveStation, EstimateStation};
pub use town::{Town, TownId};
