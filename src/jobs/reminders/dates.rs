//! When something is due in a garden: the dates of its own places, each once for all plants that stand alike. No input or output.

use std::collections::BTreeMap;

use jiff::ToSpan;
use jiff::civil::Date;
use uuid::Uuid;

use crate::address;
use crate::jobs::propagation::ready_by::{Surroundings, day_after, ready_by, season_of};
use crate::jobs::propagation::words::ready as ready_words;
use crate::jobs::reminders::own_garden::OwnGarden;
use crate::jobs::season::acts::{ACTS, Act, CHANCES};
use crate::jobs::season::dates::turn_before;
use crate::jobs::season::safe::{ACCEPTED, STAGES, Safe, outside};
use crate::jobs::shortlist::question::Question;
use crate::jobs::spring::place_year::PlaceYear;
use crate::model::snapshot::Snapshot;
use crate::records::{MemberId, Plant, Winter};
use crate::science::climate::season::{CREST_DAY_NORTH, YEAR_DAYS};
use crate::science::climate::winters::Hemisphere;
use crate::science::fruiting::wait::wait_until;
use crate::science::fruiting::year::YearSoFar;
use crate::science::hardiness::level::DamageLevel;
use crate::science::site::{Culture, Setting};
use crate::token;
use crate::units::{Celsius, TemperatureDelta};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What is due.
    pub enum DateKind: "kind of date" {
        /// Leafless pots may stand outside.
        MoveOutAsleep = "move_out_asleep" => "Leafless pots may go out",
        /// Covers come off.
        Uncover = "uncover" => "Covers may come off",
        /// Pots in leaf may stay outside.
        MoveOutInLeaf = "move_out_in_leaf" => "Pots in leaf may stay out",
        /// What the winter did can be told.
        ReportWinter = "report_winter" => "Tell how the winter went",
        /// No silent plant is given up before.
        WaitUntil = "wait_until" => "Give no silent fig up before today",
        /// What the season brought can be told.
        ReportFruit = "report_fruit" => "Tell what your figs bore",
        /// The first night that ends leaves.
        HardFrost = "hard_frost" => "First hard frost is to be expected",
        /// Wood is at rest.
        StickCuttings = "stick_cuttings" => "Cuttings of wood at rest can be stuck",
        /// A batch may show roots.
        Roots = "roots" => "Look for roots",
        /// A batch may be ready.
        Ready = "ready" => "A batch may be ready",
    }
}

/// A date of a garden.
#[derive(Debug, Clone, PartialEq)]
pub struct DueDate {
    /// The same each time it is worked out, also where the day moves.
    pub id: Uuid,
    /// What.
    pub kind: DateKind,
    /// The day, or the first one.
    pub from: Date,
    /// The last day, where it is a span.
    pub until: Option<Date>,
    /// Town, in the member's words.
    pub place: String,
    /// The plants, by their written names.
    pub figs: Vec<String>,
    /// The night that it goes by, in the open.
    pub night: Option<Celsius>,
    /// A later day that belongs to it: until when cuttings can be stuck, or after which a harmful night comes in one year in fifty.
    pub then: Option<Date>,
    /// The winter that is to be told.
    pub winter: Option<Winter>,
    /// Sentences of its own.
    pub said: Vec<String>,
    /// Where more of it stands.
    pub path: String,
}

/// Days before today that are still shown, and days ahead: a season and a month. DESIGN.
const BEHIND_DAYS: i32 = 45;
const AHEAD_DAYS: i32 = 400;
/// Most dates of a garden. DESIGN.
const MOST_DATES: usize = 300;
/// Share of years in which the first hard frost has come: at the beginning and the end of its window.
const WINDOW: [f64; 2] = [0.1, 0.9];

/// Plants of one town that stand alike, with the usual year there.
pub(super) struct Stand<'a> {
    pub(super) town: &'a str,
    setting: Option<Setting>,
    pub(super) hemisphere: Hemisphere,
    pub(super) year: PlaceYear,
    spot: TemperatureDelta,
    plants: Vec<&'a Plant>,
}

/// Days of one season at one stand, from the turn of its year.
struct Season<'a> {
    stand: &'a Stand<'a>,
    turn: Date,
}

/// The date of a day from a turn of the year.
pub(super) fn date_from(turn: Date, day: f64) -> Option<Date> {
    turn.checked_add((day.round() as i32).days()).ok()
}

/// Which plants something is due for.
type Which<'a> = &'a dyn Fn(&Plant) -> bool;

