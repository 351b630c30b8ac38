//! The answer sheet for a nursery's customer: one plant, one place, one printed page.

use crate::catalogue::Cultivar;
use crate::jobs::compare::beside::Crops;
use crate::jobs::season;
use crate::jobs::shortlist::question::Question;
use crate::jobs::shortlist::reasons::{Reason, reasons};
use crate::model::snapshot::{CultivarModel, Snapshot};
use crate::science::fruiting::wait::{Wait, wait_until};
use crate::science::fruiting::year::YearSoFar;
use crate::science::fruiting::{DegreeDayCurve, SeasonDegreeDays};
use crate::science::hardiness::level::DamageLevel;
use crate::science::shortlist::{Row, SitePicture, Thresholds};
use crate::science::site::{Culture, Protection, Site, YearsEstablished};
use crate::units::Interval;

/// What a buyer asks, answered.
#[derive(Debug)]
pub struct Sheet<'a> {
    /// The cultivar.
    pub cultivar: &'a Cultivar,
    /// What is believed of it, and on what grounds.
    pub standing: &'a CultivarModel,
    /// The place, the plant established.
    pub site: Site,
    /// The established plant.
    pub row: Row<usize>,
    /// 90 % interval of its chance of dying in a winter.
    pub dies_interval: Interval<f64>,
    /// Where its damage begins.
    pub thresholds: Thresholds,
    /// 90 % range of its share of years with ripe figs.
    pub ripe_range: Interval<f64>,
    /// Why.
    pub reasons: Vec<Reason>,
    /// The plant in its first winter, by what is done for it.
    pub first_winter: Vec<FirstWinter>,
    /// Each of its first five winters, by what is done for it in that one.
    pub early_winters: Vec<EarlyWinter>,
    /// What its first winter asks for, by date and temperature.
    pub steps: Option<season::first_winter::FirstWinter>,
    /// When its crops ripen.
    pub crops: Crops,
    /// How long to wait for a plant that died back.
    pub wait: Wait,
    /// Chance of ripe figs in the year after its top was killed.
    pub after_ground_kill: f64,
}

/// One of the first winters of a plant.
#[derive(Debug, Clone, PartialEq)]
pub struct EarlyWinter {
    /// Which: 1 the first after planting.
    pub nth: u8,
    /// By what is done for it, in the order of [`EARLY_WAYS`].
    pub ways: Vec<FirstWinter>,
}

/// A first winter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstWinter {
    /// What is done for the plant.
    pub protection: Protection,
    /// Chance that its top is killed to the ground, or that it dies.
    pub loses_top: f64,
    /// Chance that it dies.
    pub dies: f64,
    /// 90 % interval of that.
    pub dies_interval: Interval<f64>,
}

/// Winters shown one by one: from the sixth on a plant is established.
const EARLY_WINTERS: u8 = 5;
/// What a buyer chooses between in each of them: out as it is, mulched, or kept in a pot until it is older.
pub const EARLY_WAYS: [Protection; 3] = [Protection::None, Protection::Mulch, Protection::CarriedIn];
/// What a nursery would tell a buyer to consider in the first winter, plainest first.
const FIRST_WINTER: [Protection; 4] = [Protection::None, Protection::Mulch, Protection::FilledCage, Protection::CarriedIn];

impl Snapshot {
    /// The sheet of a cultivar for a place; `None` where there is no such cultivar. The question's age is left aside.
    pub fn sheet(&self, slug: &str, question: &Question) -> Option<Sheet<'_>> {
        let site = question.site(&self.priors);
        let heat = SeasonDegreeDays::from_season(&site.season, &self.fruit_priors);
        self.sheet_at(slug, &site, heat)
    }

    /// The same for a site worked out elsewhere, for example from a daily record.
    pub fn sheet_at(&self, slug: &str, site: &Site, heat: SeasonDegreeDays) -> Option<Sheet<'_>> {
        let place = self.catalogue.cultivars().iter().position(|c| c.slug.as_str() == slug)?;
        let (cultivar, standing) = (self.catalogue.cultivars().get(place)?, self.standings.get(place)?);
        let site = Site { years: YearsEstablished::ESTABLISHED, wood_years: None, ..site.clone() };
        let entry = self.entry(place)?;
        let picture = |site: &Site| SitePicture::new(site, &self.priors, &self.scale, heat, [&standing.belief]);
        let here = picture(&site);
        let row = here.rows(std::slice::from_ref(&entry), &self.fruit_priors).pop()?;
        let young = |years: YearsEstablished, protection: Protection| {
            let culture = match site.culture {
                Culture::Ground if protection == Protection::CarriedIn => Culture::Container(None),
                culture => culture,
            };
            let store = site.store.filter(|_| protection == Protection::CarriedIn);
            let winter = picture(&Site { years, protection, culture, store, ..site.clone() }).winter(&standing.belief);
            FirstWinter {
                protection,
                loses_top: winter.chance.to_ground + winter.chance.dead,
                dies: winter.chance.dead,
                dies_interval: winter.interval.dead,
            }
        };
        let first_winter = FIRST_WINTER.into_iter().map(|protection| young(YearsEstablished::FIRST_WINTER, protection)).collect();
        let early_winters = (0..EARLY_WINTERS)
            .map(|years| {
                let age = YearsEstablished::new(u32::from(years)).unwrap_or(YearsEstablished::FIRST_WINTER);
                EarlyWinter { nth: years + 1, ways: EARLY_WAYS.into_iter().map(|protection| young(age, protection)).collect() }
            })
            .collect();
        let curve = DegreeDayCurve::from_season(&site.season, 0.0, &self.fruit_priors);
        let [_, _, _, regrown, _] = row.crop.expected;
        Some(Sheet {
            steps: self.first_winter(&site, &[&standing.belief]),
            dies_interval: here.winter(&standing.belief).interval.dead,
            crops: Crops::of(&standing.fruit, &curve, &heat, &self.fruit_priors),
            wait: wait_until(&self.shown(DamageLevel::ToGround), &curve, &YearSoFar::default()),
            after_ground_kill: regrown,
            ripe_range: here.ripe_range(&standing.belief, &standing.fruit, &self.fruit_priors).including(row.ripe_share),
            thresholds: here.thresholds(&standing.belief),
            reasons: reasons(&self.catalogue, cultivar, standing, &row),
            cultivar,
            standing,
            site,
            row,
            first_winter,
            early_winters,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_first_winter_is_harder_than_later_ones_and_each_protection_helps() {
        let snapshot = Snapshot::from_seed().unwrap();
        let question = Question::parse(&[("zone".to_owned(), "7b".to_owned())], true).unwrap();
        let sheet = snapshot.sheet("brown-turkey", &question).unwrap();
        let [bare, mulch, cage, carried] = sheet.first_winter[..] else { panic!("four first winters") };
        assert!(bare.loses_top > sheet.row.loses_top());
        assert!(mulch.dies < bare.dies && cage.loses_top < bare.loses_top && carried.loses_top < bare.loses_top);
        assert!(snapshot.sheet("no-such-fig", &question).is_none());
        // Each winter is easier than the one before, whatever is done.
        assert_eq!(sheet.early_winters.iter().map(|winter| winter.nth).collect::<Vec<_>>(), [1, 2, 3, 4, 5]);
        for pair in sheet.early_winters.windows(2) {
            for (earlier, later) in pair[0].ways.iter().zip(&pair[1].ways) {
                assert!(later.dies <= earlier.dies + 1e-9 && later.loses_top <= earlier.loses_top + 0.02, "{pair:?}");
            }
        }
        assert_eq!(sheet.early_winters[0].ways[0], bare);
    }
}
