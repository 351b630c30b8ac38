//! Letters of the season: in spring, in autumn and once a year, each in the season of the garden's own place, and once however many processes
//! make them: that a season was told is kept in the transaction that keeps its letter.

use std::sync::Arc;
use std::time::Duration;

use jiff::civil::Date;
use jiff::{Timestamp, ToSpan};

use crate::address;
use crate::clock::Clock;
use crate::ids::Ids;
use crate::jobs::accounts::mail::Mail;
use crate::jobs::garden::usual_place::usual_place;
use crate::jobs::letters::words::subject;
use crate::jobs::reminders::dates::{DateKind, DueDate, Stand, date_from};
use crate::jobs::reminders::entry::day_of;
use crate::jobs::reminders::garden_year::{GardenYear, winter_before};
use crate::jobs::reminders::own_garden::OwnGarden;
use crate::jobs::reminders::season_words;
use crate::jobs::season::dates::turn_before;
use crate::jobs::shortlist::question::Question;
use crate::jobs::trials::answer::MOST_TRIALS;
use crate::jobs::trials::asked::Asked;
use crate::jobs::trials::words::invitation;
use crate::model::snapshot::Snapshot;
use crate::records::{FirstScale, Letter, LetterKind, LetterPicture, Member, SeasonReader, Winter};
use crate::store::{AskedCount, Store, StoreError};

/// Letters of the season.
pub const KINDS: [LetterKind; 3] = [LetterKind::Spring, LetterKind::Autumn, LetterKind::Yearly];
/// Time between two rounds.
const EVERY: Duration = Duration::from_hours(1);
/// Days from the beginning of its week within which a letter is made: a service that stood still, or a member who chose it late, still gets it.
/// DESIGN.
const DAYS: i32 = 21;
/// Day after the turn of the year on which the year behind it is told: nothing grows then. DESIGN.
const YEAR_TOLD: f64 = 9.0;
/// How long a letter is of use, as for every letter.
const OF_USE: Duration = Duration::from_hours(72);
/// Members looked at with one question.
const AT_ONCE: i64 = 200;

/// Draws a garden's year; `None` where there is nothing to draw.
pub type Draw = Arc<dyn Fn(&GardenYear, FirstScale) -> Option<Vec<u8>> + Send + Sync>;

/// What letters of the season are made from.
#[derive(Clone)]
pub struct SeasonLetters {
    /// What is kept.
    pub store: Arc<dyn Store>,
    /// Where their links lead.
    pub mail: Mail,
    /// Fresh identifiers.
    pub ids: Ids,
    /// What is asked, for trials.
    pub asked: Asked,
    /// How a year is drawn.
    pub draw: Draw,
}

/// A letter's season at a place.
struct Season<'a> {
    stand: Stand<'a>,
    turn: Date,
    /// First day on which it is told.
    from: Date,
}

/// Makes rounds until the task is dropped.
pub async fn watch(letters: SeasonLetters, clock: Arc<dyn Clock>, snapshot: impl Fn() -> Arc<Snapshot> + Send + Sync) {
    loop {
        if let Err(error) = letters.round(&snapshot(), clock.now()).await {
            tracing::warn!(%error, "letters of the season were not made");
        }
        tokio::time::sleep(EVERY).await;
    }
}

/// The season of a kind of letter whose days hold this one, at a town.
fn season<'a>(snapshot: &Snapshot, kind: LetterKind, town: &'a str, today: Date) -> Option<Season<'a>> {
    let stand = snapshot.stand(town, None)?;
    let now = turn_before(stand.hemisphere, today);
    let from = |turn: Date| match kind {
        // A winter whose cold is not over is not judged yet.
        LetterKind::Spring => Some(date_from(turn, stand.year.rest.bud_break)?.max(winter_of(turn, &stand)?.cold_ends())),
        LetterKind::Autumn => date_from(turn, stand.year.rest.season_end),
        LetterKind::Yearly => date_from(turn, YEAR_TOLD),
        _ => None,
    };
    // The end of a season may lie behind the turn of the year.
    let turns = [now.checked_sub(1.year()).ok()?, now];
    let (turn, from) = turns.into_iter().filter_map(|turn| Some((turn, from(turn)?))).find(|(_, from)| {
        let last = from.checked_add(DAYS.days()).unwrap_or(*from);
        (*from..last).contains(&today)
    })?;
    Some(Season { stand, turn, from })
}

/// The winter before a turn of the year.
fn winter_of(turn: Date, stand: &Stand<'_>) -> Option<Winter> {
    Winter::of(turn.checked_sub(1.day()).ok()?, stand.hemisphere).ok()
}

