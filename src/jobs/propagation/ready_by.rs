//! When a batch is rooted and ready, from its bottom heat and the air of where it stands, and what a kept shelter costs through the winter.

use jiff::ToSpan;
use jiff::civil::Date;

use crate::input::fields::decimal;
use crate::jobs::shelter::{self, SeasonAnswer, SeasonInput};
use crate::jobs::shortlist::question::Question;
use crate::model::snapshot::Snapshot;
use crate::records::{BatchRecord, Hemisphere, Setup, SetupKind};
use crate::science::climate::season::{CREST_DAY_NORTH, Season, YEAR_DAYS};
use crate::science::cold_night::places::{HOUSE_C, Place, StoreKind};
use crate::science::propagation::{Ready, ReadyDays, grown_on, ready};
use crate::science::shelter::season::DEFAULT_SWING_K;

/// Where a batch stands that is no kept place: in a heated room.
pub const ROOM: &str = "room";
/// Outdoors.
pub const OUTDOORS: &str = "outdoors";
/// Before the name of a kept place or shelter.
pub const KEPT: &str = "kept:";
/// Temperature outside at which the line of a kept place is looked at, °C.
const ABOUT_C: f64 = 0.0;
/// Days before and after the middle of winter that count as the winter of a shelter's cost: November to March.
const WINTER_HALF_DAYS: i32 = 75;

/// The air of a place by that outside, °C.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Air {
    /// Held.
    Held(f64),
    /// As outside.
    Outside,
    /// A line from the outside.
    Line { a_c: f64, b: f64 },
    /// As outside, and never below.
    Frostless(f64),
}

impl Air {
    fn inside(self, outside_c: f64) -> f64 {
        match self {
            Self::Held(c) => c,
            Self::Outside => outside_c,
            Self::Line { a_c, b } => a_c + b * outside_c,
            Self::Frostless(c) => outside_c.max(c),
        }
    }
}

/// Why there is no date.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoDate {
    /// Nobody said where it stands, and it has no bottom heat.
    PlaceUnknown,
    /// Where it stands goes by the outside, and no town is known.
    TownUnknown,
    /// The kept place it stood in is kept no more.
    PlaceGone,
}

/// When a batch gets there.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadyBy {
    /// Roots that can be seen, in days from sticking; `None` once they were counted.
    pub rooted: Option<ReadyDays>,
    /// A plant in its own pot, established, in days from `from`.
    pub ready: ReadyDays,
    /// The day of sticking; once roots were counted, that day.
    pub from: Date,
    /// Whether growing on is counted at a heated room, since nobody said where it stands.
    pub room_assumed: bool,
}

/// What the dates rest on.
#[derive(Debug)]
pub struct Surroundings<'a> {
    /// Kept places and shelters of the member.
    pub setups: &'a [Setup],
    /// The season at the member's usual town.
    pub season: Option<Season>,
    /// Half of the Earth.
    pub hemisphere: Hemisphere,
}

/// Season and half of the Earth of a town in words.
pub fn season_of(town: &str, snapshot: &Snapshot) -> Option<(Season, Hemisphere)> {
    let question = Question::parse(&[("place".to_owned(), town.to_owned())], false).ok()?;
    Some((question.site(&snapshot.priors).season, question.hemisphere().unwrap_or(Hemisphere::North)))
}

fn answer<'a>(setup: &'a Setup, key: &str) -> Option<&'a str> {
    setup.answers.iter().find(|(name, _)| name == key).map(|(_, value)| value.trim()).filter(|value| !value.is_empty())
}

/// The line of a kept place: what it holds, else readings, else its kind.
fn air_of_place(setup: &Setup) -> Air {
    let number = |key: &str| answer(setup, key).and_then(|text| decimal(text).ok());
    if let Some(held) = number("min") {
        return Air::Held(held);
    }
    let kind = answer(setup, "kind").and_then(|word| word.parse().ok()).unwrap_or(StoreKind::Detached);
    let pairs: Vec<(f64, f64)> =
        [("out1", "in1"), ("out2", "in2")].iter().filter_map(|(outside, inside)| Some((number(outside)?, number(inside)?))).collect();
    let line = if pairs.is_empty() {
        Place::of_kind(kind, ABOUT_C)
    } else {
        Place::from_pairs(&pairs, kind, ABOUT_C).unwrap_or_else(|_| Place::of_kind(kind, ABOUT_C))
    };
    Air::Line { a_c: line.a_c, b: line.b }
}

