//! From the JSON-shaped input to the science's types: every slip noted with its path, every assumption with a note.

use std::collections::HashSet;

use crate::catalogue::NameMatch;
use crate::input::errors::FieldErrors;
use crate::input::json::Checked;
use crate::jobs::cold_night::input::{ColdNightInput, CoverInput, PlaceInput, PlantInput};
use crate::jobs::cold_night::{MOST_PLACES, MOST_PLANTS};
use crate::model::snapshot::Snapshot;
use crate::science::cold_night::forecast::{Logged, own_offset, sd_by_lead_k};
use crate::science::cold_night::places::{Place, StoreKind};
use crate::science::cold_night::pot::Stands;
use crate::science::cold_night::risk::PlantTonight;
use crate::science::cold_night::stage::{CoverKind, NightKind, Stage};
use crate::science::cold_night::tonight::{Forecast, Tonight};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::numeric::Gaussian;
use crate::science::site::{Culture, YearsEstablished};

/// Minutes to put a cover on where none are given. DESIGN.
const COVER_MINUTES: f64 = 4.0;
/// Spread of a given gain without one of its own, K. DESIGN.
const GAIN_SD_K: f64 = 1.0;
/// Spread of a heated place without one of its own, K. DESIGN.
const HEATED_SD_K: f64 = 1.5;

/// A night ready to be planned.
pub(crate) struct Read {
    pub tonight: Tonight,
    /// Forecast plus own offset, before the spread of the night.
    pub offset: Option<Gaussian>,
    pub plants: Vec<ReadPlant>,
    pub places: Vec<ReadPlace>,
    pub covers: Vec<ReadCover>,
    pub minutes: Option<f64>,
    pub notes: Vec<String>,
}

pub(crate) struct ReadPlant {
    pub id: String,
    pub cultivar: String,
    pub state: PlantTonight,
    pub value: f64,
    pub footprint_m2: f64,
    pub minutes_to_move: f64,
    pub movable: bool,
    /// Index of the place it stands in; `None`: the open.
    pub at: Option<usize>,
}

pub(crate) struct ReadPlace {
    pub id: String,
    pub room_m2: Option<f64>,
    /// Lowest inside tonight, °C.
    pub minimum_c: Gaussian,
    /// Two hours after sunset, °C.
    pub evening_c: f64,
    pub heated: bool,
    pub readings: usize,
}

pub(crate) struct ReadCover {
    pub kind: String,
    pub count: u32,
    pub gain: Gaussian,
    /// A pot on paving gets this share.
    pub pot_share: f64,
    pub minutes: f64,
    pub area_m2: Option<f64>,
}

pub(crate) fn read(input: &ColdNightInput, snapshot: &Snapshot) -> Result<Read, FieldErrors> {
    let mut checked = Checked::default();
    let mut notes = Vec::new();
    let (tonight, offset) = night(&mut checked, input, snapshot);
    if input.plants.is_empty() || input.plants.len() > MOST_PLANTS {
        checked.wrong("plants", input.plants.len(), format!("give 1 to {MOST_PLANTS} plants"));
    }
    if input.places.len() > MOST_PLACES || input.covers.len() > MOST_PLACES {
        checked.wrong(
            "places",
            input.places.len().max(input.covers.len()),
            format!("at most {MOST_PLACES} places and {MOST_PLACES} kinds of cover"),
        );
    }
    let minutes = checked.maybe("minutes_available", "minutes there are", "min", input.minutes_available, 0.0, 10_000.0);
    let Some(tonight) = tonight.filter(|_| checked.is_clean()) else {
        checked.finish()?;
        return Err(FieldErrors::default());
    };
    let places: Vec<ReadPlace> =
        input.places.iter().enumerate().filter_map(|(i, p)| place(&mut checked, &mut notes, i, p, &tonight)).collect();
    let mut seen: HashSet<&str> = HashSet::from(["open"]);
    for (i, p) in input.places.iter().enumerate() {
        if !seen.insert(&p.id) {
            checked.wrong(&format!("places[{i}].id"), &p.id, "each place needs an id of its own, other than “open”");
        }
    }
    let covers =
        input.covers.iter().enumerate().filter_map(|(i, c)| cover(&mut checked, &mut notes, i, c, tonight.kind, snapshot)).collect();
    let mut ids = HashSet::new();
    let mut plants = Vec::with_capacity(input.plants.len());
    for (i, p) in input.plants.iter().enumerate() {
        if !ids.insert(p.id.as_str()) {
            checked.wrong(&format!("plants[{i}].id"), &p.id, "two plants have this id; each needs its own");
        }
        plants.extend(plant(&mut checked, &mut notes, i, p, &input.places, snapshot));
    }
    checked.finish()?;
    if input.places.len() > input.plants.len() {
        notes.push("There are more places than plants; the ones not needed stay empty.".to_owned());
    }
    match minutes {
        Some(0.0) => notes.push("With no minutes there is nothing to plan: this is what each plant risks where it stands.".to_owned()),
        None => notes.push("minutes_available is not given: the plan takes as long as it takes.".to_owned()),
        _ => {}
    }
    if tonight.minimum_c.mean > 5.0 {
        notes.push("At this minimum a fig is in no danger of frost.".to_owned());
    }
    notes.dedup();
    Ok(Read { tonight, offset, plants, places, covers, minutes, notes })
}