impl Stand<'_> {
    fn pairs(&self) -> Vec<(&'static str, String)> {
        let setting = self.setting.map(|setting| ("setting", setting.word().to_owned()));
        [("place", self.town.to_owned())].into_iter().chain(setting).collect()
    }

    /// What is done in spring, with the days after which a harmful night comes in one year in ten and in one in fifty, from the turn of the
    /// year; none where no night of spring harms.
    fn act(&self, word: &str) -> Option<(&'static Act, f64, f64)> {
        let act = ACTS.iter().find(|act| act.word == word)?;
        let from = |chance: f64| match Safe::on(&self.year.nights, 0.0, outside(&act.stage(), self.spot), chance) {
            Safe::From(day) => Some(day),
            Safe::Now(_) => None,
        };
        let [_, _, _, rare] = CHANCES;
        Some((act, from(ACCEPTED)?, from(rare)?))
    }

    /// First and last day of the window in which the first night comes that ends leaves; none where most winters have no such night.
    fn hard_frost(&self) -> Option<(f64, f64, Celsius)> {
        let [leaf, ..] = STAGES;
        let night = outside(&leaf, self.spot);
        let by = |share: f64| self.year.nights.until(CREST_DAY_NORTH, night.degrees(), share).map(|day| day + 1.0);
        let [first, last] = WINDOW;
        Some((by(first)?, by(last)?, night))
    }
}

impl Season<'_> {
    fn date(&self, day: f64) -> Option<Date> {
        date_from(self.turn, day)
    }
}

/// An id that is the same each time for the same words.
pub(super) fn id_of(words: &str) -> Uuid {
    let hash = token::hash(words);
    let bytes = hash.get(..32).and_then(|half| Uuid::parse_str(half).ok()).unwrap_or_default();
    uuid::Builder::from_custom_bytes(bytes.into_bytes()).into_uuid()
}

/// Dates being gathered.
struct Gathering {
    member: MemberId,
    within: std::ops::RangeInclusive<Date>,
    /// By days, kind and town: plants of other spots whose day is the same stand with it.
    found: BTreeMap<(Date, DateKind, String, Option<Date>), DueDate>,
}

impl Gathering {
    /// `key` tells it from other dates of the garden, whatever the day.
    fn add(&mut self, key: &str, due: DueDate) {
        let last = due.until.unwrap_or(due.from);
        if last < *self.within.start() || due.from > *self.within.end() || due.figs.is_empty() {
            return;
        }
        let id = id_of(&format!("{} {} {key}", self.member, due.kind.word()));
        // What stands in no town is a batch, each of which has a page of its own.
        let of = if due.place.is_empty() { key.to_owned() } else { due.place.clone() };
        let slot = (due.from, due.kind, of, due.until);
        if let Some(other) = self.found.get_mut(&slot) {
            other.figs.extend(due.figs);
            return;
        }
        self.found.insert(slot, DueDate { id, ..due });
    }
}

