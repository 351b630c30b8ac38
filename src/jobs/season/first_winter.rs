//! What to do for a fig in its first winter, by date and temperature: from the same exposure as its chances, and the place's usual year.

use crate::jobs::season::safe::{ACCEPTED, STAGES};
use crate::model::snapshot::Snapshot;
use crate::science::climate::season::CREST_DAY_NORTH;
use crate::science::climate::spring_nights::SpringNights;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::fruiting::asleep::Rest;
use crate::science::fruiting::wait::wait_until;
use crate::science::fruiting::year::YearSoFar;
use crate::science::fruiting::{DegreeDayCurve, SeasonDegreeDays};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::chances::Levels;
use crate::science::hardiness::level::DamageLevel;
use crate::science::shortlist::SitePicture;
use crate::science::site::{Culture, Protection, Site, YearsEstablished};
use crate::units::{Celsius, TemperatureDelta};

/// Chance that a young plant loses older wood, or worse, from which on a night calls for something to be done. DESIGN: one plant in ten.
const ACTS_FROM: f64 = 0.1;
/// Chance of a winter with such a night below which nothing is asked for. DESIGN: one winter in twenty.
const RARE: f64 = 0.05;
/// Nights looked at, °C, and how closely a limit is found, K.
const NIGHTS_C: (f64, f64) = (-31.0, 1.0);
const CLOSELY_K: f64 = 0.55;
/// Spread of the one night that stands for a winter, K.
const ONE_NIGHT_K: f64 = 0.3;

/// What a measure does for a plant in its first winter: chance without it, and with it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effect {
    /// Chance of death.
    pub dead: (f64, f64),
    /// Chance of being killed to the ground or worse.
    pub loses_top: (f64, f64),
}

/// One thing to do. Days are counted from the turn of the year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Step {
    /// No night here asks for anything.
    Nothing {
        /// The night that would.
        below: Celsius,
        /// In which share of winters it comes.
        share: f64,
    },
    /// Put the cover on that stays all winter, by a day.
    PutOn {
        /// Which.
        protection: Protection,
        /// One year in ten brings the first harmful night by then.
        by: f64,
        /// What it does.
        effect: Effect,
    },
    /// Cover it down to the soil before each such night.
    CoverNights {
        /// Nights below this.
        below: Celsius,
        /// One year in ten brings the first by then.
        from: f64,
        /// What it does; `None` where another cover is on already.
        effect: Option<Effect>,
    },
    /// Carry the pot in before the first such night.
    CarryIn {
        /// Nights below this.
        below: Celsius,
        /// One year in ten brings the first by then.
        from: f64,
        /// What it does.
        effect: Effect,
    },
    /// Stand the pot out again: leafless from one day, in leaf from another.
    OutAgain {
        /// Leafless.
        asleep: f64,
        /// In leaf.
        in_leaf: f64,
    },
    /// Uncover for good from that day.
    Uncover(f64),
    /// No cover, since it saves hardly a young plant.
    NoCover,
    /// However dead it looks, it is not dug up before that day.
    DoNotDig(f64),
}

/// What a first winter asks for.
#[derive(Debug, Clone, PartialEq)]
pub struct FirstWinter {
    /// In the order of the year, from autumn.
    pub steps: Vec<Step>,
    /// When leaves may have fallen.
    pub leaf_fall: f64,
}

/// A site with a plant in its first winter, under a cover.
fn young(site: &Site, protection: Protection) -> Option<Site> {
    let changed = Site { years: YearsEstablished::new(0).ok()?, wood_years: None, protection, ..site.clone() };
    let changed = if protection == Protection::CarriedIn { changed } else { Site { store: None, ..changed } };
    changed.checked().ok()
}

impl Snapshot {
    /// The warmest night that costs one plant in ten of the tenderest of some figs older wood, or worse, as hard as plants of their kinds are on
    /// cold nights; `None` where none does that comes anywhere.
    pub fn night_that_harms(&self, site: &Site, beliefs: &[&HardinessBelief]) -> Option<Celsius> {
        let heat = SeasonDegreeDays::from_season(&site.season, &self.fruit_priors);
        acts_below(site, &|site| {
            let picture = SitePicture::new(site, &self.priors, &self.scale, heat, beliefs.iter().copied());
            let harmed = beliefs.iter().map(|belief| picture.chance(belief)).map(|c| c.wood + c.to_ground + c.dead);
            harmed.fold(0.0, f64::max)
        })
    }

