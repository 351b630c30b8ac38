//! Simulated gardeners, plants and winter reports for `--demo`: invented from the priors, labelled as simulated wherever they show.

use jiff::civil::Date;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::catalogue::{Catalogue, Cultivar, Slug};
use crate::records::winter::{Hemisphere, Winter};
use crate::records::words::{Cover, Fruit, JudgedBy, LossCause, Regrowth, Stage, Thermometer, TopKilled, TypedUnit, Vitality};
use crate::records::{Coldest, FirstGrowth, HeatMet, WinterRecord};
use crate::science::climate::season::{Origin, Season};
use crate::science::cultivar::FruitKind;
use crate::science::fruiting::{DegreeDayCurve, FruitPriors, FruitTraits};
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::observation::{Conditions, CultivarPrior};
use crate::science::hardiness::simulate::{Truth, normal};
use crate::science::numeric::Gaussian;
use crate::science::priors::Priors;
use crate::science::site::{Culture, Protection, YearsEstablished};
use crate::units::Celsius;

/// Everything drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Demo {
    /// Number of gardeners.
    pub gardeners: u32,
    /// Their plants.
    pub plants: Vec<DemoPlant>,
    /// Reports, by winter and plant.
    pub reports: Vec<DemoReport>,
}

/// A simulated plant.
#[derive(Debug, Clone, PartialEq)]
pub struct DemoPlant {
    /// Whose, counted from 0.
    pub gardener: u32,
    /// Cultivar of the catalogue.
    pub cultivar: Slug,
    /// Its name as the gardener would write it.
    pub name: String,
    /// Year planted.
    pub planted: i16,
    /// Ground or pot.
    pub culture: Culture,
}

/// A simulated report.
#[derive(Debug, Clone, PartialEq)]
pub struct DemoReport {
    /// Place in [`Demo::plants`].
    pub plant: usize,
    /// The answers.
    pub record: WinterRecord,
}

/// Gardeners drawn.
pub(super) const GARDENERS: u32 = 28;
/// Winters drawn.
const WINTERS: i16 = 9;
/// Yearly minima over the invented gardens, °C.
const GARDENS: Gaussian = Gaussian::new(-14.0, 3.5);
/// Spread of winters in one garden, K; half of the variance is common to all.
const WINTER_SPREAD_K: f64 = 3.2;
/// Error of the invented thermometers, K: that of one at the plant.
const THERMOMETER_K: f64 = 0.5;

struct Garden {
    usual: f64,
    harshness: f64,
    cover: Protection,
}

/// Draws a demonstration whose last winter began in `last_winter`. The same seed gives the same reports.
pub fn demo_reports(seed: u64, catalogue: &Catalogue, priors: &Priors, fruit: &FruitPriors, last_winter: i16) -> Demo {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let beliefs: Vec<CultivarPrior> = catalogue
        .cultivars()
        .iter()
        .map(|c| CultivarPrior { class: c.hardiness_class.known(), from_memory: c.hardiness_class.provenance.rests_on_memory_alone() })
        .collect();
    let truth = Truth::draw(priors, &beliefs, &mut rng);
    let first_winter = last_winter - WINTERS + 1;
    let gardens: Vec<Garden> = (0..GARDENERS)
        .map(|_| Garden {
            usual: normal(&mut rng, GARDENS),
            harshness: normal(&mut rng, Gaussian::new(0.0, truth.sigma_r)),
            cover: [Protection::None, Protection::None, Protection::Mulch, Protection::Wrap][rng.random_range(0..4)],
        })
        .collect();
    // Invented cultivars alone where the catalogue has any.
    let is_grown = |c: &crate::catalogue::Cultivar| c.is_invented() || !catalogue.has_invented();
    let grown: Vec<usize> = catalogue.cultivars().iter().enumerate().filter(|(_, c)| is_grown(c)).map(|(place, _)| place).collect();
    let mut plants = Vec::new();
    let mut places = Vec::new();
    for gardener in 0..GARDENERS {
        for _ in 0..rng.random_range(3..8) {
            let u: f64 = rng.random();
            // The first of them are the commonest in gardens.
            let Some(&place) = grown.get((u * u * grown.len() as f64) as usize) else { continue };
            let Some(cultivar) = catalogue.cultivars().get(place) else { continue };
            places.push(place);
            plants.push(DemoPlant {
                gardener,
                cultivar: cultivar.slug.clone(),
                name: cultivar.name.clone(),
                planted: first_winter - rng.random_range(0..8),
                culture: if rng.random_bool(0.12) { Culture::Container(None) } else { Culture::Ground },
            });
        }
    }
    let mut alive = vec![true; plants.len()];
    // Year in which the standing wood of each began to grow.
    let mut wood_since: Vec<i16> = plants.iter().map(|plant| plant.planted).collect();
    let mut seasons = Seasons::draw(seed, catalogue, fruit);
    let mut reports = Vec::new();
    let shared = WINTER_SPREAD_K * std::f64::consts::FRAC_1_SQRT_2;
    for year in first_winter..=last_winter {
        let Ok(winter) = Winter::new(year, Hemisphere::North) else { continue };
        let common = normal(&mut rng, Gaussian::new(0.0, shared));
        let here: Vec<f64> = gardens.iter().map(|g| g.usual + common + normal(&mut rng, Gaussian::new(0.0, shared))).collect();
        for (place, plant) in plants.iter().enumerate().filter(|(place, _)| alive[*place]).collect::<Vec<_>>() {
            let garden = &gardens[plant.gardener as usize];
            let conditions = Conditions {
                years: YearsEstablished::new((year - plant.planted).max(0).unsigned_abs().into()).ok(),
                wood_years: YearsEstablished::new((year - wood_since[place]).max(0).unsigned_abs().into()).ok(),
                container: matches!(plant.culture, Culture::Container(_)),
                protection: garden.cover,
            };
            let truly = here[plant.gardener as usize];
            let damage = truth.damage(priors, places[place], conditions, truly, garden.harshness, &mut rng);
            let read = (10.0 * normal(&mut rng, Gaussian::new(truly, THERMOMETER_K))).round() / 10.0;
            let told = rng.random_bool(0.7);
            let wood_years = u8::try_from(year - wood_since[place]).ok();
            match damage {
                DamageLevel::Dead => alive[place] = false,
                DamageLevel::ToGround => wood_since[place] = year + 1,
                _ => {}
            }
            if let (true, Ok(coldest)) = (told, Celsius::new(read)) {
                let mut record = record(winter, damage, coldest, garden.cover);
                record.wood_years = wood_years;
                seasons.date(&mut record, places[place], damage, garden.usual);
                reports.push(DemoReport { plant: place, record });
            }
        }
    }
    Demo { gardeners: GARDENERS, plants, reports }
}

