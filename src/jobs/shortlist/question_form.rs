//! The form of a question: its fields, how they are read into a [`Question`], and how a question is written as an address again. Nothing reads
//! the raw pairs after this.

use std::fmt::Write as _;

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::places::asked::PlaceAsked;
use crate::jobs::shortlist::question::{Place, Question, USUAL_CLIMATE};
use crate::jobs::shortlist::wants::Wants;
use crate::science::shortlist::RankBy;
use crate::science::site::{Culture, Protection, Settings, SiteError, YearsEstablished};
use crate::units::Celsius;

/// Parameters that a question takes, in the order of the form.
pub const PARAMETERS: [&str; 34] = [
    "place",
    "elevation_m",
    "elevation_ft",
    "coldest_c",
    "coldest_f",
    "coldest_winters",
    "zone",
    "yearly_minimum_c",
    "yearly_minimum_f",
    "yearly_spread_k",
    "yearly_spread_f",
    "climate",
    "setting",
    "culture",
    "container_l",
    "container_gal",
    "years",
    "wood_years",
    "protection",
    "store",
    "last_frost",
    "first_frost",
    "frost_free_days",
    "warmest_month_c",
    "warmest_month_f",
    "summer",
    "rank_by",
    "limit",
    "skin",
    "ripens",
    "early_crop",
    "regrowth",
    "kind",
    "wish",
];

/// Most rows that can be asked for.
pub const MOST_ROWS: usize = 500;

impl Question {
    /// Reads a question. With `strict`, parameters that a question does not take are errors too.
    pub fn parse(pairs: &[(String, String)], strict: bool) -> Result<Self, FieldErrors> {
        Self::parse_at(pairs, strict, None)
    }

    /// Reads a question whose place is already known, for example from a daily record.
    pub fn parse_at(pairs: &[(String, String)], strict: bool, known: Option<Place>) -> Result<Self, FieldErrors> {
        let mut read = if strict { Fields::new(pairs, &PARAMETERS) } else { Fields::lenient(pairs, &PARAMETERS) };
        let (place, said) = if known.is_some() {
            read.no_other_place();
            (known, None)
        } else {
            let said = PlaceAsked::read(&mut read);
            (read.place(said.as_ref()), said)
        };
        if let Some(spot) = said.as_ref().and_then(|s| s.spot.as_ref()) {
            read.frost_dates_of_half(spot.town.at.0);
        }
        let of_town = said.as_ref().and_then(|s| s.spot.as_ref()).map(|spot| spot.town.climate_kind());
        let climate = read.word("climate").or(of_town).unwrap_or(USUAL_CLIMATE);
        let (setting, culture) = (read.word("setting").unwrap_or(Settings::OPEN), read.culture());
        let (years, wood_years) = read.years();
        let question = Self {
            // Replaced below; a missing place is always an error noted above.
            place: place.unwrap_or(Place::Minimum { mean: Celsius::literal(0.0), spread: None }),
            climate,
            said,
            setting,
            culture,
            years,
            wood_years,
            have: Vec::new(),
            protection: read.word("protection").unwrap_or(Protection::None),
            store: read.word("store"),
            season: read.season(),
            wants: Wants::read(&mut read),
            rank_by: read.word("rank_by").unwrap_or(RankBy::Fruit),
            limit: read.number("limit", |x| {
                if x.fract() == 0.0 && (1.0..=MOST_ROWS as f64).contains(&x) {
                    Ok(x as usize)
                } else {
                    Err(format!("a whole number of rows from 1 to {MOST_ROWS} is accepted"))
                }
            }),
        };
        if question.protection == Protection::CarriedIn && question.culture == Culture::Ground {
            read.errors.add("protection", Protection::CarriedIn.word(), SiteError::CarriedFromTheGround);
        }
        if let Some(store) = question.store.filter(|_| question.protection != Protection::CarriedIn) {
            read.errors.add("store", store.word(), SiteError::StoreUnused);
        }
        read.errors.into_result()?;
        Ok(question)
    }

