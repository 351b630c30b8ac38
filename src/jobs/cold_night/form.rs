//! A cold night as a page's form sends it: raw pairs to the calculation's input, and errors by JSON path back to fields of the form.

use crate::input::errors::FieldErrors;
use crate::input::fields::decimal;
use crate::input::scaled_fields::{SQUARE_METRES_PER_SQUARE_FOOT, ScaledFields, from_fahrenheit, is_imperial};
use crate::jobs::cold_night::form_night::FormNight;
use crate::jobs::cold_night::form_nights;
use crate::jobs::cold_night::form_tenants::{self, KEPT_SHELTER, TENANT_ROWS};
use crate::jobs::cold_night::input::{LoggedInput, PairInput, PlaceInput, PlantInput};
use crate::records::setup::Described;
use crate::science::cold_night::places::StoreKind;

/// Rows of plants a form begins with.
pub const FIRST_ROWS: usize = 3;
/// Most rows of plants.
pub const MOST_ROWS: usize = 60;
/// Rows of places.
pub const PLACE_ROWS: usize = 6;
/// Rows of the grower's own log.
pub const LOG_ROWS: usize = 6;
/// Most plants alike in one row.
const MOST_ALIKE: u32 = 200;
/// Word of a plant in the ground, and of one in a pot.
pub const GROUND: &str = "ground";
/// In a pot.
pub const POT: &str = "pot";
/// Word of a heated place, beside the kinds of unheated ones.
pub const HEATED: &str = "heated";

/// How many rows of plants a form has.
pub fn rows(pairs: &[(String, String)]) -> usize {
    let asked = pairs.iter().find(|(k, _)| k == "rows").and_then(|(_, v)| v.parse().ok()).unwrap_or(FIRST_ROWS);
    asked.clamp(1, MOST_ROWS)
}

/// What an answer of a place's row is, and so how it is kept whatever the form's scale.
#[derive(Clone, Copy)]
enum Answer {
    /// As typed.
    Words,
    /// In m².
    Area,
    /// In °C.
    Temperature,
}

impl Answer {
    /// As kept, from what was typed in °F or square feet.
    fn kept(self, typed: &str) -> String {
        match (self, decimal(typed)) {
            (Self::Area, Ok(number)) => written(number * SQUARE_METRES_PER_SQUARE_FOOT, KEPT_PLACES),
            (Self::Temperature, Ok(number)) => written(from_fahrenheit(number), KEPT_PLACES),
            _ => typed.to_owned(),
        }
    }

    /// As a form shows what is kept.
    fn shown(self, kept: &str, imperial: bool) -> String {
        let Ok(number) = decimal(kept) else { return kept.to_owned() };
        match self {
            Self::Words => kept.to_owned(),
            Self::Area => written(if imperial { number / SQUARE_METRES_PER_SQUARE_FOOT } else { number }, SHOWN_PLACES),
            Self::Temperature => shown_degrees(number, imperial),
        }
    }
}

/// Fields of a place's row.
const PLACE_FIELDS: [(&str, Answer); 8] = [
    ("name", Answer::Words),
    ("kind", Answer::Words),
    ("room", Answer::Area),
    ("min", Answer::Temperature),
    ("out1", Answer::Temperature),
    ("in1", Answer::Temperature),
    ("out2", Answer::Temperature),
    ("in2", Answer::Temperature),
];

/// The places of a form to be kept: in °C and m² whatever the form's scale.
pub fn places_to_keep(pairs: &[(String, String)]) -> Vec<Described> {
    let imperial = is_imperial(pairs);
    let text = |name: String| pairs.iter().find(|(k, _)| *k == name).map(|(_, v)| v.trim()).filter(|v| !v.is_empty());
    let row = |n: usize| {
        // A kept shelter is kept already.
        text(format!("s{n}_kind")).filter(|kind| !kind.starts_with(KEPT_SHELTER))?;
        let answer = |(key, answer): &(&str, Answer)| {
            let typed = text(format!("s{n}_{key}"))?;
            Some(((*key).to_owned(), if imperial { answer.kept(typed) } else { typed.to_owned() }))
        };
        let answers = PLACE_FIELDS.iter().filter_map(answer).collect();
        let field = format!("s{n}_name");
        Some(Described { name: text(field.clone()).unwrap_or_default().to_owned(), field, answers })
    };
    (1..=PLACE_ROWS).filter_map(row).collect()
}

/// A kept place as row `n` of a form in °F and square feet, or in °C and m².
pub fn kept_place(n: usize, answers: &[(String, String)], imperial: bool) -> Vec<(String, String)> {
    let shown = |(key, kept): &(String, String)| {
        let answer = PLACE_FIELDS.iter().find(|(field, _)| field == key).map_or(Answer::Words, |(_, answer)| *answer);
        (format!("s{n}_{key}"), answer.shown(kept, imperial))
    };
    answers.iter().map(shown).collect()
}

