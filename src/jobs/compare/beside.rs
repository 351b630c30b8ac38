//! What stands beside each other of each fig at a place: when its crops ripen, how it does in the ground and in a pot, how soon it is back.

use crate::jobs::shortlist::answer::Recommendation;
use crate::model::snapshot::Snapshot;
use crate::science::fruiting::return_to_crop::ReturnToCrop;
use crate::science::fruiting::year::{CropOutlook, RipeDays, YearSoFar, year_outlook};
use crate::science::fruiting::{DegreeDayCurve, FruitPriors, FruitTraits, SeasonDegreeDays};
use crate::science::hardiness::level::DamageLevel;
use crate::science::shortlist::SitePicture;
use crate::science::site::{Culture, Protection, Site};
use crate::vocabulary::vocabulary;

/// Chance of a crop below which it has no dates. DESIGN: one year in twenty.
const WORTH_DATING: f64 = 0.05;
/// Share of plants by which a return to full crop is told.
const HALF: f64 = 0.5;

vocabulary! {
    /// How a fig may be grown at a place.
    pub enum Way: "way of growing" {
        /// In the ground, without cover.
        Ground = "ground" => "in the ground, without cover",
        /// In a pot that stays out.
        PotOut = "pot_out" => "in a pot that stays out",
        /// In a pot that is carried in.
        PotCarriedIn = "pot_carried_in" => "in a pot carried into a shed or garage",
    }
}

/// An established plant grown in one way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grown {
    /// How.
    pub way: Way,
    /// Share of years with ripe figs, 0..=1.
    pub ripe_share: f64,
    /// Chance of a winter that kills to the ground or worse.
    pub loses_top: f64,
    /// Chance of a winter that kills the whole plant.
    pub dead: f64,
}

/// When the crops of a fig first ripen; `None` where one seldom or never does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crops {
    /// The early crop, on wood that came through.
    pub early: Option<RipeDays>,
    /// The main crop on it.
    pub main: Option<RipeDays>,
    /// The main crop on shoots from the roots, in the year after the top was killed.
    pub regrown: Option<RipeDays>,
}

impl Crops {
    /// In a usual year of a place.
    pub fn of(fruit: &FruitTraits, curve: &DegreeDayCurve, heat: &SeasonDegreeDays, priors: &FruitPriors) -> Self {
        let year = |level| year_outlook(fruit, level, curve, heat, &YearSoFar::default(), priors);
        let (sound, killed) = (year(DamageLevel::Unharmed), year(DamageLevel::ToGround));
        let dated = |crop: CropOutlook| crop.days.filter(|_| crop.chance >= WORTH_DATING);
        Self {
            early: dated(sound.breba),
            main: dated(sound.main),
            regrown: dated(killed.main).filter(|_| fruit.fruits_on_regrowth != Some(false)),
        }
    }
}

/// One fig.
#[derive(Debug, Clone, PartialEq)]
pub struct Beside {
    /// First ripe figs of the early crop, on wood that came through; `None` where it seldom or never ripens.
    pub early: Option<RipeDays>,
    /// The same of the main crop.
    pub main: Option<RipeDays>,
    /// The same of the main crop on shoots from the roots, in the year after the top was killed.
    pub regrown: Option<RipeDays>,
    /// Season, 1 the first after it, by which half of plants killed to the ground bear fully again, later ground-kills counted.
    pub full_crop_again: Option<usize>,
    /// Ground and pot.
    pub grown: Vec<Grown>,
}

fn grown_at(site: &Site, way: Way) -> Option<Site> {
    let (culture, protection) = match way {
        Way::Ground => (Culture::Ground, Protection::None),
        Way::PotOut => (pot(site), Protection::None),
        Way::PotCarriedIn => (pot(site), Protection::CarriedIn),
    };
    let store = site.store.filter(|_| protection == Protection::CarriedIn);
    Site { culture, protection, store, ..site.clone() }.checked().ok()
}

/// The pot asked about, or the usual one.
fn pot(site: &Site) -> Culture {
    match site.culture {
        Culture::Container(volume) => Culture::Container(volume),
        Culture::Ground => Culture::Container(None),
    }
}

impl Snapshot {
    /// Each row of an answer with what stands beside the others.
    pub(crate) fn beside(&self, site: &Site, rows: &[Recommendation<'_>]) -> Vec<Beside> {
        let heat = SeasonDegreeDays::from_season(&site.season, &self.fruit_priors);
        let curve = DegreeDayCurve::from_season(&site.season, 0.0, &self.fruit_priors);
        let beliefs: Vec<_> = rows.iter().map(|r| &r.standing.belief).collect();
        let pictures: Vec<(Way, SitePicture)> = Way::ALL
            .iter()
            .filter_map(|&way| Some((way, grown_at(site, way)?)))
            .map(|(way, site)| (way, SitePicture::new(&site, &self.priors, &self.scale, heat, beliefs.iter().copied())))
            .collect();
        let told = |r: &Recommendation<'_>| {
            let fruit = &r.standing.fruit;
            let Crops { early, main, regrown } = Crops::of(fruit, &curve, &heat, &self.fruit_priors);
            let grown = pictures.iter().map(|(way, picture)| {
                let chance = picture.chance(&r.standing.belief);
                Grown {
                    way: *way,
                    ripe_share: picture.ripe_share(&r.standing.belief, fruit, &self.fruit_priors),
                    loses_top: chance.to_ground + chance.dead,
                    dead: chance.dead,
                }
            });
            Beside {
                early,
                main,
                regrown,
                full_crop_again: ReturnToCrop::new(r.row.loses_top(), &self.fruit_priors).season_by_which(HALF),
                grown: grown.collect(),
            }
        };
        rows.iter().map(told).collect()
    }
}
