//! A shelter as a page's form sends it: lengths and covers to the calculation's input, the usual changes offered, errors under the form's names.

use crate::input::errors::FieldErrors;
use crate::input::scaled_fields::ScaledFields;
use crate::jobs::shelter::input::{ChangeInput, LayerInput, NightInput, PartInput, ReadingInput, SeasonInput, ShelterInput};
use crate::science::shelter::shape::{Measures, Shape, ShapeKind};
use crate::vocabulary::vocabulary;

/// Rows of readings.
pub const READING_ROWS: usize = 3;
/// Height of boards offered, m: bench height (Bartok: side and end walls to bench height).
const BOARDS_M: f64 = 1.2;
/// Evening above the minimum where only the minimum is given, K: the published example of a clear night (Snyder & de Melo-Abreu 2005).
const EVENING_DROP_K: f64 = 6.4;
/// Length of the night, h. DESIGN.
const NIGHT_HOURS: f64 = 14.0;

vocabulary! {
    /// How tight it is.
    pub enum Tightness: "tightness" {
        /// New and sealed.
        Tight = "tight" => "tight: new, sealed, still air",
        /// Ordinary.
        Ordinary = "ordinary" => "ordinary: a hobby house, door shut",
        /// Loose.
        Loose = "loose" => "loose: gaps, wind",
    }
}

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

