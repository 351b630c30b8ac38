//! Changing what is said of a plant: the same fields as for a new one, and a change made meanwhile in another window is seen.

use jiff::Timestamp;

use crate::input::fields::Fields;
use crate::jobs::reports::error::ReportError;
use crate::jobs::reports::form;
use crate::jobs::reports::form::PLANT_FIELDS;
use crate::jobs::reports::noticed::noticed;
use crate::jobs::reports::submission::Reports;
use crate::model::snapshot::Snapshot;
use crate::records::place::Publish;
use crate::records::winter::today;
use crate::records::words::NameCertainty;
use crate::records::{HeldPoint, Member, Plant, PlantId};
use crate::science::site::{Culture, PotVolume, Setting};
use crate::store::{EarlierPlant, PlantChange};
use crate::token;

/// What each is called.
const CALLED: [&str; 11] = [
    "Name of the fig",
    "How sure the name is",
    "Year planted",
    "In the garden",
    "Ground or pot",
    "Volume of the pot, litres",
    "Nearest town or district",
    "Latitude, degrees",
    "Longitude, degrees",
    "Published",
    "Cut from",
];

/// A plant's answers as a reader sees them: what each field is called, and what it says.
pub fn in_words(answers: &[(String, String)]) -> Vec<(&'static str, String)> {
    let said = |field: &str, value: &str| match field {
        "certainty" => value.parse().map_or_else(|_| value.to_owned(), |word: NameCertainty| word.label().to_owned()),
        "setting" => value.parse().map_or_else(|_| value.to_owned(), |word: Setting| word.label().to_owned()),
        "publish" => value.parse().map_or_else(|_| value.to_owned(), |word: Publish| word.label().to_owned()),
        "culture" => if value == "container" { "pot" } else { "ground" }.to_owned(),
        _ => value.to_owned(),
    };
    let of = |field: &str| answers.iter().find(|(name, _)| name == field).map(|(_, value)| said(field, value));
    PLANT_FIELDS.iter().zip(CALLED).filter_map(|(field, called)| Some((called, of(field)?))).collect()
}

/// A change of a plant: until when the earlier answers stood, and those of them that stand no more, in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Change {
    /// When it was made.
    pub at: Timestamp,
    /// What each changed field is called, what it said, and what it said afterwards; empty where there was or is no answer.
    pub fields: Vec<(&'static str, String, String)>,
}

