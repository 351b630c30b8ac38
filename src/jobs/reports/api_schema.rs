//! Shapes of a report, for the description of the API: what is sent, from the fields and vocabularies of the form; what is published, from
//! the columns of the data package.

use std::borrow::Cow;

use serde_json::{Value, json};
use utoipa::openapi::schema::{AdditionalProperties, ObjectBuilder, Schema, SchemaFormat, SchemaType, Type};
use utoipa::openapi::{KnownFormat, RefOr};
use utoipa::{PartialSchema, ToSchema};

use crate::jobs::reports::questions::QUESTIONS;
use crate::records::place::Publish;
use crate::records::release::columns;
use crate::records::release::columns::{Column, Kind};
use crate::records::words::{NameCertainty, Thermometer, TypedUnit};
use crate::science::site::Setting;
use crate::vocabulary::Vocabulary;

/// A report as a program sends it.
pub struct ReportToSend;

/// A report as it is published, with its plant.
pub struct PublishedReport;

fn text(says: &str) -> ObjectBuilder {
    ObjectBuilder::new().schema_type(SchemaType::from_iter([Type::String, Type::Null])).description(Some(says))
}

fn words<V: Vocabulary>(says: &str) -> ObjectBuilder {
    text(says).enum_values(Some(V::all().iter().map(|word| json!(word.as_word())).chain([Value::Null])))
}

fn day(says: &str) -> ObjectBuilder {
    text(says).format(Some(SchemaFormat::KnownFormat(KnownFormat::Date)))
}

fn number(says: &str) -> ObjectBuilder {
    ObjectBuilder::new().schema_type(SchemaType::from_iter([Type::Number, Type::String, Type::Null])).description(Some(says))
}

fn tick(says: &str) -> ObjectBuilder {
    ObjectBuilder::new().schema_type(SchemaType::from_iter([Type::Boolean, Type::Null])).description(Some(says))
}

/// Every field that a program may send, with its shape.
fn sent() -> Vec<(&'static str, ObjectBuilder)> {
    let publish = Publish::OFFERED.iter().map(|p| json!(p.word())).chain([Value::Null]);
    let asked = QUESTIONS.iter().map(|question| {
        let words = (question.words)().into_iter().map(|(word, _)| json!(word)).chain([Value::Null]);
        (question.name, text(question.says).enum_values(Some(words)))
    });
    let mut all = vec![
        ("plant", text("id of a plant already in the garden, in place of the fields that describe a new one")),
        ("nursery", text("public code of the nursery that the plant came from; one that is not known is left out")),
        ("name", text("name as it stands on the label, or “unknown”").max_length(Some(80))),
        ("certainty", words::<NameCertainty>("how sure the name is; label where left out")),
        ("planted", number("year planted, or rooted in its pot")),
        ("setting", words::<Setting>("where in the garden it stands")),
        ("culture", text("ground where left out").enum_values(Some([json!("ground"), json!("container"), Value::Null]))),
        ("container_l", number("volume of the container, litres")),
        ("place", text("nearest town or postcode district; private").max_length(Some(80))),
        ("latitude", number("degrees north, −90 to 90; kept to 0.01°, published as a cell")),
        ("longitude", number("degrees east, −180 to 180")),
        ("publish", text("how finely the place is published").enum_values(Some(publish))),
        ("mother", text("the plant it was cut from, in words").max_length(Some(80))),
        ("winter", text("2025/26, or 2026 south of the equator").examples([json!("2025/26")])),
        ("looked", day("day the plant was looked at")),
        ("first_growth", day("day growth was first seen")),
        ("no_growth_yet", tick("no growth had been seen by the day it was looked at")),
        ("coldest", number("coldest air temperature the plant met, in the unit beside it")),
        ("coldest_unit", words::<TypedUnit>("unit of coldest; c where left out")),
        ("coldest_sure", tick("a coldest night that is hardly possible is right as written")),
        ("thermometer", words::<Thermometer>("how it was measured; needed with coldest")),
        ("wood_years", number("whole years that the standing wood had grown since the top was last killed back; 0: the winter before")),
        ("shoot_length", text("longest new shoot by the autumn after, with its unit: 150 cm, 1.5 m, 5 ft, 60 in")),
        ("first_ripe", day("day of the first ripe fig of that season")),
        ("heat_site", text("id of a kept daily record that counts the heat to the dates and how hard the plant was on the coldest night")),
        ("note", text("for the reporter and the stewards alone").max_length(Some(1000))),
        ("complete_list", tick("every fig of the garden is reported for this winter")),
    ];
    all.extend(asked);
    all
}

/// Fields without which no report is complete; a new plant needs `name` and `place` besides.
fn needed() -> impl Iterator<Item = &'static str> {
    ["winter", "looked"].into_iter().chain(QUESTIONS.iter().filter(|question| question.is_needed).map(|question| question.name))
}

impl PartialSchema for ReportToSend {
    fn schema() -> RefOr<Schema> {
        let start = ObjectBuilder::new()
            .description(Some("The fields of the form /reports/new. Null and blank count as left out. Needs plant, or name and place."))
            .additional_properties(Some(AdditionalProperties::FreeForm(false)));
        let whole = sent().into_iter().fold(start, |object, (name, shape)| object.property(name, shape));
        needed().fold(whole, ObjectBuilder::required).into()
    }
}

impl ToSchema for ReportToSend {
    fn name() -> Cow<'static, str> {
        "ReportToSend".into()
    }
}

fn column(column: &Column) -> ObjectBuilder {
    let kind = match column.kind {
        // JSON would lose digits: 15.0 stays 15.0 as text.
        Kind::Number if column.name == "coldest_typed" => Type::String,
        Kind::Text | Kind::Date => Type::String,
        Kind::Integer | Kind::Year => Type::Integer,
        Kind::Number => Type::Number,
        Kind::Boolean => Type::Boolean,
    };
    let shape = ObjectBuilder::new().description(Some(column.text));
    let shape = if column.required { shape.schema_type(kind) } else { shape.schema_type(SchemaType::from_iter([kind, Type::Null])) };
    let shape = if column.kind == Kind::Date { shape.format(Some(SchemaFormat::KnownFormat(KnownFormat::Date))) } else { shape };
    if column.words.is_empty() {
        return shape;
    }
    let words = column.words.iter().map(|word| json!(word));
    if column.required { shape.enum_values(Some(words)) } else { shape.enum_values(Some(words.chain([Value::Null]))) }
}

fn row(columns: &[Column]) -> ObjectBuilder {
    columns
        .iter()
        .fold(ObjectBuilder::new(), |object, described| object.property(described.name, column(described)).required(described.name))
}

impl PartialSchema for PublishedReport {
    fn schema() -> RefOr<Schema> {
        row(&columns::winters()).property("plant", row(&columns::plants())).required("plant").into()
    }
}

impl ToSchema for PublishedReport {
    fn name() -> Cow<'static, str> {
        "PublishedReport".into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::reports::form::all_fields;

    #[test]
    fn every_field_of_the_form_is_described_but_the_three_boxes_of_a_day() {
        let boxes = |name: &str| ["_day", "_month", "_year"].iter().any(|end| name.ends_with(end));
        let of_form: Vec<&str> = all_fields().iter().copied().filter(|name| !boxes(name)).collect();
        let described: Vec<&str> = sent().into_iter().map(|(name, _)| name).collect();
        assert_eq!(described, of_form);
    }
}