/// What spring and autumn were in the invented gardens: a truth drawn from the tables, on random numbers of its own.
struct Seasons<'a> {
    rng: ChaCha8Rng,
    priors: &'a FruitPriors,
    traits: Vec<FruitTraits>,
    /// By how much each cultivar needs more than the tables say, degree-days.
    needs: Vec<f64>,
}

/// Share of invented reporters who give dates of growth and fruit.
const GIVES_DATES: f64 = 0.6;
/// Spread of single first ripe dates about what a cultivar needs, degree-days.
const RIPE_SPREAD: f64 = 150.0;
/// Shape of first growth, as in the tables.
const SHOWN_SHAPE: f64 = 2.8;

impl<'a> Seasons<'a> {
    fn draw(seed: u64, catalogue: &Catalogue, priors: &'a FruitPriors) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0xF16);
        let traits: Vec<FruitTraits> = catalogue.cultivars().iter().map(Cultivar::fruit_traits).collect();
        let needs = traits.iter().map(|_| normal(&mut rng, Gaussian::new(0.0, priors.cultivar_spread))).collect();
        Self { rng, priors, traits, needs }
    }

    /// Adds dates of growth and fruit to a report, with the heat that a daily record of the garden would have counted.
    fn date(&mut self, record: &mut WinterRecord, cultivar: usize, damage: DamageLevel, usual_minimum: f64) {
        let uniform: f64 = self.rng.random();
        let (warmer, extra) = (normal(&mut self.rng, Gaussian::new(0.0, 0.7)), normal(&mut self.rng, Gaussian::new(0.0, RIPE_SPREAD)));
        if !self.rng.random_bool(GIVES_DATES) || damage == DamageLevel::Dead {
            return;
        }
        let season = Season::bounded(
            Season::assumed_days(Celsius::literal(usual_minimum.clamp(-40.0, 10.0))),
            Celsius::literal(24.0 + warmer),
            Origin::Given,
            Origin::Given,
        );
        let curve = DegreeDayCurve::from_season(&season, 0.0, self.priors);
        let turn = record.winter.heat_from();
        let day_of = |date: Date| turn.until(date).map_or(0.0, |span| f64::from(span.get_days()));
        let date_of = |day: f64| turn.checked_add(jiff::Span::new().days(day as i32)).ok();
        let Some(law) = self.priors.shown(damage) else { return };
        // Drawn by inverting the Weibull law of first growth.
        let grown = law.ln_median.mean.exp() * (-(1.0 - uniform).log2()).powf(1.0 / SHOWN_SHAPE);
        let growth = curve.day_reaching(grown).and_then(date_of).filter(|&date| date <= record.looked);
        let Some(growth) = growth else {
            record.first_growth = Some(FirstGrowth::NotBy(record.looked));
            record.regrew = None;
            record.judged_by = Some(JudgedBy::Scratched);
            record.heat = Some(HeatMet {
                site: None,
                to_growth: Some(tenth(curve.until(day_of(record.looked)))),
                to_ripe: None,
                to_frost: None,
                harder_k: None,
            });
            return;
        };
        let from = curve.until(day_of(growth));
        record.first_growth = Some(FirstGrowth::On(growth));
        let Some(traits) = self.traits.get(cultivar) else { return };
        let ground = damage == DamageLevel::ToGround;
        let bears = traits.kind == Some(FruitKind::Common) && (!ground || traits.fruits_on_regrowth == Some(true));
        let need = self.priors.main_need(traits.ripening).mean - self.priors.leafing_degree_days.mean
            + if ground { self.priors.regrowth_need.mean } else { 0.0 }
            + self.needs.get(cultivar).copied().unwrap_or(0.0)
            + extra;
        let ripe = curve.day_reaching(from + need).filter(|&day| day < curve.hard_frost()).and_then(date_of).filter(|_| bears);
        record.fruit = Some(match ripe {
            Some(_) => Fruit::MainRipe,
            None if bears => Fruit::Unripe,
            None => Fruit::None,
        });
        record.first_ripe = ripe;
        record.heat = Some(HeatMet {
            site: None,
            to_growth: Some(tenth(from)),
            to_ripe: ripe.map(|date| tenth(curve.until(day_of(date)))),
            to_frost: (record.fruit == Some(Fruit::Unripe)).then(|| tenth(curve.until(curve.hard_frost()))),
            harder_k: None,
        });
    }
}

