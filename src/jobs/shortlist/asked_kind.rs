//! What kind of question was asked, for counts that tell nothing of who asked.

use crate::catalogue::Slug;
use crate::jobs::shortlist::question::Question;
use crate::model::snapshot::Snapshot;
use crate::science::climate::zone::HalfZone;
use crate::store::AskedKey;

impl Question {
    /// Half-zone, spot and culture of the question, and the fig it names; `None` where its winters lie in no half-zone.
    pub fn kind(&self, cultivar: Option<&Slug>, snapshot: &Snapshot) -> Option<AskedKey> {
        let zone = HalfZone::of_mean(self.site(&snapshot.priors).winter.mean())?;
        Some(AskedKey {
            zone: zone.to_string(),
            setting: self.setting.to_string(),
            culture: self.culture.code().to_owned(),
            cultivar: cultivar.map(ToString::to_string).unwrap_or_default(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_town_counts_as_its_half_zone_and_nothing_finer() {
        let snapshot = Snapshot::from_seed().unwrap();
        let kind = |pairs: &[(&str, &str)]| {
            let pairs: Vec<_> = pairs.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
            Question::parse(&pairs, true).unwrap().kind(None, &snapshot).unwrap()
        };
        let zone = kind(&[("zone", "7a"), ("setting", "wall")]);
        assert_eq!(
            (zone.zone.as_str(), zone.setting.as_str(), zone.culture.as_str(), zone.cultivar.as_str()),
            ("7a", "wall", "ground", "")
        );
        let town = kind(&[("place", "Graz, Austria"), ("culture", "container")]);
        assert!(town.zone.len() <= 3 && town.culture == "container", "{town:?}");
    }
}
