//! What a page says of a place that was typed: how it is known, what it might have meant instead, and what would make it surer.

use crate::address;
use crate::jobs::places::asked::PlaceAsked;
use crate::jobs::places::words;
use crate::places::{ArchiveStation, Gazetteer, Spot, StationList};
use crate::science::climate::site_estimate::SiteEstimate;
use crate::units::TemperatureDelta;
use crate::units::customary::{KM_PER_MILE, METRES_PER_FOOT};
use crate::web::frame::{Frame, Scale};

/// Other towns offered.
const OTHERS: usize = 5;
/// Differences in height below this, in the reader's unit, are none: positions and heights of stations are rounded.
const LEVEL: f64 = 5.0;
/// Where the archive keeps the record of a station.
const ARCHIVE: &str = "https://www.ncei.noaa.gov/pub/data/ghcn/daily/by_station";

/// A place as a page tells of it.
pub struct KnownPlace {
    /// Words that mean it.
    pub words: String,
    /// Whether the reader asked for it to be remembered.
    pub remembered: bool,
    /// Its winters with their doubt, in sentences.
    pub winters: String,
    /// Its summer and frosts.
    pub season: String,
    /// What to keep in mind.
    pub doubts: Vec<String>,
    /// Other towns that the words may have meant.
    pub others: Vec<Other>,
    /// What would narrow it.
    pub upgrade: Option<String>,
    /// Stations with a long record.
    pub records: Vec<RecordNear>,
    /// The question in pairs, where a record can be fetched for it.
    pub fetch: Option<Vec<(String, String)>>,
}

/// Another town.
pub struct Other {
    /// Its words.
    pub words: String,
    /// The same question there.
    pub address: String,
}

/// A station with a long record.
pub struct RecordNear {
    /// Name.
    pub name: String,
    /// First and last year.
    pub years: String,
    /// Distance.
    pub away: String,
    /// How much higher or lower it lies, where known.
    pub higher: Option<String>,
    /// Identifier.
    pub id: String,
    /// Address of its file.
    pub file: String,
}

impl KnownPlace {
    /// Of a place that was said, at `path` with the pairs of its question. `None` without a town.
    pub fn new(
        said: Option<&PlaceAsked>,
        estimate: Option<SiteEstimate>,
        path: address::Path,
        pairs: &[(String, String)],
        frame: &Frame,
    ) -> Option<Self> {
        let said = said?;
        let (spot, estimate) = (said.spot.as_ref()?, estimate?);
        let towns = Gazetteer::embedded().ok()?;
        let records: Vec<_> = towns
            .long_records(spot.at(), words::RECORDS_WITHIN_KM, words::RECORDS_SHOWN)
            .iter()
            .map(|station| record(station, spot, frame))
            .collect();
        let mut doubts: Vec<String> = std::iter::once(words::grounds(towns, &spot.town)).chain(words::doubts(spot)).collect();
        doubts.extend(words::namesakes(spot));
        Some(Self {
            remembered: frame.remembered_place() == Some(said.words.as_str()),
            words: said.words.clone(),
            winters: winters(spot, &estimate, frame),
            season: season(&estimate, frame),
            doubts,
            others: others(towns, spot, said, path, pairs),
            upgrade: said.remembered.is_none().then(|| narrower(&estimate)).flatten(),
            records,
            fetch: None,
        })
    }

    /// The same where records are fetched for the question in these pairs, from the stations of a newer list where there is one.
    #[must_use]
    pub fn fetching(self, pairs: &[(String, String)], said: Option<&PlaceAsked>, list: Option<&StationList>, frame: &Frame) -> Self {
        let newer = said.and_then(|said| said.spot.as_ref()).zip(list).map(|(spot, list)| {
            list.near(spot.at(), words::RECORDS_WITHIN_KM, words::RECORDS_SHOWN)
                .iter()
                .map(|station| record(station, spot, frame))
                .collect()
        });
        let fetch = pairs.iter().filter(|(_, value)| !value.trim().is_empty()).cloned().collect();
        match newer {
            Some(records) => Self { records, fetch: Some(fetch), ..self },
            None => Self { fetch: Some(fetch), ..self },
        }
    }
}