/// How many rows of places a form shows: those used, or asked for, and one more.
pub fn place_rows(pairs: &[(String, String)]) -> usize {
    let asked = pairs.iter().find(|(k, _)| k == "place_rows").and_then(|(_, v)| v.parse::<usize>().ok()).unwrap_or(0);
    let used =
        |n: &usize| PLACE_FIELDS.iter().any(|(key, _)| pairs.iter().any(|(k, v)| *k == format!("s{n}_{key}") && !v.trim().is_empty()));
    let last = (1..=PLACE_ROWS).filter(used).max().unwrap_or(1);
    (last + 1).max(asked).min(PLACE_ROWS)
}

/// Fields of one night of the own thermometer, as kept.
const NIGHT_FIELDS: [&str; 2] = ["forecast", "measured"];

/// One night more of the own thermometer, °C, behind those kept; the oldest goes where there are more than the form has rows.
pub fn with_night(kept: &[(String, String)], forecast_c: f64, measured_c: f64) -> Vec<(String, String)> {
    let night = NIGHT_FIELDS.iter().zip([forecast_c, measured_c]).map(|(key, degrees)| ((*key).to_owned(), written(degrees, KEPT_PLACES)));
    let all: Vec<_> = kept.iter().cloned().chain(night).collect();
    all[all.len().saturating_sub(NIGHT_FIELDS.len() * LOG_ROWS)..].to_vec()
}

/// Kept nights of the own thermometer as rows of a form in °F or °C.
pub fn kept_log(kept: &[(String, String)], fahrenheit: bool) -> Vec<(String, String)> {
    let shown = |(place, (key, celsius)): (usize, &(String, String))| {
        let value = decimal(celsius).map_or_else(|_| celsius.clone(), |c| shown_degrees(c, fahrenheit));
        (format!("log{}_{key}", place / NIGHT_FIELDS.len() + 1), value)
    };
    kept.iter().enumerate().map(shown).collect()
}

/// Decimal places that a form shows.
const SHOWN_PLACES: usize = 2;
/// Decimal places that are kept: °F or square feet to °C or m² and back come out as typed.
const KEPT_PLACES: usize = 4;

