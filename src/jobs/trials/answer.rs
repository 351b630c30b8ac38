//! The trials of a place: for every fig the report that is expected to take most doubt out of the answers that people ask for.

use crate::catalogue::Cultivar;
use crate::input::errors::FieldErrors;
use crate::jobs::shortlist::question::Question;
use crate::model::snapshot::{CultivarModel, Snapshot};
use crate::science::climate::zone::HalfZone;
use crate::science::exposure::{Exposure, SharedWinter, circumstances_of, expose};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::scale::DamageScale;
use crate::science::numeric::Gaussian;
use crate::science::site::{Culture, Protection, Site};
use crate::science::trials::{Levels, Trial, doubt, expected_reduction};
use crate::store::{AskedCount, AskedKey};
use crate::units::{Celsius, TemperatureDelta};

/// Points of a belief, and nodes of a winter: its coldest night, and what else a garden shares.
const POINTS: usize = 21;
const WINTERS: usize = 7;
const COMMON: usize = 3;
/// Grid of h on which chances are tabulated, °C.
const GRID_FROM_C: f64 = -34.0;
const GRID_STEP_K: f64 = 1.0;
const GRID: usize = 36;
/// Kinds of question looked at, those asked most.
const MOST_KINDS: usize = 24;
/// What is done for a plant under trial.
const WAYS: [Protection; 2] = [Protection::None, Protection::Mulch];
/// Trials named.
pub const USUAL_TRIALS: usize = 8;
/// Most trials that can be asked for.
pub const MOST_TRIALS: usize = 100;

/// A trial.
#[derive(Debug, Clone)]
pub struct TrialAnswer<'a> {
    /// The fig.
    pub cultivar: &'a Cultivar,
    /// What is believed of it.
    pub standing: &'a CultivarModel,
    /// What is done for it in the winter.
    pub protection: Protection,
    /// Part of all doubt in what is asked that one report is expected to take out, 0..1.
    pub of_all: f64,
    /// Part of the doubt in what is asked about this fig, 0..1.
    pub of_own: f64,
    /// How often it was asked about by name.
    pub asked: i64,
    /// Chance that its top is killed in a winter there, as the model sees it.
    pub loses_top: f64,
    /// Whether it grows in the asker's garden already.
    pub own: bool,
}

/// The trials of a place.
#[derive(Debug, Clone)]
pub struct TrialsAnswer<'a> {
    /// Those that teach most, first.
    pub trials: Vec<TrialAnswer<'a>>,
    /// Questions that were counted; 0: none yet, and every half-zone from 6a to 9b counts alike.
    pub questions: i64,
}

/// Chances by h, read between the points of a grid.
struct Curve(Vec<f64>);

impl Curve {
    fn at(&self, h: f64) -> f64 {
        let place = ((h - GRID_FROM_C) / GRID_STEP_K).clamp(0.0, (GRID - 1) as f64);
        let low = (place.floor() as usize).min(GRID - 2);
        let (a, b) = (self.0.get(low).copied().unwrap_or(0.0), self.0.get(low + 1).copied().unwrap_or(0.0));
        a + (place - low as f64) * (b - a)
    }
}

fn known(h: f64) -> HardinessBelief {
    HardinessBelief::normal(Celsius::literal(h), TemperatureDelta::literal(0.0))
}

fn grid() -> impl Iterator<Item = f64> {
    (0..GRID).map(|i| GRID_FROM_C + GRID_STEP_K * i as f64)
}

fn middles(n: usize) -> impl Iterator<Item = f64> {
    (0..n).map(move |i| (i as f64 + 0.5) / n as f64)
}

/// Chance that the top is killed in a winter, by h.
fn answer_curve(exposure: &Exposure, scale: &DamageScale) -> Curve {
    Curve(
        grid()
            .map(|h| {
                let [_, _, _, ground, dead] = exposure.chance(&known(h), scale);
                ground + dead
            })
            .collect(),
    )
}

