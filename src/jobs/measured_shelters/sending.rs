//! From a kept shelter to what is published of it; sending it, taking it back, and a steward's decision.

use std::sync::Arc;

use jiff::Timestamp;

use crate::ids::Ids;
use crate::input::errors::FieldErrors;
use crate::input::fields::{Fields, decimal};
use crate::jobs::accounts::limits::Limits;
use crate::jobs::accounts::members::MemberError;
use crate::jobs::reports::form::place;
use crate::jobs::review::decision::{FIELDS as DECISION_FIELDS, ReviewError};
use crate::jobs::shelter::{GainAnswer, ShelterAnswer, calculate, form};
use crate::records::shelter_report::LONGEST_WORDS;
use crate::records::{
    Actor, Decision, LogEntry, MeasuredChange, Member, OfficeAct, Reason, ReviewState, Setup, ShelterChange, ShelterContent, ShelterReport,
    ShelterReportId,
};
use crate::store::{Store, StoreError};

/// Most characters of the place in words; never published.
const CURRENCY_LETTERS: usize = 3;
/// Most that a material may cost, in any currency.
const MOST_COST: f64 = 1e7;

/// Why nothing can be published of a kept shelter.
#[derive(Debug, thiserror::Error)]
pub enum NotMeasured {
    /// Its answers are no shelter any more.
    #[error("this shelter cannot be worked out as it is kept: {0}")]
    Unusable(FieldErrors),
    /// Nothing was measured before and after a change.
    #[error("no change of this shelter is measured yet: type what you changed with its date, and nights before and after it")]
    NoGain,
}

/// What is said of a kept shelter, without costs and words.
///
/// # Errors
/// When its answers cannot be used, or no change is measured on both sides.
pub fn content(setup: &Setup) -> Result<ShelterContent, NotMeasured> {
    let input = form::read(&setup.answers).map_err(NotMeasured::Unusable)?;
    let answer = calculate(&input).map_err(NotMeasured::Unusable)?;
    let changes = measured(&answer);
    if changes.is_empty() {
        return Err(NotMeasured::NoGain);
    }
    let (shape, [length, width, wall, top]) = form::lengths(&setup.answers);
    let cover = |at: usize| input.parts.get(at).and_then(|p| p.cover.clone()).unwrap_or_default();
    let mut layers: Vec<String> = input.parts.iter().flat_map(|p| &p.layers).filter_map(|l| l.kind.clone()).collect();
    layers.sort();
    layers.dedup();
    Ok(ShelterContent {
        shape,
        length_m: length.unwrap_or_default(),
        width_m: width.unwrap_or_default(),
        wall_m: wall,
        top_m: top.unwrap_or_default(),
        walls: cover(0),
        roof: cover(1),
        layers,
        air_changes_per_hour: input.air_changes_per_hour.unwrap_or_default(),
        heater_w: input.heater_w,
        shares_wall: input.neighbour.is_some() || input.attached,
        described_w_k: answer.states.first().map_or(answer.conductance_w_k, |s| s.described_conductance_w_k),
        changes,
        currency: None,
        words: None,
    })
}

/// Gains of neighbouring measured states; the last on the first is their sum and is not said twice.
fn measured(answer: &ShelterAnswer) -> Vec<MeasuredChange> {
    let at = |name: &str| answer.states.iter().position(|s| s.name == name);
    let kind = |name: &str| ShelterChange::ALL.iter().copied().find(|change| change.label() == name);
    let change = |gain: &GainAnswer| {
        let (from, to) = (at(&gain.from)?, at(&gain.to)?);
        let made = answer.states.get(from + 1..=to)?;
        Some(MeasuredChange {
            changes: made.iter().filter_map(|s| kind(&s.name)).collect(),
            since: made.last()?.since?,
            nights: gain.readings,
            difference_k: gain.difference_k,
            interval_k: gain.interval_k,
            predicted_k: gain.predicted_k,
            loss_ratio: gain.loss_ratio.zip(gain.loss_ratio_interval).map(|(middle, [low, high])| [middle, low, high]),
            described_loss_ratio: gain.described_loss_ratio,
            cost: None,
        })
    };
    let neighbours = answer.gains.iter().enumerate().filter(|(i, g)| !answer.gains.iter().take(*i).any(|earlier| earlier.from == g.from));
    neighbours.filter_map(|(_, gain)| change(gain)).filter(|c| !c.changes.is_empty()).collect()
}

/// Sending shelters.
#[derive(Debug, Clone)]
pub struct SharedShelters {
    store: Arc<dyn Store>,
    limits: Arc<Limits>,
    ids: Ids,
}

impl SharedShelters {
    /// On a store.
    pub fn new(store: Arc<dyn Store>, limits: Arc<Limits>, ids: Ids) -> Self {
        Self { store, limits, ids }
    }