/// What a kept shelter holds, °C.
fn held_in(setup: &Setup) -> Option<f64> {
    let input = shelter::form::read(&setup.answers).ok()?;
    input.hold_c.or(input.thermostat_c)
}

fn air_of(place: &str, surroundings: &Surroundings<'_>) -> Result<Air, NoDate> {
    if place == ROOM {
        return Ok(Air::Held(HOUSE_C));
    }
    let Some(name) = place.strip_prefix(KEPT) else { return Ok(Air::Outside) };
    let setup = surroundings.setups.iter().find(|setup| setup.name.as_str() == name).ok_or(NoDate::PlaceGone)?;
    Ok(match setup.kind {
        SetupKind::Shelter => held_in(setup).map_or(Air::Outside, Air::Frostless),
        _ => air_of_place(setup),
    })
}

/// Days of a date before (negative) or after the crest of the year.
fn from_crest(day: Date, hemisphere: Hemisphere) -> f64 {
    let of_year = f64::from(day.day_of_year()) - CREST_DAY_NORTH;
    if hemisphere == Hemisphere::South { of_year + YEAR_DAYS / 2.0 } else { of_year }
}

/// When a batch is rooted and ready.
///
/// # Errors
/// Where nothing says how warm it stands.
pub fn ready_by(batch: &BatchRecord, surroundings: &Surroundings<'_>, snapshot: &Snapshot) -> Result<ReadyBy, NoDate> {
    let (air, room_assumed) = match (&batch.place, batch.bottom_heat_c) {
        (Some(place), _) => (air_of(place, surroundings)?, false),
        (None, Some(_)) => (Air::Held(HOUSE_C), true),
        (None, None) => return Err(NoDate::PlaceUnknown),
    };
    let season = match (air, &surroundings.season) {
        (Air::Held(_), _) => None,
        (_, Some(season)) => Some(season),
        (_, None) => return Err(NoDate::TownUnknown),
    };
    let from = batch.rooted.map_or(batch.stuck_on, |rooted| rooted.on);
    let start = from_crest(from, surroundings.hemisphere);
    let at = |day: usize| air.inside(season.map_or(HOUSE_C, |season| season.daily_mean_c(start + day as f64)));
    let priors = &snapshot.propagation_priors;
    let (rooted, ready) = if batch.rooted.is_some() {
        (None, grown_on(at, priors))
    } else {
        let Ready { rooted, ready } = ready(batch.bottom_heat_c, at, priors);
        (Some(rooted), ready)
    };
    Ok(ReadyBy { rooted, ready, from, room_assumed })
}

/// A day so many days after another.
pub fn day_after(from: Date, days: usize) -> Option<Date> {
    from.checked_add(i32::try_from(days).ok()?.days()).ok()
}