/// A number in as few digits as say it to so many decimal places.
fn written(number: f64, places: usize) -> String {
    let text = format!("{number:.places$}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn shown_degrees(celsius: f64, fahrenheit: bool) -> String {
    written(if fahrenheit { celsius * 1.8 + 32.0 } else { celsius }, SHOWN_PLACES)
}

/// Reads a form; temperatures in the scale its `scale` field names. Errors name fields of the form.
pub fn read(pairs: &[(String, String)]) -> Result<FormNight, FieldErrors> {
    let mut f = ScaledFields::new(pairs);
    let mut read = FormNight::default();
    let log = (1..=LOG_ROWS).filter_map(|i| log_row(&mut f, i)).collect();
    form_nights::read(&mut f, pairs, log, &mut read);
    read.input.minutes_available = f.number("minutes");
    read.input.place = f.text("place").map(str::to_owned);
    for row in 1..=rows(pairs) {
        plant_row(&mut f, row, &mut read);
    }
    for n in 1..=TENANT_ROWS {
        form_tenants::row(&mut f, n, MOST_ROWS, &mut read);
    }
    if read.input.plants.is_empty() && f.errors().is_empty() {
        f.errors().add("p1_cultivar", "", "Say at least one plant: a name, or “unknown”.");
    }
    for row in 1..=PLACE_ROWS {
        place_row(&mut f, row, &mut read);
    }
    form_tenants::covers(&mut f, &mut read);
    f.finish()?;
    form_nights::apply_done(pairs, &mut read);
    Ok(read)
}

fn log_row(f: &mut ScaledFields<'_>, i: usize) -> Option<LoggedInput> {
    let (forecast, measured) = (format!("log{i}_forecast"), format!("log{i}_measured"));
    let (forecast_c, measured_c) =
        f.pair((&forecast, "What had the forecast said for that night?"), (&measured, "What did your own thermometer say that night?"))?;
    Some(LoggedInput { forecast_c, measured_c })
}

fn plant_row(f: &mut ScaledFields<'_>, row: usize, read: &mut FormNight) {
    let name = |key: &str| format!("p{row}_{key}");
    let fields = ["cultivar", "pot", "count"].map(name);
    if fields.iter().all(|field| f.text(field).is_none()) {
        return;
    }
    let count = f.whole(&name("count"), MOST_ALIKE).unwrap_or(1);
    let container_l = f.litres(&name("pot"));
    let grows = f.text(&name("grows"));
    if container_l.is_none() && f.text(&name("pot")).is_none() {
        match grows {
            Some(GROUND) => {}
            Some(_) => f.errors().add(name("pot"), "", "How large is its pot? Its roots live or die by that."),
            None => f.errors().add(name("grows"), "", "Is it in the ground or in a pot? Say which, or give the size of its pot."),
        }
    }
    if container_l.is_some() && grows == Some(GROUND) {
        f.errors().add(name("grows"), "", "It has the size of a pot and stands in the ground: which is it?");
    }
    let plant = PlantInput {
        cultivar: f.text(&name("cultivar")).unwrap_or("unknown").to_owned(),
        container_l,
        years: f.whole(&name("years"), 200),
        wood_years: f.whole(&name("wood"), 200),
        setting: f.word(&name("spot")),
        stage: f.word(&name("stage")),
        value: f.number(&name("value")),
        minutes_to_move: f.number(&name("move")),
        pot_start_c: f.celsius(&name("start")),
        ..PlantInput::default()
    };
    for nth in 1..=count {
        read.input.plants.push(PlantInput { id: format!("{row}.{nth}"), ..plant.clone() });
        read.row_of.push(row);
    }
}

fn place_row(f: &mut ScaledFields<'_>, row: usize, read: &mut FormNight) {
    let name = |key: &str| format!("s{row}_{key}");
    let Some(kind) = f.text(&name("kind")) else { return };
    let heated = kind == HEATED;
    let kept = kind.strip_prefix(KEPT_SHELTER);
    let label = f.text(&name("name")).map_or_else(|| format!("place {row}"), str::to_owned);
    let readings = ["1", "2"]
        .iter()
        .filter_map(|n| {
            let (outside, inside) = (name(&format!("out{n}")), name(&format!("in{n}")));
            let (outside_c, inside_c) =
                f.pair((&outside, "What was it outside at the same moment?"), (&inside, "What was it inside at the same moment?"))?;
            Some(PairInput { outside_c, inside_c })
        })
        .collect::<Vec<_>>();
    let minimum_c = f.celsius(&name("min"));
    if heated && minimum_c.is_none() {
        f.errors().add(name("min"), "", "A heated place needs the lowest temperature it holds.");
    }
    read.input.places.push(PlaceInput {
        id: label,
        room_m2: f.square_metres(&name("room")),
        minimum_c: if heated { minimum_c } else { None },
        readings: if heated || kept.is_some() { Vec::new() } else { readings },
        kind: if heated || kept.is_some() { None } else { f.word::<StoreKind>(&name("kind")) },
        ..PlaceInput::default()
    });
    if let Some(id) = kept {
        read.shelters.push((read.places.len(), id.to_owned()));
    }
    read.places.push(row);
}

impl FormNight {
    /// The id of the place in a row of the form.
    pub fn place_of_row(&self, row: usize) -> Option<String> {
        let index = self.places.iter().position(|r| *r == row)?;
        self.input.places.get(index).map(|p| p.id.clone())
    }

    /// The row of the form of a place, by its id.
    pub fn row_of_place(&self, id: &str) -> Option<usize> {
        let index = self.input.places.iter().position(|p| p.id == id)?;
        self.places.get(index).copied()
    }

    /// Errors of the calculation under the names of the form's fields.
    pub fn errors_of_form(&self, errors: &FieldErrors) -> FieldErrors {
        let mut named = FieldErrors::default();
        let mut seen = Vec::new();
        for e in errors {
            let field = self.field_of(&e.field);
            // Plants alike in one row fail alike: once is enough.
            if !seen.contains(&(field.clone(), e.message.clone())) {
                named.add(field.clone(), &e.value, &e.message);
                seen.push((field, e.message.clone()));
            }
        }
        named
    }

    fn field_of(&self, path: &str) -> String {
        let indexed = |list: &str| -> Option<(usize, String)> {
            let (index, key) = path.strip_prefix(list)?.strip_prefix('[')?.split_once(']')?;
            Some((index.parse().ok()?, key.trim_start_matches('.').to_owned()))
        };
        if let Some((index, key)) = indexed("plants") {
            let row = self.row_of.get(index).copied().unwrap_or(1);
            if let Some(n) = row.checked_sub(MOST_ROWS).filter(|n| *n > 0) {
                return form_tenants::field_of(n, &key);
            }
            let key = match key.as_str() {
                "container_l" => "pot",
                "minutes_to_move" => "move",
                "pot_start_c" => "start",
                "wood_years" => "wood",
                "setting" => "spot",
                "" | "id" => "cultivar",
                other => other,
            };
            return format!("p{row}_{key}");
        }
        if let Some((index, key)) = indexed("places") {
            let row = self.places.get(index).copied().unwrap_or(1);
            let key = match key.as_str() {
                "room_m2" => "room",
                "minimum_c" => "min",
                "readings" => "in1",
                "id" => "name",
                _ => "kind",
            };
            return format!("s{row}_{key}");
        }
        if let Some((index, _)) = indexed("covers") {
            return self.covers.get(index).cloned().unwrap_or_default();
        }
        if let Some((index, key)) = indexed("nights") {
            return match key.as_str() {
                "day_maximum_c" => form_nights::field(index + 1, "max"),
                "kind" => form_nights::field(index + 1, "kind"),
                "date" => form_nights::DATE.to_owned(),
                "lead_hours" => "lead".to_owned(),
                "sunset_plus_2h_c" => "evening".to_owned(),
                key if key.starts_with("own_log") => "log1_measured".to_owned(),
                // A course that does not fit: the evening where it was typed, else the lowest.
                "" if index == 0 && self.input.nights.first().is_some_and(|n| n.sunset_plus_2h_c.is_some()) => "evening".to_owned(),
                _ => form_nights::field(index + 1, "min"),
            };
        }
        match path {
            "minutes_available" => "minutes".to_owned(),
            "place" => "place".to_owned(),
            "plants" => "p1_cultivar".to_owned(),
            "from" => form_nights::DATE.to_owned(),
            _ => "minimum".to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(list: &[(&str, &str)]) -> Vec<(String, String)> {
        list.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect()
    }

    #[test]
    fn a_row_of_five_alike_becomes_five_plants_and_errors_find_their_row() {
        let form = read(&pairs(&[
            ("scale", "f"),
            ("minimum", "18"),
            ("rows", "2"),
            ("p2_cultivar", "celeste"),
            ("p2_count", "5"),
            ("p2_pot", "15"),
        ]))
        .unwrap();
        assert_eq!(form.input.plants.len(), 5);
        assert!((form.input.nights[0].minimum_c + 7.777).abs() < 1e-2);
        let mut errors = FieldErrors::default();
        errors.add("plants[0].cultivar", "x", "not known");
        errors.add("plants[3].cultivar", "x", "not known");
        let named = form.errors_of_form(&errors);
        assert_eq!(named.of("p2_cultivar"), Some("not known"));
        assert_eq!(named.iter().count(), 1);
    }

    #[test]
    fn a_place_kept_from_a_form_in_fahrenheit_comes_back_as_typed() {
        let typed = [("s2_name", "garage"), ("s2_kind", "attached"), ("s2_room", "16"), ("s2_out1", "23"), ("s2_in1", "41.5")];
        let all = pairs(&[&[("scale", "f"), ("s1_name", "no kind, no place")], typed.as_slice()].concat());
        let kept = places_to_keep(&all);
        assert_eq!(kept.len(), 1);
        assert_eq!((kept[0].field.as_str(), kept[0].name.as_str()), ("s2_name", "garage"));
        assert_eq!(kept[0].answers[3], ("out1".to_owned(), "-5".to_owned()));
        assert_eq!(kept_place(2, &kept[0].answers, true), pairs(&typed));
        assert_eq!(kept_place(1, &kept[0].answers, false)[4], ("s1_in1".to_owned(), "5.28".to_owned()));
        // 16 square feet of 0.3048² m².
        assert_eq!(kept_place(1, &kept[0].answers, false)[2], ("s1_room".to_owned(), "1.49".to_owned()));
    }

    #[test]
    fn nights_of_the_own_thermometer_are_kept_to_the_newest_of_a_form() {
        let kept = (0..8).fold(Vec::new(), |kept, n| with_night(&kept, f64::from(-n), f64::from(-n) - 1.5));
        let rows = kept_log(&kept, false);
        assert_eq!(rows.len(), 2 * LOG_ROWS);
        assert_eq!(
            (rows[0].clone(), rows[11].clone()),
            (("log1_forecast".to_owned(), "-2".to_owned()), ("log6_measured".to_owned(), "-8.5".to_owned()))
        );
        assert_eq!(kept_log(&kept, true)[11].1, "16.7");
    }

    #[test]
    fn what_is_missing_or_not_a_number_is_named_by_its_field() {
        let errors = read(&pairs(&[
            ("minimum", "cold"),
            ("p1_cultivar", "celeste"),
            ("p1_count", "many"),
            ("s1_kind", "heated"),
            ("log1_forecast", "-3"),
        ]))
        .unwrap_err();
        for field in ["minimum", "p1_count", "s1_min", "log1_measured"] {
            assert!(errors.of(field).is_some(), "{field}");
        }
    }
}
