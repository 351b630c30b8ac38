//! A site's own climate, put together from its daily record: the one result that commands, pages and the shortlist read.
//!
//! Serialised, with the words of `jobs::station_record::json`, it is the JSON of `winterfig climate --json`; every number carries its unit in
//! its name.

use std::collections::BTreeMap;

use serde::Serialize;

use super::chill::Chill;
use super::degree_days::{self, DegreeDays};
use super::diagnostics::{Diagnostic, Grounds, diagnostics};
use super::equivalent::{self, Counting, CountingSlopes, DailyMeans};
use super::extremes::Extremes;
use super::frost::Frost;
use super::kind::ClimateKind;
use super::periods::{EmptyPeriod, Period, Periods};
use super::record::{DailyRecord, Doubtful, FileSummary, Rejected};
use super::season::{Origin, Season};
use super::spells::{SpellQuestion, Spells};
use super::winter_minimum::WinterMinimum;
use super::winters::{Hemisphere, Winter, winters};
use crate::science::cultivar::HardinessClass;
use crate::units::Celsius;

/// Thresholds of the frost dates beside 0 °C: the first −1 °C night ends a fig's season; −2.2 and −4.4 °C are 28 and 24 °F.
const MORE_THRESHOLDS_C: [Celsius; 3] = [Celsius::literal(-1.0), Celsius::literal(-20.0 / 9.0), Celsius::literal(-40.0 / 9.0)];
/// Range of the monthly means up to which a climate counts as coast, K.
pub const COAST_RANGE_K: f64 = 16.0;
/// Range from which it counts as continental, K.
pub const CONTINENTAL_RANGE_K: f64 = 24.0;
/// Refused and doubtful values listed; the rest are counted. A file may repeat one line a hundred thousand times.
pub const MOST_LISTED: usize = 200;
/// Days of one month, over all years, for its mean.
const MONTH_DAYS: usize = 20;

/// Why a record that could be read gives no climate.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ClimateError {
    /// Not one winter is covered.
    #[error("no usable winter of the {hemisphere} hemisphere in {first} to {last}: at most {allowed} cold-month minima may be missing")]
    NoWinter {
        /// First day.
        first: String,
        /// Last day.
        last: String,
        /// Decides what a winter is.
        hemisphere: Hemisphere,
        /// Cold-month minima that may be missing.
        allowed: usize,
    },
    /// A period asked for holds no winter.
    #[error(transparent)]
    Period(#[from] EmptyPeriod),
}

/// What is asked of a record beside its climate.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Question {
    /// Cold nights.
    pub spells: SpellQuestion,
    /// Periods to set side by side.
    pub periods: Vec<Period>,
}

/// How the equivalent midwinter minimum of plants of one hardiness class varies over winters.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClassEquivalent {
    /// Hardiness class.
    pub class: HardinessClass,
    /// Mean over winters.
    pub mean_c: f64,
    /// Standard deviation between winters.
    pub sd_c: Option<f64>,
    /// Mean of equivalent less measured minimum: what hardening adds to the cold, K (≤ 0).
    pub mean_shift_k: f64,
    /// Winters whose hardest night was not their coldest.
    pub winters_set_by_another_night: usize,
    #[serde(skip)]
    extremes: Extremes,
}

/// What counts as a winter of a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct WinterRule {
    /// Decides the months.
    pub hemisphere: Hemisphere,
    /// Cold-month minima that may be missing.
    pub missing_allowed: usize,
}

/// The climate of one site.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SiteClimate {
    /// The file.
    pub file: FileSummary,
    /// Half of the Earth.
    pub hemisphere: Hemisphere,
    /// How it is known: "latitude", "the values" or "assumed".
    pub hemisphere_from: &'static str,
    /// Values that were read and not used, by date: the first [`MOST_LISTED`].
    pub rejected: Vec<Rejected>,
    /// How many there are.
    pub rejected_count: usize,
    /// How many of them for which reason.
    pub rejected_by_reason: BTreeMap<String, usize>,
    /// Values that were kept although far from their season, by date: the first [`MOST_LISTED`].
    pub doubtful: Vec<Doubtful>,
    /// How many there are.
    pub doubtful_count: usize,
    /// The rule for winters: what one is, and how many days may be missing.
    pub winter_rule: WinterRule,
    /// Every winter that the record touches.
    pub winters: Vec<Winter>,
    /// The yearly minimum as measured.
    pub yearly_minimum: Extremes,
    /// The equivalent midwinter minimum of a plant of class 3; absent without daily maxima.
    pub equivalent_minimum: Option<Extremes>,
    /// The same in short for every class.
    pub equivalent_by_class: Vec<ClassEquivalent>,
    /// How far the mean equivalent minimum moves with what is uncertain in that counting.
    pub equivalent_slopes: Option<CountingSlopes>,
    /// Frosts at 0 °C.
    pub frost: Frost,
    /// Frosts at lower thresholds.
    pub frost_by_threshold: Vec<Frost>,
    /// Degree-days; absent without daily maxima or a whole year.
    pub degree_days: Option<DegreeDays>,
    /// Chill; absent without daily maxima or a whole season.
    pub chill: Option<Chill>,
    /// Mean of the warmest month, over all years.
    pub warmest_month_c: Option<f64>,
    /// Mean of the coldest month, over all years.
    pub coldest_month_c: Option<f64>,
    /// Cold nights and the runs they come in.
    pub spells: Option<Spells>,
    /// Periods side by side, where they were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub periods: Option<Periods>,
    /// What to keep in mind when reading the numbers.
    #[serde(rename = "doubts")]
    pub diagnostics: Vec<Diagnostic>,
}

