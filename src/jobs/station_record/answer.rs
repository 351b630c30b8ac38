//! The shortlist for a daily record: the site's own winters with hardening counted, its own season, and what a zone alone would have said.

use crate::input::errors::FieldErrors;
use crate::jobs::shortlist::answer::Answer;
use crate::jobs::shortlist::question::{Place, Question};
use crate::jobs::station_record::read::Reading;
use crate::jobs::station_record::thermometer_offset;
use crate::jobs::station_record::words::why_words;
use crate::model::snapshot::Snapshot;
use crate::science::climate::kind::ClimateKind;
use crate::science::climate::site_climate::SiteClimate;
use crate::science::climate::site_estimate::{MINIMUM_LAPSE_K_PER_M, SiteEstimate};
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::cultivar::HardinessClass;
use crate::science::fruiting::SeasonDegreeDays;
use crate::science::shortlist::Row;
use crate::science::site::Site;
use crate::units::{Celsius, TemperatureDelta};

/// A shortlist from a record beside the one from its zone.
#[derive(Debug)]
pub struct OwnRecord<'a> {
    /// From the record.
    pub answer: Answer<'a>,
    /// Whether early and late freezes and warm spells are counted (daily maxima are there).
    pub hardening_counted: bool,
    /// What the zone alone gives; `None` where the mean lies in no zone.
    pub against_zone: Option<AgainstZone>,
}

/// How far the record's answer lies from that of its zone.
#[derive(Debug, Clone, PartialEq)]
pub struct AgainstZone {
    /// The half-zone.
    pub zone: String,
    /// Mean over the catalogue of the chance of losing the top in one winter, from the zone.
    pub loses_top_by_zone: f64,
    /// The same from the record.
    pub loses_top: f64,
    /// First three by the zone.
    pub first_by_zone: Vec<String>,
    /// The cultivar whose chance of losing its top differs most: name, by zone, by record.
    pub most_changed: Option<(String, f64, f64)>,
    /// Winters in which another night than the coldest did the most harm, and all winters used.
    pub other_night: (usize, usize),
    /// Mean by which the hardest night counts colder than the coldest night reads.
    pub mean_shift: TemperatureDelta,
    /// The most telling winter: its label, coldest night, equivalent, and the date that set it.
    pub telling: Option<TellingWinter>,
}

/// A winter whose thermometer does not tell the harm.
#[derive(Debug, Clone, PartialEq)]
pub struct TellingWinter {
    /// Label.
    pub winter: i16,
    /// Coldest night.
    pub minimum: Celsius,
    /// Its date.
    pub minimum_date: jiff::civil::Date,
    /// Equivalent midwinter minimum.
    pub equivalent: Celsius,
    /// Date that set it.
    pub date: jiff::civil::Date,
}

/// Reads the rest of a question for a record: everything but how cold it gets. The kind of climate is told by the record unless given.
pub fn question(climate: &SiteClimate, pairs: &[(String, String)], strict: bool) -> Result<Question, FieldErrors> {
    let counted = climate.equivalent_winter_minimum(None);
    let Some(winter) = counted.or_else(|| climate.winter_minimum()) else {
        let mut errors = FieldErrors::default();
        errors.add("record", "", why_words(&climate.yearly_minimum.why));
        return Err(errors);
    };
    let by_class: Vec<WinterMinimum> = HardinessClass::all().filter_map(|class| climate.equivalent_winter_minimum(Some(class))).collect();
    let slopes = climate.equivalent_slopes;
    let own_spot = thermometer_offset::asked(pairs)?;
    let place = Place::Record { winter, hardening_counted: counted.is_some(), by_class: by_class.try_into().ok(), slopes, own_spot };
    let mut question = Question::parse_at(pairs, strict, Some(place))?;
    let kind_given = pairs.iter().any(|(name, value)| name == "climate" && !value.trim().is_empty());
    if let Some(kind) = climate.kind().filter(|_| !kind_given) {
        question.climate = kind;
    }
    Ok(question)
}

/// What lies between a record's station and the garden it stands for.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Carried {
    /// How much milder the garden's coldest nights are taken to be, K.
    pub milder_k: f64,
    /// What that leaves open, a standard error, K.
    pub error_k: f64,
}

impl Carried {
    /// Over a distance, and down from a station that lies `higher_m` above the garden.
    pub fn over(km: f64, higher_m: f64) -> Self {
        Self { milder_k: MINIMUM_LAPSE_K_PER_M * higher_m, error_k: SiteEstimate::error_of_distance_k(km, higher_m) }
    }

    /// The winters at the garden.
    pub fn winter(&self, station: WinterMinimum) -> WinterMinimum {
        station.shifted(TemperatureDelta::literal(self.milder_k))
    }
}

