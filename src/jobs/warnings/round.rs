//! A round: the forecasts of the places whose turn it is, fetched once for each place; who is at risk is told once.
//!
//! A process that dies in the middle leaves the round to the next: what it told stands in the store with its letter, in one transaction for each
//! member, and is not told again; whom it did not reach is reached then.

use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use jiff::{SignedDuration, Timestamp, ToSpan};
use tokio::task::JoinSet;

use crate::address;
use crate::clock::Clock;
use crate::ids::Ids;
use crate::jobs::cold_night::forecast::met_norway::sun_offset;
use crate::jobs::cold_night::forecast::{For, Forecasts, NoForecast, PlaceForecast};
use crate::jobs::warnings::first_freeze::{FirstFreeze, ahead};
use crate::jobs::warnings::schedule::Turn;
use crate::jobs::warnings::tonight::{AtRisk, Garden, at_risk, is_worse, near_the_sea};
use crate::jobs::warnings::words;
use crate::model::snapshot::Snapshot;
use crate::records::{ForecastSource, HeldPoint, Letter, LetterKind, MemberId, Warning, WarningChoice, WarningKind};
use crate::store::{Store, StoreError};

/// Members looked after together: their places are fetched, then they are told. DESIGN: few, so that the first hear soon and little is done again
/// where a process dies.
const MEMBERS_AT_ONCE: i64 = 25;
/// A round belongs to who took it for so long after its last sign of life, which comes with every few members; then another process goes on with
/// it. DESIGN: longer than the places of so many members take where each is waited for to the end.
pub(super) const TAKEN_FOR: SignedDuration = SignedDuration::from_mins(10);
/// How far back it is looked what a member was told: a season.
const LOOKED_BACK: SignedDuration = SignedDuration::from_hours(24 * 300);
/// How long a letter about a night is of use, and one about a first freeze or of the morning after. DESIGN.
const NIGHT_OF_USE: SignedDuration = SignedDuration::from_hours(16);
const OTHERS_OF_USE: SignedDuration = SignedDuration::from_hours(48);

/// What rounds work with.
#[derive(Clone)]
pub struct Rounds {
    /// What is kept.
    pub store: Arc<dyn Store>,
    /// What fetches forecasts.
    pub forecasts: Forecasts,
    /// Catalogue and model of the moment.
    pub snapshot: Arc<Snapshot>,
    /// Fresh identifiers.
    pub ids: Ids,
    /// In front of a page's path, where letters go.
    pub public_address: Option<String>,
}

/// What a round came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tally {
    /// Members looked after.
    pub members: usize,
    /// Distinct places, counted anew for every few members.
    pub places: usize,
    /// Places that no service covers.
    pub without: usize,
    /// Places of which a service that may know more gave no forecast this time.
    pub failed: usize,
    /// Warnings told.
    pub told: usize,
}

/// A member with what stands where.
struct Looked {
    member: MemberId,
    choice: WarningChoice,
    gardens: Vec<Garden>,
}

/// Forecasts by place, and of how many places no service has any.
struct Fetched {
    forecasts: HashMap<HeldPoint, PlaceForecast>,
    without: usize,
}

/// Something to tell.
struct News {
    kind: WarningKind,
    about: String,
    night: jiff::civil::Date,
    harm: f64,
    minimum_c: f64,
    words: String,
    path: String,
}

impl Rounds {
    /// Makes the round of an hour, which is held on to meanwhile.
    ///
    /// # Errors
    /// When the store does not answer; who was told by then is not told again.
    pub async fn make(&self, slot: Timestamp, clock: &dyn Clock) -> Result<Tally, StoreError> {
        let mut tally = Tally::default();
        for turn in Turn::ALL {
            for band in turn.bands(slot) {
                let mut after = None;
                loop {
                    let now = clock.now();
                    self.store.hold_warning_round(slot, now + TAKEN_FOR).await?;
                    let members = self.store.members_to_warn(band, now, after, MEMBERS_AT_ONCE).await?;
                    let Some(last) = members.last() else { break };
                    after = Some(*last);
                    self.some(&members, turn, now, &mut tally).await?;
                }
            }
        }
        Ok(tally)
    }

    async fn some(&self, members: &[MemberId], turn: Turn, now: Timestamp, tally: &mut Tally) -> Result<(), StoreError> {
        let mut looked = Vec::with_capacity(members.len());
        for member in members {
            looked.extend(self.look(*member).await?);
        }
        let mut places: Vec<HeldPoint> = looked.iter().flat_map(|l| l.gardens.iter().map(|garden| garden.at)).collect();
        places.sort_unstable();
        places.dedup();
        let Fetched { forecasts, without } = self.fetch(&places, now).await;
        tally.members += looked.len();
        tally.places += places.len();
        tally.without += without;
        tally.failed += places.len() - forecasts.len() - without;
        for one in &looked {
            tally.told += self.tell(one, &forecasts, turn, now).await?;
        }
        Ok(())
    }

