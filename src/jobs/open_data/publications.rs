//! The newest publication, kept: put together on change alone, by one builder at a time, beside the threads that answer. Who asks meanwhile
//! is given the one before.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

use arc_swap::ArcSwapOption;
use quick_cache::sync::Cache;
use tokio::runtime::Handle;
use tokio::sync::Mutex;
use tokio::task::spawn_blocking;

use crate::catalogue::Catalogue;
use crate::jobs::open_data::publication::{Publication, PublicationError, Written, Zip, published_shelters};
use crate::model::registers::{PATIENCE, Registers, within_patience};
use crate::records::release::PublishedShelter;
use crate::store::{Store, StoreError};

/// Kept releases held in memory, those asked for last.
const RELEASES_HELD: usize = 4;

/// The newest publication and the releases asked for last.
#[derive(Debug, Clone)]
pub struct Publications(Arc<Kept>);

#[derive(Debug)]
struct Kept {
    registers: Registers,
    newest: ArcSwapOption<Publication>,
    /// The newest whose package is written.
    newest_written: ArcSwapOption<Publication>,
    building: Mutex<()>,
    writing: Mutex<()>,
    building_is_slow: AtomicBool,
    writing_is_slow: AtomicBool,
    releases: Cache<i64, Arc<Zip>>,
    /// Shelters by the number of the changes they hold.
    shelters: Cache<i64, Arc<Vec<PublishedShelter>>>,
}

impl Publications {
    /// What is public of the reports in these registers.
    pub fn new(registers: Registers) -> Self {
        Self(Arc::new(Kept {
            registers,
            newest: ArcSwapOption::empty(),
            newest_written: ArcSwapOption::empty(),
            building: Mutex::default(),
            writing: Mutex::default(),
            building_is_slow: AtomicBool::default(),
            writing_is_slow: AtomicBool::default(),
            releases: Cache::new(RELEASES_HELD),
            shelters: Cache::new(1),
        }))
    }
}

type Made = Result<Arc<Publication>, PublicationError>;

impl Publications {
    /// The publication of now: costs one small question to the store where nothing has changed.
    pub async fn newest(&self, store: &Arc<dyn Store>, catalogue: &Catalogue) -> Made {
        let before = self.0.newest.load_full().filter(|kept| kept.is_of(catalogue));
        let version = store.reports_version().await?;
        match before {
            Some(kept) if kept.version == version => Ok(kept),
            // Somebody is at work and nobody waits for it.
            Some(kept) if self.is_slow() && self.0.building.try_lock().is_err() => Ok(kept),
            before => {
                let work = tokio::spawn(self.clone().build(Arc::clone(store), catalogue.clone()));
                within_patience(work, before, self.is_slow(), PublicationError::broken).await
            }
        }
    }

    fn is_slow(&self) -> bool {
        self.0.building_is_slow.load(Ordering::Relaxed)
    }

    async fn build(self, store: Arc<dyn Store>, catalogue: Catalogue) -> Made {
        let _one = self.0.building.lock().await;
        let version = store.reports_version().await?;
        // Whoever was before us may have done it.
        if let Some(kept) = self.0.newest.load_full().filter(|kept| kept.version == version && kept.is_of(&catalogue)) {
            return Ok(kept);
        }
        let begun = Instant::now();
        let fresh = Arc::new(off_the_answering_threads(store, catalogue, false).await?);
        self.0.building_is_slow.store(begun.elapsed() > PATIENCE, Ordering::Relaxed);
        self.0.newest.store(Some(Arc::clone(&fresh)));
        Ok(fresh)
    }

    /// The newest publication whose data package is written, with that package.
    pub async fn written(&self, store: &Arc<dyn Store>, catalogue: &Catalogue) -> Result<(Arc<Publication>, Written), PublicationError> {
        let newest = self.newest(store, catalogue).await?;
        let publication = if newest.if_written().is_some() {
            newest
        } else {
            let before = self.0.newest_written.load_full().filter(|kept| kept.is_of(catalogue));
            let is_slow = self.0.writing_is_slow.load(Ordering::Relaxed);
            match before {
                Some(kept) if is_slow && self.0.writing.try_lock().is_err() => kept,
                before => within_patience(tokio::spawn(self.clone().write(newest)), before, is_slow, PublicationError::broken).await?,
            }
        };
        let written = publication.written()?.clone();
        Ok((publication, written))
    }

    async fn write(self, publication: Arc<Publication>) -> Made {
        let _one = self.0.writing.lock().await;
        if publication.if_written().is_none() {
            let begun = Instant::now();
            let writing = Arc::clone(&publication);
            let done = spawn_blocking(move || writing.written().map(|_| ())).await;
            done.map_err(PublicationError::broken)??;
            self.0.writing_is_slow.store(begun.elapsed() > PATIENCE, Ordering::Relaxed);
        }
        self.0.newest_written.store(Some(Arc::clone(&publication)));
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
    pub async fn release(&self, store: &Arc<dyn Store>, number: i64) -> Result<Option<Arc<Zip>>, StoreError> {
        if let Some(held) = self.0.releases.get(&number) {
            return Ok(Some(held));
        }
        let Some((release, bytes)) = store.release_bytes(number).await? else { return Ok(None) };
        let zip = Arc::new(Zip { bytes: bytes.into(), sha256: release.sha256 });
        self.0.releases.insert(number, Arc::clone(&zip));
        Ok(Some(zip))
    }
}

/// Puts together what is public now, or (`for_release`) what a release made now holds: rows are read and parsed on a thread of its own.
pub(super) async fn off_the_answering_threads(
    store: Arc<dyn Store>,
    catalogue: Catalogue,
    for_release: bool,
) -> Result<Publication, PublicationError> {
    let runtime = Handle::current();
    let work = spawn_blocking(move || {
        runtime.block_on(async {
            if for_release { Publication::for_release(&store, &catalogue).await } else { Publication::now(&store, &catalogue).await }
        })
    });
    Ok(work.await.map_err(PublicationError::broken)??)
}
