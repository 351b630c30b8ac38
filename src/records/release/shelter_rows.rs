//! The rows of the tables of published shelters, their columns, and how a shelter becomes them.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::columns::{Column, Kind, column, listed, words};
use super::rows::{Credited, cell_words, day, hundredths};
use crate::records::place::{Cell, PublishedPlace};
use crate::records::shelter_report::{MeasuredChange, ShelterChange, ShelterReport, ShelterReportId};
use crate::records::{ReviewState, text};
use crate::science::shelter::shape::ShapeKind;

/// A row of `shelters.csv`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShelterRow {
    /// Id.
    pub shelter_id: String,
    /// Shape.
    pub shape: ShapeKind,
    /// Length, m.
    pub length_m: f64,
    /// Width, m.
    pub width_m: f64,
    /// Height of the walls, m.
    pub wall_m: Option<f64>,
    /// Height at the top, m.
    pub top_m: f64,
    /// Cover of the walls, by key.
    pub walls: String,
    /// Cover of the roof, by key.
    pub roof: String,
    /// Layers that lay on it at first, by key, parted by spaces.
    pub layers: String,
    /// Leaks at first, 1/h.
    pub air_changes_per_hour: f64,
    /// Most that its heater gives, W.
    pub heater_w: Option<f64>,
    /// Whether it shares a wall.
    pub shares_wall: bool,
    /// Loss at first, as described, W/K.
    pub described_w_k: f64,
    /// Middle of the published cell, degrees.
    pub latitude: Option<f64>,
    /// Middle of the published cell, degrees.
    pub longitude: Option<f64>,
    /// Side of the cell, degrees.
    pub coordinate_precision: Option<f64>,
    /// How far it may be from the middle, m.
    pub coordinate_uncertainty_m: Option<u32>,
    /// `EPSG:4326` where there is a point.
    pub geodetic_datum: Option<String>,
    /// What was done to the point, or why there is none.
    pub data_generalizations: String,
    /// The member's words.
    pub words: Option<String>,
    /// Verdict of the review.
    pub review: ReviewState,
    /// Number of the version.
    pub version: i64,
    /// Day it was first sent.
    pub sent_on: Date,
    /// Who recorded it, as they wish to be named.
    pub recorded_by: String,
    /// Code that joins what one member published.
    pub reporter: Option<String>,
    /// Licence.
    pub licence: String,
}

/// A row of `shelter-changes.csv`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShelterChangeRow {
    /// Shelter, in shelters.csv.
    pub shelter_id: String,
    /// Number of the measured change, from 1.
    pub number: usize,
    /// What was changed, parted by spaces.
    pub changes: String,
    /// First night in the later state.
    pub since: Date,
    /// Readings before.
    pub nights_before: usize,
    /// Readings after.
    pub nights_after: usize,
    /// Gain, K.
    pub difference_k: f64,
    /// Lower end of its 90 % interval, K.
    pub interval_low_k: f64,
    /// Upper end, K.
    pub interval_high_k: f64,
    /// What the descriptions give, K.
    pub predicted_k: f64,
    /// Loss after over loss before.
    pub loss_ratio: Option<f64>,
    /// Lower end of its 90 % interval.
    pub loss_ratio_low: Option<f64>,
    /// Upper end.
    pub loss_ratio_high: Option<f64>,
    /// The same as described.
    pub described_loss_ratio: f64,
    /// What the material cost.
    pub material_cost: Option<f64>,
    /// Currency of it.
    pub currency: Option<String>,
}

/// A row of `withdrawn-shelters.csv`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct WithdrawnShelterRow {
    /// Id of a shelter that was published once.
    pub shelter_id: String,
    /// Day from which it no longer counts.
    pub withdrawn_on: Date,
}

/// A shelter with what was measured in it, as everybody sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct PublishedShelter {
    /// The shelter.
    pub shelter: ShelterRow,
    /// What was measured, in order.
    pub changes: Vec<ShelterChangeRow>,
}

