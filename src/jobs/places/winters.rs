//! The winters of a place for calculations that ask for a night or a season: what stands in where nobody typed one, and how usual a night is.

use crate::places::{Gazetteer, Spot};
use crate::science::climate::kind::ClimateKind;
use crate::science::climate::usual_nights::UsualNights;
use crate::science::climate::usual_winter::usual_minima;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::units::Celsius;

/// Share of winters whose coldest night is a cold one to be ready for.
const COLD_WINTER: f64 = 0.1;

/// The winters of a place that was typed.
#[derive(Debug, Clone)]
pub struct PlaceWinters {
    spot: Spot,
    winter: WinterMinimum,
}

impl PlaceWinters {
    /// Of a town or coordinates.
    ///
    /// # Errors
    /// In words, where they name no place.
    pub fn of(words: &str) -> Result<Self, String> {
        let towns = Gazetteer::embedded().map_err(|error| error.to_string())?;
        let spot = towns.spot(words, None).map_err(|error| error.to_string())?;
        let winter = spot.estimate.winter();
        Ok(Self { spot, winter })
    }

    /// Name of the town, with region and country.
    pub fn label(&self) -> String {
        self.spot.town.label()
    }

    /// Latitude and longitude, degrees.
    pub fn at(&self) -> (f64, f64) {
        self.spot.at()
    }

    /// Kind of climate.
    pub fn climate(&self) -> ClimateKind {
        self.spot.town.climate_kind()
    }

    /// The coldest night of one winter in ten, what is not known of the place counted in, to a tenth, °C.
    pub fn cold_night_c(&self) -> f64 {
        (self.winter.quantile(COLD_WINTER).degrees() * 10.0).round() / 10.0
    }

    /// Daily minima of a usual year, °C; `None` where the warmest month is not known.
    pub fn usual_minima_c(&self) -> Option<Vec<f64>> {
        let warmest = self.spot.estimate.warmest_month?.value;
        Some(usual_minima(self.spot.town.coldest_month_minimum, warmest))
    }

    /// Nights of a usual year; `None` where the warmest month is not known.
    pub fn usual_nights(&self) -> Option<UsualNights> {
        let warmest = self.spot.estimate.warmest_month?.value;
        Some(UsualNights::new(self.spot.town.coldest_month_minimum, warmest, self.spot.estimate.mean.value))
    }

    /// How sure the estimate is, in words.
    pub fn give_or_take(&self) -> String {
        let mean = &self.spot.estimate.mean;
        format!(
            "the coldest night of a winter in {} is about {}, give or take {}",
            self.label(),
            mean.value,
            crate::units::both_scales(mean.error)
        )
    }

    /// How usual a night is as the coldest of a winter there, in words.
    pub fn usual(&self, night: Celsius) -> String {
        let colder = match (10.0 * self.winter.cdf(night)).round() as u32 {
            0 => "hardly a winter goes".to_owned(),
            1 => "one winter in ten goes".to_owned(),
            10 => "nearly every winter goes".to_owned(),
            n => format!("{n} winters in ten go"),
        };
        format!("For comparison: {}; {colder} to {night} or below.", self.give_or_take())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_town_tells_how_usual_a_night_is() {
        let graz = PlaceWinters::of("Graz, AT").unwrap();
        assert!(graz.cold_night_c() < graz.spot.estimate.mean.value.degrees());
        assert!(graz.usual(Celsius::literal(5.0)).contains("nearly every winter"));
        assert!(graz.usual(Celsius::literal(-45.0)).contains("hardly a winter"));
        assert!(graz.usual(Celsius::literal(graz.cold_night_c())).contains("one winter in ten goes"));
        assert_eq!(graz.usual_minima_c().unwrap().len(), 365);
        assert!(PlaceWinters::of("Narnia-upon-Qqqq").unwrap_err().contains("no town"));
    }
}
