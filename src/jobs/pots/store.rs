//! “Will this garage do?” asked and answered: readings or a kind of store, the outside's winters, and how often they would have been too much.

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::shortlist::question::Question;
use crate::model::snapshot::Snapshot;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::cold_night::places::{Place, PlaceError, StoreKind};
use crate::science::exposure::{Exposure, PotInAir, Response, ResponseFamily, Stand, StoreAir, circumstances_of, expose};
use crate::science::hardiness::chances::WinterChances;
use crate::science::numeric::Gaussian;
use crate::science::site::{Culture, PotVolume, Protection};
use crate::units::{Celsius, Interval};

/// Fields beside those of the place.
pub const PARAMETERS: [&str; 9] =
    ["kind", "outside_1_c", "outside_1_f", "inside_1_c", "inside_1_f", "outside_2_c", "outside_2_f", "inside_2_c", "inside_2_f"];
/// Inside at or above this from day to day the buds do not wait, °C: the base of spring's heat sums. COMMON_PRACTICE.
const WAKES_C: f64 = 8.0;
/// Range of hardiness that the tables of chances cover, °C.
const HARDINESS: Interval<f64> = Interval { low: -30.0, high: 0.0 };

/// The question.
#[derive(Debug, Clone)]
pub struct StoreQuestion {
    /// Where, with pot and age.
    pub place: Question,
    /// Kind of store.
    pub kind: StoreKind,
    /// Own readings: outside and inside, °C.
    pub readings: Vec<(f64, f64)>,
}

/// A limit of roots against the store's winters.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// What happens there.
    pub what: &'static str,
    /// At this temperature of the root zone half of plants have it, °C.
    pub roots_c: f64,
    /// Outside temperature at which the air inside comes to that.
    pub outside_c: Celsius,
    /// Winters in a hundred whose coldest night is colder than that.
    pub winters_in_hundred: f64,
}

/// The answer.
#[derive(Debug, Clone)]
pub struct StoreAnswer {
    /// The store's line.
    pub line: Place,
    /// Coldest nights outside and inside: winters in ten that are colder, outside, inside with its spread.
    pub nights: Vec<(f64, Celsius, Gaussian)>,
    /// Limits of roots.
    pub limits: Vec<Limit>,
    /// What a winter does to a dormant fig of unknown kind in such a pot.
    pub winter: WinterChances,
    /// Chance of death in the open, same pot.
    pub dies_in_the_open: f64,
    /// Volume of the pot, L.
    pub litres: f64,
    /// Whether it is in its first three winters.
    pub young: bool,
    /// On a mild winter's coldest night it stays so warm inside that buds may not wait.
    pub wakes: bool,
}

impl StoreQuestion {
    /// Reads it. The pot is one that is carried in, whatever else was said of the planting.
    pub fn parse(pairs: &[(String, String)]) -> Result<Self, FieldErrors> {
        let mut read = Fields::lenient(pairs, &PARAMETERS);
        let kind = read.word("kind");
        let reading = |read: &mut Fields<'_>, out: (&'static str, &'static str), inside: (&'static str, &'static str)| {
            let (outdoors, indoors) = (read.temperature(out.0, out.1), read.temperature(inside.0, inside.1));
            match (outdoors, indoors) {
                (Some(o), Some(i)) if i.degrees() < o.degrees() - 1.0 => {
                    read.errors.add(
                        inside.0,
                        "",
                        "it reads colder inside than outside; a closed store does not, so one of the two was read wrongly",
                    );
                    None
                }
                (Some(o), Some(i)) => Some((o.degrees(), i.degrees())),
                (Some(_), None) => {
                    read.errors.add(inside.0, "", "write what it was inside on that night, or leave both blank");
                    None
                }
                (None, Some(_)) => {
                    read.errors.add(out.0, "", "write what it was outside on that night, or leave both blank");
                    None
                }
                (None, None) => None,
            }
        };
        let first = reading(&mut read, ("outside_1_c", "outside_1_f"), ("inside_1_c", "inside_1_f"));
        let second = reading(&mut read, ("outside_2_c", "outside_2_f"), ("inside_2_c", "inside_2_f"));
        let readings: Vec<(f64, f64)> = first.into_iter().chain(second).collect();
        if let [a, b] = readings[..]
            && let Err(PlaceError::Slope { .. }) = Place::from_pairs(&[a, b], kind.unwrap_or(StoreKind::Detached), a.0)
        {
            read.errors.add("inside_2_c", "", "by these two nights it would get warmer inside as it gets colder outside; take two nights that differ by a few degrees, without a heater or an open door");
        }
        if kind.is_none() && readings.is_empty() && read.errors.is_empty() {
            read.errors.add("kind", "", "say what kind of store it is, or give two nights’ readings");
        }
        let mut place: Vec<(String, String)> = pairs.iter().filter(|(name, _)| !PARAMETERS.contains(&name.as_str())).cloned().collect();
        place.retain(|(name, _)| !matches!(name.as_str(), "culture" | "protection" | "store" | "setting"));
        place.extend([("culture", "container"), ("protection", "carried_in")].map(|(name, value)| (name.to_owned(), value.to_owned())));
        let asked = match Question::parse(&place, false) {
            Ok(asked) => Some(asked),
            Err(wrong) => {
                wrong.into_vec().into_iter().for_each(|e| read.errors.add(e.field, &e.value, e.message));
                None
            }
        };
        let errors = read.errors;
        match asked {
            Some(place) if errors.is_empty() => Ok(Self { place, kind: kind.unwrap_or(StoreKind::Detached), readings }),
            _ => Err(errors),
        }
    }
}

