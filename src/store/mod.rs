//! What is kept: a trait in the words of the domain, and its two engines, SQLite and PostgreSQL, behind one body of SQL.
//!
//! A method is one transaction and one question. Ids and times come from the caller. Nothing of SQL leaves this ring.
//! The contract suite `tests/store` runs every test on both engines; an engine it does not run does not ship.

mod archive;
mod catalogue;
mod deeds;
mod desk;
mod engine;
mod erased;
mod erasure;
mod erasure_list;
mod error;
mod file_lock;
mod forecasts;
mod forgetting;
mod garden;
mod import;
mod import_changes;
mod letters;
mod mail;
mod many_rows;
mod members;
mod model;
mod names;
mod notices;
mod nurseries;
mod office;
mod opening;
mod operations;
#[cfg(test)]
mod plans;
mod plant_moves;
mod pools;
mod postgres;
mod private;
mod propagation;
mod proposals;
mod pulse;
mod releases;
mod reminders;
mod report_writing;
mod reports;
mod restoring;
mod roles;
mod rows;
mod setups;
mod shelters;
mod short_addresses;
mod sites;
mod sqlite;
mod stock;
mod submission;
mod surveys;
mod trials;
mod version;
mod warnings;

use std::path::Path;
use std::sync::Arc;

pub use archive::ArchiveStore;
pub use catalogue::CatalogueStore;
pub use deeds::{Deed, DeedStore, Outcome, Undone, Verdict};
pub use desk::{DeskStore, GroupPlace, QueueFilter, QueueGroup, Reporter};
pub use engine::Database;
pub use erased::Leaving;
pub use erasure::Erasure;
pub use error::StoreError;
pub use forecasts::ForecastStore;
pub use garden::{EarlierPlant, GardenStore, PlantChange};
pub use import::Further;
pub use letters::LetterStore;
pub use mail::{LinkPurpose, MailAddress, MailLink, MailStore};
pub use members::{ApiToken, MemberStore, RoleChange, Session};
pub use model::{KeptModel, ModelStore};
pub use notices::NoticeStore;
pub use nurseries::{NurseryJoined, NurseryStore, ReturnedReport};
pub use office::{Joined, LogLine, MemberFilter, OfficeStore};
pub use operations::{EngineFacts, OperationsStore, Simulation};
pub use propagation::PropagationStore;
pub use proposals::{Effect, ProposalStore, Ruled, Ruling};
pub use pulse::Condition;
pub use releases::{DataRelease, ReleaseStore};
pub use reminders::ReminderStore;
pub use reports::ReportStore;
pub use restoring::{Restored, restore};
pub use setups::SetupStore;
pub use shelters::ShelterReportStore;
pub use short_addresses::ShortAddressStore;
pub use sites::{Saving, SiteStore};
pub use sqlite::verify as verify_copy;
pub use stock::{StockConflict, StockDeed, StockHistoryLine, StockStep, StockStore, StockUndone};
pub use submission::{Amendment, Submission, Submitted};
pub use surveys::{AnswerKept, SurveyStore};
pub use trials::{AskedCount, AskedKey, TrialOffer, TrialStore};
pub use version::Version;
pub use warnings::WarningStore;

use crate::catalogue::CatalogueRecords;

/// Everything the house keeps, one trait a room; any part can be replaced in a test.
pub trait Store:
    CatalogueStore
    + ProposalStore
    + MemberStore
    + MailStore
    + GardenStore
    + ReportStore
    + DeskStore
    + DeedStore
    + NoticeStore
    + LetterStore
    + ReminderStore
    + WarningStore
    + ForecastStore
    + OfficeStore
    + NurseryStore
    + StockStore
    + SiteStore
    + ArchiveStore
    + SetupStore
    + PropagationStore
    + TrialStore
    + ShelterReportStore
    + ShortAddressStore
    + SurveyStore
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
    begin(Database::open(address).await?).await
}

/// The same, with a list of members who asked to be forgotten that is kept outside the database: a dump put back is checked against it. A
/// data file of SQLite has its list beside it whatever is said here.
///
/// # Errors
/// As [`open`].
pub async fn open_listing(address: &str, erased_list: &Path) -> Result<Arc<dyn Store>, StoreError> {
    begin(Database::open(address).await?.listing_erasures_in(erased_list)).await
}

async fn begin(database: Database) -> Result<Arc<dyn Store>, StoreError> {
    let back = database.forget_again().await?;
    if back > 0 {
        tracing::warn!(members = back, "an older copy of the data was put back; those who had asked to be forgotten were forgotten again");
    }
    if let Err(error) = database.complete_erased_list().await {
        tracing::error!(%error, "the list of members who asked to be forgotten cannot be completed; a copy put back later may bring them back");
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
