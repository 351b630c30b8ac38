//! Learning in the background: when accepted reports change, a new snapshot is fitted and swapped in; requests never wait for it.
//!
//! Of several processes on one database one fits, under a lease in the store, and records what came out; the others pick that up. A
//! process that starts picks the last recorded model up too. A failed fit keeps the old snapshot and says so on `/method` and
//! `/health/ready` of the process that tried.
//!
//! A fit of many reports takes seconds. Until it stands, reports that are accepted move the curves of their figs by themselves
//! ([`crate::model::ahead`]), also while a fit is under way.

use std::pin::pin;
use std::sync::Arc;
use std::time::{Duration, Instant};

use jiff::Timestamp;
use tokio::task::JoinSet;
use uuid::Uuid;

use crate::clock::Clock;
use crate::model::ahead::{Base, MOST_AHEAD};
use crate::model::background::in_background;
use crate::model::learn_hardiness::learn;
use crate::model::registers::Registers;
use crate::model::scoring::{Outcome, is_unscored, score_in_turn};
use crate::model::snapshot::Snapshot;
use crate::model::trained::TrainedModel;
use crate::model::waiting::Waiting;
use crate::records::Register;
use crate::records::register::Row;
use crate::records::report::ReportId;
use crate::science::hardiness::ordinal::FitOptions;
use crate::store::{Store, StoreError};

/// How often the store is asked whether reports have changed: one small question.
const LOOK_EVERY: Duration = Duration::from_millis(500);
/// Looks that find nothing to do, in a row, before scores are worked out: ten seconds.
const QUIET_LOOKS: u32 = 20;
/// Least time between two fits, so that a flood of reviews does not keep the processors busy.
const REST: Duration = Duration::from_secs(3);
/// Reports below which nothing goes ahead of a fit: it is as soon made. COMPUTED: a fit again of so many takes some tenths of a second.
const AHEAD_FROM: usize = 20_000;
/// How long the others wait for one that said it would fit and was not heard of again.
pub const LEASE: Duration = Duration::from_secs(30);
/// How often a long fit says that it is still at work: a third of the lease, so that one lost message does not lose it.
const RENEW_EVERY: Duration = Duration::from_secs(10);

/// What a look at the store led to.
#[derive(Debug)]
pub enum Seen {
    /// The model is up to date, or another process is at work on it.
    Nothing,
    /// Another process made this one.
    PickedUp(Box<Snapshot>),
    /// This process made it and recorded it.
    Fitted(Box<Snapshot>),
    /// People changed the catalogue: the same model over the new one, until the next look fits it.
    OtherCatalogue(Box<Snapshot>),
    /// This process moved the curves that reports accepted since the last fit are of; the fit follows.
    Ahead(Box<Snapshot>),
    /// Why the reports could not be learned from: a sentence for operators and for `/method`.
    Trouble(String),
}

/// One process's eye on the reports and on the models of the others.
#[derive(Debug)]
pub struct Watcher {
    store: Arc<dyn Store>,
    registers: Registers,
    clock: Arc<dyn Clock>,
    holder: Uuid,
    /// State of the reports behind the model in use.
    holds: Option<i64>,
    /// State of the reports that could not be fitted; not tried again until they change once more.
    failed: Option<i64>,
    /// Reports from which on curves go ahead of a fit.
    ahead_from: usize,
    /// What was fitted here last: name of the model and its reports.
    fitted_of: Option<(String, Arc<Register>)>,
    /// The same with the model, once it is in use.
    base: Option<Base>,
    /// State of the reports that curves went ahead to, or that they could not.
    ahead_of: Option<i64>,
    /// When the rest after a fit is over.
    rests_until: Option<Instant>,
    /// Looks in a row that found nothing to do.
    quiet: u32,
    /// The work on scores, one at a time; it ends with the watcher.
    scoring: JoinSet<()>,
    /// State of the reports whose model was tried to be scored.
    tried: Option<i64>,
}

impl Watcher {
    /// A watcher that has seen nothing yet; `holder` tells it from those of other processes.
    pub fn new(store: Arc<dyn Store>, registers: Registers, clock: Arc<dyn Clock>, holder: Uuid) -> Self {
        Self {
            store,
            registers,
            clock,
            holder,
            holds: None,
            failed: None,
            ahead_from: AHEAD_FROM,
            fitted_of: None,
            base: None,
            ahead_of: None,
            rests_until: None,
            quiet: 0,
            scoring: JoinSet::new(),
            tried: None,
        }
    }