/// The changes that led to a plant as it stands, newest first.
pub fn changes(plant: &Plant, earlier: &[EarlierPlant]) -> Vec<Change> {
    let states: Vec<_> = earlier.iter().map(|state| in_words(&state.answers)).chain([in_words(&answers(plant))]).collect();
    let of = |state: &[(&str, String)], called: &str| {
        state.iter().find(|(name, _)| *name == called).map(|(_, said)| said.clone()).unwrap_or_default()
    };
    let change = |(before, after): (&EarlierPlant, &[Vec<(&'static str, String)>])| {
        let [from, to] = after else { return None };
        let fields = CALLED.iter().map(|called| (*called, of(from, called), of(to, called))).filter(|(_, was, is)| was != is).collect();
        Some(Change { at: before.until, fields })
    };
    earlier.iter().zip(states.windows(2)).filter_map(change).rev().collect()
}

/// What became of a change.
#[derive(Debug)]
pub enum Edited {
    /// It is kept.
    Kept(Box<Plant>),
    /// The plant was changed meanwhile; nothing was kept, and this is how it stands.
    Moved(Box<Plant>),
}

/// A plant as the fields of its form.
pub fn answers(plant: &Plant) -> Vec<(String, String)> {
    let litres = match plant.culture {
        Culture::Container(volume) => volume.map(|v: PotVolume| v.litres().to_string()),
        Culture::Ground => None,
    };
    let all = [
        ("name", Some(plant.name_written.clone())),
        ("certainty", Some(plant.certainty.word().to_owned())),
        ("planted", plant.planted.map(|year| year.to_string())),
        ("setting", plant.setting.map(|setting| setting.word().to_owned())),
        ("culture", Some(if plant.culture == Culture::Ground { "ground" } else { "container" }.to_owned())),
        ("container_l", litres),
        ("place", plant.place.words.clone()),
        ("latitude", plant.place.point.map(|p: HeldPoint| p.latitude().to_string())),
        ("longitude", plant.place.point.map(|p: HeldPoint| p.longitude().to_string())),
        ("publish", Some(plant.place.publish.word().to_owned())),
        ("mother", plant.mother.clone()),
    ];
    all.into_iter().filter_map(|(name, value)| Some((name.to_owned(), value?))).collect()
}

/// What tells one state of a plant from another.
pub fn state(plant: &Plant) -> String {
    token::hash(serde_json::json!(["plant", 1, answers(plant)]).to_string())
}

/// What of a plant enters the model: a report of a plant that changes in one of these is another report.
fn teaches(plant: &Plant) -> impl PartialEq {
    (plant.cultivar.clone(), plant.certainty, plant.planted, plant.culture, plant.setting)
}

impl Reports {
    /// Gives a plant of the member's the name of a cultivar that it was offered.
    ///
    /// # Errors
    /// A plant that is not there or another's; a cultivar that is none.
    pub async fn name_plant(
        &self,
        member: &Member,
        id: PlantId,
        slug: &str,
        snapshot: &Snapshot,
        now: Timestamp,
    ) -> Result<(), ReportError> {
        let stands = self.store().plant(id).await?.filter(|plant| plant.owner == Some(member.id)).ok_or(ReportError::Absent)?;
        let cultivar = snapshot.catalogue.get(slug).ok_or(ReportError::Absent)?;
        let named = Plant { name_written: cultivar.name.clone(), cultivar: Some(cultivar.slug.clone()), ..stands.clone() };
        if named == stands {
            return Ok(());
        }
        // Where it was changed meanwhile its page shows how it stands.
        self.change_plant(member, &stands, &named, snapshot, now).await.map(|_| ())
    }

    /// `false` where the plant does not stand so any more.
    async fn change_plant(
        &self,
        member: &Member,
        stands: &Plant,
        becomes: &Plant,
        snapshot: &Snapshot,
        now: Timestamp,
    ) -> Result<bool, ReportError> {
        self.take_write(member)?;
        let mut reports = Vec::new();
        if teaches(stands) != teaches(becomes) {
            for report in self.store().reports_of_plant(becomes.id).await? {
                let others = self.same_winter(becomes, report.record.winter, Some(report.id)).await?;
                reports.push((report.id, noticed(self.store(), becomes, &report.record, snapshot, &others).await?));
            }
        }
        let change = PlantChange { stands: stands.clone(), becomes: becomes.clone(), said: answers(stands), reports, at: now };
        Ok(self.store().change_plant(&change).await?)
    }

    /// Changes a plant of the member's, where it still stands as `from` says.
    ///
    /// # Errors
    /// Values that cannot be used; a plant that is not there or another's.
    pub async fn edit_plant(
        &self,
        member: &Member,
        id: PlantId,
        pairs: &[(String, String)],
        from: &str,
        snapshot: &Snapshot,
        now: Timestamp,
    ) -> Result<Edited, ReportError> {
        let now_kept = self.store().plant(id).await?.filter(|plant| plant.owner == Some(member.id)).ok_or(ReportError::Absent)?;
        let mut fields = Fields::new(pairs, &PLANT_FIELDS);
        let sent = form::plant(&mut fields, &snapshot.catalogue, today(now));
        fields.errors.into_result()?;
        let Some(sent) = sent else { return Err(ReportError::Absent) };
        let edited = sent.planted_by(member.id, id);
        if state(&now_kept) == state(&edited) {
            return Ok(Edited::Kept(Box::new(now_kept)));
        }
        if state(&now_kept) != from {
            return Ok(Edited::Moved(Box::new(now_kept)));
        }
        if self.change_plant(member, &now_kept, &edited, snapshot, now).await? {
            return Ok(Edited::Kept(Box::new(edited)));
        }
        let stands = self.store().plant(id).await?.filter(|plant| plant.owner == Some(member.id)).ok_or(ReportError::Absent)?;
        Ok(Edited::Moved(Box::new(stands)))
    }
}
