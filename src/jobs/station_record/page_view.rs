//! What the page of a record shows, decided and written: sentences, pictures, tables.

use crate::jobs::shortlist::page::{RowView, percent, row};
use crate::jobs::shortlist::reasons::in_ten;
use crate::jobs::station_record::answer::{AgainstZone, OwnRecord, kind_words, telling};
use crate::jobs::station_record::read::Reading;
use crate::science::climate::equivalent::{DailyMeans, course};
use crate::science::climate::extremes::{Chosen, ReturnLevel};
use crate::science::climate::frost::{Frost, Quantiles, SeasonDay};
use crate::science::climate::own_thermometer::LocalOffset;
use crate::science::climate::periods::PeriodClimate;
use crate::science::climate::site_climate::SiteClimate;
use crate::science::climate::spells::BelowThreshold;
use crate::science::climate::winter_minimum::WinterMinimum;
use crate::science::cultivar::HardinessClass;
use crate::units::{Celsius, TemperatureDelta};
use crate::web::charts::axis::TemperatureAxis;
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

pub struct WinterRow {
    pub winter: i16,
    pub minimum: String,
    pub date: String,
    pub missing: usize,
    pub equivalent: String,
    pub equivalent_date: String,
}

pub struct LevelRow {
    pub words: String,
    pub level: String,
    pub range: String,
}

pub struct ClassRow {
    pub class: u8,
    pub mean: String,
    pub shift: String,
    pub other: usize,
}

/// Cold nights below one threshold.
pub struct SpellRow {
    pub threshold: String,
    pub nights: String,
    pub longest_run: String,
    pub weeks: String,
    pub first: String,
    pub last: String,
    pub longest: String,
}

/// One of two periods.
pub struct PeriodView {
    pub period: String,
    pub winters: usize,
    pub mean: String,
    pub zone: String,
    pub ten: String,
    pub thirty: String,
    pub nights: Vec<String>,
}

pub struct FrostRow {
    pub threshold: String,
    pub spring: String,
    pub spring_late: String,
    pub autumn_early: String,
    pub autumn: String,
    pub days: String,
}

/// The offset of one type of night in words.
pub struct OffsetView {
    pub night: &'static str,
    pub nights: usize,
    pub mean: String,
    pub range: String,
    pub spread: String,
}

impl OffsetView {
    pub fn new(offset: &LocalOffset, frame: &Frame) -> Self {
        let signed = |k: TemperatureDelta| {
            let way = if k.kelvin() < 0.0 { "colder" } else { "warmer" };
            if k.abs().kelvin() < 0.05 {
                return "the same".to_owned();
            }
            format!("{} {way}", frame.difference(k.abs()))
        };
        Self {
            night: offset.night.map_or("not noted", crate::science::climate::own_thermometer::NightType::label),
            nights: offset.nights,
            mean: signed(offset.mean_k),
            range: offset
                .interval_k
                .map_or_else(|| "needs three nights".to_owned(), |i| format!("{} to {}", signed(i.low), signed(i.high))),
            spread: offset.spread_k.map_or_else(String::new, |spread| frame.difference(spread)),
        }
    }
}