    /// The same with curves that go ahead of a fit of so many reports or more.
    #[must_use]
    pub fn going_ahead_from(self, reports: usize) -> Self {
        Self { ahead_from: reports, ..self }
    }

    /// Looks once: picks up a newer model, or fits one where it is this process's turn. `current` is the snapshot in use; what goes ahead
    /// while a fit is under way is handed to `publish`.
    ///
    /// # Errors
    /// When the store does not answer; the next look tries again.
    pub async fn look(&mut self, current: &Arc<Snapshot>, publish: &(dyn Fn(Snapshot) + Send + Sync)) -> Result<Seen, StoreError> {
        if let Some((_, register)) = self.fitted_of.take_if(|(name, _)| *name == current.model.version) {
            self.base = Some(Base { snapshot: Arc::clone(current), register });
        }
        let version = self.store.reports_version().await?;
        if self.holds == Some(version) {
            return Ok(Seen::Nothing);
        }
        if self.store.catalogue_version().await? != current.catalogue.version() {
            // A change of the catalogue counts as one of the reports, so the next look picks up or fits what belongs to it.
            return Ok(match current.over(self.store.catalogue().await?) {
                Ok(snapshot) => Seen::OtherCatalogue(Box::new(snapshot)),
                Err(error) => Seen::Trouble(error.to_string()),
            });
        }
        let inputs = match current.inputs() {
            Ok(inputs) => inputs,
            Err(error) => return Ok(Seen::Trouble(error.to_string())),
        };
        let newer = |latest: i64, holds: Option<i64>| holds.is_none_or(|holds| latest > holds) && latest <= version;
        let latest = self.store.latest_model_version(&inputs).await?;
        if latest.is_some_and(|latest| newer(latest, self.holds))
            && let Some(snapshot) = self.pick_up(&inputs, current).await?
        {
            return Ok(Seen::PickedUp(Box::new(snapshot)));
        }
        if self.ahead_of != Some(version) {
            self.ahead_of = Some(version);
            if let Some(snapshot) = self.ahead(current).await? {
                return Ok(Seen::Ahead(Box::new(snapshot)));
            }
        }
        let rests = self.rests_until.is_some_and(|until| Instant::now() < until);
        if rests || self.failed == Some(version) || !self.lead(&inputs, LEASE).await? {
            return Ok(Seen::Nothing);
        }
        // Another may have recorded its model and given the lease back since the question above.
        let seen = if self.store.latest_model_version(&inputs).await? == latest {
            Box::pin(self.fit_leading(&inputs, current, version, publish)).await
        } else {
            Ok(Seen::Nothing)
        };
        if let Err(error) = self.lead(&inputs, Duration::ZERO).await {
            tracing::warn!(%error, "the lease for fitting was not given back; it runs out by itself");
        }
        seen
    }

    /// Lets the model in use be scored beside all else, once nothing has changed for a while.
    fn score_when_quiet(&mut self, current: &Arc<Snapshot>) {
        self.quiet = self.quiet.saturating_add(1);
        while self.scoring.try_join_next().is_some() {}
        let Some(version) =
            self.holds.filter(|version| self.scoring.is_empty() && self.quiet >= QUIET_LOOKS && self.tried != Some(*version))
        else {
            return;
        };
        if !is_unscored(current) {
            return;
        }
        // Once, whatever comes of it.
        self.tried = Some(version);
        let (store, registers, clock) = (Arc::clone(&self.store), self.registers.clone(), Arc::clone(&self.clock));
        let (holder, current) = (self.holder, Arc::clone(current));
        self.scoring.spawn(async move {
            loop {
                match score_in_turn(&store, &registers, clock.as_ref(), holder, &current, version).await {
                    // Its scores are taken from the store once they stand there.
                    Ok(Outcome::AnotherAtWork) => tokio::time::sleep(LEASE).await,
                    Ok(outcome) => break tracing::info!(version, ?outcome, "scores of the model"),
                    Err(error) => break tracing::warn!(version, %error, "the model was not scored"),
                }
            }
        });
    }

    /// Takes, prolongs or (for no time) gives back the lease to fit from these inputs.
    async fn lead(&self, inputs: &str, length: Duration) -> Result<bool, StoreError> {
        let now = self.clock.now();
        let until = now.checked_add(length).unwrap_or(Timestamp::MAX);
        self.store.try_to_lead(&lease_name(inputs), self.holder, now, until).await
    }

