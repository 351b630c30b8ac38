//! A shelter as a page's form sends it: lengths and covers to the calculation's input, the usual changes offered, errors under the form's names.

use crate::input::errors::FieldErrors;
use crate::input::scaled_fields::ScaledFields;
use crate::jobs::shelter::form_changes::{self, Shaped, boards};
use crate::jobs::shelter::form_neighbour;
use crate::jobs::shelter::form_parts::{Tightness, layer, names, needed, usual};
use crate::jobs::shelter::input::{DayInput, PartInput, ReadingInput, SeasonInput, ShelterInput, ShelterNightInput};
use crate::jobs::shelter::place::{self, PLACE};
use crate::science::shelter::shape::{Measures, Shape, ShapeKind};
use crate::vocabulary::vocabulary;

/// Rows of readings.
pub const READING_ROWS: usize = 12;
/// Evening above the minimum where only the minimum is given, K: the published example of a clear night (Snyder & de Melo-Abreu 2005).
pub(super) const EVENING_DROP_K: f64 = 6.4;
/// Length of the night, h. DESIGN.
pub(super) const NIGHT_HOURS: f64 = 14.0;

vocabulary! {
    /// What the floor gives.
    pub enum Floor: "floor" {
        /// Moist soil.
        Moist = "moist" => "moist open soil",
        /// Dry or paved.
        Dry = "dry" => "dry, gravel or paved",
        /// Count nothing.
        Nothing = "nothing" => "count nothing from it",
    }
}

impl Floor {
    /// W/m² (10 to 30 inside a house, wet soil more than dry; from memory of clear-night balances).
    fn flux(self) -> f64 {
        match self {
            Self::Moist => 20.0,
            Self::Dry => 10.0,
            Self::Nothing => 0.0,
        }
    }
}

/// Reads a form; lengths and temperatures in the units its `scale` field names (c: m and °C, f: ft and °F). Errors name fields of the form.
pub fn read(pairs: &[(String, String)]) -> Result<ShelterInput, FieldErrors> {
    let mut f = ScaledFields::new(pairs);
    let kind = usual(&mut f, "shape", ShapeKind::Gable);
    let (length, width, wall, top) = (f.metres("length"), f.metres("width"), f.metres("wall"), f.metres("top"));
    let length = needed(&mut f, "length", length, "The length is missing.");
    let width = needed(&mut f, "width", width, "The width is missing.");
    let wall = if kind == ShapeKind::Hoop { 0.0 } else { needed(&mut f, "wall", wall, "The height of the walls is missing.") };
    let top = needed(&mut f, "top", top, "The height at the top is missing.");
    let place = f.text(PLACE).map(str::to_owned);
    let minimum = f.celsius("minimum");
    let evening = f.celsius("evening");
    let night = match (minimum, &place) {
        (None, Some(_)) if f.text("minimum").is_none() => None,
        (minimum, _) => {
            let minimum_c = needed(&mut f, "minimum", minimum, "The lowest temperature outside is missing; or say the town.");
            let evening_c = evening.unwrap_or(minimum_c + EVENING_DROP_K);
            Some(ShelterNightInput { sunset_plus_2h_c: evening_c, minimum_c, hours: NIGHT_HOURS, kind: None })
        }
    };
    if f.errors().is_empty()
        && let Err(error) = Shape::new(kind, length, width, wall, top)
    {
        let field = match error.quantity {
            "length" => "length",
            "width" => "width",
            "height of the walls" => "wall",
            _ => "top",
        };
        f.errors().add(field, &error.value.to_string(), error);
    }
    let tightness = usual(&mut f, "tightness", Tightness::Ordinary);
    let floor = usual(&mut f, "floor", Floor::Dry);
    let (walls, roof) = (f.text("wall_cover").unwrap_or("film_single"), f.text("roof_cover").unwrap_or("film_single"));
    let readings = (1..=READING_ROWS).filter_map(|i| reading(&mut f, i)).collect();
    let minima = f.many_celsius("minima");
    let mut input = ShelterInput {
        air_changes_per_hour: Some(tightness.air_changes()),
        ground_w_m2: Some(floor.flux()),
        heater_w: f.number("heater"),
        thermostat_c: f.celsius("thermostat"),
        hold_c: f.celsius("hold"),
        design_low_c: f.celsius("design_low"),
        price_per_kwh: f.number("price"),
        water_litres: f.litres("water"),
        night,
        place,
        readings,
        mats: form_neighbour::mats(&mut f, "mats"),
        day: f.celsius("day_max").map(|maximum_c| DayInput { maximum_c, ..DayInput::default() }),
        pool_states: match f.text("pool") {
            Some("all") => Some(true),
            Some(_) => Some(false),
            None => None,
        },
        season: minima.map(|daily_minima_c| SeasonInput { daily_minima_c, daily_maxima_c: Vec::new() }),
        ..ShelterInput::default()
    };
    let boards_m = f.metres("boards");
    f.errors().clone().into_result()?;
    let shape = Shape::new(kind, length, width, wall, top).map_err(|e| {
        let mut errors = FieldErrors::default();
        errors.add("length", "", e);
        errors
    })?;
    let measures = shape.measures();
    surfaces(&mut input, kind, &measures, walls, roof);
    standing(&f, &mut input, kind, &measures, boards_m);
    input.neighbour = form_neighbour::read(&mut f, &mut input, kind, &shape);
    let of = Shaped { kind, measures: &measures, water_litres: input.water_litres.unwrap_or(0.0) };
    let (states, made) = form_changes::states(&mut f, of);
    input.states = states;
    let offers = form_changes::offered(&f, &made, tightness, boards_m.is_some_and(|h| h > 0.0));
    (input.changes, input.sets) = form_changes::changes(&mut f, &offers, of);
    dated(&mut f, &input);
    f.finish()?;
    Ok(input)
}