impl View {
    /// Writes the page of a record; `own` is the shortlist, where there are winters enough for one.
    pub fn new(reading: &Reading, own: Option<&OwnRecord<'_>>, pairs: &[(String, String)], frame: &Frame) -> Self {
        let climate = &reading.climate;
        let axis = axis(climate, own.map(|own| &own.answer.site.winter));
        let minima: Vec<Celsius> = climate.winters.iter().filter(|w| w.used).filter_map(|w| w.minimum_c).collect();
        let (course, course_lead) = course_of(reading, pairs, frame);
        let t = |c: f64| frame.temperature(Celsius::literal(c));
        Self {
            title: title(climate),
            lead: lead(climate, frame),
            notes: climate.doubts.iter().map(|doubt| sentence(doubt)).collect(),
            years: Years::new(climate, axis, frame),
            winters: climate.winter_minimum().map(|w| Winters::new(&w, axis, frame)),
            winter_rows: winter_rows(climate, frame),
            winter_rule: climate.winter_rule.clone(),
            unused: climate.winters.iter().filter(|w| !w.used).count(),
            rarities: Rarities::new(&climate.yearly_minimum, &minima, axis, frame),
            levels: climate.yearly_minimum.return_levels.iter().map(|level| level_row(level, frame)).collect(),
            why: why(climate),
            trend: trend(climate, frame),
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
            change: climate.periods.as_ref().and_then(|all| all.difference).map(|change| {
                let way = if change.mean_k >= 0.0 { "milder" } else { "colder" };
                let k = |kelvin: f64| frame.difference(TemperatureDelta::literal(kelvin));
                let sure = if change.low_k > 0.0 || change.high_k < 0.0 { "" } else { "; winters differ so much that this may be chance" };
                format!(
                    "The coldest night of a mean winter is {} {way} in the second period (95 % interval {} to {}){sure}.",
                    k(change.mean_k.abs()),
                    k(change.low_k),
                    k(change.high_k)
                )
            }),
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
            shortlist: own.map(|own| shortlist(climate, own, axis, frame)),
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
        None => format!("{mean} {}", sentence(&extremes.why)),
    }
}

/// With a capital and a full stop.
fn sentence(clause: &str) -> String {
    let mut letters = clause.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).chain(['.']).collect())
}

fn why(climate: &SiteClimate) -> String {
    let name = match climate.yearly_minimum.chosen {
        Some(Chosen::Normal) => "Normal distribution",
        Some(Chosen::GevLmoments) => "Extreme-value distribution by L-moments",
        Some(Chosen::GevMle) => "Extreme-value distribution by maximum likelihood",
        Some(Chosen::GevPrior) => "Extreme-value distribution, its tail held by a weak published prior",
        None => "No distribution",
    };
    format!("{name}: {}.", climate.yearly_minimum.why)
}

fn trend(climate: &SiteClimate, frame: &Frame) -> Option<String> {
    let trend = climate.yearly_minimum.trend.as_ref()?;
    let slope = frame.difference(TemperatureDelta::literal(trend.per_decade_k.abs()));
    let way = if trend.per_decade_k >= 0.0 { "milder" } else { "colder" };
    Some(match trend.as_of_now {
        Some(now) => format!(
            "Winters have been growing {way} by {slope} a decade (p = {:.3}). As of {} one in ten falls below {}, not {}. The shortlist below keeps the whole record, which errs on the cold side.",
            trend.p_value,
            now.winter,
            frame.temperature(Celsius::literal(now.ten_year_level_c)),
            climate.yearly_minimum.quantiles_c.map_or_else(String::new, |q| frame.temperature(Celsius::literal(q.p10)))
        ),
        None if trend.counts => format!("Winters have been growing {way} by {slope} a decade (p = {:.3}).", trend.p_value),
        None => format!("No trend is claimed: {slope} a decade {way}, p = {:.2}.", trend.p_value),
    })
}

fn level_row(level: &ReturnLevel, frame: &Frame) -> LevelRow {
    let t = |c: f64| frame.temperature(Celsius::literal(c));
    LevelRow {
        words: format!("{} winters", level.years),
        level: t(level.level_c),
        range: match (level.low_c, level.high_c) {
            (Some(low), Some(high)) => format!("{} to {}", t(low), t(high)),
            (None, Some(high)) => format!("not bounded to {}", t(high)),
            _ => "none".to_owned(),
        },
    }
}

