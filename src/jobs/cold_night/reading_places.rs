//! Places of a plan: held temperatures, lines, readings, kinds, described shelters, with their stores.

use crate::input::json::Checked;
use crate::jobs::cold_night::input::PlaceInput;
use crate::jobs::cold_night::shelter_place::{ShelterNights, through};
use crate::science::cold_night::places::{Place, PlaceError, StoreKind, check_inside};
use crate::science::cold_night::spell::days::{Spell, SpellNight};
use crate::science::cold_night::spell::plan::SpellPlace;
use crate::science::cold_night::spell::spots::{Course, Spot, SpotNight};
use crate::science::cold_night::spell::stores::Stores;

/// Evening of a held place above its lowest, K. DESIGN.
const HELD_EVENING_K: f64 = 1.0;
/// Spread of a heated place without one of its own, K. DESIGN.
const HEATED_SD_K: f64 = 1.5;
/// Spread of a place known by its line alone, K. DESIGN.
const LINE_SD_K: f64 = 1.5;

/// A place as read.
pub(crate) struct ReadPlace {
    pub id: String,
    pub part: SpellPlace,
    pub heated: bool,
    pub readings: usize,
    /// A described shelter: what it holds night by night, and its air without heat.
    pub shelter: Option<(ShelterNights, Course)>,
}

/// One place.
pub(super) fn place(checked: &mut Checked, notes: &mut Vec<String>, index: usize, given: &PlaceInput, spell: &Spell) -> Option<ReadPlace> {
    let path = |key: &str| format!("places[{index}].{key}");
    let shelter = match &given.shelter {
        Some(shelter) => Some(through(checked, &path("shelter"), shelter, spell)?),
        None => None,
    };
    let floor_m2 = given.shelter.as_ref().and_then(|s| s.floor_m2);
    let room_m2 = checked.maybe(&path("room_m2"), "room", "m²", given.room_m2, 0.0, 10_000.0).or(floor_m2);
    if given.room_m2.is_none() && floor_m2.is_some() {
        notes.push(format!("{}: its whole floor is taken as room; paths take some of it, so give the room where they do.", given.id));
    }
    if room_m2.is_none() {
        notes.push(format!("{}: no room given, so there is taken to be enough.", given.id));
    }
    let sd = checked.maybe(&path("sd_k"), "spread", "K", given.sd_k, 0.0, 20.0);
    let line = |a_c: f64, b: f64, own_sd_k: f64, evening_extra_k: f64| SpotNight { a_c, b, own_sd_k, evening_extra_k, windy: false };
    let mut heated = false;
    let mut readings = 0;
    let nights: Vec<SpotNight> = match (given.minimum_c, given.inside_a_c, given.inside_b) {
        (None, None, None) if shelter.is_some() => {
            heated = shelter.as_ref().is_some_and(|s| s.has_heat);
            readings = shelter.as_ref().map_or(0, |s| s.readings);
            shelter.as_ref().map_or_else(Vec::new, |s| s.heated.clone())
        }
        (None, None, None) if !given.minima_c.is_empty() => {
            if given.minima_c.len() != spell.len() {
                let message = format!("give one lowest temperature for each night; there are {} nights", spell.len());
                checked.wrong(&path("minima_c"), given.minima_c.len(), message);
                return None;
            }
            let held = |c: &f64| {
                line(checked.number(&path("minima_c"), "temperature", "°C", *c, -60.0, 40.0), 0.0, sd.unwrap_or(LINE_SD_K), HELD_EVENING_K)
            };
            given.minima_c.iter().map(held).collect()
        }
        (Some(minimum), None, None) => {
            heated = true;
            let minimum = checked.number(&path("minimum_c"), "temperature", "°C", minimum, -60.0, 40.0);
            vec![line(minimum, 0.0, sd.unwrap_or(HEATED_SD_K), HELD_EVENING_K); spell.len()]
        }
        (None, Some(a), Some(b)) => {
            let a = checked.number(&path("inside_a_c"), "a of the line", "°C", a, -60.0, 60.0);
            let b = checked.number(&path("inside_b"), "b of the line (share of the outside that comes in)", "", b, 0.0, 1.2);
            let coldest = spell.nights().iter().map(|night| night.air.minimum_c.mean).fold(f64::INFINITY, f64::min);
            checked.take(&path("inside_a_c"), a.to_string(), check_inside(coldest, a + b * coldest))?;
            vec![line(a, b, sd.unwrap_or(LINE_SD_K), 0.0); spell.len()]
        }
        (None, None, None) if !given.readings.is_empty() || given.kind.is_some() => {
            let pairs: Vec<(f64, f64)> = given.readings.iter().map(|r| (r.outside_c, r.inside_c)).collect();
            let kind = given.kind.unwrap_or(StoreKind::Detached);
            let of = |night: &SpellNight| Place::from_pairs(&pairs, kind, night.air.minimum_c.mean);
            let lines: Result<Vec<Place>, PlaceError> = spell.nights().iter().map(of).collect();
            let lines = checked.take(&path("readings"), format!("{} pairs", pairs.len()), lines)?;
            if pairs.is_empty() {
                notes.push(format!("{}: no readings yet; {} is judged from a handful of growers' posts. Two nights of inside and outside minima make it yours.", given.id, kind.label()));
            }
            readings = pairs.len();
            lines.iter().map(|l| line(l.a_c, l.b, sd.unwrap_or(l.sd_k), 0.0)).collect()
        }
        _ => {
            checked.wrong(
                &format!("places[{index}]"),
                &given.id,
                "needs one of: shelter; minimum_c; minima_c; inside_a_c and inside_b; readings; kind (attached, detached, unheated_house)",
            );
            return None;
        }
    };
    let stores = stores(checked, index, given, spell, nights.first());
    let air = Spot { nights, roofed: true, stores }.course(spell);
    let shelter = shelter.map(|s| {
        let cold = Spot { nights: s.cold.clone(), roofed: true, stores }.course(spell);
        (s, cold)
    });
    Some(ReadPlace { id: given.id.clone(), part: SpellPlace { room_m2, air }, heated, readings, shelter })
}

/// Water and soil of a place, where they are given.
fn stores(checked: &mut Checked, index: usize, given: &PlaceInput, spell: &Spell, first: Option<&SpotNight>) -> Option<Stores> {
    let path = |key: &str| format!("places[{index}].{key}");
    let water_l = checked.maybe(&path("water_litres"), "water", "L", given.water_litres, 0.0, 100_000.0).unwrap_or(0.0);
    let soil_m2 = checked.maybe(&path("soil_m2"), "bare soil", "m²", given.soil_m2, 0.0, 10_000.0).unwrap_or(0.0);
    let loss = checked.maybe(&path("loss_w_k"), "heat loss of the place", "W/K", given.loss_w_k, 0.1, 100_000.0);
    let water_c = checked.maybe(&path("water_c"), "temperature of the water", "°C", given.water_c, -20.0, 60.0);
    if water_l <= 0.0 && soil_m2 <= 0.0 {
        return None;
    }
    let Some(place_w_k) = loss else {
        checked.wrong(
            &path("loss_w_k"),
            "",
            "water and soil need the heat loss of the place beside them, W/K; the shelter’s page works it out",
        );
        return None;
    };
    // As the place would be in the evening and the day before.
    let (evening, line) = (spell.nights().first()?, first?);
    let before = line.a_c + line.b * f64::midpoint(evening.day_maximum_c, evening.air.evening_c) + line.evening_extra_k;
    Some(Stores { place_w_k, water_l, water_c: water_c.unwrap_or(before), soil_m2, soil_c: before.max(0.0) })
}
