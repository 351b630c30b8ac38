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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::sample;
    use crate::records::words::TopKilled;
    use crate::records::{FirstGrowth, HeatMet};
    use jiff::civil::date;

    /// A plant in growth after 120 degree-days of a year that brought 900 to its first ripe fig and 1,400 to the first frost.
    fn counted() -> Report {
        let mut report = sample::report();
        report.record.first_ripe = Some(date(2026, 8, 20));
        report.record.fruit = Some(Fruit::MainRipe);
        report.record.heat = Some(HeatMet { to_growth: Some(120.0), to_ripe: Some(900.0), to_frost: Some(1_400.0), ..HeatMet::default() });
        report
    }

    fn said(report: &Report) -> Result<Said, Unusable> {
        SpringEvidence::from_report(report).unwrap().said
    }

    // The definition of the ripening heat: degree-days from first growth to the first ripe fig, the difference of two sums from one turn of the year.
    #[test]
    fn heat_to_the_first_ripe_fig_counts_from_first_growth() {
        let said = said(&counted()).unwrap();
        assert_eq!(said.level, DamageLevel::Unharmed);
        assert_eq!(said.growth, Some(Censoring::At(120.0)));
        assert_eq!(said.ripe, Some((Crop::Main, 780.0)));
        assert_eq!(said.unripe, None, "what ripened is no season without a ripe fig");
    }

    #[test]
    fn a_season_that_ended_green_says_how_much_heat_was_not_enough() {
        let mut report = counted();
        (report.record.fruit, report.record.first_ripe) = (Some(Fruit::Unripe), None);
        report.record.heat = report.record.heat.map(|heat| HeatMet { to_ripe: None, ..heat });
        let said = said(&report).unwrap();
        assert_eq!((said.ripe, said.unripe), (None, Some(1_280.0)));
        // A frost before any growth ends no season.
        report.record.heat = report.record.heat.map(|heat| HeatMet { to_frost: Some(120.0), ..heat });
        assert_eq!(super::said(&report).unwrap().unripe, None);
    }

    // The early crop is borne on last year's wood: where both crops ripened, a sound plant's first fig was one of it.
    #[test]
    fn the_first_fig_is_of_the_early_crop_only_on_sound_wood() {
        let mut report = counted();
        for early in [Fruit::EarlyRipe, Fruit::BothRipe] {
            report.record.fruit = Some(early);
            report.record.top = TopKilled::None;
            assert_eq!(said(&report).unwrap().ripe, Some((Crop::Breba, 780.0)));
            report.record.top = TopKilled::Tips;
            assert_eq!(said(&report).unwrap().ripe, None);
        }
        report.record.fruit = Some(Fruit::MainRipe);
        assert_eq!(said(&report).unwrap().ripe, Some((Crop::Main, 780.0)));
    }

    #[test]
    fn no_growth_by_a_day_is_a_lower_bound_and_dates_no_fruit() {
        let mut report = counted();
        report.record.first_growth = Some(FirstGrowth::NotBy(date(2026, 4, 12)));
        let said = said(&report).unwrap();
        assert_eq!((said.growth, said.ripe), (Some(Censoring::NotBy(120.0)), None));
    }

    #[test]
    fn growth_before_any_heat_is_growth_in_the_first_degree_day() {
        let mut report = counted();
        report.record.heat = report.record.heat.map(|heat| HeatMet { to_growth: Some(0.0), ..heat });
        assert_eq!(said(&report).unwrap().growth, Some(Censoring::At(1.0)));
        report.record.heat = report.record.heat.map(|heat| HeatMet { to_growth: Some(1_000.0), ..heat });
        assert_eq!(said(&report).unwrap().ripe, None, "no fig ripens before the first growth");
    }

    // A report that does not count must teach nothing, in whatever state it is.
    #[test]
    fn only_reports_that_count_and_give_a_date_teach() {
        for state in ReviewState::ALL.iter().copied() {
            let report = Report { state, ..counted() };
            let counts = matches!(state, ReviewState::Accepted | ReviewState::AcceptedWithDoubt);
            assert_eq!(SpringEvidence::from_report(&report).is_some(), counts, "{state}");
        }
        let mut report = counted();
        report.record.first_growth = None;
        assert!(SpringEvidence::from_report(&report).is_some(), "the date of the first fig is a date");
        report.record.first_ripe = None;
        assert_eq!(SpringEvidence::from_report(&report), None);
    }

    #[test]
    fn dates_of_a_plant_that_may_be_dead_or_was_taken_with_doubt_are_unclear() {
        let doubtful = Report { state: ReviewState::AcceptedWithDoubt, ..counted() };
        assert_eq!(said(&doubtful), Err(Unusable::Unclear));
        let mut unsure = counted();
        unsure.record.vitality = Vitality::Uncertain;
        assert_eq!(said(&unsure), Err(Unusable::Unclear));
        let mut unseen = counted();
        unseen.record.top = TopKilled::NotSure;
        assert_eq!(said(&unseen), Err(Unusable::Unclear));
    }

    #[test]
    fn dates_without_a_daily_record_are_told_apart_from_unclear_ones() {
        let mut report = counted();
        report.record.heat = None;
        assert_eq!(said(&report), Err(Unusable::DegreeDaysUnknown));
        report.record.heat = Some(HeatMet::default());
        assert_eq!(said(&report), Err(Unusable::DegreeDaysUnknown));
    }
}
