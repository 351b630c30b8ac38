//! The spring question: what a grower sees on a fig after winter, when, and where; read from raw pairs into typed values.

use jiff::ToSpan;
use jiff::civil::Date;

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::shortlist::question::Question;
use crate::jobs::spring::date_checks::{check_dates, check_heat};
use crate::jobs::spring::dates::{day_from, days, turn_before};
use crate::jobs::spring::record_seasons::SpringRecord;
use crate::jobs::station_record::answer;
use crate::jobs::station_record::read::Reading;
use crate::model::snapshot::Snapshot;
use crate::places::Gazetteer;
use crate::science::climate::winters::Hemisphere;
use crate::science::fruiting::year::YearSoFar;
use crate::science::hardiness::level::DamageLevel;
use crate::units::{Celsius, within};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What is seen on the plant.
    pub enum Seen: "sight" {
        /// Alive to the tips.
        Whole = "whole" => "leaves or swelling buds right up to the tips",
        /// Tips dead.
        Tips = "tips" => "growth on the branches, only their tips are dead",
        /// Wood dead.
        Wood = "wood" => "growth low on the branches, much wood above it is dead",
        /// Top dead.
        Base = "base" => "shoots from the ground only, everything above is dead",
        /// Silent, wood alive.
        Green = "green" => "no growth yet, green under the bark",
        /// Silent, wood brown.
        Brown = "brown" => "no growth yet, brown under the bark down to the ground",
        /// Silent, not scratched.
        Nothing = "nothing" => "no growth yet, bark not scratched",
    }
}

impl Seen {
    /// The damage it shows; `None` while nothing has moved.
    pub fn level(self) -> Option<DamageLevel> {
        match self {
            Self::Whole => Some(DamageLevel::Unharmed),
            Self::Tips => Some(DamageLevel::Tips),
            Self::Wood => Some(DamageLevel::Wood),
            Self::Base => Some(DamageLevel::ToGround),
            Self::Green | Self::Brown | Self::Nothing => None,
        }
    }
}

/// Parameters beside those of the place.
pub const PARAMETERS: [&str; 16] = [
    "cultivar",
    "half",
    "seen",
    "today",
    "growth_seen",
    "freeze",
    "lowest_c",
    "lowest_f",
    "heat_so_far",
    "heat_base_c",
    "figs",
    "cover_k",
    "cover_f",
    "cover_from",
    "cover_to",
    SITE,
];
/// Parameter that names a record its member keeps.
pub const SITE: &str = "site";

/// A head start under cover as the reader means it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Cover {
    /// By how much it is warmer under it, day and night together, K.
    pub warmer_k: Option<f64>,
    /// From which day of the year, days from the turn.
    pub from: Option<f64>,
    /// Until which.
    pub to: Option<f64>,
}

/// A whole question.
#[derive(Debug, Clone, PartialEq)]
pub struct SpringQuestion {
    /// Place and planting.
    pub place: Question,
    /// Slug of the cultivar; `None`: not known.
    pub cultivar: Option<String>,
    /// Hemisphere of the earth.
    pub hemisphere: Hemisphere,
    /// What is seen.
    pub seen: Seen,
    /// The day of the question.
    pub today: Date,
    /// When growth was first seen.
    pub growth_seen: Option<Date>,
    /// When the hard freeze was.
    pub freeze: Option<Date>,
    /// Lowest temperature of the winter, in the open.
    pub lowest: Option<Celsius>,
    /// Measured heat since the turn of the year, degree-days above 8 °C.
    pub heat: Option<f64>,
    /// A head start under cover.
    pub cover: Cover,
    /// The daily record that speaks for the place, in place of a zone.
    pub record: Option<SpringRecord>,
    /// Whether the season is over, so that the question is of the winter to come and the season after it.
    pub winter_ahead: bool,
}

/// Base of the degree-days that the answer works with, °C.
const BASE_C: f64 = crate::science::climate::degree_days::FIG_BASE_C;
/// Most degree-days that any place has in a year above 8 °C: 28 K, the cap less the base, every day.
const MOST_HEAT: f64 = 28.0 * 366.0;

