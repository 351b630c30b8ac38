//! The newest data package, kept in a file: put together on change alone, by one builder at a time, beside the threads that answer. Who asks
//! meanwhile is given the one before.

use std::sync::Arc;
use std::time::{Duration, Instant};

use arc_swap::ArcSwapOption;
use hyper::body::Bytes;
use quick_cache::sync::Cache;
use tokio::runtime::Handle;
use tokio::sync::Mutex;
use tokio::task::spawn_blocking;

use crate::catalogue::Catalogue;
use crate::jobs::open_data::publication::{Cells, Publication, PublicationError, published_shelters};
use crate::model::registers::{PATIENCE, Registers, within_patience};
use crate::records::release::PublishedShelter;
use crate::store::{Store, StoreError};

/// Kept releases held in memory, those asked for last.
const RELEASES_HELD: usize = 4;
/// Longest that the first answer of a process waits for the first package.
const FIRST_PATIENCE: Duration = Duration::from_secs(20);
/// Reports above which a page that can be shown without the newest package does not wait for it: of so many it takes a tenth of a second.
const MANY: usize = 20_000;
/// After a long work the next is begun no sooner than so many times its length later, so that it takes a small part of a processor.
const REST: u32 = 10;

/// The newest data package and the releases asked for last.
#[derive(Debug, Clone)]
pub struct Publications(Arc<Kept>);

#[derive(Debug)]
struct Kept {
    registers: Registers,
    newest: ArcSwapOption<Done>,
    building: Mutex<()>,
    releases: Cache<i64, Arc<Release>>,
    /// Shelters by the number of the changes they hold.
    shelters: Cache<i64, Arc<Vec<PublishedShelter>>>,
}

/// A package with what it took.
#[derive(Debug)]
struct Done {
    publication: Arc<Publication>,
    took: Duration,
    at: Instant,
}

/// Longest that somebody waits for a package.
#[derive(Debug, Clone, Copy)]
struct Patience {
    /// For the first.
    first: Duration,
    /// For the next, where one is at hand. Where the last took longer, nobody waits: it would be in vain.
    again: Duration,
}

impl Patience {
    /// Of who wants the package itself, or reads a page of few reports.
    const USUAL: Self = Self { first: FIRST_PATIENCE, again: PATIENCE };
    /// Of a page of many reports.
    const NONE: Self = Self { first: Duration::ZERO, again: Duration::ZERO };

    /// Whether work that took so long takes longer than anybody waits.
    fn is_outlasted_by(self, took: Duration) -> bool {
        took > self.again
    }

    /// Whether another may not be begun yet, however much has changed, so long after the end of work that took so long.
    fn rests(self, took: Duration, since: Duration) -> bool {
        self.is_outlasted_by(took) && since < took * REST
    }
}

/// A kept release.
#[derive(Debug)]
pub struct Release {
    /// The file.
    pub bytes: Bytes,
    /// SHA-256 of it, hexadecimal.
    pub sha256: String,
}

/// What a page may say of the newest state at once.
#[derive(Debug)]
pub enum AtHand {
    /// The package.
    Package(Arc<Publication>),
    /// The first package of this process is being put together, of so many reports.
    Reports(usize),
}

type Made = Result<Arc<Publication>, PublicationError>;

impl Publications {
    /// What is public of the reports in these registers.
    pub fn new(registers: Registers) -> Self {
        Self(Arc::new(Kept {
            registers,
            newest: ArcSwapOption::empty(),
            building: Mutex::default(),
            releases: Cache::new(RELEASES_HELD),
            shelters: Cache::new(1),
        }))
    }

    /// The data package of now, or where putting it together takes long the one before.
    ///
    /// # Errors
    /// [`PublicationError::NotYet`] where there is none before either.
    pub async fn newest(&self, store: &Arc<dyn Store>, catalogue: &Catalogue) -> Made {
        self.within(Patience::USUAL, store, catalogue).await
    }

    /// The same for a page that can say what there is without it: of many reports it does not wait.
    ///
    /// # Errors
    /// Of the package, or of the store.
    pub async fn at_hand(&self, store: &Arc<dyn Store>, catalogue: &Catalogue) -> Result<AtHand, PublicationError> {
        let register = self.0.registers.newest(store).await?;
        let patience = if register.len() > MANY { Patience::NONE } else { Patience::USUAL };
        match self.within(patience, store, catalogue).await {
            Ok(publication) => Ok(AtHand::Package(publication)),
            Err(PublicationError::NotYet) => Ok(AtHand::Reports(register.len())),
            Err(error) => Err(error),
        }
    }

