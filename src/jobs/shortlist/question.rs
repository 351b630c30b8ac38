//! The question a grower asks, as typed values, and the site it is about with every default filled in.

use crate::jobs::places::asked::PlaceAsked;
use crate::jobs::shortlist::wants::Wants;
use crate::science::climate::equivalent::CountingSlopes;
use crate::science::climate::kind::{ClimateKind, Summer};
use crate::science::climate::season::{Origin, Season};
use crate::science::climate::site_estimate::SiteEstimate;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::climate::winters::Hemisphere;
use crate::science::climate::zone::HalfZone;
use crate::science::priors::Priors;
use crate::science::shortlist::RankBy;
use crate::science::site::{Culture, OwnSpot, Protection, Settings, Site, Store, YearsEstablished};
use crate::units::{Celsius, TemperatureDelta};

/// How cold winters get here.
#[derive(Debug, Clone, Copy, PartialEq)]
#[expect(clippy::large_enum_variant, reason = "there is one a question, and copies are rare")]
pub enum Place {
    /// By half-zone.
    Zone(HalfZone),
    /// By the mean of the yearly minimum and, where known, its spread between winters.
    Minimum {
        /// Mean.
        mean: Celsius,
        /// Standard deviation between winters, K.
        spread: Option<TemperatureDelta>,
    },
    /// By a town, or by the coldest night that somebody remembers; what was said stands in the question.
    Said,
    /// By a daily record.
    Record {
        /// Coldest temperature of one winter.
        winter: WinterMinimum,
        /// Whether hardening through the season is already counted in it.
        hardening_counted: bool,
        /// The same for plants of each hardiness class, where the record tells them apart.
        by_class: Option<[WinterMinimum; 5]>,
        /// How far its mean moves with what is uncertain in the counting of hardening.
        slopes: Option<CountingSlopes>,
        /// What the own thermometer shows against the record, in place of the setting.
        own_spot: Option<OwnSpot>,
    },
}

/// What is known of the growing season.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SeasonKnown {
    /// Days between the median dates of last and first frost.
    pub frost_free_days: Option<f64>,
    /// Mean of the warmest month.
    pub warmest_month: Option<Celsius>,
    /// Cool or warm, where that is not known.
    pub summer: Option<Summer>,
}

/// A whole question.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// How cold winters get.
    pub place: Place,
    /// The town, or the night remembered, where the place is known by them.
    pub said: Option<PlaceAsked>,
    /// Kind of climate.
    pub climate: ClimateKind,
    /// Where in the garden.
    pub setting: Settings,
    /// Ground or pot.
    pub culture: Culture,
    /// Years since planting.
    pub years: YearsEstablished,
    /// Years of its standing wood, where said; at most as many.
    pub wood_years: Option<YearsEstablished>,
    /// Winter protection.
    pub protection: Protection,
    /// Where a pot is carried in to, where said.
    pub store: Option<Store>,
    /// The growing season.
    pub season: SeasonKnown,
    /// What a fig is wanted for besides bearing.
    pub wants: Wants,
    /// What the answer is ranked by.
    pub rank_by: RankBy,
    /// Most rows wanted; `None` asks for every cultivar.
    pub limit: Option<usize>,
    /// Slugs of the figs that are there already.
    pub have: Vec<String>,
}

/// Rows that a page shows when nobody says how many; the command and the API then give every row.
pub const USUAL_ROWS: usize = 12;
/// Kind of climate when nobody says; shown as assumed.
pub const USUAL_CLIMATE: ClimateKind = ClimateKind::Inland;

impl Question {
    /// The same question with as many rows as a page shows when nobody says how many.
    #[must_use]
    pub fn on_a_page(self) -> Self {
        Self { limit: self.limit.or(Some(USUAL_ROWS)), ..self }
    }

    /// Half of the Earth of the town, where one was said.
    pub fn hemisphere(&self) -> Option<Hemisphere> {
        let (latitude, _) = self.said.as_ref()?.spot.as_ref()?.town.at;
        Some(if latitude < 0.0 { Hemisphere::South } else { Hemisphere::North })
    }

    /// What is known of the winters here, each figure with its error, where no record says it: by half-zone, town or remembered night.
    pub fn estimate(&self, priors: &Priors) -> Option<SiteEstimate> {
        let usual = priors.climate(self.climate).spread;
        match self.place {
            Place::Zone(zone) => Some(SiteEstimate::of_zone(zone, SiteEstimate::usual_spread(usual))),
            Place::Said => self.said.as_ref()?.estimate(usual),
            Place::Minimum { .. } | Place::Record { .. } => None,
        }
    }

    /// Coldest temperature of one winter here, what is not known of its mean besides (K), and whether hardening is already counted in it.
    fn winter(&self, priors: &Priors) -> (WinterMinimum, f64, bool) {
        let usual = priors.climate(self.climate).spread;
        let normal = |mean, spread: Option<TemperatureDelta>| (WinterMinimum::Normal { mean, spread: spread.unwrap_or(usual) }, 0.0, false);
        match self.place {
            // A place that was said always has an estimate.
            Place::Zone(_) | Place::Said => self.estimate(priors).map_or_else(
                || normal(Celsius::literal(0.0), None),
                |estimate| {
                    let (winter, error) = estimate.winter_and_error();
                    (winter, error, false)
                },
            ),
            Place::Minimum { mean, spread } => normal(mean, spread),
            Place::Record { winter, hardening_counted, .. } => (winter, 0.0, hardening_counted),
        }
    }

    /// Kind of summer that is assumed where neither the warmest month nor a town is known.
    pub fn summer(&self) -> Summer {
        self.season.summer.unwrap_or(Summer::usual(self.climate))
    }

    fn assumed_warmth(&self, mean_minimum: Celsius) -> Celsius {
        Season::assumed_warmth(self.climate, self.summer(), mean_minimum)
    }

    /// The site with every default filled in; what was assumed is marked in its season.
    pub fn site(&self, priors: &Priors) -> Site {
        let (winter, place_error_k, hardening_counted) = self.winter(priors);
        let town = self.estimate(priors).and_then(|estimate| estimate.season());
        let not_given = if town.is_some() { Origin::Estimated } else { Origin::Assumed };
        let origin = |known: bool| if known { Origin::Given } else { not_given };
        let usual_days = || town.map_or_else(|| Season::assumed_days(winter.mean()), |season| season.frost_free_days());
        let usual_warmth = || town.map_or_else(|| self.assumed_warmth(winter.mean()), |season| season.warmest_month());
        let days = self.season.frost_free_days.unwrap_or_else(usual_days);
        let warmest = self.season.warmest_month.unwrap_or_else(usual_warmth);
        let season =
            Season::bounded(days, warmest, origin(self.season.frost_free_days.is_some()), origin(self.season.warmest_month.is_some()));
        Site {
            winter,
            place_error_k,
            hardening_counted,
            hardening_doubt_k: match self.place {
                Place::Record { slopes: Some(slopes), hardening_counted: true, .. } => {
                    slopes.doubt_k(priors.hardening_share.sd, priors.repeat_nights.sd)
                }
                _ => 0.0,
            },
            winter_by_class: if let Place::Record { by_class, .. } = self.place { by_class } else { None },
            climate: self.climate,
            own_spot: if let Place::Record { own_spot, .. } = self.place { own_spot } else { None },
            setting: self.setting,
            culture: self.culture,
            years: self.years,
            wood_years: self.wood_years,
            protection: self.protection,
            store: self.store,
            season,
        }
    }
}
