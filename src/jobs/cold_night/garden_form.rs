//! A member's garden as the form of a cold night: the same for the page and for warnings.

use jiff::Timestamp;

use crate::jobs::cold_night::field::{Field, FigField, StoreField};
use crate::jobs::cold_night::form_others::KEPT_SHELTER;
use crate::jobs::cold_night::sent_form::{MOST_ROWS, PLACE_ROWS, SentForm};
use crate::jobs::cold_night::{form, form_kept};
use crate::model::snapshot::Snapshot;
use crate::records::{Plant, Setup, SetupKind};
use crate::science::cold_night::stage::Stage;
use crate::science::site::{Culture, PotVolume};
use crate::units::customary::LITRES_PER_US_GALLON;

/// Asked by the link of a warning: the member's own garden beside the night that the link brings, planned at once.
pub const GARDEN: &str = "garden";
/// What the plants of that garden look like.
pub const LOOKS: &str = "looks";

/// Plants alike as one row: what is written in its fields, and how many there are.
struct Row {
    fields: Vec<(FigField, String)>,
    count: usize,
}

/// A plant as the fields of a row.
fn fields(plant: &Plant, snapshot: &Snapshot, fahrenheit: bool, year: i16, stage: Option<Stage>) -> Vec<(FigField, String)> {
    let known = plant.cultivar.as_ref().and_then(|slug| snapshot.catalogue.get(slug.as_str()));
    let mut fields = vec![(FigField::Cultivar, known.map_or_else(|| "unknown".to_owned(), |cultivar| cultivar.name.clone()))];
    match plant.culture {
        Culture::Container(volume) => {
            fields.push((FigField::Grows, form::POT.to_owned()));
            // A pot of unknown size is asked for: its roots live or die by it.
            if let Some(litres) = volume.map(PotVolume::litres) {
                fields.push((FigField::Pot, if fahrenheit { format!("{:.1}", litres / LITRES_PER_US_GALLON) } else { litres.to_string() }));
            }
        }
        Culture::Ground => fields.push((FigField::Grows, form::GROUND.to_owned())),
    }
    fields.extend(plant.planted.map(|planted| (FigField::Years, (year - planted).max(0).to_string())));
    fields.extend(stage.map(|stage| (FigField::Stage, stage.word().to_owned())));
    fields
}

/// A member's own plants, places and thermometer as rows of the form, in °F and US gallons or °C and litres. A garden of more plants than the
/// form has rows has those alike in one row. `stage`: what the plants look like, where that is to be filled in.
pub fn garden_form(
    plants: &[Plant],
    kept: &[Setup],
    snapshot: &Snapshot,
    fahrenheit: bool,
    now: Timestamp,
    stage: Option<Stage>,
) -> SentForm {
    let year = crate::records::winter::today(now).year();
    let mut rows: Vec<Row> = Vec::new();
    for plant in plants {
        let fields = fields(plant, snapshot, fahrenheit, year, stage);
        match rows.iter_mut().find(|row| plants.len() > MOST_ROWS && row.fields == fields) {
            Some(alike) => alike.count += 1,
            None => rows.push(Row { fields, count: 1 }),
        }
    }
    rows.truncate(MOST_ROWS);
    let mut form = SentForm::default();
    for (number, row) in rows.iter().enumerate().map(|(i, row)| (i + 1, row)) {
        form.extend(row.fields.iter().map(|(field, value)| (Field::Fig(number, *field), value.clone())));
        if row.count > 1 {
            form.set(Field::Fig(number, FigField::Count), row.count.to_string());
        }
    }
    if !rows.is_empty() {
        form.set(Field::FigRows, rows.len().to_string());
    }
    let (nights, places): (Vec<&Setup>, Vec<&Setup>) = kept.iter().partition(|setup| setup.kind == SetupKind::Thermometer);
    form.extend(nights.iter().flat_map(|setup| form_kept::kept_log(&setup.answers, fahrenheit)));
    for (row, place) in places.iter().take(PLACE_ROWS).enumerate().map(|(i, place)| (i + 1, place)) {
        if place.kind == SetupKind::Shelter {
            form.set(Field::Store(row, StoreField::Name), place.name.as_str());
            form.set(Field::Store(row, StoreField::Kind), format!("{KEPT_SHELTER}{}", place.id));
        } else {
            form.extend(form_kept::kept_place(row, &place.answers, fahrenheit));
        }
    }
    if !form.is_empty() {
        form.set(Field::Scale, if fahrenheit { "f" } else { "c" });
    }
    form
}
