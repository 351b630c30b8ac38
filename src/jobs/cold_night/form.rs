//! A cold night as a page's form sends it: its fields to the calculation's input, and errors by JSON path back to fields of the form.

use crate::input::errors::FieldErrors;
use crate::input::scaled_fields::ScaledFields;
use crate::jobs::cold_night::field::{Field, FigField, LogField, NightField, StoreField};
use crate::jobs::cold_night::form_night::FormNight;
use crate::jobs::cold_night::form_nights;
use crate::jobs::cold_night::form_others::{self, KEPT_SHELTER};
use crate::jobs::cold_night::input::{LoggedInput, PairInput, PlaceInput, PlantInput};
use crate::jobs::cold_night::sent_form::{LOG_ROWS, MOST_ROWS, OTHER_ROWS, PLACE_ROWS, SentForm};
use crate::science::cold_night::places::StoreKind;

/// Most plants alike in one row.
pub(super) const MOST_ALIKE: u32 = 200;
/// Most years since planting.
const MOST_YEARS: u32 = 200;
/// Word of a plant in the ground.
pub const GROUND: &str = "ground";
/// Word of a plant in a pot.
pub const POT: &str = "pot";
/// Word of a heated place, beside the kinds of unheated ones.
pub const HEATED: &str = "heated";

/// Reads a form; temperatures in the scale its `scale` field names. Errors name fields of the form.
pub fn read(form: &SentForm) -> Result<FormNight, FieldErrors> {
    let mut f = ScaledFields::new(form.pairs());
    let mut read = FormNight::default();
    let log = (1..=LOG_ROWS).filter_map(|row| log_row(&mut f, row)).collect();
    form_nights::read(&mut f, form, log, &mut read);
    read.input.minutes_available = f.number(Field::Minutes);
    read.input.place = f.text(Field::Place).map(str::to_owned);
    for row in 1..=form.fig_rows() {
        fig_row(&mut f, row, &mut read);
    }
    for row in 1..=OTHER_ROWS {
        form_others::row(&mut f, row, &mut read);
    }
    if read.input.plants.is_empty() && f.errors().is_empty() {
        f.errors().add(Field::Fig(1, FigField::Cultivar), "", "Say at least one plant: a name, or “unknown”.");
    }
    for row in 1..=PLACE_ROWS {
        place_row(&mut f, row, &mut read);
    }
    form_others::covers(&mut f, &mut read);
    f.finish()?;
    form_nights::apply_done(form, &mut read);
    Ok(read)
}

fn log_row(f: &mut ScaledFields<'_>, row: usize) -> Option<LoggedInput> {
    let [forecast, measured] = [LogField::Forecast, LogField::Measured].map(|field| Field::Log(row, field));
    let (forecast_c, measured_c) =
        f.pair((forecast, "What had the forecast said for that night?"), (measured, "What did your own thermometer say that night?"))?;
    Some(LoggedInput { forecast_c, measured_c })
}

fn fig_row(f: &mut ScaledFields<'_>, row: usize, read: &mut FormNight) {
    let name = |field: FigField| Field::Fig(row, field);
    if [FigField::Cultivar, FigField::Pot, FigField::Count].iter().all(|field| f.text(name(*field)).is_none()) {
        return;
    }
    let (pot, stands) = (name(FigField::Pot), name(FigField::Grows));
    let count = f.whole(name(FigField::Count), MOST_ALIKE).unwrap_or(1);
    let container_l = f.litres(pot);
    let grows = f.text(stands);
    if container_l.is_none() && f.text(pot).is_none() {
        match grows {
            Some(GROUND) => {}
            Some(_) => f.errors().add(pot, "", "How large is its pot? Its roots live or die by that."),
            None => f.errors().add(stands, "", "Is it in the ground or in a pot? Say which, or give the size of its pot."),
        }
    } else if container_l.is_some() && grows == Some(GROUND) {
        f.errors().add(stands, "", "It has the size of a pot and stands in the ground: which is it?");
    }
    let plant = PlantInput {
        cultivar: f.text(name(FigField::Cultivar)).unwrap_or("unknown").to_owned(),
        container_l,
        years: f.whole(name(FigField::Years), MOST_YEARS),
        wood_years: f.whole(name(FigField::WoodYears), MOST_YEARS),
        setting: f.word(name(FigField::Spot)),
        stage: f.word(name(FigField::Stage)),
        value: f.number(name(FigField::Value)),
        minutes_to_move: f.number(name(FigField::Minutes)),
        pot_start_c: f.celsius(name(FigField::PotStart)),
        ..PlantInput::default()
    };
    for nth in 1..=count {
        read.input.plants.push(PlantInput { id: format!("{row}.{nth}"), ..plant.clone() });
        read.row_of.push(row);
    }
}