    /// A member's choice and gardens; `None` where they stopped meanwhile.
    async fn look(&self, member: MemberId) -> Result<Option<Looked>, StoreError> {
        let Some(choice) = self.store.warning_choice(member).await? else { return Ok(None) };
        let setups = self.store.setups_of(member).await?;
        let mut by_place: BTreeMap<HeldPoint, Vec<_>> = BTreeMap::new();
        for plant in self.store.plants_of(member).await? {
            if let (Some(at), false) = (plant.place.point, choice.left_out.contains(&plant.id)) {
                by_place.entry(at).or_default().push(plant);
            }
        }
        let gardens = by_place.into_iter().map(|(at, plants)| Garden { at, plants, setups: setups.clone() }).collect();
        Ok(Some(Looked { member, choice, gardens }))
    }

    async fn fetch(&self, places: &[HeldPoint], now: Timestamp) -> Fetched {
        let mut asking = JoinSet::new();
        for at in places.iter().copied() {
            let forecasts = self.forecasts.clone();
            asking.spawn(async move { (at, forecasts.coming_nights(at, For::Round, now).await) });
        }
        let mut had = Fetched { forecasts: HashMap::with_capacity(places.len()), without: 0 };
        while let Some(asked) = asking.join_next().await {
            match asked {
                Ok((at, Ok(forecast))) => drop(had.forecasts.insert(at, forecast)),
                Ok((_, Err(NoForecast::NotCovered(_)))) => had.without += 1,
                Ok((_, Err(error))) => tracing::warn!(%error, "a place is not warned for in this round"),
                Err(error) => tracing::error!(%error, "a question for a forecast broke"),
            }
        }
        had
    }

    /// What the coming night does to a member's gardens, the worst first.
    async fn risks(&self, looked: &Looked, forecasts: &HashMap<HeldPoint, PlaceForecast>, now: Timestamp) -> Vec<AtRisk> {
        let mut risks = Vec::new();
        for garden in &looked.gardens {
            let Some(forecast) = forecasts.get(&garden.at) else { continue };
            let (garden, nights) = (garden.clone(), forecast.nights.clone());
            let (choice, snapshot) = (looked.choice.clone(), Arc::clone(&self.snapshot));
            let worked = tokio::task::spawn_blocking(move || at_risk(&garden, &nights, &choice, &snapshot, now)).await;
            match worked {
                Ok(Ok(risk)) => risks.extend(risk),
                Ok(Err(errors)) => tracing::warn!(%errors, "a garden could not be worked out for a warning"),
                Err(error) => tracing::error!(%error, "working out a warning broke"),
            }
        }
        risks.sort_by(|a, b| b.harm.total_cmp(&a.harm));
        risks
    }

    async fn tell(
        &self,
        looked: &Looked,
        forecasts: &HashMap<HeldPoint, PlaceForecast>,
        turn: Turn,
        now: Timestamp,
    ) -> Result<usize, StoreError> {
        let told = self.store.warnings_of(looked.member, now - LOOKED_BACK).await?;
        let risks = self.risks(looked, forecasts, now).await;
        let sources: Vec<ForecastSource> =
            ForecastSource::ALL.iter().copied().filter(|source| forecasts_use(looked, forecasts, *source)).collect();
        let news =
            [tonight(&looked.choice, &risks, &sources, &told), first_freeze(looked, forecasts, &told), morning(looked, &told, turn, now)];
        let mut kept = 0;
        for news in news.into_iter().flatten() {
            kept += usize::from(self.keep(looked, news, now).await?);
        }
        Ok(kept)
    }

    async fn keep(&self, looked: &Looked, news: News, now: Timestamp) -> Result<bool, StoreError> {
        let News { kind, about, night, harm, minimum_c, words, path } = news;
        let subject = words::subject(kind).to_owned();
        let letter = self.public_address.as_ref().map(|address| Letter {
            id: self.ids.fresh(now),
            member: looked.member,
            kind: LetterKind::Warnings,
            subject: subject.clone(),
            words: format!("{words}\n{}\n{address}{path}", opens(kind)),
            due: now + SignedDuration::from_hours(quiet_h(looked, now)),
            ends: now + if matches!(kind, WarningKind::Tonight | WarningKind::Worse) { NIGHT_OF_USE } else { OTHERS_OF_USE },
        });
        let warning = Warning {
            id: self.ids.fresh(now),
            member: looked.member,
            made: now,
            night,
            kind,
            about,
            harm,
            minimum_c,
            subject,
            words,
            path,
        };
        self.store.keep_warning(&warning, letter.as_ref()).await
    }
}