impl SeasonLetters {
    /// Makes what is to be made at a moment; how many letters were kept.
    ///
    /// # Errors
    /// When the store does not answer; what was not kept is made in the next round.
    pub async fn round(&self, snapshot: &Arc<Snapshot>, now: Timestamp) -> Result<usize, StoreError> {
        let mut kept = 0;
        for kind in KINDS {
            let mut after = None;
            loop {
                let readers = self.store.season_readers(kind, after, AT_ONCE).await?;
                let Some(last) = readers.last() else { break };
                after = Some(last.member);
                for reader in &readers {
                    kept += usize::from(self.make(snapshot, kind, reader, now).await?);
                }
            }
        }
        Ok(kept)
    }

    /// Makes one member's letter, where it is its time and it was not made; whether it was.
    async fn make(&self, snapshot: &Arc<Snapshot>, kind: LetterKind, reader: &SeasonReader, now: Timestamp) -> Result<bool, StoreError> {
        let Some(member) = self.store.member(reader.member).await? else { return Ok(false) };
        let Some(town) = usual_place(&*self.store, &member).await? else { return Ok(false) };
        let today = day_of(now);
        let Some(season) = season(snapshot, kind, &town, today) else { return Ok(false) };
        let label = season.turn.year().to_string();
        if self.store.told_seasons(member.id).await?.iter().any(|told| told.kind == kind && told.season == label) {
            return Ok(false);
        }
        let Some((words, picture)) =
            self.written(snapshot, kind, (&member, reader.scale.unwrap_or(FirstScale::Celsius)), &season, now).await?
        else {
            return Ok(false);
        };
        let subject = subject(kind).to_owned();
        let letter = Letter { id: self.ids.fresh(now), member: member.id, kind, subject, words, due: now, ends: now + OF_USE };
        self.store.keep_season_letter(&letter, &label, picture.as_ref(), now).await
    }

    /// What a letter says; `None` where there is nothing to say.
    async fn written(
        &self,
        snapshot: &Arc<Snapshot>,
        kind: LetterKind,
        (member, scale): (&Member, FirstScale),
        season: &Season<'_>,
        now: Timestamp,
    ) -> Result<Option<(String, Option<LetterPicture>)>, StoreError> {
        let link = |path: &str| self.mail.link(path);
        if kind == LetterKind::Yearly {
            let Some(winter) = winter_before(season.turn, season.stand.hemisphere) else { return Ok(None) };
            let Some(year) = GardenYear::of(&self.store.reports_of(member.id).await?, winter) else { return Ok(None) };
            let picture = (self.draw)(&year, scale).map(|png| LetterPicture { png, words: season_words::picture(&year) });
            return Ok(Some((season_words::yearly(&year, scale, &link), picture)));
        }
        let garden = OwnGarden::of(&*self.store, member).await?;
        let winter = if kind == LetterKind::Spring {
            winter_of(season.turn, &season.stand)
        } else {
            Winter::last_over(season.from, season.stand.hemisphere).ok()
        };
        let Some(winter) = winter else { return Ok(None) };
        let told = if kind == LetterKind::Spring { &garden.told } else { &garden.told_fruit };
        let untold: Vec<String> =
            garden.plants.iter().filter(|plant| !told.contains(&(plant.id, winter))).map(|plant| plant.name_written.clone()).collect();
        if untold.is_empty() {
            return Ok(None);
        }
        if kind == LetterKind::Autumn {
            return Ok(Some((season_words::autumn(&untold, winter, &link), None)));
        }
        let (dates, _) = snapshot.due_dates(member.id, &garden, day_of(now));
        let first = |kind: DateKind| dates.iter().find(|due: &&DueDate| due.kind == kind && due.from >= season.from).map(|due| due.from);
        let invitation = self.invitation(snapshot, &garden, season.stand.town, now).await?;
        let spring = season_words::Spring {
            winter,
            plants: garden.plants.len(),
            untold: &untold,
            wait_until: first(DateKind::WaitUntil),
            pots_out: first(DateKind::MoveOutInLeaf),
            invitation: invitation.as_ref(),
        };
        Ok(Some((season_words::spring(&spring, &link), None)))
    }

    /// The report that would teach most, and where that is said.
    async fn invitation(
        &self,
        snapshot: &Arc<Snapshot>,
        garden: &OwnGarden,
        town: &str,
        now: Timestamp,
    ) -> Result<Option<(String, String)>, StoreError> {
        let pairs = [("place".to_owned(), town.to_owned())];
        let Ok(question) = Question::parse(&pairs, false) else { return Ok(None) };
        let own: Vec<String> = garden.plants.iter().filter_map(|plant| plant.cultivar.as_ref().map(ToString::to_string)).collect();
        let asked: Vec<AskedCount> = self.asked.most(now).await?;
        let snapshot = Arc::clone(snapshot);
        // Takes a core for a moment, which no page is to wait for.
        let weighed = tokio::task::spawn_blocking(move || invitation(&snapshot.trials(&question, &asked, &own, MOST_TRIALS))).await;
        Ok(weighed.ok().flatten().map(|sentence| (sentence, address::TRIALS.with(pairs))))
    }
}
