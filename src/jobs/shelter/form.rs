//! A shelter as a page's form sends it: lengths and covers to the calculation's input, the usual changes offered, errors under the form's names.

use crate::input::errors::FieldErrors;
use crate::input::scaled_fields::ScaledFields;
use crate::jobs::shelter::field::{self, Field, ReadingField};
use crate::jobs::shelter::form_changes::{self, Shaped, boards};
use crate::jobs::shelter::form_neighbour;
use crate::jobs::shelter::form_parts::{Tightness, field_of_length, layer, names, needed, usual};
use crate::jobs::shelter::input::{DayInput, PartInput, ReadingInput, SeasonInput, ShelterInput, ShelterNightInput};
use crate::jobs::shelter::place;
use crate::science::shelter::shape::{Measures, Shape, ShapeKind};
use crate::vocabulary::vocabulary;

/// Rows of readings.
pub const READING_ROWS: usize = 12;
/// The fields of a shape's lengths, in the order of its measures.
const LENGTHS: [Field; 4] = [Field::Length, Field::Width, Field::Wall, Field::Top];
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
    let kind = usual(&mut f, Field::Shape, ShapeKind::Gable);
    let (length, width, wall, top) = (f.metres(Field::Length), f.metres(Field::Width), f.metres(Field::Wall), f.metres(Field::Top));
    let length = needed(&mut f, Field::Length, length, "The length is missing.");
    let width = needed(&mut f, Field::Width, width, "The width is missing.");
    let wall = if kind == ShapeKind::Hoop { 0.0 } else { needed(&mut f, Field::Wall, wall, "The height of the walls is missing.") };
    let top = needed(&mut f, Field::Top, top, "The height at the top is missing.");
    let place = f.text(Field::Place).map(str::to_owned);
    let minimum = f.celsius(Field::Minimum);
    let evening = f.celsius(Field::Evening);
    let night = match (minimum, &place) {
        (None, Some(_)) if f.text(Field::Minimum).is_none() => None,
        (minimum, _) => {
            let minimum_c = needed(&mut f, Field::Minimum, minimum, "The lowest temperature outside is missing; or say the town.");
            let evening_c = evening.unwrap_or(minimum_c + EVENING_DROP_K);
            Some(ShelterNightInput { sunset_plus_2h_c: evening_c, minimum_c, hours: NIGHT_HOURS, kind: None })
        }
    };
    if f.errors().is_empty()
        && let Err(error) = Shape::new(kind, length, width, wall, top)
    {
        f.errors().add(field_of_length(error.quantity, LENGTHS), &error.value.to_string(), error);
    }
    let tightness = usual(&mut f, Field::Tightness, Tightness::Ordinary);
    let floor = usual(&mut f, Field::Floor, Floor::Dry);
    let (walls, roof) = (f.text(Field::WallCover).unwrap_or("film_single"), f.text(Field::RoofCover).unwrap_or("film_single"));
    let readings = (1..=READING_ROWS).filter_map(|i| reading(&mut f, i)).collect();
    let minima = f.many_celsius(Field::Minima);
    let mut input = ShelterInput {
        air_changes_per_hour: Some(tightness.air_changes()),
        ground_w_m2: Some(floor.flux()),
        heater_w: f.number(Field::Heater),
        thermostat_c: f.celsius(Field::Thermostat),
        hold_c: f.celsius(Field::Hold),
        design_low_c: f.celsius(Field::DesignLow),
        price_per_kwh: f.number(Field::Price),
        water_litres: f.litres(Field::Water),
        night,
        place,
        readings,
        mats: form_neighbour::mats(&mut f, Field::Mats),
        day: f.celsius(Field::DayMaximum).map(|maximum_c| DayInput { maximum_c, ..DayInput::default() }),
        pool_states: match f.text(Field::Pool) {
            Some("all") => Some(true),
            Some(_) => Some(false),
            None => None,
        },
        season: minima.map(|daily_minima_c| SeasonInput { daily_minima_c, daily_maxima_c: Vec::new() }),
        ..ShelterInput::default()
    };
    let boards_m = f.metres(Field::Boards);
    f.errors().clone().into_result()?;
    let shape = Shape::new(kind, length, width, wall, top).map_err(|e| {
        let mut errors = FieldErrors::default();
        errors.add(Field::Length, "", e);
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
    let kind = usual(&mut f, Field::Shape, ShapeKind::Gable);
    (kind, LENGTHS.map(|field| f.metres(field)))
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
    for (row, reading) in filled_rows(f).into_iter().zip(&input.readings) {
        let field = Field::Reading(row, ReadingField::Date);
        if reading.date.is_none() && f.errors().of(&field.name()).is_none() {
            f.errors().add(field, "", "Which night was this? Its date says whether it was before or after a change.");
        }
    }
}

/// Rows of readings that have something in them.
fn filled_rows(f: &ScaledFields<'_>) -> Vec<usize> {
    let typed = |row: &usize, field: ReadingField| f.text(Field::Reading(*row, field)).is_some();
    (1..=READING_ROWS).filter(|row| typed(row, ReadingField::Outside) || typed(row, ReadingField::Inside)).collect()
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
        for (field, key) in [(Field::SecondSkin, "second_cover"), (Field::BubbleLining, "bubble_lining")] {
            if f.text(field).is_some() {
                part.layers.push(layer(key, 1.0));
            }
        }
        if boards_m.is_some_and(|h| h > 0.0) && part.name.as_deref() == Some(board_part) {
            part.layers.push(board.clone());
        }
    }
}

fn reading(f: &mut ScaledFields<'_>, row: usize) -> Option<ReadingInput> {
    let field = |field: ReadingField| Field::Reading(row, field);
    let heater_w = f.number(field(ReadingField::Heater));
    let beside_c = f.celsius(field(ReadingField::Beside));
    let date = form_changes::date(f, field(ReadingField::Date));
    let (outside_c, inside_c) = f.pair(
        (field(ReadingField::Outside), "What was it outside at the same moment?"),
        (field(ReadingField::Inside), "What was it inside at the same moment?"),
    )?;
    Some(ReadingInput { outside_c, inside_c, heater_w, beside_c, date, state: None })
}

/// Errors of the calculation under the names of the form's fields; `pairs` says which rows of readings were filled in.
pub fn errors_of_form(errors: &FieldErrors, pairs: &[(String, String)]) -> FieldErrors {
    let rows = filled_rows(&ScaledFields::new(pairs));
    let mut named = FieldErrors::default();
    for e in errors {
        named.add(field::of_path(&e.field, &rows), &e.value, &e.message);
    }
    named
}
