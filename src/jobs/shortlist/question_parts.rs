//! The parts of a question that take more than one field: place, pot, age, frost dates and season.

use crate::input::fields::Fields;
use crate::jobs::places::asked::{self, PlaceAsked};
use crate::jobs::season::dates::{days_between, month_and_day};
use crate::jobs::shortlist::question::{Place, SeasonKnown};
use crate::science::climate::season::Season;
use crate::science::climate::zone::HalfZone;
use crate::science::site::{Culture, PotVolume, SiteError, YearsEstablished};
use crate::units::TemperatureDelta;
use crate::units::customary::LITRES_PER_US_GALLON;

/// Those that say how cold it gets without a town.
const COLD_IN_NUMBERS: [&str; 5] = ["zone", "yearly_minimum_c", "yearly_minimum_f", "yearly_spread_k", "yearly_spread_f"];

/// A question without what says how cold it gets: a daily record says that.
pub fn without_place(pairs: &[(String, String)]) -> Vec<(String, String)> {
    let of_place = |name: &str| COLD_IN_NUMBERS.contains(&name) || asked::PARAMETERS.contains(&name);
    pairs.iter().filter(|(name, value)| !value.trim().is_empty() && !of_place(name)).cloned().collect()
}

/// Months in which the last frost of spring may fall north of the equator; the rest are those of the south. COMMON_PRACTICE.
const LAST_FROST_MONTHS_NORTH: std::ops::RangeInclusive<i8> = 1..=7;