/// What it costs to hold a kept shelter through an average winter of the town, by the season's cost of the shelter's own page; `None` where it
/// is not kept with a temperature to hold, or cannot be worked out.
pub fn winter_cost(setup: &Setup, season: &Season) -> Option<SeasonAnswer> {
    let mut input = shelter::form::read(&setup.answers).ok()?;
    input.hold_c.or(input.thermostat_c)?;
    if input.season.is_none() {
        // Midwinter lies half a year from the crest.
        let day = |from: i32| season.daily_mean_c(YEAR_DAYS / 2.0 + f64::from(from)) - DEFAULT_SWING_K / 2.0;
        input.season =
            Some(SeasonInput { daily_minima_c: (-WINTER_HALF_DAYS..WINTER_HALF_DAYS).map(day).collect(), daily_maxima_c: Vec::new() });
    }
    shelter::calculate(&input).ok()?.season
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::{MemberId, SetupId, SiteName};
    use crate::science::propagation::Method;
    use jiff::Timestamp;
    use jiff::civil::date;
    use uuid::Uuid;

    fn setup(kind: SetupKind, answers: &[(&str, &str)]) -> Setup {
        Setup {
            id: SetupId(Uuid::nil()),
            member: MemberId(Uuid::nil()),
            kind,
            name: SiteName::new("house").unwrap().unwrap(),
            answers: answers.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect(),
            made: Timestamp::UNIX_EPOCH,
        }
    }

    fn batch(place: Option<&str>, bottom_heat_c: Option<f64>) -> BatchRecord {
        BatchRecord {
            name_written: "Celeste".to_owned(),
            cultivar: None,
            mother: None,
            mother_words: None,
            method: Method::HardwoodSoil,
            stuck: 20,
            stuck_on: date(2026, 1, 10),
            bottom_heat_c,
            place: place.map(str::to_owned),
            rooted: None,
            potted: None,
            note: None,
        }
    }

    #[test]
    fn a_batch_is_ready_by_where_it_stands() {
        let snapshot = Snapshot::from_seed().unwrap();
        let garage = setup(SetupKind::Place, &[("kind", "attached")]);
        let (season, hemisphere) = season_of("Graz, Austria", &snapshot).unwrap();
        let setups = [garage];
        let here = Surroundings { setups: &setups, season: Some(season), hemisphere };
        let of = |place, heat| ready_by(&batch(place, heat), &here, &snapshot);
        let rooted = |place, heat| of(place, heat).unwrap().rooted.unwrap().middle.unwrap();
        // 310 degree-days above 10 °C: 31 days at 20 °C; a mat of 24 °C takes 23; outdoors it takes until late spring.
        assert_eq!((rooted(Some(ROOM), None), rooted(None, Some(24.0))), (31, 23));
        assert!(rooted(Some(OUTDOORS), None) > 110 && rooted(Some("kept:house"), None) < rooted(Some(OUTDOORS), None));
        assert!(of(None, Some(24.0)).unwrap().room_assumed);
        // Once roots are counted, growing on is counted from that day: 420 degree-days at 20 °C are 42 days.
        let counted = Some(crate::records::Counted { count: 15, on: date(2026, 3, 1) });
        let grows = ready_by(&BatchRecord { rooted: counted, ..batch(Some(ROOM), None) }, &here, &snapshot).unwrap();
        assert_eq!((grows.from, grows.rooted, grows.ready.middle), (date(2026, 3, 1), None, Some(42)));
        assert_eq!(of(None, None), Err(NoDate::PlaceUnknown));
        assert_eq!(of(Some("kept:barn"), None), Err(NoDate::PlaceGone));
        let nowhere = Surroundings { setups: &setups, season: None, hemisphere };
        assert_eq!(ready_by(&batch(Some(OUTDOORS), None), &nowhere, &snapshot), Err(NoDate::TownUnknown));
    }

    #[test]
    fn a_shelter_kept_warmer_costs_more_and_one_without_a_temperature_to_hold_says_nothing() {
        let snapshot = Snapshot::from_seed().unwrap();
        let (season, _) = season_of("Graz, Austria", &snapshot).unwrap();
        let of = |hold: &'static str| {
            let answers = [
                ("shape", "gable"),
                ("length", "3"),
                ("width", "2.4"),
                ("wall", "1.8"),
                ("top", "2.4"),
                ("minimum", "-8"),
                ("heater", "2000"),
                ("price", "0.3"),
                ("hold", hold),
            ];
            winter_cost(&setup(SetupKind::Shelter, &answers), &season)
        };
        let (cool, warm) = (of("2").unwrap(), of("8").unwrap());
        assert_eq!(cool.days, 150);
        assert!(cool.energy_kwh > 0.0 && warm.energy_kwh > cool.energy_kwh && warm.cost.unwrap() > cool.cost.unwrap());
        assert_eq!(of(""), None);
    }
}