impl SiteClimate {
    /// Everything that a record tells.
    pub fn of(record: &DailyRecord) -> Result<Self, ClimateError> {
        let (hemisphere, hemisphere_from) = Hemisphere::of(record);
        let mut winters = winters(record, hemisphere);
        let minima: Vec<(i16, Celsius)> = used(&winters);
        let no_winter = || ClimateError::NoWinter {
            first: record.file.first.to_string(),
            last: record.file.last.to_string(),
            hemisphere,
            allowed: super::winters::MISSING_ALLOWED,
        };
        let labels: Vec<i16> = minima.iter().map(|(label, _)| *label).collect();
        // Half of the time goes into what is fitted to winters, a quarter each into hardening and what else days add up to.
        let ((yearly_minimum, chill), (equivalents, spells)) = rayon::join(
            || rayon::join(|| Extremes::of(&minima), || Chill::of(record, hemisphere)),
            || {
                rayon::join(
                    || Equivalents::of(record, hemisphere, &mut winters, &Counting::STARTING),
                    || Spells::of(record, hemisphere, &labels, &SpellQuestion::default()),
                )
            },
        );
        let yearly_minimum = yearly_minimum.ok_or_else(no_winter)?;
        let months = month_means(record);
        let mut climate = Self {
            file: record.file.clone(),
            hemisphere,
            hemisphere_from,
            rejected: record.rejected.iter().take(MOST_LISTED).copied().collect(),
            rejected_count: record.rejected.len(),
            rejected_by_reason: by_reason(&record.rejected),
            doubtful: record.doubtful.iter().take(MOST_LISTED).copied().collect(),
            doubtful_count: record.doubtful.len(),
            winter_rule: WinterRule { hemisphere, missing_allowed: super::winters::MISSING_ALLOWED },
            winters,
            yearly_minimum,
            equivalent_minimum: middle(&equivalents.by_class),
            equivalent_by_class: equivalents.by_class,
            equivalent_slopes: equivalents.slopes,
            frost: Frost::of(record, hemisphere, Celsius::literal(0.0)),
            frost_by_threshold: MORE_THRESHOLDS_C.map(|threshold| Frost::of(record, hemisphere, threshold)).into(),
            degree_days: DegreeDays::of(record, hemisphere, degree_days::FIG),
            chill,
            warmest_month_c: months.iter().copied().max_by(f64::total_cmp),
            coldest_month_c: months.iter().copied().min_by(f64::total_cmp),
            spells,
            periods: None,
            diagnostics: Vec::new(),
        };
        climate.diagnostics = diagnostics(
            record,
            &Grounds {
                winters_used: climate.yearly_minimum.winters_used,
                hemisphere,
                hemisphere_from,
                has_maxima: !climate.equivalent_by_class.is_empty(),
                chill: climate.chill.as_ref(),
                frost: &climate.frost,
                winters: &climate.winters,
                doubtful: &record.doubtful,
            },
        );
        Ok(climate)
    }

    /// The same with hardening and nights counted otherwise, of the record that it is from.
    #[must_use]
    pub fn counted(mut self, record: &DailyRecord, counting: &Counting) -> Self {
        let Equivalents { by_class, slopes } = Equivalents::of(record, self.hemisphere, &mut self.winters, counting);
        self.equivalent_minimum = middle(&by_class);
        (self.equivalent_by_class, self.equivalent_slopes) = (by_class, slopes);
        self
    }

    /// The same with what else is asked of the record that it is from.
    pub fn answered(mut self, record: &DailyRecord, question: &Question) -> Result<Self, ClimateError> {
        if question.spells != SpellQuestion::default() {
            let labels: Vec<i16> = used(&self.winters).iter().map(|(label, _)| *label).collect();
            self.spells = Spells::of(record, self.hemisphere, &labels, &question.spells);
        }
        self.periods = Periods::of(record, self.hemisphere, &self.winters, (&question.periods, &question.spells))?;
        Ok(self)
    }

