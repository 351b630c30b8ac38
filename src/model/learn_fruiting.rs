//! Spring and fruit learned from accepted reports, beside hardiness: reports into heats, the fits, and what stands in their place.

use std::collections::HashMap;

use crate::model::snapshot::Snapshot;
use crate::model::trained::{FirstFigs, FittedFruiting};
use crate::records::spring_evidence::{SpringEvidence, Unusable};
use crate::science::fruiting::FruitTraits;
use crate::science::fruiting::SeasonDegreeDays;
use crate::science::fruiting::learned::{Crop, LearnError, RipeByCultivar, RipeSeen, ShownByLevel};
use crate::science::fruiting::shoots::{ShootBelief, ShootLength, ShootSeen, shoot_length};
use crate::science::fruiting::shown::Shown;
use crate::science::hardiness::level::DamageLevel;
use crate::science::numeric::Gaussian;

impl FittedFruiting {
    /// From the dates of accepted reports; `None` where none gives a date.
    ///
    /// # Errors
    /// When a fit does not settle.
    pub fn learn(snapshot: &Snapshot, evidence: &[SpringEvidence]) -> Result<Option<Self>, LearnError> {
        if evidence.is_empty() {
            return Ok(None);
        }
        let places: HashMap<&str, usize> = snapshot.catalogue.cultivars().iter().enumerate().map(|(i, c)| (c.slug.as_str(), i)).collect();
        let why = |unusable| evidence.iter().filter(|e| e.said == Err(unusable)).count();
        let said = || evidence.iter().filter_map(|e| Some((e.cultivar.as_ref(), e.said.ok()?)));
        let growth: Vec<_> = said().filter_map(|(_, said)| Some((said.level, said.growth?))).collect();
        let ripe: Vec<RipeSeen> = said()
            .filter_map(|(cultivar, said)| {
                let cultivar = *places.get(cultivar?.as_str())?;
                let ripe = said.ripe.map(|(crop, degree_days)| RipeSeen { cultivar, level: said.level, crop, degree_days, ripened: true });
                ripe.or_else(|| Some(RipeSeen { cultivar, level: said.level, crop: Crop::Main, degree_days: said.unripe?, ripened: false }))
            })
            .collect();
        let traits: Vec<FruitTraits> = snapshot.standings.iter().map(|standing| standing.fruit).collect();
        Ok(Some(Self {
            shown: ShownByLevel::learn(&growth, &snapshot.fruit_priors)?,
            ripe: RipeByCultivar::learn(&ripe, &traits, &snapshot.fruit_priors)?,
            heat_unknown: why(Unusable::DegreeDaysUnknown),
            unclear: why(Unusable::Unclear),
        }))
    }
}

impl Snapshot {
    /// Puts a lesson in the place of the tables.
    pub fn take_fruit_lesson(&mut self, lesson: Option<FittedFruiting>) {
        if let Some(lesson) = &lesson {
            let of = |pooled: &Option<crate::science::fruiting::first_ripe::Pooled>, place: usize| {
                pooled.as_ref().and_then(|p| p.reports.get(place).copied()).unwrap_or(0)
            };
            let demonstration = self.catalogue.has_invented();
            for (place, (standing, cultivar)) in self.standings.iter_mut().zip(self.catalogue.cultivars()).enumerate() {
                // In a demonstration real cultivars stand on sources alone.
                if demonstration && !cultivar.is_invented() {
                    continue;
                }
                standing.first_figs = FirstFigs { main: of(&lesson.ripe.main, place), breba: of(&lesson.ripe.breba, place) };
                standing.fruit.learned = lesson.ripe.needs(place, &standing.fruit, &self.fruit_priors);
            }
        }
        self.fruit_effects = lesson;
    }

    /// What is believed of the length of new shoots: as reports have moved it, or from the table.
    pub fn shoot_belief(&self) -> ShootBelief {
        let learned = self.shoots.filter(|_| !self.catalogue.has_invented());
        learned.unwrap_or_else(|| self.fruit_priors.shoots.belief())
    }

    /// Length of new shoots by autumn after seasons of a heat, on roots of an age.
    pub fn new_shoots(&self, heat: &SeasonDegreeDays, years: Option<u8>) -> ShootLength {
        let over_years = Gaussian::new(heat.over_years.mean, heat.over_years.sd.hypot(heat.doubt));
        shoot_length(&self.shoot_belief(), over_years, years, &self.fruit_priors.shoots)
    }

    /// Puts what reports say of the length of new shoots in the place of the table, where they say anything.
    #[must_use]
    pub fn taught_of_shoots(mut self, seen: &[ShootSeen]) -> Self {
        self.shoots = (!seen.is_empty()).then(|| self.fruit_priors.shoots.learned(seen));
        self
    }

    /// When living plants show growth after damage of a level: as reports have moved it, or from the tables. Dead plants, which never do, are
    /// answered for as those killed to the ground.
    pub fn shown(&self, level: DamageLevel) -> Shown {
        let place = level.index().min(3);
        let lesson = self.fruit_effects.as_ref().filter(|_| !self.catalogue.has_invented());
        let learned = lesson.and_then(|lesson| lesson.shown.0.get(place).copied());
        learned.unwrap_or_else(|| Shown::prior(self.fruit_priors.shown.get(place).unwrap_or(&self.fruit_priors.shown[3])))
    }
}