fn tenth(heat: f64) -> f64 {
    (heat * 10.0).round() / 10.0
}

/// The answers a reporter would give after this damage.
fn record(winter: Winter, damage: DamageLevel, coldest: Celsius, cover: Protection) -> WinterRecord {
    let (top, vitality, regrew) = match damage {
        DamageLevel::Unharmed => (TopKilled::None, Vitality::Alive, None),
        DamageLevel::Tips => (TopKilled::Tips, Vitality::Alive, None),
        DamageLevel::Wood => (TopKilled::UpToThird, Vitality::Alive, Some(Regrowth::OldWood)),
        DamageLevel::ToGround => (TopKilled::ToGround, Vitality::Alive, Some(Regrowth::BelowGround)),
        DamageLevel::Dead => (TopKilled::ToGround, Vitality::Dead, None),
    };
    let spring = Date::new(winter.year() + 1, 5, 25).unwrap_or(winter.verdict_day());
    // A verdict of dead counts from midsummer on.
    let looked = if damage == DamageLevel::Dead { winter.verdict_day() } else { spring };
    let cover = match cover {
        Protection::Mulch => Cover::Mulch,
        Protection::Wrap => Cover::Wrap,
        _ => Cover::None,
    };
    WinterRecord {
        judged_by: Some(JudgedBy::LeafedOut),
        regrew,
        cause: (damage != DamageLevel::Unharmed).then_some(LossCause::Cold),
        coldest: Some(Coldest {
            celsius: coldest,
            typed: format!("{:.1}", coldest.degrees()),
            unit: TypedUnit::Celsius,
            thermometer: Thermometer::AtPlant,
        }),
        stage: Some(Stage::Hard),
        note: Some("Simulated.".to_owned()),
        complete_list: true,
        ..WinterRecord::new(winter, looked, top, vitality, cover)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table;
    use crate::science::hardiness::observation::DamageRange;

    #[test]
    fn a_seed_gives_the_same_demonstration_and_every_answer_means_what_was_drawn() {
        let (catalogue, priors) = (Catalogue::embedded().unwrap(), prior_table::priors().unwrap());
        let fruit = prior_table::fruit_priors().unwrap();
        let demo = demo_reports(7, &catalogue, &priors, &fruit, 2025);
        assert_eq!(demo, demo_reports(7, &catalogue, &priors, &fruit, 2025));
        assert!(demo.reports.len() > 300, "{}", demo.reports.len());
        for report in &demo.reports {
            report.record.check_season().unwrap();
        }
        assert!(demo.reports.iter().filter(|r| r.record.first_ripe.is_some()).count() > 30);
        let winter = Winter::new(2020, Hemisphere::North).unwrap();
        for level in DamageLevel::ALL {
            let answers = record(winter, level, Celsius::literal(-12.0), Protection::None);
            assert_eq!(answers.damage(), Some(DamageRange::exactly(level)));
        }
    }
}
