//! The fields of a place box: a town or coordinates, the garden's own height, and the coldest night that somebody remembers.

use crate::input::fields::Fields;
use crate::places::{Gazetteer, Point, Spot};
use crate::science::climate::site_estimate::{RememberedWinters, SiteEstimate};
use crate::units::customary::METRES_PER_FOOT;
use crate::units::{Celsius, TemperatureDelta};

/// Fields of a place box.
pub const PARAMETERS: [&str; 6] = ["place", "elevation_m", "elevation_ft", "coldest_c", "coldest_f", "coldest_winters"];

/// A place as it was said: a town, a remembered night, or both.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaceAsked {
    /// The town or point.
    pub spot: Option<Spot>,
    /// Words that mean it in an address.
    pub words: String,
    /// Coldest night remembered, and in how many winters.
    pub remembered: Option<(Celsius, RememberedWinters)>,
}

impl PlaceAsked {
    /// Reads the fields; `None` where none was filled in or one is wrong.
    pub fn read(read: &mut Fields<'_>) -> Option<Self> {
        let elevation = elevation(read);
        let remembered = remembered(read);
        let Some(typed) = read.value("place") else {
            if elevation.is_some() {
                read.errors.add("elevation_m", "", "a height needs the town or coordinates beside it");
            }
            return remembered.map(|r| Self { spot: None, words: String::new(), remembered: Some(r) });
        };
        let towns = match Gazetteer::embedded() {
            Ok(towns) => towns,
            Err(error) => {
                read.errors.add("place", typed, error);
                return None;
            }
        };
        let spot = read.errors.keep("place", typed, towns.spot(typed, elevation))?;
        let words = match spot.point {
            Some((Point { latitude, longitude, .. }, _)) => format!("{}, {}", plain(latitude), plain(longitude)),
            None => towns.words_for(&spot.town),
        };
        Some(Self { spot: Some(spot), words, remembered })
    }

    /// What is known of the winters there; `usual` is the spread between winters of its kind of climate, taken where no town gives one.
    pub fn estimate(&self, usual: TemperatureDelta) -> Option<SiteEstimate> {
        let town = self.spot.as_ref().map(|spot| spot.estimate);
        let spread = town.map_or_else(|| SiteEstimate::usual_spread(usual), |t| t.spread);
        let remembered = self.remembered.map(|(coldest, winters)| SiteEstimate::of_coldest_remembered(coldest, winters, spread));
        match (town, remembered) {
            (Some(town), Some(remembered)) => Some(town.with(&remembered)),
            (town, remembered) => town.or(remembered),
        }
    }

    /// The fields as they stand in an address: equal places give equal fields.
    pub fn pairs(&self) -> Vec<(&'static str, String)> {
        let mut pairs = Vec::new();
        if !self.words.is_empty() {
            pairs.push(("place", self.words.clone()));
        }
        // A height that came with the coordinates is kept like one typed.
        if let Some(metres) = self.spot.as_ref().and_then(|s| s.elevation_m) {
            pairs.push(("elevation_m", metres.to_string()));
        }
        if let Some((coldest, winters)) = self.remembered {
            pairs.push(("coldest_c", coldest.degrees().to_string()));
            pairs.push(("coldest_winters", winters.winters().to_string()));
        }
        pairs
    }
}