/// The half of the Earth of the town typed, where it is known.
fn hemisphere_of_town(read: &Fields<'_>) -> Option<Hemisphere> {
    let spot = Gazetteer::embedded().ok()?.spot(read.value("place")?, None).ok()?;
    Some(if spot.at().0 < 0.0 { Hemisphere::South } else { Hemisphere::North })
}

impl SpringQuestion {
    /// Reads a question asked on `now`; a record and its name speak for the place where they are given, and the zone is left aside.
    pub fn parse(
        pairs: &[(String, String)],
        snapshot: &Snapshot,
        now: Date,
        record: Option<(&str, &Reading)>,
    ) -> Result<Self, FieldErrors> {
        let mut read = Fields::lenient(pairs, &PARAMETERS);
        let slug = read.value("cultivar").filter(|&slug| slug != "unknown");
        let cultivar = slug.and_then(|slug| {
            let known = snapshot.catalogue.get(slug).map(|c| c.slug.to_string());
            let shown: String = slug.chars().take(40).collect();
            read.errors.keep(
                "cultivar",
                slug,
                known.ok_or_else(|| format!("there is no cultivar “{shown}” in the catalogue; choose one from the list")),
            )
        });
        // A town knows its half of the Earth better than a box that nobody touched.
        let hemisphere = read.word("half");
        let hemisphere = hemisphere_of_town(&read).or(hemisphere).unwrap_or(Hemisphere::North);
        let hemisphere = record.map_or(hemisphere, |(_, reading)| reading.climate.hemisphere);
        let seen = read.word::<Seen>("seen");
        if seen.is_none() && read.errors.of("seen").is_none() {
            read.errors.add("seen", "", "say what you see on the plant");
        }
        let today = day(&mut read, "today", None).unwrap_or(now);
        let turn = turn_before(hemisphere, today);
        let growth_seen = day(&mut read, "growth_seen", Some(today));
        let freeze = day(&mut read, "freeze", Some(today));
        let lowest = read.temperature("lowest_c", "lowest_f");
        let heat = heat(&mut read);
        let figs = read.value("figs") == Some("yes");
        let seen = seen.unwrap_or(Seen::Nothing);
        if figs && seen.level().is_none() && seen != Seen::Green {
            read.errors.add(
                "figs",
                "yes",
                "figs do not stand on wood that is dead or has not leafed: if green figs are growing now, the plant is alive there. \
                 Shrivelled figs of last year say nothing; choose “no figs” for those, or choose the growth that carries these",
            );
        }
        check_dates(&mut read.errors, hemisphere, turn, today, seen.level().is_some(), growth_seen, freeze);
        if let Some(sum) = heat {
            check_heat(&mut read.errors, sum, days(turn, today));
        }
        let cover = cover(&mut read, hemisphere, today);
        let errors = read.errors;
        let mut place: Vec<(String, String)> = pairs.iter().filter(|(key, _)| !PARAMETERS.contains(&key.as_str())).cloned().collect();
        let asked = if let Some((_, reading)) = record {
            place.retain(|(key, _)| key != "zone" && !crate::jobs::places::asked::PARAMETERS.contains(&key.as_str()));
            answer::question(&reading.climate_by(&snapshot.priors), &place, false)
        } else {
            Question::parse(&place, false)
        };
        match (asked, errors.is_empty()) {
            (Ok(place), true) => Ok(Self {
                winter_ahead: false,
                place,
                cultivar,
                hemisphere,
                seen,
                today,
                growth_seen,
                freeze,
                lowest,
                heat,
                cover,
                record: record.map(|(name, reading)| SpringRecord::of(name, reading, turn, today, &snapshot.fruit_priors)),
            }
            .past_its_season(snapshot, record)),
            (Ok(_), false) => Err(errors),
            (Err(of_place), _) => {
                let mut all = errors;
                for error in of_place.into_vec() {
                    all.add(error.field, &error.value, error.message);
                }
                Err(all)
            }
        }
    }

