//! Scores of the model: how well it foretells reports that it has not seen. They take a step from the fit for every winter and every group of
//! reporters, so they are not part of learning: they are worked out when nothing has changed for a while, kept beside the model, and shown
//! with the model that they are of until the next ones stand.

use std::borrow::Borrow;
use std::pin::pin;
use std::sync::Arc;
use std::time::Duration;

use jiff::Timestamp;
use uuid::Uuid;

use crate::clock::Clock;
use crate::model::background::when_idle;
use crate::model::learn_hardiness::{LearningError, evidence_spec};
use crate::model::registers::Registers;
use crate::model::snapshot::Snapshot;
use crate::model::told::Told;
use crate::model::trained::{Scored, TrainedModel};
use crate::model::waiting::Waiting;
use crate::records::evidence::AcceptedReport;
use crate::science::hardiness::evidence::Evidence;
use crate::science::hardiness::ordinal::FitOptions;
use crate::science::hardiness::scoring::{LeaveOut, cross_validate};
use crate::science::hardiness::selection::{Weighed, fit_with_lists};
use crate::store::{Store, StoreError};

/// How long the others wait for one that said it would score and was not heard of again.
const LEASE: Duration = Duration::from_secs(30);
/// How often one that scores says that it is still at work.
const RENEW_EVERY: Duration = Duration::from_secs(10);

/// What came of a wish to score the model in use.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Its scores stand already, or it has learned from nothing.
    Standing,
    /// Another process had worked them out.
    Adopted,
    /// Another process is at work on them.
    AnotherAtWork,
    /// They were worked out and kept.
    Scored,
}

/// Scores of the model of a snapshot over the reports that it has learned from.
pub fn score<I>(snapshot: &Snapshot, accepted: I, effort: FitOptions<'_>) -> Result<Scored, LearningError>
where
    I: IntoIterator<Item: Borrow<AcceptedReport>, IntoIter: Clone>,
{
    let before = Snapshot::from_priors(snapshot.catalogue.clone())?;
    let told = Told::of(&before, accepted.into_iter());
    let spec = evidence_spec(&before.priors, effort);
    let learned = snapshot.learned.as_ref().filter(|learned| learned.fitted().is_some_and(|f| f.cultivars() == told.cultivars().len()));
    let fit_of_all = learned.filter(|_| snapshot.model.ahead == 0 && snapshot.model.reports == told.count());
    let fitted_here;
    let known = fit_of_all.and_then(|learned| Some((learned.fitted()?, learned.lesson.reported)));
    let (fitted, reported) = if let Some(known) = known {
        known
    } else {
        fitted_here = fit_with_lists(&spec, &told, learned.and_then(TrainedModel::fitted))?;
        (&fitted_here.fitted, fitted_here.reported)
    };
    let weighed = Weighed::by(&told, reported.as_ref());
    let left_out = |leave| cross_validate(&spec, &weighed, fitted, leave);
    Ok(Scored { by_winter: left_out(LeaveOut::Winter)?, by_reporter: left_out(LeaveOut::Reporters)?, of: Some(snapshot.model.clone()) })
}

/// Whether the model of a snapshot has learned from reports and has no scores of its own yet.
pub fn is_unscored(snapshot: &Snapshot) -> bool {
    snapshot.learned.as_ref().is_some_and(|learned| learned.scored.load().of.as_ref() != Some(&snapshot.model))
}

/// Gives the model in use, which is of this state of the reports, its scores: those that another process kept, or worked out here under a
/// lease.
///
/// # Errors
/// When the store does not answer, or the reports cannot be fitted.
pub async fn score_in_turn(
    store: &Arc<dyn Store>,
    registers: &Registers,
    clock: &dyn Clock,
    holder: Uuid,
    current: &Arc<Snapshot>,
    reports_version: i64,
) -> anyhow::Result<Outcome> {
    let Some(learned) = current.learned.as_ref().filter(|_| is_unscored(current)) else { return Ok(Outcome::Standing) };
    let inputs = current.inputs()?;
    if adopt(store, &inputs, current, learned).await? {
        return Ok(Outcome::Adopted);
    }
    let lease = format!("score {inputs}");
    let lead = async |length: Duration| -> Result<bool, StoreError> {
        let now = clock.now();
        store.try_to_lead(&lease, holder, now, now.checked_add(length).unwrap_or(Timestamp::MAX)).await
    };
    if !lead(LEASE).await? {
        return Ok(Outcome::AnotherAtWork);
    }
    let scored = {
        let mut scoring = pin!(scored(store, registers, current));
        loop {
            tokio::select! {
                scored = &mut scoring => break scored,
                () = tokio::time::sleep(RENEW_EVERY) => {
                    lead(LEASE).await?;
                }
            }
        }
    };
    let kept = match scored {
        Ok(scored) => keep(store, current, learned, scored, reports_version).await,
        Err(error) => Err(error),
    };
    lead(Duration::ZERO).await?;
    kept.map(|()| Outcome::Scored)
}

/// Takes the scores of this very model from the store, where another process kept them.
async fn adopt(store: &Arc<dyn Store>, inputs: &str, current: &Snapshot, learned: &TrainedModel) -> anyhow::Result<bool> {
    let Some(kept) = store.latest_model(inputs).await? else { return Ok(false) };
    let scored: Scored = serde_json::from_str(&kept.scores)?;
    let same = scored.of.as_ref() == Some(&current.model);
    if same {
        learned.scored.store(Arc::new(scored));
    }
    Ok(same)
}

async fn scored(store: &Arc<dyn Store>, registers: &Registers, current: &Arc<Snapshot>) -> anyhow::Result<Scored> {
    let register = registers.as_it_stands(store).await?;
    let current = Arc::clone(current);
    let waiting = Waiting::default();
    let stop = waiting.stop();
    let scoring = when_idle(move || {
        let accepted = register.rows().filter_map(|row| row.evidence(&register));
        // One thread, and that when idle: requests and the next fit come first.
        score(&current, accepted, FitOptions { threads: 1, stop: Some(&stop), ..FitOptions::default() })
    });
    Ok(scoring.await??)
}

async fn keep(
    store: &Arc<dyn Store>,
    current: &Snapshot,
    learned: &TrainedModel,
    scored: Scored,
    reports_version: i64,
) -> anyhow::Result<()> {
    learned.scored.store(Arc::new(scored));
    let fitted = current.model.fitted_at.unwrap_or(Timestamp::UNIX_EPOCH);
    // A model of earlier reports than the newest keeps no scores, so that a late one does no harm.
    Ok(store.record_model(&current.to_keep(reports_version, fitted)?).await?)
}
