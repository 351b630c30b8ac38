//! A member's figs today, from the usual year of their place: how far hardened, which night harms them now and how likely one is this week (by a
//! forecast where one is kept), when they wake and how long to wait. No I/O.

use jiff::civil::Date;

use crate::catalogue::Slug;
use crate::jobs::home::this_week::WeekAhead;
use crate::jobs::season::dates::{days, turn_before};
use crate::jobs::season::first_winter::FirstWinter;
use crate::jobs::season::safe::STAGES;
use crate::jobs::shortlist::question::Question;
use crate::jobs::spring::place_year::PlaceYear;
use crate::model::snapshot::Snapshot;
use crate::records::Plant;
use crate::science::climate::season::{CREST_DAY_NORTH, YEAR_DAYS};
use crate::science::climate::winters::Hemisphere;
use crate::science::cultivar::HardinessClass;
use crate::science::fruiting::FruitTraits;
use crate::science::fruiting::wait::wait_until;
use crate::science::fruiting::year::{RipeDays, YearSoFar, year_outlook};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::hardening::HardeningModel;
use crate::science::hardiness::level::DamageLevel;
use crate::science::site::{Culture, Settings, Site, YearsEstablished};
use crate::units::Celsius;

/// Most groups of alike plants that are shown, those with most plants first. DESIGN: a page read on a phone.
pub const MOST_GROUPS: usize = 8;
/// Most figs in the picture of the year. DESIGN.
const MOST_LANES: usize = 4;
/// Years from which on plants count as alike: the chances of older ones hardly differ by age. DESIGN, as the ages of the shortlist.
const GROWN_UP: u8 = 5;
/// Day of the year from which hardening is counted: 1 October, in the south 1 April, as the model of hardening is.
const HARDENING_FROM: f64 = 273.0;
/// Days that “this week” has.
const WEEK: f64 = 7.0;

/// Alike plants: one kind, grown in one way, of one age.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Its name: of the catalogue, or as written.
    pub name: String,
    /// Its entry of the catalogue.
    pub slug: Option<Slug>,
    /// Ground or pot.
    pub culture: Culture,
    /// Winters it has stood, at most [`GROWN_UP`]; `None` where the year is not known.
    pub years: Option<u8>,
    /// How many.
    pub plants: usize,
}

/// What is said of a group today.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupNow {
    /// Which.
    pub group: Group,
    /// How far on the way from tender to its hardiest, 0 to 1; `None` in growth.
    pub hardened: Option<f64>,
    /// The night that now costs one plant in ten some of its older wood, or worse; in growth the one that hurts green leaves. `None`: none
    /// that comes anywhere.
    pub harmed_below: Option<Celsius>,
    /// Chance of such a night: of the likeliest of those that are forecast, which is named, else in the coming seven days of a usual year.
    pub this_week: Option<f64>,
    /// That night, by its evening.
    pub likeliest: Option<Date>,
}

/// The whole answer. Days are counted from the turn of the year.
#[derive(Debug)]
pub struct MyFigs {
    /// Half of the Earth.
    pub hemisphere: Hemisphere,
    /// Today.
    pub today: Date,
    /// Whether a fig is asleep today in a usual year.
    pub asleep: bool,
    /// Each group.
    pub groups: Vec<GroupNow>,
    /// Kinds that are left out.
    pub more: usize,
    /// First undamaged plants wake.
    pub wakes: f64,
    /// Leaves may have fallen.
    pub leaf_fall: f64,
    /// Nothing is dug out before, however dead it looks.
    pub not_dead_before: f64,
    /// What those in their first three winters ask for.
    pub young: Option<FirstWinter>,
    /// The usual year.
    pub year: PlaceYear,
    /// Crops of some kinds.
    pub lanes: Vec<(String, [Option<RipeDays>; 2])>,
}