fn winters(spot: &Spot, estimate: &SiteEstimate, frame: &Frame) -> String {
    let give = TemperatureDelta::literal(estimate.mean.error);
    let winter = estimate.winter();
    format!(
        "The coldest night of a winter in {} is about {}, give or take {}. One winter in ten goes to {} or below, what is not known of the place counted in.",
        spot.town.name,
        frame.temperature(estimate.mean.value),
        frame.difference(give),
        frame.temperature(winter.quantile(0.1)),
    )
}

fn season(estimate: &SiteEstimate, frame: &Frame) -> String {
    let summer = estimate.warmest_month.map(|w| {
        format!(
            "The warmest month has {} on average, give or take {}.",
            frame.temperature(w.value),
            frame.difference(TemperatureDelta::literal(w.error))
        )
    });
    let frosts = estimate.frost.map_or_else(
        || "Frost is no yearly event here, or its dates are not known.".to_owned(),
        |f| {
            format!(
                "The last frost falls about {}, the first about {}, give or take {:.0} days.",
                words::day(f.last.value),
                words::day(f.first.value),
                f.last.error
            )
        },
    );
    summer.into_iter().chain([frosts]).collect::<Vec<_>>().join(" ")
}

/// How much of the doubt the place makes, and what would take it away.
fn narrower(estimate: &SiteEstimate) -> Option<String> {
    let share = 10.0 * estimate.share_not_known();
    (share >= 1.0).then(|| {
        format!(
            "Of what is unsure about one winter here, about {share:.0} parts in ten come from not knowing the place better, the rest from winters \
             being different. The coldest night you remember, and in how many winters, narrows it."
        )
    })
}

fn others(towns: &Gazetteer, spot: &Spot, said: &PlaceAsked, path: address::Path, pairs: &[(String, String)]) -> Vec<Other> {
    let typed = pairs.iter().find(|(key, _)| key == "place").map_or("", |(_, value)| value.trim());
    if spot.point.is_some() || typed == said.words {
        return Vec::new();
    }
    let found = towns.find(typed, OTHERS + 1).unwrap_or_default();
    found
        .iter()
        .filter(|town| town.id != spot.town.id)
        .take(OTHERS)
        .map(|town| {
            let words = towns.words_for(town);
            let kept = pairs.iter().filter(|(key, value)| key != "place" && !key.starts_with("elevation") && !value.trim().is_empty());
            let kept = kept.map(|(key, value)| (key.as_str(), value.as_str()));
            Other { address: path.with([("place", words.as_str())].into_iter().chain(kept)), words }
        })
        .collect()
}

fn record(station: &ArchiveStation, spot: &Spot, frame: &Frame) -> RecordNear {
    RecordNear {
        name: words::capitalised(&station.name),
        years: words::years(station),
        away: distance(station.km, frame),
        higher: station.elevation_m.zip(spot.elevation_m.or(spot.town.elevation_m)).map(|(there, here)| height(there - here, frame)),
        id: station.id.clone(),
        file: format!("{ARCHIVE}/{}.csv.gz", station.id),
    }
}

/// A distance in the reader's units.
pub fn distance(km: f64, frame: &Frame) -> String {
    match frame.scale() {
        Scale::Fahrenheit => {
            let miles = (km / KM_PER_MILE).round();
            if miles == 1.0 { "1 mile".to_owned() } else { format!("{miles:.0} miles") }
        }
        Scale::Celsius => format!("{km:.0} km"),
    }
}

/// How much higher or lower something lies, in the reader's units.
pub fn height(higher_m: f64, frame: &Frame) -> String {
    let (size, unit) = match frame.scale() {
        Scale::Fahrenheit => (higher_m.abs() / METRES_PER_FOOT, "feet"),
        Scale::Celsius => (higher_m.abs(), "m"),
    };
    if size < LEVEL {
        "at the same height".to_owned()
    } else {
        format!("{size:.0} {unit} {}", if higher_m < 0.0 { "lower" } else { "higher" })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_are_counted_in_words_of_the_scale() {
        let (miles, km) = (Frame::sample(Scale::Fahrenheit), Frame::sample(Scale::Celsius));
        assert_eq!((distance(1.7, &miles), distance(16.1, &miles)), ("1 mile".to_owned(), "10 miles".to_owned()));
        assert_eq!(distance(1.2, &km), "1 km");
    }
}
