//! “The pot froze solid: is it dead?” asked and answered, from the lowest, the hours and the plant's state.

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::model::snapshot::Snapshot;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::cold_night::pot::{Medium, Pot, PotTemperature, Stands, through_the_night};
use crate::science::cold_night::stage::Stage;
use crate::science::exposure::{Age, Air, Circumstances, Course, Gains, Hardening, PotInAir, Response, ResponseFamily, Stand, expose};
use crate::science::hardiness::chances::WinterChances;
use crate::science::site::{PotVolume, YearsEstablished};
use crate::units::customary::LITRES_PER_US_GALLON;
use crate::units::{Celsius, Interval, TemperatureDelta, within};

/// Fields.
pub const PARAMETERS: [&str; 8] = ["lowest_c", "lowest_f", "hours", "measured", "container_l", "container_gal", "years", "stage"];
/// Spread of a lowest temperature that somebody read or remembers, K: as a thermometer elsewhere in the garden. DESIGN.
const READ_K: f64 = 1.5;
/// Longest frost asked about, h.
const MOST_HOURS: f64 = 24.0 * 60.0;
const STEPS: usize = 240;
/// Hardiness that the tables of chances cover, °C.
const HARDINESS: Interval<f64> = Interval { low: -30.0, high: 0.0 };

/// The question.
#[derive(Debug, Clone)]
pub struct FrozenQuestion {
    /// Lowest air about the pot, or lowest of its medium.
    pub lowest: Celsius,
    /// The lowest was read in the pot.
    pub in_the_pot: bool,
    /// Hours near that lowest, frozen through.
    pub hours: f64,
    /// Volume, L; `None`: not said.
    pub litres: Option<f64>,
    /// Years since planting.
    pub years: YearsEstablished,
    /// State.
    pub stage: Stage,
}

/// The answer.
#[derive(Debug, Clone)]
pub struct FrozenAnswer {
    /// What it has done to a fig of unknown kind, with the range of what is not known.
    pub chances: WinterChances,
    /// The pot at its coldest.
    pub pot: PotTemperature,
    /// Root temperature at which half die, °C, with its spread.
    pub limit: crate::science::numeric::Gaussian,
    /// Hours after which the pot has come within a tenth of the way to the air.
    pub settles_h: f64,
    /// Volume taken, L.
    pub litres: f64,
}

impl FrozenQuestion {
    /// Reads it.
    pub fn parse(pairs: &[(String, String)]) -> Result<Self, FieldErrors> {
        let mut read = Fields::lenient(pairs, &PARAMETERS);
        let lowest = read.temperature("lowest_c", "lowest_f");
        let asked_wrong = ["lowest_c", "lowest_f"].iter().any(|name| read.errors.of(name).is_some());
        match lowest {
            None if !asked_wrong => {
                read.errors.add("lowest_c", "", "write the lowest temperature it met: a pot does not freeze solid without one");
            }
            Some(t) if t.degrees() >= 0.0 => {
                read.errors.add("lowest_c", "", format!("nothing freezes at {t}; write the lowest temperature it met, below 0 °C (32 °F)"));
            }
            _ => {}
        }
        let hours = read.number("hours", |h| within("hours near that lowest", "h", h, 0.0, MOST_HOURS));
        let litres = read.number("container_l", PotVolume::new);
        let gallons = read.number("container_gal", |x| PotVolume::new(x * LITRES_PER_US_GALLON));
        let litres = read.either(("container_l", litres), ("container_gal", gallons)).map(PotVolume::litres);
        let years = read.whole("years", "a number of whole years since planting", 0..=200);
        let stage = read.word("stage").unwrap_or(Stage::Hard);
        let in_the_pot = read.value("measured") == Some("pot");
        read.errors.into_result()?;
        Ok(Self {
            lowest: lowest.unwrap_or(Celsius::literal(0.0)),
            in_the_pot,
            hours: hours.unwrap_or(12.0),
            litres,
            years: years.and_then(|y| YearsEstablished::new(y.unsigned_abs().into()).ok()).unwrap_or(YearsEstablished::ESTABLISHED),
            stage,
        })
    }
}