impl Tightness {
    /// Air changes an hour (colleges' tests and handbook ranges, `evidence/shelter.md` §1b).
    fn air_changes(self) -> f64 {
        match self {
            Self::Tight => 0.75,
            Self::Ordinary => 1.5,
            Self::Loose => 3.0,
        }
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

/// A word, or the usual one where none is typed or it is no such word.
fn usual<T: std::str::FromStr<Err: std::fmt::Display>>(f: &mut ScaledFields<'_>, name: &str, usual: T) -> T {
    f.word(name).unwrap_or(usual)
}

/// A value that has to be there; a stand-in where it is not, which is said.
fn needed(f: &mut ScaledFields<'_>, name: &str, value: Option<f64>, said: &str) -> f64 {
    if value.is_none() && f.errors().of(name).is_none() {
        f.errors().add(name, "", said);
    }
    value.unwrap_or(1.0)
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
    let minimum = f.celsius("minimum");
    let minimum_c = needed(&mut f, "minimum", minimum, "The lowest temperature outside is missing.");
    let evening_c = f.celsius("evening").unwrap_or(minimum_c + EVENING_DROP_K);
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
        night: Some(NightInput { sunset_plus_2h_c: evening_c, minimum_c, hours: NIGHT_HOURS, kind: None }),
        readings,
        season: minima.map(|daily_minima_c| SeasonInput { daily_minima_c, daily_maxima_c: Vec::new() }),
        ..ShelterInput::default()
    };
    let boards_m = f.metres("boards");
    f.errors().clone().into_result()?;
    let measures = Shape::new(kind, length, width, wall, top).map(|s| s.measures()).map_err(|e| {
        let mut errors = FieldErrors::default();
        errors.add("length", "", e);
        errors
    })?;
    surfaces(&mut input, kind, &measures, walls, roof);
    standing(&f, &mut input, kind, &measures, boards_m);
    input.changes = offers(&f, kind, &measures, tightness, boards_m, input.water_litres.unwrap_or(0.0));
    Ok(input)
}

/// Names of the two parts of a shape.
fn names(kind: ShapeKind) -> (&'static str, &'static str) {
    match kind {
        ShapeKind::Gable => ("walls", "roof"),
        ShapeKind::Hoop => ("ends", "cover"),
        ShapeKind::LeanTo => ("front and ends", "roof"),
    }
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

fn layer(kind: &str, fraction: f64) -> LayerInput {
    LayerInput { kind: Some(kind.to_owned()), fraction: Some(fraction.clamp(0.0, 1.0)), ..LayerInput::default() }
}

/// Foam board of 25 mm to a height: on the walls, or along both sides of a hoop's cover.
fn boards(kind: ShapeKind, m: &Measures, height_m: f64) -> (&'static str, LayerInput) {
    let (walls, cover) = names(kind);
    let (name, share) = match kind {
        // Both long sides: the floor's edge less two ends is about two lengths.
        ShapeKind::Hoop => (cover, 2.0 * height_m * (m.volume_m3 / (m.walls_m2 / 2.0)) / m.roof_m2),
        _ => (walls, height_m * m.perimeter_m / m.walls_m2),
    };
    (name, LayerInput { thickness_mm: Some(25.0), ..layer("board_eps", share) })
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

/// The usual changes, less what stands already.
fn offers(
    f: &ScaledFields<'_>,
    kind: ShapeKind,
    m: &Measures,
    tightness: Tightness,
    boards_m: Option<f64>,
    water: f64,
) -> Vec<ChangeInput> {
    let (_, roof) = names(kind);
    let mut all = Vec::new();
    let mut offer = |name: &str, change: ChangeInput| all.push(ChangeInput { name: name.to_owned(), ..change });
    let of_layer = |l: LayerInput| ChangeInput { layers: vec![l], ..ChangeInput::default() };
    if f.text("has_second").is_none() {
        offer("second skin, sealed", of_layer(layer("second_cover", 1.0)));
    }
    if boards_m.is_none_or(|h| h <= 0.0) {
        let (part, board) = boards(kind, m, BOARDS_M);
        offer("25 mm foam boards to 1.2 m (4 ft)", of_layer(LayerInput { part: Some(part.to_owned()), ..board }));
    }
    if f.text("has_bubble").is_none() {
        offer("bubble lining", of_layer(layer("bubble_lining", 1.0)));
    }
    offer("thermal screen under the roof at night", of_layer(LayerInput { part: Some(roof.to_owned()), ..layer("thermal_screen", 1.0) }));
    if tightness != Tightness::Tight {
        offer("seal the leaks", ChangeInput { air_changes_per_hour: Some(Tightness::Tight.air_changes()), ..ChangeInput::default() });
    }
    offer(
        "60 cm (2 ft) of board down into the soil",
        ChangeInput { perimeter_edge: Some("vertical_2ft_r10".to_owned()), ..ChangeInput::default() },
    );
    offer("400 L (two drums) of water", ChangeInput { water_litres: Some(water + 400.0), ..ChangeInput::default() });
    all
}

fn reading(f: &mut ScaledFields<'_>, i: usize) -> Option<ReadingInput> {
    let (outside, inside) = (format!("r{i}_outside"), format!("r{i}_inside"));
    let heater_w = f.number(&format!("r{i}_heater"));
    let (outside_c, inside_c) =
        f.pair((&outside, "What was it outside at the same moment?"), (&inside, "What was it inside at the same moment?"))?;
    Some(ReadingInput { outside_c, inside_c, heater_w })
}

/// Errors of the calculation under the names of the form's fields.
pub fn errors_of_form(errors: &FieldErrors) -> FieldErrors {
    let mut named = FieldErrors::default();
    for e in errors {
        let field = match e.field.as_str() {
            p if p.starts_with("readings[") => {
                let row = p.trim_start_matches("readings[").chars().next().and_then(|c| c.to_digit(10)).unwrap_or(0) + 1;
                format!("r{row}_inside")
            }
            "heater_w" => "heater".to_owned(),
            "thermostat_c" => "thermostat".to_owned(),
            "hold_c" => "hold".to_owned(),
            "price_per_kwh" => "price".to_owned(),
            "design_low_c" => "design_low".to_owned(),
            "water_litres" => "water".to_owned(),
            p if p.starts_with("season") => "minima".to_owned(),
            p if p.starts_with("parts[0]") => "wall_cover".to_owned(),
            p if p.starts_with("parts[1]") => "roof_cover".to_owned(),
            p if p.starts_with("night") => "evening".to_owned(),
            _ => "length".to_owned(),
        };
        named.add(field, &e.value, &e.message);
    }
    named
}