    async fn pick_up(&mut self, inputs: &str, current: &Snapshot) -> Result<Option<Snapshot>, StoreError> {
        let Some(kept) = self.store.latest_model(inputs).await? else { return Ok(None) };
        match Snapshot::from_kept(self.store.catalogue().await?, &kept) {
            Ok(snapshot) => {
                self.holds = Some(kept.reports_version);
                (self.base, self.fitted_of) = (None, None);
                Ok(Some(simulated_as(current, snapshot)))
            }
            Err(error) => {
                tracing::warn!(%error, "a model of another process is not used");
                Ok(None)
            }
        }
    }

    /// The model in use with the reports accepted since its fit, where it was fitted here to many and nothing else has changed.
    async fn ahead(&self, current: &Snapshot) -> Result<Option<Snapshot>, StoreError> {
        let Some(base) = self.base.as_ref().filter(|base| base.snapshot.model.reports >= self.ahead_from) else { return Ok(None) };
        let since = base.register.version();
        if base.snapshot.catalogue.version() != current.catalogue.version() || !self.store.gone_since(since).await?.is_empty() {
            return Ok(None);
        }
        let changed = self.store.changed_since((since, None), MOST_AHEAD.saturating_add(1).try_into().unwrap_or(i64::MAX)).await?;
        if changed.is_empty() || changed.len() > MOST_AHEAD {
            return Ok(None);
        }
        // What is in use from now on is another one.
        base.snapshot.kept.clear();
        let register = self.registers.as_it_stands(&self.store).await?;
        let (base, simulated) = (base.clone(), current.simulated);
        let moving = in_background(move || {
            let ids: Vec<ReportId> = changed.iter().map(|(_, report)| report.id).collect();
            base.ahead(&register, &ids)
        });
        match moving.await {
            Ok(moved) => Ok(moved.map(|snapshot| simulated_or_not(simulated, snapshot))),
            Err(error) => {
                tracing::error!(%error, "curves were not moved ahead of the fit, by a defect");
                Ok(None)
            }
        }
    }

    /// Fits, saying from time to time that it is at work, and records what came out. Reports accepted meanwhile move curves of the model before.
    async fn fit_leading(
        &mut self,
        inputs: &str,
        current: &Arc<Snapshot>,
        version: i64,
        publish: &(dyn Fn(Snapshot) + Send + Sync),
    ) -> Result<Seen, StoreError> {
        // Scores under way are of a model that nobody asks for any more: they would be thrown away, and hold packed reports beside those of the fit.
        self.scoring.abort_all();
        let at = self.clock.now();
        let fitted = {
            let mut fitting = pin!(fit(&self.store, &self.registers, current, version, at));
            let (mut renewed, mut seen) = (Instant::now(), version);
            loop {
                tokio::select! {
                    fitted = &mut fitting => break fitted?,
                    () = tokio::time::sleep(LOOK_EVERY) => {}
                }
                if renewed.elapsed() >= RENEW_EVERY {
                    renewed = Instant::now();
                    if let Err(error) = self.lead(inputs, LEASE).await {
                        tracing::warn!(%error, "the lease for fitting was not prolonged");
                    }
                }
                // What the store does not answer now is found by the next look.
                if let Ok(now) = self.store.reports_version().await
                    && now != seen
                {
                    seen = now;
                    if let Ok(Some(ahead)) = self.ahead(current).await {
                        publish(ahead);
                    }
                }
            }
        };
        let (snapshot, register) = match fitted {
            Ok(fitted) => fitted,
            Err(trouble) => {
                self.failed = Some(version);
                return Ok(Seen::Trouble(trouble));
            }
        };
        self.holds = Some(version);
        (self.base, self.fitted_of) = (None, Some((snapshot.model.version.clone(), register)));
        // A model that was not recorded is still good here; the others will fit for themselves.
        match snapshot.to_keep(version, at) {
            Ok(kept) => {
                if let Err(error) = self.store.record_model(&kept).await {
                    tracing::warn!(%error, "the model was not recorded");
                }
            }
            Err(error) => tracing::warn!(%error, "the model was not recorded"),
        }
        Ok(Seen::Fitted(Box::new(snapshot)))
    }
}

/// Name of the lease to fit from these inputs: processes of another make have a lease of their own.
pub fn lease_name(inputs: &str) -> String {
    format!("fit {inputs}")
}