    /// The place and the planting alone, for a page about one fig: what a list is ranked by and how long it is says nothing there.
    pub fn planting_query(&self) -> String {
        Self { rank_by: RankBy::Fruit, limit: None, have: Vec::new(), wants: Wants::default(), ..self.clone() }.to_query()
    }

    /// The question as the query of an address: equal questions give equal text; what is usual is left out.
    pub fn to_query(&self) -> String {
        let mut query = String::new();
        let mut put = |name: &str, value: &dyn std::fmt::Display| {
            let _ = write!(query, "{}{name}={value}", if query.is_empty() { "" } else { "&" });
        };
        match self.place {
            Place::Zone(zone) => put("zone", &zone),
            Place::Minimum { mean, spread } => {
                put("yearly_minimum_c", &mean.degrees());
                if let Some(spread) = spread {
                    put("yearly_spread_k", &spread.kelvin());
                }
            }
            Place::Said => {
                for (name, value) in self.said.iter().flat_map(PlaceAsked::pairs) {
                    let encoded: String = form_urlencoded::byte_serialize(value.as_bytes()).collect();
                    put(name, &encoded);
                }
            }
            Place::Record { .. } => {}
        }
        put("climate", &self.climate);
        if !self.setting.is_open() {
            put("setting", &self.setting);
        }
        if let Culture::Container(volume) = self.culture {
            put("culture", &"container");
            if let Some(volume) = volume {
                put("container_l", &volume.litres());
            }
        }
        if self.years != YearsEstablished::ESTABLISHED {
            put("years", &self.years.years());
        }
        if let Some(wood) = self.wood_years {
            put("wood_years", &wood.years());
        }
        if self.protection != Protection::None {
            put("protection", &self.protection);
        }
        if let Some(store) = self.store {
            put("store", &store);
        }
        if let Some(days) = self.season.frost_free_days {
            put("frost_free_days", &days);
        }
        if let Some(warmest) = self.season.warmest_month {
            put("warmest_month_c", &warmest.degrees());
        }
        if let Some(summer) = self.season.summer {
            put("summer", &summer);
        }
        if self.rank_by != RankBy::Fruit {
            put("rank_by", &self.rank_by);
        }
        self.wants.pairs().iter().for_each(|(name, word)| put(name, word));
        if let Some(limit) = self.limit {
            put("limit", &limit);
        }
        if !self.have.is_empty() {
            put("have", &self.have.join(","));
        }
        query
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(query: &str) -> Vec<(String, String)> {
        query
            .split('&')
            .filter(|p| !p.is_empty())
            .map(|p| p.split_once('=').unwrap_or((p, "")))
            .map(|(k, v)| (k.to_owned(), v.to_owned()))
            .collect()
    }

    fn errors(query: &str) -> Vec<String> {
        Question::parse(&pairs(query), true).unwrap_err().iter().map(|e| e.field.clone()).collect()
    }

    #[test]
    fn a_question_survives_its_own_address() {
        for query in [
            "zone=7a&climate=inland",
            "zone=8b&climate=coast&setting=wall&culture=container&container_l=25&years=2&wood_years=1&protection=carried_in&store=cellar&rank_by=alive&skin=dark&ripens=unknown&wish=early&limit=86",
            "zone=8a&climate=inland&setting=wall,town,trees",
            "zone=8b&climate=coast&summer=warm",
            "yearly_minimum_c=-12.5&yearly_spread_k=3.1&climate=continental&frost_free_days=180&warmest_month_c=22.5",
        ] {
            let question = Question::parse(&pairs(query), true).unwrap();
            assert_eq!(question.to_query(), query);
        }
    }

    #[test]
    fn every_wrong_value_is_named_with_what_is_accepted() {
        assert_eq!(errors(""), ["place"]);
        assert_eq!(errors("place=Graz&zone=7a"), ["zone"]);
        assert_eq!(errors("place=Narnia-upon-Qqqq"), ["place"]);
        assert_eq!(errors("zone=17q&setting=roof&years=-1&limit=0"), ["zone", "setting", "years", "limit"]);
        assert_eq!(errors("zone=7a&setting=hollow,slope"), ["setting"]);
        assert_eq!(errors("zone=7a&zone=7b"), ["zone"]);
        assert_eq!(errors("zone=7a&colour=blue"), ["colour"]);
        assert_eq!(errors("zone=7a&skin=blue&wish=cheap"), ["skin", "wish"]);
        assert_eq!(errors("zone=7a&yearly_minimum_c=-10"), ["zone"]);
        assert_eq!(errors("yearly_minimum_c=nan"), ["yearly_minimum_c"]);
        assert_eq!(errors("yearly_minimum_c=1e5"), ["yearly_minimum_c"]);
        assert_eq!(errors("yearly_minimum_c=-300"), ["yearly_minimum_c"]);
        assert_eq!(errors("zone=7a&protection=carried_in"), ["protection"]);
        assert_eq!(errors("zone=7a&years=3&wood_years=4"), ["wood_years"]);
        assert_eq!(errors("zone=7a&wood_years=2.5"), ["wood_years"]);
        assert_eq!(errors("zone=7a&culture=container&protection=mulch&store=cellar"), ["store"]);
        assert_eq!(errors("zone=7a&culture=ground&container_l=20"), ["container_l"]);
        assert_eq!(errors("place=Graz, Austria&last_frost=10-20&first_frost=04-25"), ["last_frost", "first_frost"]);
        assert!(Question::parse(&pairs("place=Graz, Austria&last_frost=04-20&first_frost=10-18"), true).is_ok());
        assert_eq!(errors("zone=7a&last_frost=04-31&first_frost=10-20"), ["last_frost", "last_frost"]);
    }

    /// Sums of stations, base 8 °C, cap 36 °C, up to the first −1 °C: Seattle-Tacoma 1,590, Klein-Altendorf 1,634, USC00010655 3,204, Fort
    /// Collins 1,708, Champion 2,025 (own arithmetic on the daily records); warm coasts of zone 8 about 3,800.
    #[test]
    fn a_cool_coast_and_a_warm_coast_have_the_summers_of_their_stations() {
        let priors = crate::catalogue::prior_table::priors().unwrap();
        let fruit = crate::catalogue::prior_table::fruit_priors().unwrap();
        let heat = |q: &str| {
            let site = Question::parse(&pairs(q), true).unwrap().site(&priors);
            crate::science::fruiting::SeasonDegreeDays::from_season(&site.season, &fruit).over_years.mean
        };
        for (query, station) in [
            ("zone=8b&climate=coast", 1590.0),
            ("zone=8b&climate=coast&summer=warm", 3600.0),
            ("zone=7b&climate=inland&summer=cool", 1634.0),
            ("zone=7b&climate=inland", 3204.0),
            ("zone=5a&climate=continental", 1708.0),
            ("zone=5a&climate=continental&summer=warm", 2025.0),
        ] {
            let sum = heat(query);
            assert!((sum - station).abs() < 2.0 * fruit.degree_days_place_spread, "{query}: {sum} {station}");
        }
    }

    #[test]
    fn both_scales_and_both_ways_of_writing_a_number_are_read() {
        let read = |q: &str| Question::parse(&pairs(q), true).unwrap();
        assert_eq!(read("yearly_minimum_f=14").place, Place::Minimum { mean: Celsius::literal(-10.0), spread: None });
        assert_eq!(read("yearly_minimum_c=−9,4").place, read("yearly_minimum_c=-9.4").place);
        // 5.4 °F of spread is 3 K: scaled, never shifted.
        let Place::Minimum { spread: Some(spread), .. } = read("yearly_minimum_c=-9&yearly_spread_f=5.4").place else { panic!("a spread") };
        assert!((spread.kelvin() - 3.0).abs() < 1e-12);
    }

    #[test]
    fn frost_dates_give_the_days_between_also_across_the_new_year() {
        let days = |q: &str| Question::parse(&pairs(q), true).unwrap().season.frost_free_days;
        assert_eq!(days("zone=7a&last_frost=04-15&first_frost=10-20"), Some(188.0));
        assert_eq!(days("zone=9a&last_frost=09-15&first_frost=05-20"), Some(247.0));
    }
}