impl Snapshot {
    /// Stands of a garden, and the plants whose town is not known.
    fn stands<'a>(&self, garden: &'a OwnGarden) -> (Vec<Stand<'a>>, Vec<&'a Plant>) {
        let mut known: BTreeMap<(&str, Option<Setting>), Option<Stand<'a>>> = BTreeMap::new();
        let mut lost = Vec::new();
        for plant in &garden.plants {
            let towns = [plant.place.words.as_deref(), garden.usual_place.as_deref()];
            let stand = towns.into_iter().flatten().find_map(|town| {
                let key = (town, plant.setting);
                known.entry(key).or_insert_with(|| self.stand(town, plant.setting)).is_some().then_some(key)
            });
            match stand.and_then(|key| known.get_mut(&key)).and_then(Option::as_mut) {
                Some(stand) => stand.plants.push(plant),
                None => lost.push(plant),
            }
        }
        (known.into_values().flatten().collect(), lost)
    }

    pub(super) fn stand<'a>(&self, town: &'a str, setting: Option<Setting>) -> Option<Stand<'a>> {
        let setting_pair = setting.map(|setting| ("setting".to_owned(), setting.word().to_owned()));
        let pairs: Vec<(String, String)> = [("place".to_owned(), town.to_owned())].into_iter().chain(setting_pair).collect();
        let question = Question::parse(&pairs, false).ok()?;
        let hemisphere = question.hemisphere()?;
        let year = self.place_year(&question, None);
        // In the open it may be colder by as much as the spot is warmer on a clear still night.
        let spot = TemperatureDelta::literal(self.priors.settings(year.site.setting).clear.mean);
        Some(Stand { town, setting, hemisphere, year, spot, plants: Vec::new() })
    }

    /// The dates of a garden about a day, in order; and the names of plants that have none, since no town is known.
    pub fn due_dates(&self, member: MemberId, garden: &OwnGarden, today: Date) -> (Vec<DueDate>, Vec<String>) {
        let (stands, lost) = self.stands(garden);
        let days = |n: i32| today.checked_add(n.days()).unwrap_or(today);
        let mut all = Gathering { member, within: days(-BEHIND_DAYS)..=days(AHEAD_DAYS), found: BTreeMap::new() };
        for stand in &stands {
            let now = turn_before(stand.hemisphere, today);
            for years in [-1, 0, 1] {
                if let Ok(turn) = now.checked_add(years.years()) {
                    self.season_dates(garden, &Season { stand, turn }, &mut all);
                }
            }
        }
        self.batch_dates(garden, &mut all);
        (all.found.into_values().take(MOST_DATES).collect(), lost.into_iter().map(|plant| plant.name_written.clone()).collect())
    }

    fn season_dates(&self, garden: &OwnGarden, season: &Season<'_>, all: &mut Gathering) {
        let (stand, year) = (season.stand, &season.stand.year);
        let key = format!("{} {} {}", stand.town, stand.setting.map_or("", Setting::word), season.turn.year());
        let due = |kind: DateKind, from: Date, figs: Vec<String>, path: String| DueDate {
            id: Uuid::nil(),
            kind,
            from,
            until: None,
            place: stand.town.to_owned(),
            figs,
            night: None,
            then: None,
            winter: None,
            said: Vec::new(),
            path,
        };
        let names = |which: Which<'_>| -> Vec<String> {
            stand.plants.iter().filter(|plant| which(plant)).map(|plant| plant.name_written.clone()).collect()
        };
        let pots = |plant: &Plant| matches!(plant.culture, Culture::Container(_));
        let ground = |plant: &Plant| plant.culture == Culture::Ground;
        let acts: [(DateKind, &str, Which<'_>); 3] = [
            (DateKind::MoveOutAsleep, "move_out_asleep", &pots),
            (DateKind::Uncover, "uncover", &ground),
            (DateKind::MoveOutInLeaf, "move_out_in_leaf", &pots),
        ];
        for (kind, word, which) in acts {
            let Some((act, from, rare)) = stand.act(word) else { continue };
            let Some(from) = season.date(from) else { continue };
            let due = due(kind, from, names(which), address::SAFE_DATES.with(stand.pairs()));
            all.add(&key, DueDate { night: Some(outside(&act.stage(), stand.spot)), then: season.date(rare), ..due });
        }
        let grows = wait_until(&self.shown(DamageLevel::ToGround), &year.curve, &YearSoFar::default());
        if let Some(from) = season.date(grows.not_dead_before) {
            let seen = [("seen", "nothing".to_owned())];
            let path = address::SPRING.with(stand.pairs().into_iter().chain(seen));
            all.add(&key, due(DateKind::WaitUntil, from, names(&|_| true), path));
        }
        if let Some((from, winter)) = self.winter_can_be_told(season) {
            let figs = names(&|plant| !garden.told.contains(&(plant.id, winter)));
            let due = due(DateKind::ReportWinter, from, figs, address::GARDEN_WINTER.to_string());
            all.add(&key, DueDate { winter: Some(winter), ..due });
        }
        if let Some(from) = season.date(year.rest.season_end) {
            if let Ok(winter) = Winter::last_over(from, stand.hemisphere) {
                let figs = names(&|plant| !garden.told_fruit.contains(&(plant.id, winter)));
                let due = due(DateKind::ReportFruit, from, figs, address::GARDEN_FRUIT.to_string());
                all.add(&key, DueDate { winter: Some(winter), ..due });
            }
            let then = season.date(YEAR_DAYS + year.rest.bud_break);
            let due = due(DateKind::StickCuttings, from, names(&|_| true), address::PROPAGATION.to_string());
            all.add(&key, DueDate { then, ..due });
        }
        if let Some((first, last, night)) = stand.hard_frost()
            && let (Some(from), Some(until)) = (season.date(first), season.date(last))
        {
            let path = address::COLD_NIGHT.to_string();
            all.add(&key, DueDate { until: Some(until), night: Some(night), ..due(DateKind::HardFrost, from, names(&|_| true), path) });
        }
    }

    /// From when the winter of a season can be told: nine in ten unharmed plants show growth, its cold is over, and nobody waits longer than
    /// for a plant that was killed to the ground.
    fn winter_can_be_told(&self, season: &Season<'_>) -> Option<(Date, Winter)> {
        let curve = &season.stand.year.curve;
        let grows = wait_until(&self.shown(DamageLevel::Unharmed), curve, &YearSoFar::default());
        let winter = Winter::of(season.turn.checked_sub(1.day()).ok()?, season.stand.hemisphere).ok()?;
        let from = season.date(grows.nine_in_ten.unwrap_or(grows.not_dead_before))?;
        Some((from.max(winter.cold_ends()), winter))
    }

    fn batch_dates(&self, garden: &OwnGarden, all: &mut Gathering) {
        let town = garden.usual_place.as_deref();
        let season = town.and_then(|town| season_of(town, self));
        let hemisphere = season.as_ref().map_or(Hemisphere::North, |(_, hemisphere)| *hemisphere);
        let surroundings = Surroundings { setups: &garden.setups, season: season.map(|(season, _)| season), hemisphere };
        for batch in &garden.batches {
            let answer = ready_by(&batch.record, &surroundings, self);
            let Ok(ready) = &answer else { continue };
            let roots = ready.rooted.as_ref().map(|rooted| (DateKind::Roots, rooted.middle));
            for (kind, days) in roots.into_iter().chain([(DateKind::Ready, ready.ready.middle)]) {
                let Some(from) = days.and_then(|days| day_after(ready.from, days)) else { continue };
                let due = DueDate {
                    id: Uuid::nil(),
                    kind,
                    from,
                    until: None,
                    place: String::new(),
                    figs: vec![batch.record.name_written.clone()],
                    night: None,
                    then: None,
                    winter: None,
                    said: ready_words(&answer),
                    path: address::batch(batch.id),
                };
                all.add(&batch.id.to_string(), due);
            }
        }
    }
}
