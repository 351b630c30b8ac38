//! From an accepted report: degree-days at which growth was seen and the first fig ripened.

use super::report::{FirstGrowth, Report};
use super::review_state::ReviewState;
use super::words::{Fruit, Vitality};
use crate::catalogue::Slug;
use crate::science::fruiting::learned::Crop;
use crate::science::fruiting::shown::Censoring;
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::observation::DamageRange;

/// The dates of one accepted report, as far as they teach anything.
#[derive(Debug, Clone, PartialEq)]
pub struct SpringEvidence {
    /// Cultivar, where it is in the catalogue.
    pub cultivar: Option<Slug>,
    /// What the report says of growth and fruit, or why that cannot be used.
    pub said: Result<Said, Unusable>,
}

/// Dates turned into heat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Said {
    /// Damage the plant had lived through.
    pub level: DamageLevel,
    /// First growth, heat since the turn of the year.
    pub growth: Option<Censoring>,
    /// First ripe fig: the crop, and heat from first growth to it.
    pub ripe: Option<(Crop, f64)>,
    /// Heat from first growth to the end of a season in which main-crop figs set and none ripened.
    pub unripe: Option<f64>,
}

/// Why the dates of a report teach nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unusable {
    /// No daily record of the place counted the heat.
    DegreeDaysUnknown,
    /// Not one damage level, dead or not known to live, or taken with doubt.
    Unclear,
}

impl SpringEvidence {
    /// The evidence in a report; `None` where it counts for nothing or gives no date.
    pub fn from_report(report: &Report) -> Option<Self> {
        let record = &report.record;
        if !report.state.counts() || (record.first_growth.is_none() && record.first_ripe.is_none()) {
            return None;
        }
        Some(Self { cultivar: report.plant.cultivar.clone(), said: said(report) })
    }
}

fn said(report: &Report) -> Result<Said, Unusable> {
    let record = &report.record;
    let level = record.damage().filter(|damage| damage.low() == damage.high()).map(DamageRange::low);
    // Only plants that lived tell when living plants show growth.
    let lives = record.vitality == Vitality::Alive && report.state == ReviewState::Accepted;
    let level = level.filter(|&level| lives && level != DamageLevel::Dead).ok_or(Unusable::Unclear)?;
    let heat = record.heat.ok_or(Unusable::DegreeDaysUnknown)?;
    let growth = match (record.first_growth, heat.to_growth) {
        // Growth before there was any heat is growth in the first degree-day.
        (Some(FirstGrowth::On(_)), Some(heat)) => Some(Censoring::At(heat.max(1.0))),
        (Some(FirstGrowth::NotBy(_)), Some(heat)) => Some(Censoring::NotBy(heat)),
        _ => None,
    };
    let crop = match record.fruit {
        // Where both crops ripened the first fig was one of the early crop, which only sound wood bears.
        Some(Fruit::EarlyRipe | Fruit::BothRipe) if level == DamageLevel::Unharmed => Some(Crop::Breba),
        Some(Fruit::MainRipe) => Some(Crop::Main),
        _ => None,
    };
    let ripe = match (growth, heat.to_ripe, crop) {
        (Some(Censoring::At(from)), Some(to), Some(crop)) if to > from => Some((crop, to - from)),
        _ => None,
    };
    let unripe = match (growth, heat.to_frost, record.fruit) {
        (Some(Censoring::At(from)), Some(to), Some(Fruit::Unripe)) if to > from => Some(to - from),
        _ => None,
    };
    if growth.is_none() && ripe.is_none() { Err(Unusable::DegreeDaysUnknown) } else { Ok(Said { level, growth, ripe, unripe }) }
}