/// Watches the store until the task is dropped. `process` names this process among those that share a store. `current` gives the snapshot in use, `publish` puts a new one in its place.
pub async fn watch(
    store: Arc<dyn Store>,
    registers: Registers,
    clock: Arc<dyn Clock>,
    process: Uuid,
    current: impl Fn() -> Arc<Snapshot> + Send,
    publish: impl Fn(Snapshot) + Send + Sync,
) {
    let mut watcher = Watcher::new(store, registers, clock, process);
    loop {
        let in_use = current();
        let seen = Box::pin(watcher.look(&in_use, &publish)).await;
        if matches!(seen, Ok(Seen::Nothing)) {
            watcher.score_when_quiet(&in_use);
        } else {
            watcher.quiet = 0;
        }
        let rest = match seen {
            Ok(Seen::Nothing) => LOOK_EVERY,
            Ok(Seen::PickedUp(snapshot)) => {
                tracing::info!(version = snapshot.model.version, reports = snapshot.model.reports, "picked a recorded model up");
                publish(*snapshot);
                LOOK_EVERY
            }
            Ok(Seen::Fitted(snapshot)) => {
                tracing::info!(version = snapshot.model.version, reports = snapshot.model.reports, "learned from accepted reports");
                if let Some(trouble) = &snapshot.fruit_trouble {
                    tracing::error!(trouble, "dates of growth and fruit were not learned from");
                }
                publish(*snapshot);
                watcher.rests_until = Some(Instant::now() + REST);
                LOOK_EVERY
            }
            Ok(Seen::Ahead(snapshot)) => {
                tracing::info!(version = snapshot.model.version, "curves moved ahead of the fit");
                publish(*snapshot);
                Duration::ZERO
            }
            Ok(Seen::OtherCatalogue(snapshot)) => {
                tracing::info!(version = snapshot.catalogue.version(), "the catalogue changed");
                publish(*snapshot);
                Duration::ZERO
            }
            Ok(Seen::Trouble(trouble)) => {
                tracing::error!(trouble, "the old model stays");
                in_use.note_trouble(Some(trouble));
                REST
            }
            Err(error) => {
                tracing::warn!(%error, "the store did not answer about reports and models");
                LOOK_EVERY
            }
        };
        tokio::time::sleep(rest).await;
    }
}

/// Fits once; the inner error is a sentence for operators and for `/method`.
async fn fit(
    store: &Arc<dyn Store>,
    registers: &Registers,
    current: &Arc<Snapshot>,
    version: i64,
    at: Timestamp,
) -> Result<Result<(Snapshot, Arc<Register>), String>, StoreError> {
    let (register, springs) = registers.lessons(store).await?;
    let catalogue = store.catalogue().await?;
    // One processor is left to requests.
    let threads = std::thread::available_parallelism().map_or(1, |n| n.get().saturating_sub(1).max(1));
    let current = Arc::clone(current);
    let waiting = Waiting::default();
    let stop = waiting.stop();
    let fitting = in_background(move || {
        let effort = FitOptions { threads, stop: Some(&stop), ..FitOptions::default() };
        let earlier = current.learned.as_ref().and_then(TrainedModel::fitted);
        let accepted = register.rows().filter_map(|row| row.evidence(&register));
        let shoots: Vec<_> = register.rows().filter_map(Row::shoots).collect();
        let next = learn(catalogue, accepted, springs, earlier, at, version, effort).map_err(|e| e.to_string())?;
        // The scores of the model before stay, under its name, until those of this one are worked out.
        if let Some((next, before)) = next.learned.as_ref().zip(current.learned.as_ref()) {
            next.scored.store(before.scored.load_full());
        }
        let next = simulated_as(&current, next.taught_of_shoots(&shoots));
        drop(shoots);
        Ok((next, register))
    });
    Ok(fitting.await.unwrap_or_else(|error| Err(format!("the fit came to nothing: {error}"))))
}

/// Whether data are simulated is a matter of the database and passes on from snapshot to snapshot.
fn simulated_as(current: &Snapshot, next: Snapshot) -> Snapshot {
    simulated_or_not(current.simulated, next)
}

fn simulated_or_not(simulated: bool, mut next: Snapshot) -> Snapshot {
    next.simulated = simulated;
    next.standings.iter_mut().for_each(|standing| standing.simulated = simulated);
    next
}