/// The parts of a question that take more than one field.
impl Fields<'_> {
    /// With a record, nothing else may say how cold it gets.
    pub(super) fn no_other_place(&mut self) {
        for name in COLD_IN_NUMBERS.into_iter().chain(asked::PARAMETERS) {
            if let Some(text) = self.value(name) {
                self.errors.add(name, text, "the record says how cold it gets; leave this out, or leave the record out");
            }
        }
    }

    pub(super) fn place(&mut self, said: Option<&PlaceAsked>) -> Option<Place> {
        let zone = self.word::<HalfZone>("zone");
        let mean = self.temperature("yearly_minimum_c", "yearly_minimum_f");
        let positive = |made: Result<TemperatureDelta, crate::units::OutOfRange>| {
            made.map_err(|e| e.to_string()).and_then(|s| {
                let fits = (0.3..=12.0).contains(&s.kelvin());
                fits.then_some(s)
                    .ok_or_else(|| format!("a spread of {s} between winters is not credible; 0.3 to 12 °C (0.5 to 22 °F) is accepted"))
            })
        };
        let in_k = self.number("yearly_spread_k", |x| positive(TemperatureDelta::new(x)));
        let in_f = self.number("yearly_spread_f", |x| positive(TemperatureDelta::from_fahrenheit_degrees(x)));
        let spread = self.either(("yearly_spread_k", in_k), ("yearly_spread_f", in_f));
        let said_wrong = asked::PARAMETERS.iter().any(|name| self.errors.of(name).is_some());
        if said.is_some() || said_wrong {
            for (name, given) in [("zone", zone.is_some()), ("yearly_minimum_c", mean.is_some())] {
                if given {
                    self.errors.add(name, "", "a town or a remembered night says how cold it gets; give that, or this, not both");
                }
            }
            return Some(Place::Said);
        }
        match (zone, mean) {
            (Some(_), Some(_)) => {
                self.errors.add("zone", "", "give either a zone or the yearly minimum itself, not both");
                None
            }
            (None, Some(mean)) => Some(Place::Minimum { mean, spread }),
            (Some(zone), None) => {
                if spread.is_some() {
                    self.errors.add("yearly_spread_k", "", "a spread between winters goes with the yearly minimum; a zone brings its own");
                }
                Some(Place::Zone(zone))
            }
            (None, None) => {
                let wrong = ["zone", "yearly_minimum_c", "yearly_minimum_f"].iter().any(|name| self.errors.of(name).is_some());
                if !wrong {
                    self.errors.add(
                        "place",
                        "",
                        "say where the fig will stand: a town, or how cold winters get as a zone from 1a to 13b or the mean yearly minimum",
                    );
                }
                None
            }
        }
    }

    pub(super) fn culture(&mut self) -> Culture {
        let code = self.value("culture");
        let litres = self.number("container_l", PotVolume::new);
        let gallons = self.number("container_gal", |x| PotVolume::new(x * LITRES_PER_US_GALLON));
        let volume = self.either(("container_l", litres), ("container_gal", gallons));
        match code {
            Some("container") => Culture::Container(volume),
            None if volume.is_some() => Culture::Container(volume),
            Some("ground") | None => {
                if volume.is_some() {
                    self.errors.add("container_l", "", "a pot volume goes with culture container; a plant in the ground has none");
                }
                Culture::Ground
            }
            Some(other) => {
                self.errors.add(
                    "culture",
                    other,
                    format!("“{}” is not a culture; accepted: ground, container", other.chars().take(40).collect::<String>()),
                );
                Culture::Ground
            }
        }
    }

    /// Years since planting, an established tree's where not said, and those of its standing wood.
    pub(super) fn years(&mut self) -> (YearsEstablished, Option<YearsEstablished>) {
        let whole = |x: f64, of: &str| {
            if x.fract() == 0.0 && x >= 0.0 {
                YearsEstablished::new(x as u32).map_err(|e| e.to_string())
            } else {
                Err(format!("whole years {of}, 0 to {}, are accepted", YearsEstablished::MAX))
            }
        };
        let planted = self.number("years", |x| whole(x, "since planting"));
        let wood = self.number("wood_years", |x| whole(x, "since the top was last killed back"));
        if let (Some(wood), Some(planted)) = (wood, planted.filter(|planted| wood.is_some_and(|wood| wood > *planted))) {
            let wrong = SiteError::WoodOlderThanPlant { wood: wood.years(), years: planted.years() };
            self.errors.add("wood_years", &wood.years().to_string(), wrong);
        }
        // Who says only how old the wood is has a plant at least as old.
        let established = wood.map_or(YearsEstablished::ESTABLISHED, |wood| wood.max(YearsEstablished::ESTABLISHED));
        (planted.unwrap_or(established), wood)
    }

    /// Frost dates of the other half of the Earth than the town's are asked again.
    pub(super) fn frost_dates_of_half(&mut self, latitude: f64) {
        let north = latitude >= 0.0;
        let (here, there) = if north { ("north", "south") } else { ("south", "north") };
        for (name, is_last, what) in [("last_frost", true, "the last frost of spring"), ("first_frost", false, "the first frost of autumn")]
        {
            let Some(text) = self.value(name) else { continue };
            let Some(day) = month_and_day(text) else { continue };
            if LAST_FROST_MONTHS_NORTH.contains(&day.month()) == (north == is_last) {
                continue;
            }
            let said = day.strftime("%-d %B");
            self.errors.add(
                name,
                text,
                format!("{said} is no day for {what} {here} of the equator, where the town lies; it would fit {there} of it"),
            );
        }
    }

    fn day_of_year(&mut self, name: &str) -> Option<jiff::civil::Date> {
        let text = self.value(name)?;
        let read = month_and_day(text).ok_or_else(|| {
            format!("“{}” is not a day of the year; write month and day, for example 04-15", text.chars().take(40).collect::<String>())
        });
        self.errors.keep(name, text, read)
    }

    pub(super) fn season(&mut self) -> SeasonKnown {
        let (low, high) = Season::WARMEST_MONTH_C;
        let warmest_month = self.temperature("warmest_month_c", "warmest_month_f").filter(|t| {
            let fits = (low..=high).contains(&t.degrees());
            if !fits {
                self.errors.add(
                    "warmest_month_c",
                    "",
                    format!("a mean of {t} in the warmest month is not credible; {low} to {high} °C is accepted"),
                );
            }
            fits
        });
        let summer = self.word("summer");
        let days = self.number("frost_free_days", |x| crate::units::within("frost-free season", "days", x, 0.0, 365.0));
        let (last, first) = (self.day_of_year("last_frost"), self.day_of_year("first_frost"));
        let between = match (last, first) {
            (Some(last), Some(first)) => Some(days_between(last, first)),
            (None, None) => None,
            (Some(_), None) => {
                self.errors.add("first_frost", "", "the last frost of spring needs the first frost of autumn beside it");
                None
            }
            (None, Some(_)) => {
                self.errors.add("last_frost", "", "the first frost of autumn needs the last frost of spring beside it");
                None
            }
        };
        if between.is_some() && days.is_some() {
            self.errors.add("frost_free_days", "", "give either the two frost dates or the number of frost-free days, not both");
        }
        SeasonKnown { frost_free_days: days.or(between), warmest_month, summer }
    }
}
