//! The open data package: what is published of plants and winters, the same bytes for the same data.
//!
//! Formats: Data Package v2 with Table Schema (datapackage.org), a CSVW sidecar (W3C), CSV as RFC 4180 in UTF-8. Terms: Darwin Core and
//! Dublin Core with their published meaning. Rows are sorted by id and nothing is taken from a clock. Notes, places in words, exact
//! points, names of members who want none and mother plants are never among the rows.

mod archive;
mod catalogue_rows;
pub mod columns;
mod describe;
mod read;
mod read_cells;
mod rows;
mod shelter_read;
mod shelter_rows;
mod tables;
mod writing;

pub use archive::{FILE_NAME, Package, Zipped};
pub use catalogue_rows::{ChangeRow, IncomingChange};
pub use read::{BadPackage, Contents, Incoming, PackageFile, read};
pub use read_cells::RefusedRow;
pub use rows::{Credited, PlantRow, WinterRow, WithdrawnRow, public_heat};
pub use shelter_rows::{PublishedShelter, ShelterChangeRow, ShelterRow, WithdrawnShelterRow};
pub use tables::{NotWritten, minor_and_build};
pub use writing::{Described, Files, Rest, Writing, ZipFiles};

/// Licence of the records.
pub const RECORDS_LICENCE: &str = "https://creativecommons.org/licenses/by/4.0/";
/// Licence of names, vocabularies, flags and schema.
pub const VOCABULARY_LICENCE: &str = "https://creativecommons.org/publicdomain/zero/1.0/";