    /// Distribution of the yearly minimum as measured; `None` with too few winters.
    pub fn winter_minimum(&self) -> Option<WinterMinimum> {
        self.yearly_minimum.distribution()
    }

    /// Distribution of the equivalent midwinter minimum for plants of a class (middling where not known); `None` with too few winters or no
    /// daily maxima.
    pub fn equivalent_winter_minimum(&self, class: Option<HardinessClass>) -> Option<WinterMinimum> {
        let index = class.map_or(MIDDLE, HardinessClass::index);
        self.equivalent_by_class.iter().find(|e| e.class.index() == index)?.extremes.distribution()
    }

    /// Kind of climate by the range between the means of coldest and warmest month: below 16 K coast, above 24 K continental (DESIGN, set
    /// between Seattle-Tacoma with 14, Klein-Altendorf with 17 and Champion with 27 K). `None` without daily maxima.
    pub fn kind(&self) -> Option<ClimateKind> {
        let range = self.warmest_month_c? - self.coldest_month_c?;
        Some(if range < COAST_RANGE_K {
            ClimateKind::Coast
        } else if range > CONTINENTAL_RANGE_K {
            ClimateKind::Continental
        } else {
            ClimateKind::Inland
        })
    }

    /// The growing season as the shortlist takes it; `None` without daily maxima or frost dates. A place without frost has 365 days.
    pub fn season(&self) -> Option<Season> {
        let frost = &self.frost;
        let frostless = frost.springs > 0 && frost.springs_without == frost.springs && frost.autumns_without == frost.autumns;
        let days = frost.frost_free_days.map_or_else(|| frostless.then_some(365.0), |q| Some(q.p50))?;
        Season::new(days, Celsius::new(self.warmest_month_c?).ok()?, Origin::Recorded, Origin::Recorded).ok()
    }
}

/// Place of the class whose equivalent minimum is shown winter by winter.
const MIDDLE: usize = 2;

fn used(winters: &[Winter]) -> Vec<(i16, Celsius)> {
    winters.iter().filter(|w| w.used).filter_map(|w| Some((w.winter, w.minimum_c?))).collect()
}

/// How many values were refused for which reason.
fn by_reason(rejected: &[Rejected]) -> BTreeMap<String, usize> {
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    for refused in rejected {
        *counts.entry(refused.reason.to_string()).or_default() += 1;
    }
    counts
}

/// What the cold comes to for plants that harden.
struct Equivalents {
    by_class: Vec<ClassEquivalent>,
    slopes: Option<CountingSlopes>,
}

impl Equivalents {
    /// Of the used winters; the equivalents of the middle class are also written into them.
    fn of(record: &DailyRecord, hemisphere: Hemisphere, winters: &mut [Winter], counting: &Counting) -> Self {
        let means = DailyMeans::of(record);
        let known = winters.to_vec();
        let of_class = |class| class_equivalent((record, &means, hemisphere), winters, class, counting);
        let (by_class, slopes) = rayon::join(
            || HardinessClass::all().filter_map(of_class).collect(),
            || CountingSlopes::of(record, &means, hemisphere, &known, counting),
        );
        Self { by_class, slopes }
    }
}

fn middle(by_class: &[ClassEquivalent]) -> Option<Extremes> {
    by_class.iter().find(|e| e.class.index() == MIDDLE).map(|e| e.extremes.clone())
}

/// The equivalent minima of one class; those of the middle class are also written into the winters.
fn class_equivalent(
    (record, means, hemisphere): (&DailyRecord, &DailyMeans, Hemisphere),
    winters: &mut [Winter],
    class: HardinessClass,
    counting: &Counting,
) -> Option<ClassEquivalent> {
    let nights = equivalent::by_winter(record, means, hemisphere, winters, class, counting);
    let equivalents: Vec<(i16, Celsius)> = nights.iter().map(|(label, _, equivalent)| (*label, *equivalent)).collect();
    // Intervals and trend are shown for the middle class only.
    let extremes = if class.index() == MIDDLE { Extremes::of(&equivalents)? } else { Extremes::in_brief(&equivalents)? };
    let mut other_night = 0;
    let mut shift = 0.0;
    for (label, night, equivalent) in &nights {
        let Some(winter) = winters.iter_mut().find(|winter| winter.winter == *label) else { continue };
        other_night += usize::from(winter.date != Some(night.date) && night.minimum != winter.minimum_c);
        shift += winter.minimum_c.map_or(0.0, |minimum| (*equivalent - minimum).kelvin());
        if class.index() == MIDDLE {
            winter.equivalent_minimum_c = Some(*equivalent);
            winter.equivalent_date = Some(night.date);
            winter.deficit_k = Some(night.deficit.kelvin());
        }
    }
    Some(ClassEquivalent {
        class,
        mean_c: extremes.mean_c,
        sd_c: extremes.sd_c,
        mean_shift_k: shift / nights.len() as f64,
        winters_set_by_another_night: other_night,
        extremes,
    })
}

