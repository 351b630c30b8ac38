//! What the page of a record shows, decided and written: sentences, pictures, tables.

use crate::jobs::shortlist::answer::Recommendation;
use crate::jobs::shortlist::page::{RowView, row, sheet};
use crate::jobs::shortlist::page_site_form::SITE;
use crate::jobs::shortlist::reasons::in_ten;
use crate::jobs::shortlist::reasons::percent;
use crate::jobs::station_record::answer::{AgainstZone, OwnRecord, kind_words, telling};
use crate::jobs::station_record::page_cold_nights::{carrying, change, heating};
use crate::jobs::station_record::page_trend::{sentence, trend, zones_then_and_since};
use crate::jobs::station_record::page_view_rows::{
    ClassRow, FrostRow, LevelRow, PeriodView, SpellRow, WinterRow, frost_row, level_row, period_view, spell_row, winter_rows,
};
use crate::jobs::station_record::read::Reading;
use crate::jobs::station_record::words::{diagnostic_words, why_words, winter_rule_words};
use crate::science::climate::equivalent::{DailyMeans, course};
use crate::science::climate::extremes::Chosen;
use crate::science::climate::site_climate::SiteClimate;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::cultivar::HardinessClass;
use crate::science::numeric::Gaussian;
use crate::science::numeric::Z_90;
use crate::units::{Celsius, TemperatureDelta};
use crate::web::charts::axis::TemperatureAxis;
use crate::web::charts::cold_nights::ColdNights;
use crate::web::charts::course::Course;
use crate::web::charts::record::{Rarities, Years};
use crate::web::charts::season_bar::SeasonBar;
use crate::web::charts::winters::Winters;
use crate::web::frame::Frame;

/// The class whose hardening is drawn.
const DRAWN_CLASS: u8 = 3;
/// Refused values listed on the page.
const REJECTED_SHOWN: usize = 50;