    /// Publishes a kept shelter, or what has become of it since: it waits for a steward.
    ///
    /// # Errors
    /// When fields cannot be used, or the member sends too often.
    pub async fn send(
        &self,
        member: &Member,
        setup: &Setup,
        mut content: ShelterContent,
        pairs: &[(String, String)],
        now: Timestamp,
    ) -> Result<ShelterReport, MemberError> {
        let mut fields = Fields::lenient(pairs, &["place", "latitude", "longitude", "publish", "currency", "words"]);
        let place = place(&mut fields);
        content.words = fields.line("words", LONGEST_WORDS);
        costs(&mut fields, &mut content);
        let Some(place) = place.filter(|_| fields.errors.is_empty()) else { return Err(fields.errors.into()) };
        self.limits.writes.take(&member.id.to_string())?;
        let earlier = self.store.shelter_reports_of(member.id).await?;
        let standing = earlier.into_iter().find(|s| s.setup == Some(setup.id) && s.state != ReviewState::Withdrawn);
        let shelter = ShelterReport {
            id: standing.as_ref().map_or_else(|| ShelterReportId(self.ids.fresh(now)), |s| s.id),
            setup: Some(setup.id),
            reporter: Some(member.id),
            place,
            content,
            version: standing.as_ref().map_or(1, |s| s.version + 1),
            state: ReviewState::Waiting,
            sent: standing.as_ref().map_or(now, |s| s.sent),
            changed: now,
            credited: None,
        };
        if self.store.publish_shelter(&shelter).await? {
            return Ok(shelter);
        }
        let mut errors = FieldErrors::default();
        errors.add("words", "", "this shelter was changed or withdrawn meanwhile; open it again");
        Err(errors.into())
    }
}

fn costs(fields: &mut Fields<'_>, content: &mut ShelterContent) {
    let mut any = false;
    for (number, change) in (1..).zip(&mut content.changes) {
        let name = format!("cost_{number}");
        let Some(typed) = fields.value(&name) else { continue };
        any = true;
        let cost = decimal(typed).and_then(|cost| {
            if (0.0..=MOST_COST).contains(&cost) {
                Ok(cost)
            } else {
                Err(format!("“{typed}” is no cost; accepted: 0 to {MOST_COST:.0}"))
            }
        });
        change.cost = fields.errors.keep(&name, typed, cost);
    }
    let currency = fields.value("currency").map(str::to_uppercase);
    match currency {
        Some(letters) if letters.len() == CURRENCY_LETTERS && letters.bytes().all(|b| b.is_ascii_uppercase()) => {
            content.currency = Some(letters);
        }
        Some(letters) => fields.errors.add("currency", &letters, "three letters, such as EUR or USD"),
        None if any => fields.errors.add("currency", "", "in which currency are these costs? Three letters, such as EUR or USD"),
        None => {}
    }
}

/// Decides on a shelter.
pub async fn decide(
    store: &Arc<dyn Store>,
    steward: &Member,
    shelter: &ShelterReport,
    pairs: &[(String, String)],
    ids: &Ids,
    now: Timestamp,
) -> Result<(), ReviewError> {
    let mut fields = Fields::new(pairs, &DECISION_FIELDS);
    let state: Option<ReviewState> = fields.needed_word("state", "choose what becomes of the shelter");
    let reason: Option<Reason> = fields.needed_word("reason", "choose a reason");
    let words = fields.lines("words", 1000);
    let version: Option<i64> = fields.value("version").and_then(|typed| typed.parse().ok());
    let (Some(state), Some(reason), true) = (state, reason, fields.errors.is_empty()) else {
        return Err(ReviewError::Fields(fields.errors));
    };
    if version.is_some_and(|version| version != shelter.version) {
        return Err(ReviewError::Moved);
    }
    let decision = Decision::on(shelter.judged(), steward, state, reason, words, now)?;
    let entry = LogEntry {
        id: ids.fresh(now),
        at: now,
        actor: Actor::Member(steward.id),
        act: OfficeAct::ShelterJudged,
        about: shelter.reporter,
        detail: state.label().to_owned(),
    };
    if !store.decide_on_shelter(shelter.id, &decision, Some(&entry)).await? {
        return Err(ReviewError::Moved);
    }
    tracing::info!(shelter = %shelter.id, steward = %steward.id, state = state.word(), "a shelter was judged");
    Ok(())
}

/// Withdraws a member's own; `false` where there is none.
///
/// # Errors
/// When the store does not answer.
pub async fn withdraw(store: &Arc<dyn Store>, member: &Member, shelter: ShelterReportId, now: Timestamp) -> Result<bool, StoreError> {
    store.withdraw_shelter(shelter, member.id, now).await
}