fn night(checked: &mut Checked, input: &ColdNightInput, snapshot: &Snapshot) -> (Option<Tonight>, Option<Gaussian>) {
    let n = &input.night;
    let minimum = checked.number("night.minimum_c", "temperature", "°C", n.minimum_c, -60.0, 40.0);
    let lead = checked.maybe("night.lead_hours", "lead of the forecast", "h", n.lead_hours, 0.0, 240.0);
    let by_lead = lead.map_or(snapshot.night_priors.forecast_sd_k, |h| sd_by_lead_k(h, false));
    let sd = checked.maybe("night.sd_k", "spread of the minimum", "K", n.sd_k, 0.0, 15.0).unwrap_or(by_lead);
    let mut log = Vec::with_capacity(n.own_log.len());
    for (i, l) in n.own_log.iter().enumerate() {
        log.push(Logged {
            forecast_c: checked.number(&format!("night.own_log[{i}].forecast_c"), "temperature", "°C", l.forecast_c, -60.0, 40.0),
            measured_c: checked.number(&format!("night.own_log[{i}].measured_c"), "temperature", "°C", l.measured_c, -60.0, 40.0),
        });
    }
    let offset = (!log.is_empty()).then(|| own_offset(&log, sd));
    let minimum_c = offset.map_or(Gaussian::new(minimum, sd), |o| Gaussian::new(minimum + o.mean, o.sd));
    let forecast = Forecast {
        minimum_c,
        // The evening is measured at the grower's own place or follows the curve; the offset moves the minimum only.
        evening_c: n.sunset_plus_2h_c,
        hours_below_0: n.hours_below_0,
        night_hours: n.night_hours,
        kind: n.kind.unwrap_or(NightKind::ClearStill),
    };
    if !checked.is_clean() {
        return (None, offset);
    }
    (checked.take("night", "", Tonight::from_forecast(&forecast, &snapshot.night_priors)), offset)
}

fn place(checked: &mut Checked, notes: &mut Vec<String>, index: usize, given: &PlaceInput, tonight: &Tonight) -> Option<ReadPlace> {
    let path = |key: &str| format!("places[{index}].{key}");
    let room_m2 = checked.maybe(&path("room_m2"), "room", "m²", given.room_m2, 0.0, 10_000.0);
    if room_m2.is_none() {
        notes.push(format!("{}: no room given, so there is taken to be enough.", given.id));
    }
    let sd = checked.maybe(&path("sd_k"), "spread", "K", given.sd_k, 0.0, 20.0);
    let outside = tonight.minimum_c;
    let read = |minimum_c: Gaussian, evening_c: f64, heated: bool, readings: usize| {
        let evening_c = evening_c.max(minimum_c.mean);
        Some(ReadPlace { id: given.id.clone(), room_m2, minimum_c, evening_c, heated, readings })
    };
    match (given.minimum_c, given.inside_a_c, given.inside_b) {
        (Some(minimum), None, None) => {
            let minimum = checked.number(&path("minimum_c"), "temperature", "°C", minimum, -60.0, 40.0);
            let minimum_c = Gaussian::new(minimum, sd.unwrap_or(HEATED_SD_K));
            read(minimum_c, minimum + 1.0, true, 0)
        }
        (None, Some(a), Some(b)) => {
            let a = checked.number(&path("inside_a_c"), "a of the line", "°C", a, -60.0, 60.0);
            let b = checked.number(&path("inside_b"), "b of the line (share of the outside that comes in)", "", b, 0.0, 1.2);
            let line = Place { a_c: a, b, sd_k: sd.unwrap_or(1.5), readings: 0 };
            read(line.inside(outside), a + b * tonight.evening_c, false, 0)
        }
        (None, None, None) if !given.readings.is_empty() || given.kind.is_some() => {
            let pairs: Vec<(f64, f64)> = given.readings.iter().map(|r| (r.outside_c, r.inside_c)).collect();
            let kind = given.kind.unwrap_or(StoreKind::Detached);
            let line = checked.take(&path("readings"), format!("{} pairs", pairs.len()), Place::from_pairs(&pairs, kind, outside.mean))?;
            if pairs.is_empty() {
                notes.push(format!("{}: no readings yet; {} is judged from a handful of growers' posts. Two nights of inside and outside minima make it yours.", given.id, kind.label()));
            }
            let line = Place { sd_k: sd.unwrap_or(line.sd_k), ..line };
            read(line.inside(outside), line.a_c + line.b * tonight.evening_c, false, line.readings)
        }
        _ => {
            checked.wrong(
                &format!("places[{index}]"),
                &given.id,
                "needs one of: minimum_c; inside_a_c and inside_b; readings; kind (attached, detached, unheated_house)",
            );
            None
        }
    }
}