/// Groups of alike plants, those with most first.
fn groups(plants: &[&Plant], snapshot: &Snapshot, year: i16) -> Vec<Group> {
    let mut all: Vec<Group> = Vec::new();
    for plant in plants {
        let known = plant.cultivar.as_ref().and_then(|slug| snapshot.catalogue.get(slug.as_str()));
        let group = Group {
            name: known.map_or_else(|| plant.name_written.clone(), |cultivar| cultivar.name.clone()),
            slug: known.map(|cultivar| cultivar.slug.clone()),
            // What size of pot is one question too many for a glance.
            culture: if plant.culture == Culture::Ground { Culture::Ground } else { Culture::Container(None) },
            years: plant.planted.map(|planted| u8::try_from(year - planted).unwrap_or(0).min(GROWN_UP)),
            plants: 1,
        };
        match all.iter_mut().find(|other| Group { plants: 1, ..(*other).clone() } == group) {
            Some(same) => same.plants += 1,
            None => all.push(group),
        }
    }
    all.sort_by_key(|group| std::cmp::Reverse(group.plants));
    all
}

/// How far a plant of a class has hardened by a day of the usual year: its share of the way, and by how many K it is harder than on the nights
/// that its hardiness is known of.
fn hardened(class: HardinessClass, year: &PlaceYear, today: f64) -> (f64, f64) {
    let model = HardeningModel::fig(class);
    let mut plant = model.start();
    let until = if today < HARDENING_FROM { today + YEAR_DAYS } else { today };
    let mut day = HARDENING_FROM;
    while day <= until {
        plant.pass(year.site.season.daily_mean_c(day - CREST_DAY_NORTH));
        day += 1.0;
    }
    let share = 1.0 - plant.deficit().kelvin() / model.range_k();
    (share, (HardeningModel::fig_reference(class) - plant.hardiness()).kelvin())
}

/// The site of a group, whose hardening is counted beside it.
fn site_of(group: &Group, year: &PlaceYear) -> Option<Site> {
    let years = group.years.map_or(Some(year.site.years), |years| YearsEstablished::new(u32::from(years)).ok())?;
    Site {
        culture: group.culture,
        setting: Settings::OPEN,
        years,
        wood_years: None,
        hardening_counted: true,
        hardening_doubt_k: 0.0,
        ..year.site.clone()
    }
    .checked()
    .ok()
}