/// The shape of a form and its length, width, height of walls and height at the top, m.
pub fn lengths(pairs: &[(String, String)]) -> (ShapeKind, [Option<f64>; 4]) {
    let mut f = ScaledFields::new(pairs);
    let kind = usual(&mut f, "shape", ShapeKind::Gable);
    (kind, ["length", "width", "wall", "top"].map(|name| f.metres(name)))
}

/// An input as it is calculated, for a page that says back what was counted on.
pub fn with_place(input: &ShelterInput) -> Result<ShelterInput, FieldErrors> {
    place::filled(input, EVENING_DROP_K, NIGHT_HOURS).map(|(filled, _)| filled)
}

/// With changes made on a day, every reading needs its own.
fn dated(f: &mut ScaledFields<'_>, input: &ShelterInput) {
    if input.states.is_empty() {
        return;
    }
    for (row, reading) in filled_rows(|name| f.text(name).is_some()).into_iter().zip(&input.readings) {
        let field = format!("r{row}_date");
        if reading.date.is_none() && f.errors().of(&field).is_none() {
            f.errors().add(&field, "", "Which night was this? Its date says whether it was before or after a change.");
        }
    }
}

/// Rows of readings that have something in them.
fn filled_rows(typed: impl Fn(&str) -> bool) -> Vec<usize> {
    (1..=READING_ROWS).filter(|i| ["outside", "inside"].iter().any(|part| typed(&format!("r{i}_{part}")))).collect()
}

fn surfaces(input: &mut ShelterInput, kind: ShapeKind, m: &Measures, walls: &str, roof: &str) {
    let (wall_name, roof_name) = names(kind);
    let part = |name: &str, area_m2: f64, cover: &str| PartInput {
        name: Some(name.to_owned()),
        area_m2,
        cover: Some(cover.to_owned()),
        ..PartInput::default()
    };
    input.parts = vec![part(wall_name, m.walls_m2, walls), part(roof_name, m.roof_m2, roof)];
    input.volume_m3 = Some(m.volume_m3);
    input.floor_m2 = Some(m.floor_m2);
    input.perimeter_m = Some(m.perimeter_m);
    input.perimeter_edge = Some("bare".to_owned());
    input.attached = m.attached;
}