fn winter_rows(climate: &SiteClimate, frame: &Frame) -> Vec<WinterRow> {
    let temperature = |t: Option<Celsius>| t.map_or_else(String::new, |t| frame.temperature(t));
    let date = |d: Option<jiff::civil::Date>| d.map_or_else(String::new, |d| d.to_string());
    let row = |w: &crate::science::climate::winters::Winter| WinterRow {
        winter: w.winter,
        minimum: temperature(w.minimum_c),
        date: date(w.date),
        missing: w.days_missing,
        equivalent: w.reason.map_or_else(|| temperature(w.equivalent_minimum_c), |reason| format!("not used: {reason}")),
        equivalent_date: date(w.equivalent_date),
    };
    climate.winters.iter().map(row).collect()
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

/// `22 (11 to 43)`.
fn range(q: &Quantiles<f64>) -> String {
    format!("{:.0} ({:.0} to {:.0})", q.p50, q.p10, q.p90)
}

fn spell_row(below: &BelowThreshold, frame: &Frame) -> SpellRow {
    let date = |q: &Option<Quantiles<SeasonDay>>| q.as_ref().map_or_else(|| "none".to_owned(), |q| q.p50.words());
    SpellRow {
        threshold: frame.temperature(below.threshold),
        nights: range(&below.nights),
        longest_run: range(&below.longest_run),
        weeks: range(&below.weeks),
        first: date(&below.first_night),
        last: date(&below.last_night),
        longest: below.longest.map_or_else(
            || "none".to_owned(),
            |run| format!("{} nights from {}, down to {}", run.nights, run.first.strftime("%-d %B %Y"), frame.temperature(run.minimum_c)),
        ),
    }
}

fn period_view(of: &PeriodClimate, frame: &Frame) -> PeriodView {
    let level = |years: u32| {
        let found = of.yearly_minimum.return_levels.iter().find(|level| level.years == years);
        found.map_or_else(|| "too few winters".to_owned(), |level| frame.temperature(Celsius::literal(level.level_c)))
    };
    PeriodView {
        period: of.period.to_string(),
        winters: of.yearly_minimum.winters_used,
        mean: frame.temperature(Celsius::literal(of.yearly_minimum.mean_c)),
        zone: of.yearly_minimum.half_zone.clone().unwrap_or_default(),
        ten: level(10),
        thirty: level(30),
        nights: of.spells.by_threshold.iter().map(|below| range(&below.nights)).collect(),
    }
}

fn frost_row(frost: &Frost, frame: &Frame) -> FrostRow {
    let none = || "no frost".to_owned();
    let days = frost.frost_free_days.map_or_else(none, |q| format!("{:.0} ({:.0} to {:.0})", q.p50, q.p10, q.p90));
    FrostRow {
        threshold: frame.temperature(Celsius::literal(frost.threshold_c)),
        spring: frost.last_spring.map_or_else(none, |q| q.p50.words()),
        spring_late: frost.last_spring.map_or_else(none, |q| q.p90.words()),
        autumn_early: frost.first_autumn.map_or_else(none, |q| q.p10.words()),
        autumn: frost.first_autumn.map_or_else(none, |q| q.p50.words()),
        days,
    }
}

fn shortlist(climate: &SiteClimate, own: &OwnRecord<'_>, axis: TemperatureAxis, frame: &Frame) -> Shortlist {
    let winters = Winters::new(&own.answer.site.winter, axis, frame);
    let counted = if own.hardening_counted {
        "with every freeze counted at what it does to a plant as hard as it was that night"
    } else {
        "by its coldest nights alone: without daily maxima hardening cannot be followed"
    };
    let kind = climate.kind().filter(|kind| *kind == own.answer.question.climate);
    let kind = kind.map_or_else(String::new, |kind| format!(" The record looks like {}.", kind_words(kind)));
    Shortlist {
        rows: own.answer.rows.iter().map(|r| row(r, axis, &winters, frame)).collect(),
        difference: own.against_zone.as_ref().map(|d| difference(d, own.hardening_counted, frame)).unwrap_or_default(),
        ranked: own.answer.ranked,
        lead: format!("From this record’s own winters, {counted}.{kind}"),
        winters,
    }
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