    /// What the first winter of some figs at a site asks for: by the tenderest of them.
    pub fn first_winter(&self, site: &Site, beliefs: &[&HardinessBelief]) -> Option<FirstWinter> {
        let outdoors = if site.protection == Protection::CarriedIn { Protection::None } else { site.protection };
        let bare = young(site, Protection::None)?;
        let heat = SeasonDegreeDays::from_season(&site.season, &self.fruit_priors);
        let picture = |site: &Site| SitePicture::new(site, &self.priors, &self.scale, heat, beliefs.iter().copied());
        let worst = |picture: &SitePicture, of: &dyn Fn(Levels<f64>) -> f64| {
            beliefs.iter().map(|belief| of(picture.chance(belief))).fold(0.0, f64::max)
        };
        let limit = |site: &Site| acts_below(site, &|site| worst(&picture(site), &|c| c.wood + c.to_ground + c.dead));
        let below = limit(&bare)?;
        let share = site.winter.cdf(below);
        let nights = SpringNights::from_season(&site.season);
        let curve = DegreeDayCurve::from_season(&site.season, 0.0, &self.fruit_priors);
        let rest = Rest::of(&curve, &nights, &self.shown(DamageLevel::Unharmed));
        let first_night = |below: Celsius| nights.until(CREST_DAY_NORTH, below.degrees(), ACCEPTED).unwrap_or(rest.season_end);
        let mut steps = Vec::new();
        if share < RARE {
            steps.push(Step::Nothing { below, share });
            return Some(FirstWinter { steps, leaf_fall: rest.leaf_fall });
        }
        let effect = |from: &Site, to: Protection| {
            let pictures = [picture(from), picture(&young(site, to)?)];
            let ends = |of: &dyn Fn(Levels<f64>) -> f64| (worst(&pictures[0], of), worst(&pictures[1], of));
            Some(Effect { dead: ends(&|c| c.dead), loses_top: ends(&|c| c.to_ground + c.dead) })
        };
        let from = first_night(below);
        let safe = |stage: usize| STAGES.get(stage).map_or(CREST_DAY_NORTH, |s| nights.safe_from(0.0, s.threshold.degrees(), ACCEPTED));
        let [in_leaf, buds, asleep] = [0, 1, 2].map(safe);
        if matches!(site.culture, Culture::Container(_)) && outdoors != Protection::UnheatedHouse {
            steps.push(Step::CarryIn { below, from, effect: effect(&bare, Protection::CarriedIn)? });
            steps.push(Step::OutAgain { asleep, in_leaf });
            return Some(FirstWinter { steps, leaf_fall: rest.leaf_fall });
        }
        let stays = match outdoors {
            Protection::None => Protection::Mulch,
            other => other,
        };
        steps.push(Step::PutOn { protection: stays, by: from, effect: effect(&bare, stays)? });
        let covered = young(site, stays)?;
        let then = match stays {
            Protection::Mulch => Some((below, effect(&bare, Protection::CoverToGround))),
            Protection::CoverToGround => None,
            _ => limit(&covered).map(|below| (below, None)),
        };
        if let Some((below, effect)) = then.filter(|(below, _)| site.winter.cdf(*below) >= RARE) {
            steps.push(Step::CoverNights { below, from: first_night(below), effect });
        }
        steps.push(Step::Uncover(buds));
        let so_far = YearSoFar::default();
        steps.push(Step::DoNotDig(wait_until(&self.shown(DamageLevel::ToGround), &curve, &so_far).not_dead_before));
        Some(FirstWinter { steps, leaf_fall: rest.leaf_fall })
    }
}

/// The warmest coldest night of a winter after which one young plant in ten has lost older wood, or worse.
fn acts_below(site: &Site, harmed: &dyn Fn(&Site) -> f64) -> Option<Celsius> {
    let at = |night_c: f64| {
        let winter = WinterMinimum::Normal { mean: Celsius::literal(night_c), spread: TemperatureDelta::literal(ONE_NIGHT_K) };
        harmed(&Site { winter, place_error_k: 0.0, winter_by_class: None, ..site.clone() })
    };
    let (mut low, mut high) = NIGHTS_C;
    if at(low) < ACTS_FROM {
        return None;
    }
    while high - low > CLOSELY_K {
        let mid = f64::midpoint(low, high);
        if at(mid) < ACTS_FROM { high = mid } else { low = mid }
    }
    Some(Celsius::literal(low))
}