/// What a link of a letter opens.
const fn opens(kind: WarningKind) -> &'static str {
    match kind {
        WarningKind::Tonight | WarningKind::Worse => "The plan, filled in; once opened it is there without signal too:",
        WarningKind::FirstFreeze => "The plan of these nights, filled in as far as the forecast goes:",
        WarningKind::Morning => "What did it read?",
    }
}

/// Hours that a letter waits for a member's quiet hours to end, by the sun of their westernmost place.
fn quiet_h(looked: &Looked, now: Timestamp) -> i64 {
    let (Some(quiet), Some(garden)) = (looked.choice.quiet, looked.gardens.first()) else { return 0 };
    i64::from(quiet.wait_h(sun_offset(garden.at.longitude()).to_datetime(now).hour()))
}

fn forecasts_use(looked: &Looked, forecasts: &HashMap<HeldPoint, PlaceForecast>, source: ForecastSource) -> bool {
    looked.gardens.iter().any(|garden| forecasts.get(&garden.at).is_some_and(|forecast| forecast.source == source))
}

/// The night to come, where it reaches the threshold and was not told, or is clearly worse than was told.
fn tonight(choice: &WarningChoice, risks: &[AtRisk], sources: &[ForecastSource], told: &[Warning]) -> Option<News> {
    let worst = risks.first()?;
    let about = worst.night.to_string();
    let of = |kind: WarningKind| told.iter().find(|warning| warning.kind == kind && warning.about == about);
    let kind = match (of(WarningKind::Tonight), of(WarningKind::Worse)) {
        (None, _) if worst.harm >= choice.threshold => WarningKind::Tonight,
        (Some(first), None) if is_worse(choice.measure, first.harm, worst.harm) => WarningKind::Worse,
        _ => return None,
    };
    // Other places of the member stand in the same message, where anything is at risk there.
    let shown: Vec<AtRisk> = risks.iter().filter(|risk| risk.harm >= choice.threshold.min(worst.harm) / 2.0).cloned().collect();
    Some(News {
        kind,
        about,
        night: worst.night,
        harm: worst.harm,
        minimum_c: worst.minimum_c,
        words: words::tonight(kind, &shown, choice.measure, sources),
        path: worst.path.clone(),
    })
}

/// The first freeze of the season at any of a member's places, where it was not told.
fn first_freeze(looked: &Looked, forecasts: &HashMap<HeldPoint, PlaceForecast>, told: &[Warning]) -> Option<News> {
    if !looked.choice.first_freeze {
        return None;
    }
    let at = |garden: &Garden| {
        let forecast = forecasts.get(&garden.at)?;
        let freeze = ahead(&forecast.nights, garden.at.hemisphere(), near_the_sea(garden.at))?;
        let place = garden.plants.iter().find_map(|plant| plant.place.words.clone()).unwrap_or_else(|| "Your garden".to_owned());
        Some((freeze, place, forecast.source))
    };
    let (freeze, place, source): (FirstFreeze, String, ForecastSource) =
        looked.gardens.iter().filter_map(at).min_by_key(|(freeze, ..)| freeze.days)?;
    let known = |warning: &Warning| match warning.kind {
        WarningKind::FirstFreeze => warning.about == freeze.season,
        // Who was told of a night of frost this season is not told of its first.
        WarningKind::Tonight => warning.minimum_c <= 0.0 && warning.night < freeze.night && warning.night.year() == freeze.night.year(),
        _ => false,
    };
    if told.iter().any(known) {
        return None;
    }
    Some(News {
        kind: WarningKind::FirstFreeze,
        words: words::first_freeze(&freeze, &place, source),
        about: freeze.season,
        night: freeze.night,
        harm: freeze.chance,
        minimum_c: freeze.minimum_c,
        path: address::WARNINGS.as_str().to_owned(),
    })
}

/// The question about the night that is over, where it was warned of.
fn morning(looked: &Looked, told: &[Warning], turn: Turn, now: Timestamp) -> Option<News> {
    let garden = looked.gardens.first().filter(|_| looked.choice.morning && turn == Turn::Morning)?;
    let last_night = sun_offset(garden.at.longitude()).to_datetime(now).date().checked_sub(1.day()).ok()?;
    let warned = told.iter().rev().find(|w| matches!(w.kind, WarningKind::Tonight | WarningKind::Worse) && w.night == last_night)?;
    let about = last_night.to_string();
    if told.iter().any(|warning| warning.kind == WarningKind::Morning && warning.about == about) {
        return None;
    }
    Some(News {
        kind: WarningKind::Morning,
        words: words::morning(last_night, warned.minimum_c),
        about,
        night: last_night,
        harm: warned.harm,
        minimum_c: warned.minimum_c,
        path: address::warned_night(last_night),
    })
}