impl Snapshot {
    /// What the frost has done. The pot is frozen through when the hours begin, so that its heat of freezing is spent.
    pub fn frozen_answer(&self, question: &FrozenQuestion) -> FrozenAnswer {
        let priors = &self.priors;
        let litres = question.litres.unwrap_or(priors.roots.litres_assumed);
        let pot = Pot::new(litres, Stands::OnGround, false);
        let after = |air_c: f64| {
            if question.in_the_pot {
                return PotTemperature { wall_c: air_c, mean_c: air_c, centre_c: air_c };
            }
            // A hair below 0 °C: frozen through.
            through_the_night(&pot, Medium::at(-1e-6), question.hours, STEPS, |_| air_c.min(0.0)).coldest
        };
        let lowest = question.lowest.degrees();
        let course = (-12..=12).map(|step| lowest + 0.5 * f64::from(step)).map(|air_c| (air_c, after(air_c))).collect();
        let prior = self.night_priors.stage(question.stage);
        let circumstances = Circumstances {
            air: Air {
                lowest: WinterMinimum::Normal { mean: question.lowest, spread: TemperatureDelta::literal(READ_K) },
                doubt_k: 0.0,
                windy_share: 0.0,
                course: Course::followed(course),
            },
            setting: None,
            gains: Gains::NONE,
            stand: Stand::Pot(PotInAir::on_ground(litres)),
            age: Age { years: Some(question.years.years()), wood_years: None }.effects(priors),
            hardening: Hardening::Stage { share: prior.share, sd_k: prior.sd_k, tender: priors.tender },
            roots_growing: question.stage.roots_active(),
            nights: None,
        };
        let exposure = expose(&circumstances, priors);
        let limit = exposure.roots.as_ref().map_or(priors.roots.death, |roots| roots.death);
        let family = ResponseFamily::one(Response::new(exposure, &self.scale, HARDINESS));
        // A frozen pot: its time constant without the water's heat of freezing, some 0.7 of the thawed one's.
        let frozen = crate::science::cold_night::pot::FROZEN_HEAT_J_M3K / crate::science::cold_night::pot::HEAT_J_M3K;
        FrozenAnswer {
            chances: family.chances(&priors.belief(None, false)),
            pot: after(lowest),
            limit,
            settles_h: pot.time_constant_h() * frozen * 10f64.ln(),
            litres,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dead(query: &str) -> f64 {
        let pairs: Vec<(String, String)> =
            query.split('&').filter_map(|p| p.split_once('=')).map(|(k, v)| (k.to_owned(), v.to_owned())).collect();
        let question = FrozenQuestion::parse(&pairs).unwrap();
        Snapshot::from_seed().unwrap().frozen_answer(&question).chances.chance.dead
    }

    #[test]
    fn colder_longer_smaller_younger_and_awake_never_fares_better() {
        let rising = |queries: &[&str]| {
            let chances: Vec<f64> = queries.iter().map(|q| dead(q)).collect();
            assert!(chances.is_sorted() && chances[0] < chances[chances.len() - 1], "{queries:?}: {chances:?}");
        };
        rising(&["lowest_c=-4", "lowest_c=-8", "lowest_c=-12", "lowest_c=-18"]);
        rising(&["lowest_c=-12&hours=1", "lowest_c=-12&hours=12", "lowest_c=-12&hours=72"]);
        rising(&["lowest_c=-12&container_l=80", "lowest_c=-12&container_l=10", "lowest_c=-12&container_l=2"]);
        rising(&["lowest_c=-8&years=6", "lowest_c=-8&years=1"]);
        rising(&["lowest_c=-6", "lowest_c=-6&stage=growing"]);
    }

    /// Growers report potted figs that were frozen for weeks in garages at −12 to −14 °C and lived (the note of `root_death`); nobody reports one
    /// that lived through −20 °C in the pot itself.
    #[test]
    fn a_dormant_pot_frozen_mildly_most_likely_lives_and_one_at_minus_twenty_does_not() {
        assert!(dead("lowest_c=-6&hours=200&years=6") < 0.2, "{}", dead("lowest_c=-6&hours=200&years=6"));
        assert!(dead("lowest_c=-20&measured=pot&years=6") > 0.8);
    }
}
