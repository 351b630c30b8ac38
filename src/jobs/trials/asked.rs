//! How often each kind of question was asked: counted in memory, and added to the store every few minutes. Nothing of who asked is kept.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use jiff::Timestamp;

use crate::store::{AskedCount, AskedKey, Store, StoreError};

/// Seconds after which counts are added to the store. A process that stops loses those since.
const ADD_AFTER_S: i64 = 300;
/// Kinds held in memory at most; with more they are added at once.
const MOST_KINDS: usize = 2_000;
/// Seconds of a week.
const WEEK_S: i64 = 7 * 24 * 3600;
/// Weeks of which questions count.
const WEEKS: i64 = 52;
/// Kinds that are looked at, those asked most.
const MOST_LOOKED_AT: i64 = 60;

#[derive(Debug, Default)]
struct Held {
    counts: HashMap<AskedKey, i64>,
    since_s: Option<i64>,
}

/// The counter.
#[derive(Debug, Clone)]
pub struct Asked {
    store: Arc<dyn Store>,
    held: Arc<Mutex<Held>>,
}

/// The week of a moment, from 1970-01-01.
pub fn week(now: Timestamp) -> i64 {
    now.as_second().div_euclid(WEEK_S)
}

impl Asked {
    /// On a store.
    pub fn new(store: Arc<dyn Store>) -> Self {
        Self { store, held: Arc::default() }
    }

    /// Counts a question; `None` counts nothing.
    pub fn count(&self, key: Option<AskedKey>, now: Timestamp) {
        let Some(key) = key else { return };
        let is_due = {
            let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
            *held.counts.entry(key).or_default() += 1;
            let since = *held.since_s.get_or_insert(now.as_second());
            now.as_second() - since >= ADD_AFTER_S || held.counts.len() >= MOST_KINDS
        };
        if is_due {
            let me = self.clone();
            tokio::spawn(async move {
                if let Err(error) = me.add(now).await {
                    tracing::warn!(%error, "what was asked could not be counted");
                }
            });
        }
    }

    /// Adds what is held to the store; what cannot be added is held on.
    pub async fn add(&self, now: Timestamp) -> Result<(), StoreError> {
        let taken = {
            let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
            held.since_s = None;
            std::mem::take(&mut held.counts)
        };
        if taken.is_empty() {
            return Ok(());
        }
        let counts: Vec<AskedCount> = taken.into_iter().map(|(key, times)| AskedCount { key, times }).collect();
        let added = self.store.add_asked(week(now), &counts).await;
        if added.is_err() {
            let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
            for AskedCount { key, times } in counts {
                *held.counts.entry(key).or_default() += times;
            }
        }
        added
    }

    /// What was asked most in the last year.
    pub async fn most(&self, now: Timestamp) -> Result<Vec<AskedCount>, StoreError> {
        self.add(now).await?;
        self.store.asked_since(week(now) - WEEKS, MOST_LOOKED_AT).await
    }
}