/// Means of the calendar months over all years, °C; empty unless every month has enough days.
fn month_means(record: &DailyRecord) -> Vec<f64> {
    let mut months = [(0.0, 0_usize); 12];
    for (date, day) in record.days() {
        if let Some(mean) = day.mean_c() {
            let month = &mut months[usize::from(date.month().unsigned_abs()) - 1];
            *month = (month.0 + mean, month.1 + 1);
        }
    }
    let whole = months.iter().all(|(_, days)| *days >= MONTH_DAYS);
    if whole { months.iter().map(|(sum, days)| sum / *days as f64).collect() } else { Vec::new() }
}

#[cfg(test)]
mod tests {
    use jiff::civil::Date;

    use super::*;
    use crate::science::climate::record::Day;

    /// Simulated years of 9 ± 11 °C with a wander, from 1 July 1990; minimum 5 K below and maximum 5 K above the mean.
    fn years(count: usize, latitude: f64, spoil: impl Fn(usize, &mut Day)) -> SiteClimate {
        let days = (0..count * 365 + count / 4)
            .map(|i| {
                let t = i as f64;
                let wander = 4.0 * (t * 0.37).sin() + 3.0 * (t * 0.051).sin() + 2.0 * (t * 0.0041).cos();
                let mean = 9.0 + 11.0 * (t / 365.25 * std::f64::consts::TAU).cos() + wander;
                let mut day = Day { minimum: Some(Celsius::literal(mean - 5.0)), maximum: Some(Celsius::literal(mean + 5.0)) };
                spoil(i, &mut day);
                day
            })
            .collect();
        SiteClimate::of(&DailyRecord::of_days(Date::constant(1990, 7, 1), days, Some(latitude)).unwrap()).unwrap()
    }

    fn has(climate: &SiteClimate, wanted: impl Fn(&Diagnostic) -> bool) -> bool {
        climate.diagnostics.iter().any(wanted)
    }

    fn is_floor(found: &Diagnostic) -> bool {
        matches!(found, Diagnostic::SameLowest { .. })
    }

    fn is_gaps(found: &Diagnostic) -> bool {
        matches!(found, Diagnostic::GapsInTheCold { .. })
    }

    #[test]
    fn a_sound_record_of_twenty_years_raises_no_doubt() {
        assert_eq!(years(21, 45.0, |_, _| ()).diagnostics, Vec::new());
    }

    #[test]
    fn a_latitude_of_the_wrong_sign_is_noticed_and_the_seasons_are_followed() {
        let (right, wrong) = (years(21, 45.0, |_, _| ()), years(21, -45.0, |_, _| ()));
        assert!(has(&wrong, |found| matches!(found, Diagnostic::LatitudeSign { seen: Hemisphere::North, .. })), "{:?}", wrong.diagnostics);
        assert_eq!((wrong.hemisphere, wrong.hemisphere_from), (Hemisphere::North, "the values"));
        assert_eq!((&wrong.winters, &wrong.chill), (&right.winters, &right.chill));
    }

    #[test]
    fn few_springs_are_said_at_nine_and_not_at_ten() {
        let nine = years(10, 45.0, |_, _| ());
        assert!(has(&nine, |found| matches!(found, Diagnostic::FewFrostDates { springs: 9, .. })), "{:?}", nine.diagnostics);
        assert!(!has(&years(11, 45.0, |_, _| ()), |found| matches!(found, Diagnostic::FewFrostDates { .. })));
    }

    #[test]
    fn a_thermometer_that_reads_no_lower_or_fails_in_the_cold_is_suspected() {
        let bottom = Celsius::literal(-9.0);
        let clipped = years(21, 45.0, |_, day| day.minimum = day.minimum.map(|t| t.max(bottom)));
        assert!(has(&clipped, is_floor), "{:?}", clipped.diagnostics);
        let failing = years(21, 45.0, |_, day| day.minimum = day.minimum.filter(|t| *t > bottom));
        assert!(has(&failing, is_gaps), "{:?}", failing.diagnostics);
        // Gaps at any temperature are no sign of it.
        let gappy = years(21, 45.0, |i, day| day.minimum = day.minimum.filter(|_| i % 61 != 0));
        assert!(!has(&gappy, is_gaps) && !has(&gappy, is_floor), "{:?}", gappy.diagnostics);
    }
}