/// What stands already.
fn standing(f: &ScaledFields<'_>, input: &mut ShelterInput, kind: ShapeKind, m: &Measures, boards_m: Option<f64>) {
    let (board_part, board) = boards(kind, m, boards_m.unwrap_or(0.0));
    for part in &mut input.parts {
        for (field, key) in [("has_second", "second_cover"), ("has_bubble", "bubble_lining")] {
            if f.text(field).is_some() {
                part.layers.push(layer(key, 1.0));
            }
        }
        if boards_m.is_some_and(|h| h > 0.0) && part.name.as_deref() == Some(board_part) {
            part.layers.push(board.clone());
        }
    }
}

fn reading(f: &mut ScaledFields<'_>, i: usize) -> Option<ReadingInput> {
    let (outside, inside) = (format!("r{i}_outside"), format!("r{i}_inside"));
    let heater_w = f.number(&format!("r{i}_heater"));
    let beside_c = f.celsius(&format!("r{i}_beside"));
    let date = form_changes::date(f, &format!("r{i}_date"));
    let (outside_c, inside_c) =
        f.pair((&outside, "What was it outside at the same moment?"), (&inside, "What was it inside at the same moment?"))?;
    Some(ReadingInput { outside_c, inside_c, heater_w, beside_c, date, state: None })
}

/// Errors of the calculation under the names of the form's fields; `pairs` says which rows of readings were filled in.
pub fn errors_of_form(errors: &FieldErrors, pairs: &[(String, String)]) -> FieldErrors {
    let rows = filled_rows(|name| pairs.iter().any(|(k, v)| k == name && !v.trim().is_empty()));
    let mut named = FieldErrors::default();
    for e in errors {
        let field = field_of(&e.field, &rows);
        named.add(field, &e.value, &e.message);
    }
    named
}

/// The index of a path such as `readings[3].inside_c`.
fn index_in(path: &str) -> usize {
    path.split(['[', ']']).nth(1).and_then(|n| n.parse().ok()).unwrap_or(0)
}

fn field_of(path: &str, rows: &[usize]) -> String {
    match path {
        p if p.starts_with("readings[") => {
            let row = rows.get(index_in(p)).copied().unwrap_or(1);
            let part = if p.ends_with(".heater_w") {
                "heater"
            } else if p.ends_with(".beside_c") {
                "beside"
            } else if p.ends_with(".outside_c") {
                "outside"
            } else {
                "inside"
            };
            format!("r{row}_{part}")
        }
        // The first state is the shelter as described.
        p if p.starts_with("states[") => format!("s{}_since", index_in(p).max(1)),
        p if p.starts_with("neighbour.shared") => "b_wall_length".to_owned(),
        p if p.starts_with("neighbour.holds") => "b_holds".to_owned(),
        p if p.starts_with("neighbour.mats") => "b_mats_watts".to_owned(),
        p if p.starts_with("neighbour.heater") => "b_heater".to_owned(),
        p if p.starts_with("neighbour.thermostat") => "b_thermostat".to_owned(),
        p if p.starts_with("neighbour.parts") => "b_cover".to_owned(),
        p if p.starts_with("neighbour") => "b_length".to_owned(),
        p if p.starts_with("mats") => "mats_watts".to_owned(),
        p if p.starts_with("day") => "day_max".to_owned(),
        p if p.starts_with("season") => "minima".to_owned(),
        p if p.starts_with("parts[0]") => "wall_cover".to_owned(),
        p if p.starts_with("parts[1]") => "roof_cover".to_owned(),
        p if p.starts_with("night") => "evening".to_owned(),
        "heater_w" => "heater".to_owned(),
        PLACE => PLACE.to_owned(),
        "thermostat_c" => "thermostat".to_owned(),
        "hold_c" => "hold".to_owned(),
        "price_per_kwh" => "price".to_owned(),
        "design_low_c" => "design_low".to_owned(),
        "water_litres" => "water".to_owned(),
        _ => "length".to_owned(),
    }
}