impl Snapshot {
    /// A member's living plants today, at a place that is asked about in the words of `place`, its coming nights by a forecast where there is one; `None` where there are none, or the place
    /// cannot be looked up.
    pub fn my_figs(&self, plants: &[&Plant], place: &str, today: Date, week: Option<&WeekAhead>) -> Option<MyFigs> {
        let question = Question::parse(&[("place".to_owned(), place.to_owned())], false).ok()?;
        let south = question.said.as_ref()?.spot.as_ref()?.town.at.0 < 0.0;
        let hemisphere = if south { Hemisphere::South } else { Hemisphere::North };
        let year = self.place_year(&question, None);
        let day = days(turn_before(hemisphere, today), today);
        let asleep = year.rest.sleeps(day, year.curve.until(day));
        let all = groups(plants, self, today.year());
        if all.is_empty() {
            return None;
        }
        let belief = |group: &Group| {
            let standing = group.slug.as_ref().and_then(|slug| self.standing(slug.as_str()));
            standing.map_or_else(|| self.priors.belief(None, false), |standing| standing.belief.clone())
        };
        let class = |group: &Group| {
            let standing = group.slug.as_ref().and_then(|slug| self.standing(slug.as_str()));
            standing.and_then(|standing| standing.class).unwrap_or(HardinessClass::MIDDLING)
        };
        let now = |group: &Group| {
            let hardened = asleep.then(|| hardened(class(group), &year, day));
            // A share of what is computed for grapes is taken as real for figs, as in the plan of a night.
            let harder_k = hardened.map(|(_, harder_k)| harder_k * self.priors.hardening_share.mean);
            let harmed_below = match harder_k {
                Some(harder_k) => {
                    let night = site_of(group, &year).and_then(|site| self.night_that_harms(&site, &[&belief(group)]));
                    night.and_then(|night| Celsius::new(night.degrees() - harder_k).ok())
                }
                None => Some(STAGES[0].threshold),
            };
            let forecast = harmed_below.and_then(|below| week?.likeliest(below.degrees()));
            let usual = || harmed_below.map(|below| year.nights.between(day, day + WEEK, below.degrees()).chance);
            GroupNow {
                group: group.clone(),
                hardened: hardened.map(|(share, _)| share),
                this_week: forecast.map_or_else(usual, |(_, chance)| Some(chance)),
                likeliest: forecast.map(|(night, _)| night.evening),
                harmed_below,
            }
        };
        let young: Vec<&Group> = all.iter().filter(|group| group.years.is_some_and(|years| years < 3)).collect();
        let tender: Vec<HardinessBelief> = young.iter().map(|group| belief(group)).collect();
        let young_site = young.first().and_then(|group| site_of(group, &year));
        let lanes = all.iter().filter_map(|group| Some((group, self.standing(group.slug.as_ref()?.as_str())?.fruit)));
        let crops = |traits: FruitTraits| {
            let so_far = YearSoFar::default();
            let outlook = year_outlook(&traits, DamageLevel::Unharmed, &year.curve, &year.heat, &so_far, &self.fruit_priors);
            [outlook.breba.days, outlook.main.days]
        };
        let mut named: Vec<(String, [Option<RipeDays>; 2])> = Vec::new();
        for (group, traits) in lanes {
            if named.len() < MOST_LANES && !named.iter().any(|(name, _)| *name == group.name) {
                named.push((group.name.clone(), crops(traits)));
            }
        }
        Some(MyFigs {
            hemisphere,
            today,
            asleep,
            groups: all.iter().take(MOST_GROUPS).map(now).collect(),
            more: all.len().saturating_sub(MOST_GROUPS),
            wakes: year.rest.bud_break,
            leaf_fall: year.rest.leaf_fall,
            not_dead_before: wait_until(&self.shown(DamageLevel::ToGround), &year.curve, &YearSoFar::default()).not_dead_before,
            young: young_site.and_then(|site| self.first_winter(&site, &tender.iter().collect::<Vec<_>>())),
            lanes: named,
            year,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;
    use crate::records::sample;
    use jiff::civil::date;

    fn on(place: &str, day: Date) -> MyFigs {
        let snapshot = Snapshot::from_priors(Catalogue::embedded().unwrap()).unwrap();
        let old = sample::report().plant;
        let young = Plant { planted: Some(day.year()), culture: Culture::Container(None), ..old.clone() };
        snapshot.my_figs(&[&old, &old.clone(), &young], place, day, None).unwrap()
    }

    #[test]
    fn alike_plants_stand_together_and_the_older_bear_more_cold_than_the_young() {
        let figs = on("Graz, Austria", date(2026, 1, 15));
        let told: Vec<_> = figs.groups.iter().map(|now| (now.group.plants, now.group.years)).collect();
        assert_eq!(told, [(2, Some(GROWN_UP)), (1, Some(0))]);
        let [old, young] = [0, 1].map(|at| figs.groups[at].harmed_below.unwrap());
        assert!(old < young, "{old} {young}");
        assert!(figs.asleep && figs.young.is_some() && figs.lanes.len() == 1);
        assert!(figs.wakes < figs.not_dead_before);
    }

    #[test]
    fn a_fig_hardens_through_autumn_and_bears_more_cold_then_and_in_summer_is_in_growth_on_either_half() {
        let old = |day| on("Graz, Austria", day).groups.remove(0);
        let [autumn, winter] = [date(2025, 11, 20), date(2026, 1, 15)].map(old);
        assert!(autumn.hardened.unwrap() < winter.hardened.unwrap(), "{autumn:?} {winter:?}");
        assert!(autumn.harmed_below.unwrap() > winter.harmed_below.unwrap());
        for now in [&autumn, &winter] {
            assert!((0.0..=1.0).contains(&now.this_week.unwrap()));
        }
        for (place, day) in [("Graz, Austria", date(2026, 7, 15)), ("Cape Town", date(2026, 1, 15))] {
            let figs = on(place, day);
            assert!(!figs.asleep && figs.groups[0].hardened.is_none(), "{place}");
        }
    }
}