/// The winters of a trial, each with the chance of every level by h.
fn winter_curves(exposure: &Exposure, scale: &DamageScale) -> Vec<[Curve; 5]> {
    let standard = Gaussian::new(0.0, 1.0);
    middles(WINTERS)
        .map(|colder_share| {
            let levels: Vec<Levels> = grid()
                .map(|h| {
                    let mut mean = [0.0; 5];
                    for common in middles(COMMON) {
                        let winter = SharedWinter { colder_share, common_z: standard.quantile(common) };
                        let of_winter = exposure.chance_in(winter, &known(h), scale);
                        mean.iter_mut().zip(of_winter).for_each(|(sum, p)| *sum += p / COMMON as f64);
                    }
                    mean
                })
                .collect();
            [0, 1, 2, 3, 4].map(|level: usize| Curve(levels.iter().map(|of| of.get(level).copied().unwrap_or(0.0)).collect()))
        })
        .collect()
}

/// Kinds that stand for what was asked where nothing was counted: every half-zone in which figs are grown and die back.
fn every_zone() -> Vec<AskedCount> {
    let zones = HalfZone::all().map(|zone| zone.to_string()).skip_while(|zone| zone != "6a").take(8);
    zones
        .map(|zone| AskedCount {
            key: AskedKey { zone, setting: "open".to_owned(), culture: Culture::Ground.code().to_owned(), cultivar: String::new() },
            times: 1,
        })
        .collect()
}

impl Snapshot {
    fn site_of_kind(&self, key: &AskedKey) -> Option<Site> {
        let pairs = [("zone", &key.zone), ("setting", &key.setting), ("culture", &key.culture)];
        let pairs: Vec<(String, String)> = pairs.into_iter().map(|(name, value)| (name.to_owned(), value.clone())).collect();
        Some(Question::parse(&pairs, false).ok()?.site(&self.priors))
    }

    fn exposure_at(&self, site: &Site) -> Exposure {
        expose(&circumstances_of(site, &self.priors), &self.priors)
    }

    /// The trials of a place, by what was asked; `own` are the figs of the asker's garden.
    pub fn trials(&self, question: &Question, asked: &[AskedCount], own: &[String], most: usize) -> TrialsAnswer<'_> {
        let questions = asked.iter().map(|count| count.times).sum();
        let assumed = every_zone();
        let asked = if questions == 0 { &assumed } else { asked };
        let curves: Vec<(&AskedCount, Curve)> = asked
            .iter()
            .take(MOST_KINDS)
            .filter_map(|count| Some((count, answer_curve(&self.exposure_at(&self.site_of_kind(&count.key)?), &self.scale))))
            .collect();
        let here = question.site(&self.priors);
        let ways: Vec<(Protection, Exposure, Vec<[Curve; 5]>)> = WAYS
            .into_iter()
            .map(|protection| {
                let exposure = self.exposure_at(&Site { protection, store: None, ..here.clone() });
                let winters = winter_curves(&exposure, &self.scale);
                (protection, exposure, winters)
            })
            .collect();
        let kinds = self.catalogue.cultivars().len().max(1) as f64;
        let mut all_doubt = 0.0;
        let mut found: Vec<(f64, f64, TrialAnswer<'_>)> = Vec::new();
        for (cultivar, standing) in self.catalogue.cultivars().iter().zip(&self.standings) {
            let points: Vec<f64> = middles(POINTS).map(|p| standing.belief.quantile(p).degrees()).collect();
            // A question that names no fig is about every one of them.
            let weighed: Vec<(f64, Vec<f64>)> = curves
                .iter()
                .filter_map(|(count, curve)| {
                    let weight = match count.key.cultivar.as_str() {
                        "" => count.times as f64 / kinds,
                        named if named == cultivar.slug.as_str() => count.times as f64,
                        _ => return None,
                    };
                    Some((weight, points.iter().map(|&h| curve.at(h)).collect()))
                })
                .collect();
            let own_doubt: f64 = weighed.iter().map(|(weight, answer)| weight * doubt(answer)).sum();
            all_doubt += own_doubt;
            let reduction = |winters: &[[Curve; 5]]| {
                let levels =
                    |curves: &[Curve; 5]| points.iter().map(|&h| std::array::from_fn(|y| curves.get(y).map_or(0.0, |c| c.at(h)))).collect();
                let trial = Trial { winters: winters.iter().map(|curves| (1.0 / WINTERS as f64, levels(curves))).collect() };
                weighed.iter().map(|(weight, answer)| weight * expected_reduction(answer, &trial)).sum::<f64>()
            };
            let best = ways.iter().map(|(protection, exposure, winters)| (reduction(winters), *protection, exposure));
            let Some((reduced, protection, exposure)) = best.max_by(|a, b| a.0.total_cmp(&b.0)) else { continue };
            let [_, _, _, ground, dead] = exposure.chance(&standing.belief, &self.scale);
            let slug = cultivar.slug.as_str();
            let trial = TrialAnswer {
                cultivar,
                standing,
                protection,
                of_all: 0.0,
                of_own: if own_doubt > 0.0 { reduced / own_doubt } else { 0.0 },
                asked: asked.iter().filter(|count| count.key.cultivar == slug).map(|count| count.times).sum(),
                loses_top: ground + dead,
                own: own.iter().any(|own| own == slug),
            };
            found.push((reduced, own_doubt, trial));
        }
        found.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.2.cultivar.slug.cmp(&b.2.cultivar.slug)));
        let of_all = |reduced: f64| if all_doubt > 0.0 { reduced / all_doubt } else { 0.0 };
        let trials = found.into_iter().take(most).map(|(reduced, _, trial)| TrialAnswer { of_all: of_all(reduced), ..trial }).collect();
        TrialsAnswer { trials, questions }
    }
}