/// Everything on the page.
pub struct View {
    pub title: String,
    pub lead: String,
    pub notes: Vec<String>,
    /// Pictures of the coldest nights.
    pub years: Years,
    pub winters: Option<Winters>,
    pub winter_rows: Vec<WinterRow>,
    pub winter_rule: String,
    pub unused: usize,
    /// Once in so many winters.
    pub rarities: Option<Rarities>,
    pub levels: Vec<LevelRow>,
    pub why: String,
    pub trend: Option<String>,
    /// What plants felt.
    pub course: Option<Course>,
    pub course_lead: String,
    pub classes: Vec<ClassRow>,
    /// Season.
    pub season: Option<SeasonBar>,
    pub frosts: Vec<FrostRow>,
    pub heat: Option<String>,
    pub chill: Option<String>,
    /// Cold nights by threshold.
    pub spells: Vec<SpellRow>,
    /// The same of two periods.
    pub periods: Vec<PeriodView>,
    pub change: Option<String>,
    /// Nights below each threshold, winter by winter.
    pub nights: Option<ColdNights>,
    /// Nights of carrying and of heating.
    pub carrying: Option<String>,
    pub heating: Vec<String>,
    /// Shortlist.
    pub shortlist: Option<Shortlist>,
    /// The file.
    pub facts: Vec<(&'static str, String)>,
    pub rejected: Vec<[String; 4]>,
    pub rejected_count: usize,
}

/// The shortlist for the record.
pub struct Shortlist {
    pub rows: Vec<RowView>,
    pub winters: Winters,
    pub difference: Vec<String>,
    pub ranked: usize,
    pub lead: String,
}

impl View {
    /// Writes the page of a record; `own` is the shortlist, where there are winters enough for one.
    pub fn new(reading: &Reading, own: Option<&OwnRecord<'_>>, pairs: &[(String, String)], frame: &Frame) -> Self {
        let climate = &reading.climate;
        let axis = axis(climate, own.map(|own| own.answer.site.one_winter()).as_ref());
        let minima: Vec<Celsius> = climate.winters.iter().filter(|w| w.used).filter_map(|w| w.minimum_c).collect();
        let (course, course_lead) = course_of(reading, pairs, frame);
        let t = |c: f64| frame.temperature(Celsius::literal(c));
        Self {
            title: title(climate),
            lead: lead(climate, frame),
            notes: climate.diagnostics.iter().map(|found| sentence(&diagnostic_words(found))).collect(),
            years: Years::new(climate, axis, frame),
            winters: climate.winter_minimum().map(|w| Winters::new(&w, axis, frame)),
            winter_rows: winter_rows(climate, frame),
            winter_rule: winter_rule_words(climate.winter_rule),
            unused: climate.winters.iter().filter(|w| !w.used).count(),
            rarities: Rarities::new(&climate.yearly_minimum, &minima, axis, frame),
            levels: climate.yearly_minimum.return_levels.iter().map(|level| level_row(level, frame)).collect(),
            why: why(climate),
            trend: [zones_then_and_since(climate), trend(climate, frame)].into_iter().flatten().reduce(|a, b| format!("{a} {b}")),
            course,
            course_lead,
            classes: climate
                .equivalent_by_class
                .iter()
                .map(|e| ClassRow {
                    class: e.class.number(),
                    mean: t(e.mean_c),
                    shift: frame.difference(TemperatureDelta::literal(-e.mean_shift_k)),
                    other: e.winters_set_by_another_night,
                })
                .collect(),
            season: SeasonBar::new(&climate.frost, climate.hemisphere),
            frosts: std::iter::once(&climate.frost).chain(&climate.frost_by_threshold).map(|frost| frost_row(frost, frame)).collect(),
            spells: climate.spells.iter().flat_map(|spells| &spells.by_threshold).map(|below| spell_row(below, frame)).collect(),
            periods: climate.periods.iter().flat_map(|all| &all.periods).map(|period| period_view(period, frame)).collect(),
            change: change(climate, frame),
            nights: ColdNights::new(climate, frame),
            carrying: carrying(climate, frame),
            heating: heating(climate, frame),
            heat: climate.degree_days.as_ref().map(|heat| {
                format!(
                    "{:.0} degree-days a year above {} °C, cut off at {} °C, by the single sine; one year in ten less than {:.0}, one in ten more than {:.0} ({} years).",
                    heat.per_year_p50, heat.base_c, heat.cap_c, heat.per_year_p10, heat.per_year_p90, heat.years
                )
            }),
            chill: climate.chill.as_ref().map(|chill| {
                format!(
                    "{:.0} hours of {} and {:.0} portions of the Dynamic model in a mean winter ({} seasons, day length of latitude {:.1}°{}).",
                    chill.hours,
                    chill.hours_method,
                    chill.portions,
                    chill.seasons,
                    chill.latitude_deg,
                    if chill.latitude_assumed { ", assumed" } else { "" }
                )
            }),
            shortlist: own.map(|own| shortlist(climate, own, axis, frame, kept(pairs))),
            facts: facts(climate),
            rejected: climate
                .rejected
                .iter()
                .take(REJECTED_SHOWN)
                .map(|r| [r.date.to_string(), r.element.to_string(), t(r.value_c), r.reason.to_string().replace('_', " ")])
                .collect(),
            rejected_count: climate.rejected_count,
        }
    }
}

/// One axis for every picture of the page.
fn axis(climate: &SiteClimate, ranked: Option<&WinterMinimum>) -> TemperatureAxis {
    if let Some(winter) = ranked {
        return TemperatureAxis::for_site(winter);
    }
    let known = climate.winters.iter().filter_map(|w| w.equivalent_minimum_c.or(w.minimum_c));
    let coldest = known.map(Celsius::degrees).fold(-10.0, f64::min);
    TemperatureAxis::between(Celsius::literal(coldest - 2.0), Celsius::literal(0.0))
}

fn title(climate: &SiteClimate) -> String {
    let file = &climate.file;
    let station = file.station.as_ref().map_or_else(|| "This record".to_owned(), |id| format!("Station {id}"));
    format!("{station}: the winters of {} to {}", file.first.year(), file.last.year())
}

fn lead(climate: &SiteClimate, frame: &Frame) -> String {
    let extremes = &climate.yearly_minimum;
    let zone = extremes.half_zone.as_ref().map_or_else(String::new, |zone| format!(", half-zone {zone}"));
    let mean = format!(
        "{} winters; their coldest nights average {}{zone}.",
        extremes.winters_used,
        frame.temperature(Celsius::literal(extremes.mean_c))
    );
    match extremes.quantiles_c {
        Some(q) => format!("{mean} One winter in ten falls below {}.", frame.temperature(Celsius::literal(q.p10))),
        None => format!("{mean} {}", sentence(&why_words(&extremes.why))),
    }
}

fn why(climate: &SiteClimate) -> String {
    let name = match climate.yearly_minimum.chosen {
        Some(Chosen::Normal) => "Normal distribution",
        Some(Chosen::GevLmoments) => "Extreme-value distribution by L-moments",
        Some(Chosen::GevMle) => "Extreme-value distribution by maximum likelihood",
        Some(Chosen::GevPrior) => "Extreme-value distribution, its tail held by a weak published prior",
        None => "No distribution",
    };
    format!("{name}: {}.", why_words(&climate.yearly_minimum.why))
}

/// `18 February 2006`.
fn day_words(date: jiff::civil::Date) -> String {
    date.strftime("%-d %B %Y").to_string()
}

/// The winter asked for, or the one whose thermometer tells least.
fn course_of(reading: &Reading, pairs: &[(String, String)], frame: &Frame) -> (Option<Course>, String) {
    let climate = &reading.climate;
    let asked = pairs.iter().find(|(name, _)| name == "winter").and_then(|(_, text)| text.trim().parse::<i16>().ok());
    let known = asked.filter(|label| climate.winters.iter().any(|w| w.winter == *label && w.used));
    let telling = telling(climate);
    let Some(label) = known.or_else(|| telling.as_ref().map(|w| w.winter)) else { return (None, String::new()) };
    let Ok(class) = HardinessClass::new(DRAWN_CLASS) else { return (None, String::new()) };
    let days = course(&reading.record, &DailyMeans::of(&reading.record), climate.hemisphere, label, class);
    let lead = match telling.filter(|w| w.winter == label) {
        Some(w) if w.date != w.minimum_date => format!(
            "The winter of {label} shows why: its coldest night was {} on {}, yet a plant that stood less hard on {} was hurt as by {} in midwinter.",
            frame.temperature(w.minimum),
            day_words(w.minimum_date),
            day_words(w.date),
            frame.temperature(w.equivalent)
        ),
        Some(w) => format!(
            "The winter of {label} shows why: its coldest night, {} on {}, found plants less than fully hard and counts as {}.",
            frame.temperature(w.minimum),
            day_words(w.minimum_date),
            frame.temperature(w.equivalent)
        ),
        None => format!("The winter of {label}."),
    };
    (days.and_then(|days| Course::new(label, &days, frame)), lead)
}

/// Id of the record where it is one that its member keeps; only then a sheet can be asked for by it.
fn kept(pairs: &[(String, String)]) -> Option<&str> {
    pairs.iter().find(|(name, value)| name == SITE && !value.trim().is_empty()).map(|(_, id)| id.as_str())
}

fn shortlist(climate: &SiteClimate, own: &OwnRecord<'_>, axis: TemperatureAxis, frame: &Frame, site: Option<&str>) -> Shortlist {
    let query = site.map(|id| format!("{SITE}={id}&{}", own.answer.question.planting_query()));
    let sheet_of = |r: &Recommendation<'_>| query.as_ref().map(|query| sheet(r.cultivar.slug.as_str(), query)).unwrap_or_default();
    let winters = Winters::new(&own.answer.site.one_winter(), axis, frame);
    let counted = if own.hardening_counted {
        "with every freeze counted at what it does to a plant as hard as it was that night"
    } else {
        "by its coldest nights alone: without daily maxima hardening cannot be followed"
    };
    let kind = climate.kind().filter(|kind| *kind == own.answer.question.climate);
    let kind = kind.map_or_else(String::new, |kind| format!(" The record looks like {}.", kind_words(kind)));
    Shortlist {
        rows: own.answer.rows.iter().map(|r| RowView { sheet: sheet_of(r), ..row(r, axis, &winters, frame) }).collect(),
        difference: own.against_zone.as_ref().map(|d| difference(d, own.hardening_counted, frame)).unwrap_or_default(),
        ranked: own.answer.ranked,
        lead: format!("From this record’s own winters, {counted}.{kind}{}", own_words(own, frame)),
        winters,
    }
}

/// What the own thermometer adds, where it is counted.
fn own_words(own: &OwnRecord<'_>, frame: &Frame) -> String {
    own.answer.site.own_spot.map_or_else(String::new, |spot| {
        let of = |gain: Gaussian| {
            let by = frame.difference(TemperatureDelta::literal(gain.mean.abs()));
            let doubt = frame.difference(TemperatureDelta::literal(Z_90 * gain.sd));
            format!("{by} {} (give or take {doubt})", if gain.mean < 0.0 { "colder" } else { "warmer" })
        };
        format!(
            " Your own thermometer is counted in place of a setting: on clear still nights your place is {} than the station, on windy ones {}.",
            of(spot.clear),
            of(spot.windy)
        )
    })
}

/// Why the record says something else than its zone.
fn difference(d: &AgainstZone, hardening_counted: bool, frame: &Frame) -> Vec<String> {
    let (other, all) = d.other_night;
    let mut lines = vec![format!(
        "Zone {} alone would say that an average fig of the catalogue is killed to the ground or worse in {} of winters; this record says {}.",
        d.zone,
        percent(d.loses_top_by_zone),
        percent(d.loses_top)
    )];
    if hardening_counted {
        lines.push(format!(
            "The reason: in {other} of {all} winters another night than the coldest did the most harm, because plants were not yet hard, or no longer; on average the hardest night counts {} colder than the thermometer’s lowest.",
            frame.difference(d.mean_shift)
        ));
    }
    if let Some((name, by_zone, by_record)) = &d.most_changed {
        lines.push(format!(
            "Most changed: {name}, killed to the ground {} by the zone, {} by the record.",
            in_ten(*by_zone),
            in_ten(*by_record)
        ));
    }
    lines
}

fn facts(climate: &SiteClimate) -> Vec<(&'static str, String)> {
    let file = &climate.file;
    let hemisphere = format!("{:?}, known from {}", climate.hemisphere, climate.hemisphere_from).to_lowercase();
    vec![
        ("Layout", file.format.to_string()),
        ("Station", file.station.clone().unwrap_or_else(|| "not named in the file".to_owned())),
        ("Days", format!("{} with readings, {} to {}", file.days, file.first, file.last)),
        ("Units of the file", format!("{}, known from {}", file.units_as_read, file.units_from)),
        ("Half of the Earth", hemisphere),
    ]
}
