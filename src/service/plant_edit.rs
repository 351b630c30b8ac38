//! Changing what is said of a plant: the same fields as for a new one, and a change made meanwhile in another window is seen.

use jiff::Timestamp;

use super::fields::Fields;
use super::report::{ReportError, Reports, today};
use super::{report_form, secret};
use crate::catalogue::Catalogue;
use crate::records::{HeldPoint, Member, Plant, PlantId};
use crate::science::site::{Culture, PotVolume};

/// Fields of a plant.
pub const FIELDS: [&str; 11] =
    ["name", "certainty", "planted", "setting", "culture", "container_l", "place", "latitude", "longitude", "publish", "mother"];

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
    secret::hash(&format!("{:?}", answers(plant)))
}

impl Reports {
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
        catalogue: &Catalogue,
        now: Timestamp,
    ) -> Result<Edited, ReportError> {
        let now_kept = self.store().plant(id).await?.filter(|plant| plant.owner == Some(member.id)).ok_or(ReportError::Absent)?;
        let mut fields = Fields::new(pairs, &FIELDS);
        let sent = report_form::plant(&mut fields, catalogue, today(now));
        fields.errors.into_result()?;
        let Some(sent) = sent else { return Err(ReportError::Absent) };
        let edited = sent.planted_by(member.id, id);
        if state(&now_kept) == state(&edited) {
            return Ok(Edited::Kept(Box::new(now_kept)));
        }
        if state(&now_kept) != from {
            return Ok(Edited::Moved(Box::new(now_kept)));
        }
        self.take_write(member)?;
        if self.store().save_plant(&edited, member.id).await? { Ok(Edited::Kept(Box::new(edited))) } else { Err(ReportError::Absent) }
    }
}