    /// After leaf-fall the question is of the season to come: what was said of the one that ended (its heat, its growth) is left aside.
    fn past_its_season(mut self, snapshot: &Snapshot, record: Option<(&str, &Reading)>) -> Self {
        let rest = snapshot.place_year(&self.place, self.record.as_ref()).rest;
        if rest.is_over(days(self.turn(), self.today), self.seen.level().is_none()) {
            self.winter_ahead = true;
            (self.heat, self.growth_seen) = (None, None);
            self.record = record.map(|(name, reading)| SpringRecord::of(name, reading, self.turn(), self.today, &snapshot.fruit_priors));
        }
        self
    }

    /// The turn of the year from which the season of the question is counted: the last before today, or the next where a winter lies ahead.
    pub fn turn(&self) -> Date {
        let turn = turn_before(self.hemisphere, self.today);
        if self.winter_ahead { turn.checked_add(1.year()).unwrap_or(turn) } else { turn }
    }

    /// The date of a day counted from the turn of the year.
    pub fn date(&self, day: f64) -> Date {
        self.turn().checked_add((day.clamp(-400.0, 800.0).round() as i32).days()).unwrap_or(self.today)
    }

    /// Lowest temperature of the winter: as given, or as the record has it.
    pub fn coldest(&self) -> Option<Celsius> {
        self.lowest.or_else(|| self.record.as_ref()?.lowest.map(|(lowest, _)| lowest))
    }

    /// Heat by today: as given, or as the record has it with what is usual from its end on.
    pub fn heat_by_today(&self) -> Option<f64> {
        self.heat.or_else(|| {
            let record = self.record.as_ref()?;
            let (sum, until) = record.heat?;
            let rest = record.seasons.as_ref().map(|s| s.curve.between(days(self.turn(), until), days(self.turn(), self.today)));
            (until == self.today).then_some(sum).or_else(|| Some(sum + rest?))
        })
    }

    /// What is known of the year so far.
    pub fn so_far(&self) -> YearSoFar {
        YearSoFar {
            today: Some(days(self.turn(), self.today)),
            restart: self.growth_seen.map(|date| days(self.turn(), date)),
            grows: self.seen.level().is_some() && !self.winter_ahead,
            degree_days: self.heat_by_today(),
            head_start: 0.0,
        }
    }
}

fn day(read: &mut Fields<'_>, name: &str, today: Option<Date>) -> Option<Date> {
    let text = read.value(name)?;
    read.errors.keep(name, text, day_from(text, today))
}

/// Warmest and least warm cover that is credible, K over day and night together.
const COVER_K: (f64, f64) = (0.5, 15.0);

/// A head start, from a warmth in either unit and two days of a year.
fn cover(read: &mut Fields<'_>, hemisphere: Hemisphere, today: Date) -> Cover {
    let (least, most) = COVER_K;
    let in_k = read.number("cover_k", |k| within("warmth under the cover", "K above outside", k, least, most));
    let in_f = read.number("cover_f", |f| within("warmth under the cover", "°F above outside", f, least * 1.8, most * 1.8));
    let mut place = |name: &str| day(read, name, Some(today)).map(|date| days(turn_before(hemisphere, date), date));
    let (from, to) = (place("cover_from"), place("cover_to"));
    if let (Some(first), Some(last)) = (from, to)
        && last <= first
    {
        let typed = read.value("cover_to").unwrap_or_default().to_owned();
        read.errors.add(
            "cover_to",
            &typed,
            "the cover comes off before it goes on, counted from the turn of the year; correct one of the two days",
        );
    }
    Cover { warmer_k: in_k.or(in_f.map(|f| f / 1.8)), from, to }
}

