//! What is kept: a trait in the words of the domain, and its two engines, SQLite and PostgreSQL, behind one body of SQL.
//!
//! A method is one transaction and one question. Ids and times come from the caller. Nothing of SQL leaves this ring.
//! The contract suite `tests/store` runs every test on both engines; an engine it does not run does not ship.

mod catalogue;
mod engine;
mod erased;
mod erasure;
mod error;
mod file_lock;
mod forgetting;
mod garden;
mod import;
mod mail;
mod members;
mod model;
mod names;
mod opening;
mod operations;
mod postgres;
mod private;
mod releases;
mod report_writing;
mod reports;
mod restoring;
mod roles;
mod rows;
mod setups;
mod shelters;
mod sites;
mod sqlite;
mod submission;
mod version;

use std::sync::Arc;

pub use catalogue::CatalogueStore;
pub use engine::Database;
pub use erased::Leaving;
pub use erasure::Erasure;
pub use error::StoreError;
pub use garden::{EarlierPlant, GardenStore, PlantChange};
pub use mail::{LinkPurpose, MailAddress, MailLink, MailStore};
pub use members::{ApiToken, MemberStore, RoleChange, Session};
pub use model::{KeptModel, ModelStore};
pub use operations::{EngineFacts, OperationsStore, Simulation};
pub use releases::{DataRelease, ReleaseStore};
pub use reports::{Amendment, ReportFilter, ReportStore};
pub use restoring::{Restored, restore};
pub use setups::SetupStore;
pub use shelters::ShelterReportStore;
pub use sites::{Saving, SiteStore};
pub use sqlite::verify as verify_copy;
pub use submission::{Submission, Submitted};
pub use version::Version;

use crate::catalogue::CatalogueRecords;

/// Everything the house keeps, one trait a room; any part can be replaced in a test.
pub trait Store:
    CatalogueStore
    + MemberStore
    + MailStore
    + GardenStore
    + ReportStore
    + SiteStore
    + SetupStore
    + ShelterReportStore
    + ModelStore
    + ReleaseStore
    + OperationsStore
    + Send
    + Sync
    + 'static
{
}

impl Store for Database {}

/// Opens the database at an address for reading alone, also beside a running service.
///
/// # Errors
/// As [`open`]; and where the data file does not exist.
pub async fn open_reading(address: &str) -> Result<Arc<dyn Store>, StoreError> {
    Ok(Arc::new(Database::open_reading(address).await?))
}

/// Opens, migrates and seeds the database at an address: `sqlite:FILE` or `postgres://…`.
///
/// # Errors
/// When the address is neither, the engine is too old, the data file is in use by another process, or the engine refuses.
pub async fn open(address: &str) -> Result<Arc<dyn Store>, StoreError> {
    let database = Database::open(address).await?;
    let back = database.forget_again().await?;
    if back > 0 {
        tracing::warn!(members = back, "an older copy of the data was put back; those who had asked to be forgotten were forgotten again");
    }
    database.take_names_of_members().await?;
    database.finish_erasure().await;
    let (records, version) = if database.is_simulated().await? {
        (CatalogueRecords::with_invented()?, CatalogueRecords::version_with_invented())
    } else {
        (CatalogueRecords::embedded()?, CatalogueRecords::embedded_version())
    };
    database.plant_catalogue(&records, &version).await?;
    Ok(Arc::new(database))
}