/// Degrees of a coordinate in an address: to 0.0001°, some ten metres.
fn plain(degrees: f64) -> String {
    let text = format!("{degrees:.4}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

fn elevation(read: &mut Fields<'_>) -> Option<f64> {
    let fits = |metres: f64| {
        crate::units::within("elevation", "m", metres, crate::places::spot::GROUND_M.0, crate::places::spot::GROUND_M.1)
            .map_err(|e| e.to_string())
    };
    let metres = read.number("elevation_m", fits);
    let feet = read.number("elevation_ft", |x| fits(x * METRES_PER_FOOT));
    read.either(("elevation_m", metres), ("elevation_ft", feet))
}

fn remembered(read: &mut Fields<'_>) -> Option<(Celsius, RememberedWinters)> {
    let coldest = read.temperature("coldest_c", "coldest_f");
    let winters = read.number("coldest_winters", |x| {
        let whole = x.fract() == 0.0 && x >= 1.0;
        whole.then_some(x as u32).and_then(|n| RememberedWinters::new(n).ok()).ok_or("a whole number of winters, 1 to 100, is accepted")
    });
    match (coldest, winters) {
        (Some(coldest), Some(winters)) => Some((coldest, winters)),
        (Some(_), None) if read.errors.of("coldest_winters").is_none() => {
            read.errors.add("coldest_winters", "", "say how many winters you look back over: the coldest of thirty is no usual night");
            None
        }
        (None, Some(_)) if read.errors.of("coldest_c").is_none() && read.errors.of("coldest_f").is_none() => {
            read.errors.add("coldest_c", "", "say how cold the coldest of these winters was");
            None
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(pairs: &[(&str, &str)]) -> Result<Option<PlaceAsked>, Vec<String>> {
        let pairs: Vec<(String, String)> = pairs.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect();
        let mut fields = Fields::new(&pairs, &PARAMETERS);
        let asked = PlaceAsked::read(&mut fields);
        if fields.errors.is_empty() {
            Ok(asked)
        } else {
            Err(fields.errors.iter().map(|e| format!("{}: {}", e.field, e.message)).collect())
        }
    }

    #[test]
    fn a_town_is_kept_in_words_that_mean_it_again() {
        for typed in ["Vienna, AT", "47.07, 15.44", "Rampur", "geo:48.2,16.37,183", "大阪"] {
            let asked = read(&[("place", typed)]).unwrap().unwrap();
            let pairs: Vec<(&str, String)> = asked.pairs();
            let borrowed: Vec<(&str, &str)> = pairs.iter().map(|(k, v)| (*k, v.as_str())).collect();
            let again = read(&borrowed).unwrap().unwrap();
            assert_eq!(again.spot.as_ref().unwrap().town.id, asked.spot.as_ref().unwrap().town.id, "{typed}");
            assert_eq!(again.pairs(), pairs, "{typed}");
        }
    }

    #[test]
    fn a_remembered_night_narrows_what_the_town_says() {
        let usual = TemperatureDelta::literal(3.0);
        let town = read(&[("place", "Graz, AT")]).unwrap().unwrap().estimate(usual).unwrap();
        let both =
            read(&[("place", "Graz, AT"), ("coldest_c", "-19"), ("coldest_winters", "20")]).unwrap().unwrap().estimate(usual).unwrap();
        assert!(both.mean.error < town.mean.error);
        let alone = read(&[("coldest_f", "0"), ("coldest_winters", "10")]).unwrap().unwrap();
        assert!(alone.spot.is_none() && alone.estimate(usual).unwrap().mean.value > Celsius::literal(-17.78));
    }

    #[test]
    fn half_a_question_says_what_is_missing() {
        for (pairs, word) in [
            (&[("coldest_c", "-19")][..], "coldest_winters"),
            (&[("coldest_winters", "10")], "coldest_c"),
            (&[("coldest_c", "-19"), ("coldest_winters", "0")], "1 to 100"),
            (&[("elevation_m", "300")], "town or coordinates"),
            (&[("place", "Graz"), ("elevation_m", "9999")], "8900"),
            (&[("place", "Graz, AT"), ("elevation_m", "4000")], "above Graz"),
            (&[("place", "Graz, Narnia")], "Narnia"),
            (&[("place", "qqqqqq")], "no town"),
            (&[("place", "-122.33, 47.61")], "47.61, -122.33"),
            (&[("place", "40, -30")], "at sea"),
        ] {
            let errors = read(pairs).unwrap_err().join("\n");
            assert!(errors.contains(word), "{pairs:?}: {errors}");
        }
    }
}