impl PublishedShelter {
    /// What is published of a shelter, given what is published of its place and whom it is credited to.
    pub fn new(report: &ShelterReport, credited: &Credited, place: PublishedPlace) -> Self {
        let (c, id) = (&report.content, report.id.to_string());
        let cell = match place {
            PublishedPlace::Cell(cell) => Some(cell),
            PublishedPlace::Withheld => None,
        };
        let changes =
            c.changes.iter().enumerate().map(|(i, change)| ShelterChangeRow::new(&id, i + 1, change, c.currency.as_deref())).collect();
        let shelter = ShelterRow {
            shelter_id: id,
            shape: c.shape,
            length_m: hundredths(c.length_m),
            width_m: hundredths(c.width_m),
            wall_m: c.wall_m.map(hundredths),
            top_m: hundredths(c.top_m),
            walls: c.walls.clone(),
            roof: c.roof.clone(),
            layers: c.layers.join(" "),
            air_changes_per_hour: hundredths(c.air_changes_per_hour),
            heater_w: c.heater_w.map(hundredths),
            shares_wall: c.shares_wall,
            described_w_k: hundredths(c.described_w_k),
            latitude: cell.map(|c| hundredths(c.latitude())),
            longitude: cell.map(|c| hundredths(c.longitude())),
            coordinate_precision: cell.map(Cell::side_deg),
            coordinate_uncertainty_m: cell.map(Cell::uncertainty_m),
            geodetic_datum: cell.map(|_| "EPSG:4326".to_owned()),
            data_generalizations: cell_words(cell),
            words: c.words.as_deref().map(text::exported),
            review: report.state,
            version: report.version,
            sent_on: day(report.sent),
            recorded_by: text::exported(&credited.recorded_by),
            reporter: credited.reporter.as_deref().map(text::exported),
            licence: super::RECORDS_LICENCE.to_owned(),
        };
        Self { shelter, changes }
    }
}

impl ShelterChangeRow {
    fn new(shelter: &str, number: usize, change: &MeasuredChange, currency: Option<&str>) -> Self {
        let words: Vec<&str> = change.changes.iter().map(|c| c.word()).collect();
        let ratio = |at: usize| change.loss_ratio.and_then(|r| r.get(at).copied()).map(hundredths);
        Self {
            shelter_id: shelter.to_owned(),
            number,
            changes: words.join(" "),
            since: change.since,
            nights_before: change.nights[0],
            nights_after: change.nights[1],
            difference_k: hundredths(change.difference_k),
            interval_low_k: hundredths(change.interval_k[0]),
            interval_high_k: hundredths(change.interval_k[1]),
            predicted_k: hundredths(change.predicted_k),
            loss_ratio: ratio(0),
            loss_ratio_low: ratio(1),
            loss_ratio_high: ratio(2),
            described_loss_ratio: hundredths(change.described_loss_ratio),
            material_cost: change.cost.map(hundredths),
            currency: change.cost.and(currency).map(str::to_owned),
        }
    }
}

impl WithdrawnShelterRow {
    /// A shelter that counts no longer.
    pub fn new(shelter: ShelterReportId, at: jiff::Timestamp) -> Self {
        Self { shelter_id: shelter.to_string(), withdrawn_on: day(at) }
    }
}