/// How many trials are asked for.
///
/// # Errors
/// A number that is none.
pub fn limit(pairs: &[(String, String)]) -> Result<usize, FieldErrors> {
    let mut fields = crate::input::fields::Fields::lenient(pairs, &["limit"]);
    let read = fields.number("limit", |number| {
        if number.fract() == 0.0 && (1.0..=MOST_TRIALS as f64).contains(&number) {
            Ok(number as usize)
        } else {
            Err(format!("a whole number of trials from 1 to {MOST_TRIALS} is accepted"))
        }
    });
    fields.errors.into_result()?;
    Ok(read.unwrap_or(USUAL_TRIALS))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn question(zone: &str) -> Question {
        Question::parse(&[("zone".to_owned(), zone.to_owned())], true).unwrap()
    }

    fn asked(zone: &str, cultivar: &str, times: i64) -> AskedCount {
        let key =
            AskedKey { zone: zone.to_owned(), setting: "open".to_owned(), culture: "ground".to_owned(), cultivar: cultivar.to_owned() };
        AskedCount { key, times }
    }

    #[test]
    fn a_fig_that_is_asked_about_comes_first_and_one_whose_winters_teach_nothing_does_not() {
        let snapshot = Snapshot::from_seed().unwrap();
        let often = [asked("7a", "celeste", 500), asked("7a", "", 10)];
        let first = snapshot.trials(&question("7a"), &often, &["celeste".to_owned()], 5);
        assert_eq!((first.trials[0].cultivar.slug.as_str(), first.trials[0].asked, first.trials[0].own), ("celeste", 500, true));
        assert_eq!((first.questions, first.trials.len()), (510, 5));
        assert!(first.trials.windows(2).all(|w| w[0].of_all >= w[1].of_all));
        let reduced = |answer: &TrialsAnswer<'_>| answer.trials.iter().map(|t| t.of_all).sum::<f64>();
        let mild = snapshot.trials(&question("11a"), &often, &[], 5);
        assert!(reduced(&mild) < 0.2 * reduced(&first), "{} {}", reduced(&mild), reduced(&first));
        assert!(first.trials.iter().all(|t| (0.0..=1.0).contains(&t.of_own)));
    }

    #[test]
    fn where_nothing_was_counted_every_zone_stands_for_what_is_asked() {
        let snapshot = Snapshot::from_seed().unwrap();
        let answer = snapshot.trials(&question("7b"), &[], &[], 3);
        assert_eq!((answer.questions, answer.trials.len()), (0, 3));
        assert!(answer.trials[0].of_own > 0.05);
    }
}