fn cover(
    checked: &mut Checked,
    notes: &mut Vec<String>,
    index: usize,
    given: &CoverInput,
    night: NightKind,
    snapshot: &Snapshot,
) -> Option<ReadCover> {
    let path = |key: &str| format!("covers[{index}].{key}");
    let minutes = checked.maybe(&path("minutes"), "minutes", "min", given.minutes, 0.0, 600.0).unwrap_or(COVER_MINUTES);
    let area_m2 = checked.maybe(&path("area_m2"), "ground one covers", "m²", given.area_m2, 0.05, 1_000.0);
    let sd = checked.maybe(&path("gain_sd_k"), "spread of the gain", "K", given.gain_sd_k, 0.0, 15.0);
    let gain = checked.maybe(&path("gain_k"), "gain of a cover", "K", given.gain_k, -5.0, 25.0);
    let shipped = given.kind.parse::<CoverKind>();
    let (gain, pot_share) = match (gain, &shipped) {
        (Some(mean), _) => (Gaussian::new(mean, sd.unwrap_or(GAIN_SD_K)), 1.0),
        (None, Ok(kind)) => {
            let prior = snapshot.night_priors.cover(*kind, night);
            (Gaussian::new(prior.mean, sd.unwrap_or(prior.sd)), snapshot.night_priors.cover_pot_share)
        }
        (None, Err(error)) => {
            checked.wrong(&path("kind"), &given.kind, format!("{error}; or any name together with gain_k"));
            return None;
        }
    };
    let named = shipped.as_ref().map_or(given.kind.as_str(), |k| k.label());
    let thin = gain.mean <= 1.0;
    match night {
        NightKind::ClearStill if thin => notes.push(format!(
            "{}: on a clear still night a single sheet gains little and can leave a plant colder than none (measured −1.7 to +1.8 K): it shuts off the warmth of the soil as well as the sky. The plan counts {:+.1} ± {:.1} K.",
            named, gain.mean, gain.sd
        )),
        NightKind::Windy if given.gain_k.is_none() => notes.push(format!("{named}: in wind covers hold little that can be relied on.")),
        _ => {}
    }
    Some(ReadCover { kind: given.kind.clone(), count: given.count, gain, pot_share, minutes, area_m2 })
}

/// Footprint of a pot as tall as wide, m².
fn footprint_of(litres: f64) -> f64 {
    (4.0 * litres / 1_000.0 / std::f64::consts::PI).cbrt().powi(2)
}

/// Minutes to carry a pot by its size. DESIGN: one pair of hands, a barrow for the large ones.
fn minutes_of(litres: f64) -> f64 {
    match litres {
        l if l <= 5.0 => 2.0,
        l if l <= 15.0 => 3.0,
        l if l <= 30.0 => 5.0,
        l if l <= 60.0 => 8.0,
        _ => 15.0,
    }
}