fn place_row(f: &mut ScaledFields<'_>, row: usize, read: &mut FormNight) {
    let name = |field: StoreField| Field::Store(row, field);
    let Some(kind) = f.text(name(StoreField::Kind)) else { return };
    let heated = kind == HEATED;
    let kept = kind.strip_prefix(KEPT_SHELTER);
    let label = f.text(name(StoreField::Name)).map_or_else(|| format!("place {row}"), str::to_owned);
    let readings: Vec<PairInput> =
        [(StoreField::FirstOutside, StoreField::FirstInside), (StoreField::SecondOutside, StoreField::SecondInside)]
            .into_iter()
            .filter_map(|(outside, inside)| {
                let (outside, inside) = (name(outside), name(inside));
                let (outside_c, inside_c) =
                    f.pair((outside, "What was it outside at the same moment?"), (inside, "What was it inside at the same moment?"))?;
                Some(PairInput { outside_c, inside_c })
            })
            .collect();
    let minimum_c = f.celsius(name(StoreField::Minimum));
    if heated && minimum_c.is_none() {
        f.errors().add(name(StoreField::Minimum), "", "A heated place needs the lowest temperature it holds.");
    }
    read.input.places.push(PlaceInput {
        id: label,
        room_m2: f.square_metres(name(StoreField::Room)),
        minimum_c: if heated { minimum_c } else { None },
        readings: if heated || kept.is_some() { Vec::new() } else { readings },
        kind: if heated || kept.is_some() { None } else { f.word::<StoreKind>(name(StoreField::Kind)) },
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
            let field = self.field_of(&e.field).name();
            // Plants alike in one row fail alike: once is enough.
            if !seen.contains(&(field.clone(), e.message.clone())) {
                named.add(field.clone(), &e.value, &e.message);
                seen.push((field, e.message.clone()));
            }
        }
        named
    }

    /// The field of the form that a JSON path of the calculation was read from.
    fn field_of(&self, path: &str) -> Field {
        let indexed = |list: &str| -> Option<(usize, &str)> {
            let (index, key) = path.strip_prefix(list)?.strip_prefix('[')?.split_once(']')?;
            Some((index.parse().ok()?, key.trim_start_matches('.')))
        };
        if let Some((index, key)) = indexed("plants") {
            return field_of_plant(self.row_of.get(index).copied().unwrap_or(1), key);
        }
        if let Some((index, key)) = indexed("places") {
            let field = match key {
                "room_m2" => StoreField::Room,
                "minimum_c" => StoreField::Minimum,
                "readings" => StoreField::FirstInside,
                "id" => StoreField::Name,
                _ => StoreField::Kind,
            };
            return Field::Store(self.places.get(index).copied().unwrap_or(1), field);
        }
        if let Some((index, _)) = indexed("covers") {
            return self.covers.get(index).map_or(Field::ClothArea, |kind| Field::Cover(*kind));
        }
        if let Some((index, key)) = indexed("nights") {
            return self.field_of_night(index + 1, key);
        }
        match path {
            "minutes_available" => Field::Minutes,
            "place" => Field::Place,
            "plants" => Field::Fig(1, FigField::Cultivar),
            "from" => Field::Date,
            _ => Field::Night(1, NightField::Minimum),
        }
    }

    fn field_of_night(&self, night: usize, key: &str) -> Field {
        match key {
            "day_maximum_c" => Field::Night(night, NightField::DayMaximum),
            "kind" => Field::Night(night, NightField::Kind),
            "date" => Field::Date,
            "lead_hours" => Field::Lead,
            "sunset_plus_2h_c" => Field::Evening,
            key if key.starts_with("own_log") => Field::Log(1, LogField::Measured),
            // A course that does not fit: the evening where it was typed, else the lowest.
            "" if night == 1 && self.input.nights.first().is_some_and(|n| n.sunset_plus_2h_c.is_some()) => Field::Evening,
            _ => Field::Night(night, NightField::Minimum),
        }
    }
}

fn field_of_plant(row: usize, key: &str) -> Field {
    if let Some(other) = row.checked_sub(MOST_ROWS).filter(|other| *other > 0) {
        return Field::Other(other, form_others::field_of(key));
    }
    let field = match key {
        "container_l" => FigField::Pot,
        "minutes_to_move" => FigField::Minutes,
        "pot_start_c" => FigField::PotStart,
        "wood_years" => FigField::WoodYears,
        "setting" => FigField::Spot,
        "years" => FigField::Years,
        "stage" => FigField::Stage,
        "value" => FigField::Value,
        _ => FigField::Cultivar,
    };
    Field::Fig(row, field)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sent(list: &[(&str, &str)]) -> SentForm {
        SentForm::new(list.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect())
    }

    #[test]
    fn a_row_of_five_alike_becomes_five_plants_and_errors_find_their_row() {
        let form = read(&sent(&[
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
    fn what_is_missing_or_not_a_number_is_named_by_its_field() {
        let errors = read(&sent(&[
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
