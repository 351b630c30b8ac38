//! The tables on the page of a record, row by row, as they are shown.

use crate::jobs::station_record::words::not_used_words;
use crate::science::climate::extremes::ReturnLevel;
use crate::science::climate::frost::{Frost, Quantiles, SeasonDay};
use crate::science::climate::own_thermometer::LocalOffset;
use crate::science::climate::periods::PeriodClimate;
use crate::science::climate::site_climate::SiteClimate;
use crate::science::climate::spells::BelowThreshold;
use crate::units::{Celsius, TemperatureDelta};
use crate::web::frame::Frame;

/// One winter.
pub struct WinterRow {
    pub winter: i16,
    pub minimum: String,
    pub date: String,
    pub missing: usize,
    pub equivalent: String,
    pub equivalent_date: String,
}

/// A level undercut once in so many winters.
pub struct LevelRow {
    pub words: String,
    pub level: String,
    pub range: String,
}

/// What a hardiness class felt.
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

/// Last and first night below one threshold.
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

pub(super) fn level_row(level: &ReturnLevel, frame: &Frame) -> LevelRow {
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

pub(super) fn winter_rows(climate: &SiteClimate, frame: &Frame) -> Vec<WinterRow> {
    let temperature = |t: Option<Celsius>| t.map_or_else(String::new, |t| frame.temperature(t));
    let date = |d: Option<jiff::civil::Date>| d.map_or_else(String::new, |d| d.to_string());
    let row = |w: &crate::science::climate::winters::Winter| WinterRow {
        winter: w.winter,
        minimum: temperature(w.minimum_c),
        date: date(w.date),
        missing: w.days_missing,
        equivalent: w.reason.map_or_else(|| temperature(w.equivalent_minimum_c), |reason| format!("not used: {}", not_used_words(reason))),
        equivalent_date: date(w.equivalent_date),
    };
    climate.winters.iter().map(row).collect()
}

/// `22 (11 to 43)`.
pub(super) fn range(q: &Quantiles<f64>) -> String {
    format!("{:.0} ({:.0} to {:.0})", q.p50, q.p10, q.p90)
}

pub(super) fn spell_row(below: &BelowThreshold, frame: &Frame) -> SpellRow {
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

pub(super) fn period_view(of: &PeriodClimate, frame: &Frame) -> PeriodView {
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

pub(super) fn frost_row(frost: &Frost, frame: &Frame) -> FrostRow {
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