fn plant(
    checked: &mut Checked,
    notes: &mut Vec<String>,
    index: usize,
    given: &PlantInput,
    places: &[PlaceInput],
    snapshot: &Snapshot,
) -> Option<ReadPlant> {
    let path = |key: &str| format!("plants[{index}].{key}");
    let (cultivar, belief) = cultivar(checked, &path("cultivar"), &given.cultivar, snapshot)?;
    let stage = given.stage.unwrap_or(Stage::Hard);
    let years = given.years.unwrap_or(u32::from(YearsEstablished::ESTABLISHED.years()));
    let years = checked.take(&path("years"), years, YearsEstablished::new(years))?;
    let pot_litres = checked.maybe(&path("container_l"), "pot volume", "L", given.container_l, 0.1, 2_000.0);
    let value = checked.maybe(&path("value"), "value", "", given.value, 0.0, 1e9).unwrap_or(1.0);
    let movable = pot_litres.is_some() || stage == Stage::RootedCutting;
    if !movable && given.minutes_to_move.is_some() {
        notes.push("Plants in the ground (container_l null) cannot be carried in; their minutes_to_move is left aside.".to_owned());
    }
    let litres = pot_litres.unwrap_or(1.0);
    let footprint_m2 =
        checked.maybe(&path("footprint_m2"), "footprint", "m²", given.footprint_m2, 0.0, 100.0).unwrap_or_else(|| footprint_of(litres));
    let minutes_to_move = checked
        .maybe(&path("minutes_to_move"), "minutes to move it", "min", given.minutes_to_move, 0.0, 600.0)
        .unwrap_or_else(|| minutes_of(litres));
    let at = match given.at.as_deref() {
        None | Some("open") => None,
        Some(id) => {
            let found = places.iter().position(|p| p.id == id);
            if found.is_none() {
                checked.wrong(
                    &path("at"),
                    id,
                    format!("no such place; accepted: open, {}", places.iter().map(|p| p.id.as_str()).collect::<Vec<_>>().join(", ")),
                );
            }
            found
        }
    };
    let deficit = checked.maybe(&path("deficit_k"), "deficit of hardiness", "K", given.deficit_k, 0.0, 30.0);
    let deficit_sd = checked.maybe(&path("deficit_sd_k"), "its spread", "K", given.deficit_sd_k, 0.0, 15.0);
    let pot_start_c = checked.maybe(&path("pot_start_c"), "temperature of the pot", "°C", given.pot_start_c, -40.0, 40.0);
    // The pot model of the night replaces the flat effect of a container.
    let age = snapshot.priors.planting_effect(years, Culture::Ground);
    let state = PlantTonight {
        belief: belief.shifted(age),
        stage,
        deficit_k: deficit.map(|d| Gaussian::new(d, deficit_sd.unwrap_or(1.0))),
        pot_litres,
        stands: Stands::OnGround,
        pot_start_c,
        young: years.years() < 2,
    };
    Some(ReadPlant { id: given.id.clone(), cultivar, state, value, footprint_m2, minutes_to_move, movable, at })
}

fn cultivar<'a>(
    checked: &mut Checked,
    path: &str,
    written: &str,
    snapshot: &'a Snapshot,
) -> Option<(String, std::borrow::Cow<'a, HardinessBelief>)> {
    use std::borrow::Cow;
    if written.trim().is_empty() || written.trim().eq_ignore_ascii_case("unknown") {
        return Some(("unknown".to_owned(), Cow::Owned(snapshot.priors.belief(None, false))));
    }
    let found = snapshot.catalogue.get(written).map_or_else(|| snapshot.catalogue.identify(written), NameMatch::Accepted);
    match found {
        NameMatch::Accepted(c) | NameMatch::Synonym(c) => {
            let place = snapshot.catalogue.cultivars().iter().position(|other| other.slug == c.slug)?;
            snapshot.standings.get(place).map(|s| (c.name.clone(), Cow::Borrowed(&s.belief)))
        }
        NameMatch::Ambiguous(several) => {
            let names: Vec<&str> = several.iter().map(|c| c.slug.as_str()).collect();
            checked.wrong(path, written, format!("“{written}” names more than one fig; give one of: {}", names.join(", ")));
            None
        }
        NameMatch::Unknown(near) => {
            let near: Vec<&str> = near.iter().map(|c| c.slug.as_str()).collect();
            let offer = if near.is_empty() { String::new() } else { format!(" Near it: {}.", near.join(", ")) };
            checked.wrong(path, written, format!("“{written}” is not in the catalogue; give a slug or name that is, or “unknown”.{offer}"));
            None
        }
    }
}