    async fn within(&self, patience: Patience, store: &Arc<dyn Store>, catalogue: &Catalogue) -> Made {
        let society = store.society().await?;
        let before = self.0.newest.load_full().filter(|done| done.publication.is_of(catalogue, &society));
        let version = store.reports_version().await?;
        if let Some(done) = &before
            && (done.publication.changes == version
                || patience.rests(done.took, done.at.elapsed())
                || (patience.is_outlasted_by(done.took) && self.0.building.try_lock().is_err()))
        {
            return Ok(Arc::clone(&done.publication));
        }
        let work = tokio::spawn(self.clone().build(Arc::clone(store), catalogue.clone()));
        match before {
            Some(done) => {
                let is_slow = patience.is_outlasted_by(done.took);
                within_patience(work, Some(Arc::clone(&done.publication)), is_slow, PublicationError::broken).await
            }
            None => match tokio::time::timeout(patience.first, work).await {
                Ok(made) => made.map_err(PublicationError::broken)?,
                Err(_) => Err(PublicationError::NotYet),
            },
        }
    }

    async fn build(self, store: Arc<dyn Store>, catalogue: Catalogue) -> Made {
        let _one = self.0.building.lock().await;
        let version = store.reports_version().await?;
        // Whoever was before us may have done it.
        let society = store.society().await?;
        let done = self.0.newest.load_full().filter(|d| d.publication.changes == version && d.publication.is_of(&catalogue, &society));
        if let Some(done) = done {
            return Ok(Arc::clone(&done.publication));
        }
        let begun = Instant::now();
        let publication = Arc::new(off_the_answering_threads(store, catalogue, Cells::OfNewestRelease).await?);
        self.0.newest.store(Some(Arc::new(Done { publication: Arc::clone(&publication), took: begun.elapsed(), at: Instant::now() })));
        Ok(publication)
    }

    /// The shelters that everybody sees, in the order of their ids.
    pub async fn shelters(&self, store: &Arc<dyn Store>) -> Result<Arc<Vec<PublishedShelter>>, StoreError> {
        let register = self.0.registers.newest(store).await?;
        if let Some(held) = self.0.shelters.get(&register.version()) {
            return Ok(held);
        }
        let shelters = Arc::new(published_shelters(store, register.fine()).await?);
        self.0.shelters.insert(register.version(), Arc::clone(&shelters));
        Ok(shelters)
    }

    /// A kept release, by its number.
    pub async fn release(&self, store: &Arc<dyn Store>, number: i64) -> Result<Option<Arc<Release>>, StoreError> {
        if let Some(held) = self.0.releases.get(&number) {
            return Ok(Some(held));
        }
        let Some((release, bytes)) = store.release_bytes(number).await? else { return Ok(None) };
        let release = Arc::new(Release { bytes: bytes.into(), sha256: release.sha256 });
        self.0.releases.insert(number, Arc::clone(&release));
        Ok(Some(release))
    }
}

/// Puts a package together on a thread of its own.
pub(super) async fn off_the_answering_threads(
    store: Arc<dyn Store>,
    catalogue: Catalogue,
    cells: Cells,
) -> Result<Publication, PublicationError> {
    let runtime = Handle::current();
    let work = spawn_blocking(move || runtime.block_on(Publication::of(&store, &catalogue, cells)));
    work.await.map_err(PublicationError::broken)?
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_of_many_reports_waits_for_no_package_and_who_wants_the_package_waits_for_a_short_work() {
        let second = Duration::from_secs(1);
        assert!(!Patience::USUAL.is_outlasted_by(second) && !Patience::USUAL.rests(second, Duration::ZERO));
        assert!(Patience::NONE.is_outlasted_by(second) && Patience::NONE.rests(second, 9 * second));
        assert!(!Patience::NONE.rests(second, 10 * second), "the next is begun after ten times as long");
        assert!(Patience::USUAL.is_outlasted_by(3 * second) && Patience::USUAL.rests(3 * second, 29 * second));
    }
}
