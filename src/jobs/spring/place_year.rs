//! The usual year of the place that a spring question names: heat, cold nights, and when a fig there is at rest.

use crate::jobs::shortlist::question::Question;
use crate::jobs::spring::record_seasons::SpringRecord;
use crate::model::snapshot::Snapshot;
use crate::science::climate::spring_nights::SpringNights;
use crate::science::fruiting::asleep::Rest;
use crate::science::fruiting::{DegreeDayCurve, SeasonDegreeDays};
use crate::science::hardiness::level::DamageLevel;
use crate::science::site::Site;

/// A usual year of a place. Days are counted from the turn of the year.
#[derive(Debug, Clone)]
pub struct PlaceYear {
    /// The site with every default filled in.
    pub site: Site,
    /// Heat through the year.
    pub curve: DegreeDayCurve,
    /// The season's heat.
    pub heat: SeasonDegreeDays,
    /// Its cold nights.
    pub nights: SpringNights,
    /// When a fig there is at rest.
    pub rest: Rest,
}

impl Snapshot {
    /// The usual year of a place; a daily record speaks for it where there is one.
    pub fn place_year(&self, place: &Question, record: Option<&SpringRecord>) -> PlaceYear {
        let mut site = place.site(&self.priors);
        let given = place.season.frost_free_days.is_some() || place.season.warmest_month.is_some();
        if let Some(season) = record.and_then(|record| record.season).filter(|_| !given) {
            site.season = season;
        }
        let seasons = record.and_then(|record| record.seasons.as_ref());
        let priors = &self.fruit_priors;
        let curve = seasons.map_or_else(|| DegreeDayCurve::from_season(&site.season, 0.0, priors), |seasons| seasons.curve.clone());
        let heat = seasons.map_or_else(|| SeasonDegreeDays::from_season(&site.season, priors), |seasons| seasons.degree_days);
        let nights = seasons.map_or_else(|| SpringNights::from_season(&site.season), |seasons| seasons.nights.clone());
        let rest = Rest::of(&curve, &nights, &self.shown(DamageLevel::Unharmed));
        PlaceYear { site, curve, heat, nights, rest }
    }
}