fn heat(read: &mut Fields<'_>) -> Option<f64> {
    let base = read.number("heat_base_c", |x| within("base of the degree-days", "°C", x, -20.0, 30.0));
    let sum = read.number("heat_so_far", |x| within("heat so far", "degree-days in °C", x, 0.0, MOST_HEAT));
    if sum.is_some() && base.is_some_and(|base| (base - BASE_C).abs() > 0.05) {
        read.errors.add(
            "heat_base_c",
            "",
            format!(
                "a sum above another base cannot be turned into one above {BASE_C:.0} °C (46.4 °F) without the daily temperatures: each day \
                 loses a different part. Sum again with base {BASE_C:.0} °C, or leave the heat blank and the usual heat of the place is taken"
            ),
        );
        return None;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    fn snapshot() -> Snapshot {
        Snapshot::from_seed().unwrap()
    }

    fn ask(query: &str) -> Result<SpringQuestion, FieldErrors> {
        let pairs: Vec<(String, String)> =
            query.split('&').filter_map(|p| p.split_once('=')).map(|(k, v)| (k.to_owned(), v.to_owned())).collect();
        SpringQuestion::parse(&pairs, &snapshot(), jiff::civil::date(2026, 5, 20), None)
    }

    fn wrong(query: &str) -> (String, String) {
        let errors = ask(query).unwrap_err();
        let first = errors.iter().next().unwrap();
        (first.field.clone(), first.message.clone())
    }

    #[test]
    fn a_date_without_a_year_is_the_last_such_day() {
        let q = ask("zone=6b&seen=base&growth_seen=05-18&freeze=12/24").unwrap();
        assert_eq!(q.growth_seen, Some(jiff::civil::date(2026, 5, 18)));
        assert_eq!(q.freeze, Some(jiff::civil::date(2025, 12, 24)));
        assert_eq!(q.so_far().restart, Some(137.0));
    }

    #[test]
    fn the_southern_year_turns_in_july() {
        let q = ask("zone=9a&seen=base&half=south&today=2026-11-20&growth_seen=2026-11-05").unwrap();
        assert_eq!(q.turn(), jiff::civil::date(2026, 7, 1));
        assert_eq!(q.so_far().today, Some(142.0));
        assert_eq!(q.date(142.0), jiff::civil::date(2026, 11, 20));
    }

    #[test]
    fn after_leaf_fall_the_question_is_of_the_winter_to_come_and_its_dates_are_of_the_next_season() {
        let q = ask("zone=7a&seen=nothing&today=2026-11-27&heat_so_far=2400").unwrap();
        assert!(q.winter_ahead);
        assert_eq!((q.turn(), q.so_far().today, q.heat_by_today()), (jiff::civil::date(2027, 1, 1), Some(-35.0), None));
        let south = ask("zone=7a&seen=nothing&half=south&today=2026-05-28").unwrap();
        assert_eq!((south.turn(), south.so_far().today), (jiff::civil::date(2026, 7, 1), Some(-34.0)));
        assert!(!ask("zone=7a&seen=nothing&today=2026-08-20").unwrap().winter_ahead);
        assert!(!ask("zone=7a&seen=nothing&today=2026-01-20").unwrap().winter_ahead);
    }

    #[test]
    fn dates_that_cannot_be_are_named_with_the_reason() {
        let says = |query: &str, field: &str, words: &str| {
            let (got, message) = wrong(query);
            assert_eq!(got, field, "{query}: {message}");
            assert!(message.contains(words), "{query}: {message}");
        };
        says("zone=6b&seen=base&today=2026-12-20&growth_seen=2026-11-20", "growth_seen", "southern half");
        says("zone=6b&seen=base&freeze=2026-05-10&growth_seen=2026-04-20", "growth_seen", "before the freeze");
        says("zone=6b&seen=nothing&growth_seen=2026-04-20", "growth_seen", "nothing has grown");
        says("zone=6b&seen=base&growth_seen=2026-06-20", "growth_seen", "after the day");
        says("zone=6b&seen=base&freeze=2025-07-14", "freeze", "winter before this season");
        says("zone=6b&seen=brown&figs=yes", "figs", "alive");
        says("zone=6b&seen=base&heat_so_far=300&heat_base_c=10", "heat_base_c", "another base");
        says("zone=6b&seen=base&heat_so_far=9000", "heat_so_far", "cannot be");
        says("zone=6b&seen=base&today=soon", "today", "2026-05-20");
        says("zone=6b", "seen", "what you see");
        says("zone=6b&seen=base&cultivar=nameless", "cultivar", "catalogue");
        says("seen=base", "place", "how cold");
    }
}