/// The site of a record's question, with the record's own season and heat where none was given.
pub fn site_and_heat(snapshot: &Snapshot, question: &Question, reading: &Reading, carried: Carried) -> (Site, SeasonDegreeDays) {
    let climate = &reading.climate;
    let mut site = question.site(&snapshot.priors);
    site.winter = carried.winter(site.winter);
    site.winter_by_class = site.winter_by_class.map(|winters| winters.map(|winter| carried.winter(winter)));
    site.place_error_k = carried.error_k;
    let season_given = question.season.frost_free_days.is_some() || question.season.warmest_month.is_some();
    let recorded = climate.season().filter(|_| !season_given);
    if let Some(season) = recorded {
        site.season = season;
    }
    let heat = recorded
        .and_then(|_| SeasonDegreeDays::from_record(&reading.record, climate.hemisphere, &snapshot.fruit_priors))
        .unwrap_or_else(|| SeasonDegreeDays::from_season(&site.season, &snapshot.fruit_priors));
    (site, heat)
}

/// Answers from the record, and from its zone for comparison.
pub fn recommend<'a>(snapshot: &'a Snapshot, question: &Question, reading: &Reading) -> OwnRecord<'a> {
    recommend_carried(snapshot, question, reading, Carried::default())
}

/// The same for a garden that lies apart from the station.
pub fn recommend_carried<'a>(snapshot: &'a Snapshot, question: &Question, reading: &Reading, carried: Carried) -> OwnRecord<'a> {
    let climate = &reading.climate;
    let (site, heat) = site_and_heat(snapshot, question, reading, carried);
    let hardening_counted = site.hardening_counted;
    let against_zone = zone_question(question, climate).map(|(zone, by_zone)| {
        let zone_site = Site { season: site.season, ..by_zone.site(&snapshot.priors) };
        let key = |rows: Vec<Row<usize>>| {
            let mut rows = rows;
            rows.sort_by_key(|row| row.key);
            rows
        };
        let name = |place: usize| snapshot.catalogue.cultivars().get(place).map(|cultivar| cultivar.name.clone());
        let from_zone = snapshot.rank(&zone_site, heat, question.rank_by);
        let first_by_zone = from_zone.iter().take(3).filter_map(|row| name(row.key)).collect();
        let (zone_rows, rows) = (key(from_zone), key(snapshot.rank(&site, heat, question.rank_by)));
        let mean = |rows: &[Row<usize>]| rows.iter().map(Row::loses_top).sum::<f64>() / rows.len().max(1) as f64;
        let most_changed = zone_rows
            .iter()
            .zip(&rows)
            .max_by(|(a, b), (c, d)| (a.loses_top() - b.loses_top()).abs().total_cmp(&(c.loses_top() - d.loses_top()).abs()))
            .and_then(|(by_zone, row)| Some((name(row.key)?, by_zone.loses_top(), row.loses_top())));
        AgainstZone {
            zone,
            loses_top_by_zone: mean(&zone_rows),
            loses_top: mean(&rows),
            first_by_zone,
            most_changed,
            other_night: other_nights(climate),
            mean_shift: mean_shift(climate),
            telling: telling(climate),
        }
    });
    OwnRecord { answer: snapshot.recommend_site(question, site, heat), hardening_counted, against_zone }
}

/// The same question with the record's half-zone in place of the record.
fn zone_question(question: &Question, climate: &SiteClimate) -> Option<(String, Question)> {
    let name = climate.yearly_minimum.half_zone.clone()?;
    let zone = name.parse().ok()?;
    Some((name, Question { place: Place::Zone(zone), ..question.clone() }))
}

/// Winters whose hardest night was not their coldest, and all with an equivalent.
fn other_nights(climate: &SiteClimate) -> (usize, usize) {
    let known = climate.winters.iter().filter(|w| w.equivalent_date.is_some());
    known.fold((0, 0), |(other, all), w| (other + usize::from(w.equivalent_date != w.date), all + 1))
}

fn mean_shift(climate: &SiteClimate) -> TemperatureDelta {
    let shifts: Vec<f64> = climate.winters.iter().filter_map(|w| Some((w.equivalent_minimum_c? - w.minimum_c?).kelvin())).collect();
    TemperatureDelta::literal(if shifts.is_empty() { 0.0 } else { -shifts.iter().sum::<f64>() / shifts.len() as f64 })
}

/// The winter whose equivalent lies furthest below its coldest night.
pub fn telling(climate: &SiteClimate) -> Option<TellingWinter> {
    climate
        .winters
        .iter()
        .filter_map(|w| {
            Some(TellingWinter {
                winter: w.winter,
                minimum: w.minimum_c?,
                minimum_date: w.date?,
                equivalent: w.equivalent_minimum_c?,
                date: w.equivalent_date?,
            })
        })
        .max_by(|a, b| (a.minimum - a.equivalent).kelvin().total_cmp(&(b.minimum - b.equivalent).kelvin()))
}

/// Words for the kind of climate that a record shows.
pub fn kind_words(kind: ClimateKind) -> &'static str {
    match kind {
        ClimateKind::Coast => "a coast, by the small range of its months",
        ClimateKind::Inland => "inland, by the range of its months",
        ClimateKind::Continental => "the interior of a continent, by the wide range of its months",
    }
}