impl Snapshot {
    /// What the store does through the winters of its place.
    pub fn store_answer(&self, question: &StoreQuestion) -> Result<StoreAnswer, PlaceError> {
        let priors = &self.priors;
        let site = question.place.site(priors);
        let outside = site.winter;
        let line = Place::from_pairs(&question.readings, question.kind, outside.mean().degrees())?;
        let litres = match site.culture {
            Culture::Container(Some(volume)) => volume.litres(),
            _ => priors.roots.litres_assumed,
        };
        let mut inside = circumstances_of(&site, priors);
        inside.stand = Stand::Store(StoreAir::of_place(&line), Some(PotInAir::on_ground(litres)));
        let belief = priors.belief(None, false);
        let chances = |exposure: Exposure| ResponseFamily::one(Response::new(exposure, &self.scale, HARDINESS)).chances(&belief);
        let volume = PotVolume::new(litres).ok();
        let open =
            crate::science::site::Site { protection: Protection::None, store: None, culture: Culture::Container(volume), ..site.clone() };
        let night = |often: f64| {
            let c = outside.quantile(often);
            (10.0 * often, c, line.inside(Gaussian::new(c.degrees(), 0.0)))
        };
        let nights: Vec<_> = [0.5, 0.1, 0.02].into_iter().map(night).collect();
        let young = inside.age.young;
        let death = if young { priors.roots.death_young } else { priors.roots.death };
        let limits = [("it loses its young roots, and growth is set back", priors.roots.young_roots), ("it dies", death)]
            .into_iter()
            .map(|(what, limit)| limit_of(what, limit.mean, &line, &outside))
            .collect();
        let mild = line.inside(Gaussian::new(outside.quantile(0.9).degrees(), 0.0));
        Ok(StoreAnswer {
            line,
            nights,
            limits,
            winter: chances(expose(&inside, priors)),
            dies_in_the_open: chances(expose(&circumstances_of(&open, priors), priors)).chance.dead,
            litres,
            young,
            wakes: mild.mean > WAKES_C,
        })
    }
}

fn limit_of(what: &'static str, roots_c: f64, line: &Place, outside: &WinterMinimum) -> Limit {
    let at = ((roots_c - line.a_c) / line.b.max(1e-3)).clamp(Celsius::MIN, Celsius::MAX);
    let spread = Gaussian::new(outside.mean().degrees(), outside.sd().kelvin());
    Limit { what, roots_c, outside_c: Celsius::literal(at), winters_in_hundred: 100.0 * spread.cdf(at) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(query: &str) -> Vec<(String, String)> {
        query.split('&').filter_map(|p| p.split_once('=')).map(|(k, v)| (k.to_owned(), v.to_owned())).collect()
    }

    fn answer(query: &str) -> StoreAnswer {
        Snapshot::from_seed().unwrap().store_answer(&StoreQuestion::parse(&pairs(query)).unwrap()).unwrap()
    }

    #[test]
    fn a_garage_on_the_house_does_where_a_shed_fails_more_often_and_the_open_most() {
        let at = |kind| answer(&format!("zone=6a&climate=continental&kind={kind}&container_l=20"));
        let [cellar, attached, detached] = ["cellar", "attached", "detached"].map(at);
        let dies = |a: &StoreAnswer| a.winter.chance.dead;
        assert!(dies(&cellar) < dies(&attached) && dies(&attached) < dies(&detached) && dies(&detached) < detached.dies_in_the_open);
        assert!(dies(&attached) < 0.3 && detached.dies_in_the_open > 0.6, "{} {}", dies(&attached), detached.dies_in_the_open);
        assert!(detached.limits[0].winters_in_hundred > detached.limits[1].winters_in_hundred);
    }

    /// Two nights by hand: 0 °C outside with 6 inside and −10 with 1 make the inside 6 + 0.5·outside; −5 is reached at −22 °C.
    #[test]
    fn two_readings_replace_the_kind() {
        let own = answer("zone=6b&kind=detached&outside_1_c=0&inside_1_c=6&outside_2_c=-10&inside_2_c=1");
        assert!((own.line.a_c - 6.0).abs() < 1e-9 && (own.line.b - 0.5).abs() < 1e-9);
        assert!((own.limits[0].outside_c.degrees() + 22.0).abs() < 1e-9);
    }

    #[test]
    fn half_a_reading_a_store_colder_than_outside_and_no_store_at_all_are_asked_again() {
        let wrong = |query: &str| StoreQuestion::parse(&pairs(query)).unwrap_err();
        assert!(wrong("zone=7a&kind=detached&outside_1_c=-3").of("inside_1_c").is_some());
        assert!(wrong("zone=7a&kind=detached&outside_1_c=-3&inside_1_c=-9").of("inside_1_c").is_some());
        assert!(wrong("zone=7a").of("kind").is_some() && wrong("kind=cellar").of("place").is_some());
    }
}