/// Columns of `shelters.csv`, in order.
pub fn shelters() -> Vec<Column> {
    use Kind::{Boolean, Date, Integer, Number, Text};
    vec![
        column("shelter_id", Text, true, "dwc:eventID", "Id of the shelter"),
        words::<ShapeKind>("shape", true, "", "Shape"),
        column("length_m", Number, true, "", "Length, metres"),
        column("width_m", Number, true, "", "Width, metres"),
        column("wall_m", Number, false, "", "Height of the walls, metres; empty for a hoop"),
        column("top_m", Number, true, "", "Height at the top, metres"),
        column("walls", Text, true, "", "Cover of the walls, a key of the shelter's materials"),
        column("roof", Text, true, "", "Cover of the roof, a key of the shelter's materials"),
        column("layers", Text, false, "", "Layers that lay on it at first, keys parted by spaces"),
        column("air_changes_per_hour", Number, true, "", "Leaks at first as described, air changes an hour"),
        column("heater_w", Number, false, "", "Most that its heater gives, watts"),
        column("shares_wall", Boolean, true, "", "Whether it shares a wall with another shelter or a house"),
        column("described_w_k", Number, true, "", "Loss at first as described, W/K"),
        column("latitude", Number, false, "dwc:decimalLatitude", "Middle of the published cell, degrees north"),
        column("longitude", Number, false, "dwc:decimalLongitude", "Middle of the published cell, degrees east"),
        column("coordinate_precision", Number, false, "dwc:coordinatePrecision", "Side of the published cell, degrees"),
        column(
            "coordinate_uncertainty_m",
            Integer,
            false,
            "dwc:coordinateUncertaintyInMeters",
            "Farthest the shelter may be from the middle of its cell, metres",
        ),
        column("geodetic_datum", Text, false, "dwc:geodeticDatum", "Datum of the point"),
        column("data_generalizations", Text, true, "dwc:dataGeneralizations", "What was done to the point before publication"),
        column("words", Text, false, "dwc:eventRemarks", "The member's words"),
        listed("review", true, &[ReviewState::Accepted.word(), ReviewState::AcceptedWithDoubt.word()], "", "Verdict of the review"),
        column("version", Integer, true, "", "Number of the version"),
        column("sent_on", Date, true, "dcterms:created", "Day it was first sent"),
        column("recorded_by", Text, true, "dwc:recordedBy", "Who recorded it, as they wish to be named"),
        column("reporter", Text, false, "", "Code that joins what one member published; empty for members who have left"),
        column("licence", Text, true, "dcterms:license", "Licence of the record"),
    ]
}

/// Columns of `shelter-changes.csv`, in order.
pub fn shelter_changes() -> Vec<Column> {
    use Kind::{Date, Integer, Number, Text};
    vec![
        column("shelter_id", Text, true, "dwc:eventID", "Shelter, in shelters.csv"),
        column("number", Integer, true, "", "Number of the measured change, from 1"),
        Column {
            words: Vec::new(),
            ..words::<ShelterChange>("changes", true, "", "What was changed between the two states; several words are parted by spaces")
        },
        column("since", Date, true, "dwc:eventDate", "First night in the later state"),
        column("nights_before", Integer, true, "", "Readings before"),
        column("nights_after", Integer, true, "", "Readings after"),
        column("difference_k", Number, true, "dwc:measurementValue", "Mean of inside less outside after, less the same before, K"),
        column("interval_low_k", Number, true, "", "Lower end of its 90 % interval by least squares, K"),
        column("interval_high_k", Number, true, "", "Upper end of it, K"),
        column("predicted_k", Number, true, "", "What the descriptions alone give for the same nights, K"),
        column("loss_ratio", Number, false, "", "Loss after over loss before, from the readings"),
        column("loss_ratio_low", Number, false, "", "Lower end of its 90 % interval"),
        column("loss_ratio_high", Number, false, "", "Upper end of it"),
        column("described_loss_ratio", Number, true, "", "Loss after over loss before, as described"),
        column("material_cost", Number, false, "", "What the material cost"),
        column("currency", Text, false, "", "Currency of it, three letters (ISO 4217)"),
    ]
}

/// Columns of `withdrawn-shelters.csv`.
pub fn withdrawn_shelters() -> Vec<Column> {
    vec![
        column("shelter_id", Kind::Text, true, "dwc:eventID", "A shelter that an earlier release held"),
        column("withdrawn_on", Kind::Date, true, "", "Day from which it no longer counts"),
    ]
}
