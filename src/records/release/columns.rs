//! What each column of the published tables is: one list from which schema, CSVW sidecar and documentation are made.

use crate::records::review_state::ReviewState;
use crate::records::words::{
    Base, Cover, Fruit, JudgedBy, LossCause, NameCertainty, Regrowth, Stage, Thermometer, TopKilled, TypedUnit, Vitality,
};
use crate::science::hardiness::level::DamageLevel;
use crate::science::site::{Setting, Store};
use crate::vocabulary::Vocabulary;

/// Type of a column, by its Table Schema name and its CSVW (XML Schema) name.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Text.
    Text,
    /// Whole number.
    Integer,
    /// Decimal number.
    Number,
    /// Day.
    Date,
    /// Year.
    Year,
    /// `true` or `false`.
    Boolean,
}

impl Kind {
    /// Name in a Table Schema.
    pub const fn table_schema(self) -> &'static str {
        match self {
            Self::Text => "string",
            Self::Integer => "integer",
            Self::Number => "number",
            Self::Date => "date",
            Self::Year => "year",
            Self::Boolean => "boolean",
        }
    }

    /// Name in CSVW.
    pub const fn csvw(self) -> &'static str {
        match self {
            Self::Year => "gYear",
            other => other.table_schema(),
        }
    }
}

/// A column.
#[derive(Debug, Clone)]
pub struct Column {
    /// Name.
    pub name: &'static str,
    /// Type.
    pub kind: Kind,
    /// Whether every row has it.
    pub required: bool,
    /// Term of Darwin Core (`dwc:`) or Dublin Core (`dcterms:`) with the same meaning; empty where there is none.
    pub term: &'static str,
    /// The words accepted; empty for an open column.
    pub words: Vec<&'static str>,
    /// What each word means, where the words are those of a vocabulary.
    pub labels: Vec<&'static str>,
    /// What it holds.
    pub text: &'static str,
}

pub(super) const fn column(name: &'static str, kind: Kind, required: bool, term: &'static str, text: &'static str) -> Column {
    Column { name, kind, required, term, words: Vec::new(), labels: Vec::new(), text }
}

pub(super) fn words<V: Vocabulary>(name: &'static str, required: bool, term: &'static str, text: &'static str) -> Column {
    let words = V::all().iter().map(|word| word.as_word()).collect();
    let labels = V::all().iter().map(|word| word.as_label()).collect();
    Column { words, labels, ..column(name, Kind::Text, required, term, text) }
}

pub(super) fn listed(name: &'static str, required: bool, words: &[&'static str], term: &'static str, text: &'static str) -> Column {
    Column { words: words.to_vec(), ..column(name, Kind::Text, required, term, text) }
}

/// Columns of `plants.csv`, in order.
pub fn plants() -> Vec<Column> {
    use Kind::{Integer, Number, Text, Year};
    vec![
        column("plant_id", Text, true, "dwc:organismID", "Id of the plant for life"),
        column("name_written", Text, true, "dwc:verbatimIdentification", "Name as the grower wrote it, unchanged"),
        column("cultivar", Text, false, "", "Key into cultivars.csv; empty where the name is not in the catalogue"),
        column("cultivar_name", Text, false, "dwc:cultivarEpithet", "Name of the cultivar"),
        column("scientific_name", Text, true, "dwc:scientificName", "Species"),
        listed(
            "degree_of_establishment",
            true,
            &["cultivated"],
            "dwc:degreeOfEstablishment",
            "Planted and kept by a person, so that studies of the wild can leave it out",
        ),
        words::<NameCertainty>("name_certainty", true, "dwc:identificationVerificationStatus", "How sure the name is"),
        column("planted_year", Year, false, "", "Year the plant was planted, or rooted in its pot"),
        words::<Setting>("setting", false, "dwc:habitat", "Where in the garden it stands"),
        listed("culture", true, &["ground", "container"], "", "In the ground or in a container"),
        column("container_l", Number, false, "", "Volume of the container, litres"),
        column("latitude", Number, false, "dwc:decimalLatitude", "Middle of the published cell, degrees north"),
        column("longitude", Number, false, "dwc:decimalLongitude", "Middle of the published cell, degrees east"),
        column("coordinate_precision", Number, false, "dwc:coordinatePrecision", "Side of the published cell, degrees"),
        column(
            "coordinate_uncertainty_m",
            Integer,
            false,
            "dwc:coordinateUncertaintyInMeters",
            "Farthest the plant may be from the middle of its cell, metres",
        ),
        column("geodetic_datum", Text, false, "dwc:geodeticDatum", "Datum of the point"),
        column("data_generalizations", Text, true, "dwc:dataGeneralizations", "What was done to the point before publication"),
    ]
}

/// Columns of `winter-reports.csv`, in order.
pub fn winters() -> Vec<Column> {
    use Kind::{Boolean, Date, Integer, Number, Text};
    vec![
        column("report_id", Text, true, "dwc:eventID", "Id of the report"),
        column("plant_id", Text, true, "dwc:organismID", "Plant, in plants.csv"),
        column("cultivar", Text, false, "", "Key into cultivars.csv"),
        column("winter", Text, true, "", "Winter: 2025/26, or 2026 south of the equator"),
        listed("basis_of_record", true, &["HumanObservation"], "dwc:basisOfRecord", "An observation by a person"),
        column("event_date", Text, true, "dwc:eventDate", "First and last day of that winter"),
        column("looked_on", Date, true, "", "Day the plant was looked at"),
        words::<JudgedBy>("judged_by", false, "dwc:samplingProtocol", "How the outcome was judged"),
        words::<TopKilled>("top_killed", true, "", "How much of the top growth was killed"),
        words::<Base>("base", false, "", "The base, where the trunk meets the ground"),
        words::<Vitality>("vitality", true, "dwc:vitality", "Whether the plant lives"),
        words::<Regrowth>("regrew_from", false, "", "Where growth came from"),
        column("first_growth_on", Date, false, "", "Day growth was first seen"),
        column("no_growth_by", Date, false, "", "Day by which no growth had been seen"),
        words::<LossCause>("cause_of_loss", false, "", "Why something was lost, a part or the whole"),
        words::<LossCause>("cause_of_death", false, "dwc:causeOfDeath", "The same where the whole plant is dead, else empty"),
        words::<DamageLevel>("damage", false, "", "Lowest damage level the answers leave possible; empty where they tell nothing of cold"),
        words::<DamageLevel>("damage_high", false, "", "Highest damage level the answers leave possible"),
        column("coldest_c", Number, false, "dwc:measurementValue", "Coldest air temperature the plant met, °C"),
        column("coldest_typed", Number, false, "", "The same as the reporter typed it, in the unit beside it"),
        words::<TypedUnit>("coldest_unit", false, "", "Unit of coldest_typed"),
        words::<Thermometer>("thermometer", false, "dwc:measurementMethod", "How the temperature was measured"),
        words::<Stage>("stage", false, "", "What the plant was doing when the cold came"),
        words::<Cover>("protection", true, "", "What was done for the winter"),
        words::<Store>("store", false, "", "Where a pot was carried in to for the winter"),
        column("age_years", Integer, false, "", "Whole years since planting; 0 is the first winter"),
        column(
            "wood_years",
            Integer,
            false,
            "",
            "Whole years that the standing wood had grown since the top was last killed back; 0: the winter before; empty: not known",
        ),
        column("shoot_cm", Integer, false, "", "Longest new shoot by the autumn after that winter, cm"),
        words::<Fruit>("fruit", false, "dwc:reproductiveCondition", "Fruit in the season after"),
        column("first_ripe_on", Date, false, "", "Day of the first ripe fig of that season"),
        column(
            "heat_to_growth_dd",
            Number,
            false,
            "",
            "Degree-days above 8 °C, cap 36 °C, single sine, from 1 January (south: 1 July) to first_growth_on, or to no_growth_by; counted from a daily record of the reporter's choice; to the nearest 10, and empty where the place is not published",
        ),
        column("heat_to_ripe_dd", Number, false, "", "The same to first_ripe_on"),
        column("heat_to_frost_dd", Number, false, "", "The same to the first autumn night of −1 °C, where figs set and none ripened"),
        column(
            "harder_k",
            Number,
            false,
            "",
            "By how much a plant of its class was harder (+) or less hard (−) on the coldest night of that winter than at the reference station, K, computed from the same daily record; to the nearest half, and empty where the place is not published",
        ),
        column("complete_list", Boolean, true, "", "Whether the reporter gave every fig of the garden for this winter"),
        listed("review", true, &[ReviewState::Accepted.word(), ReviewState::AcceptedWithDoubt.word()], "", "Verdict of the review"),
        column("flags", Text, false, "", "Codes of automatic flags, parted by spaces; see flags.csv"),
        column("version", Integer, true, "", "Number of the version of the report"),
        column("sent_on", Date, true, "dcterms:created", "Day the report was first sent"),
        column("recorded_by", Text, true, "dwc:recordedBy", "Who recorded it, as they wish to be named"),
        column("reporter", Text, false, "", "Code that joins the reports of one reporter; empty for members who have left"),
        column("licence", Text, true, "dcterms:license", "Licence of the record"),
    ]
}

/// Columns of `withdrawn.csv`.
pub fn withdrawn() -> Vec<Column> {
    vec![
        column("report_id", Kind::Text, true, "dwc:eventID", "A report that an earlier release held"),
        column("withdrawn_on", Kind::Date, true, "", "Day from which it no longer counts"),
    ]
}

/// Columns of `cultivars.csv`.
pub fn cultivars() -> Vec<Column> {
    vec![
        column("cultivar", Kind::Text, true, "", "Key"),
        column("name", Kind::Text, true, "dwc:cultivarEpithet", "Accepted name"),
        column("synonyms", Kind::Text, false, "dwc:vernacularName", "Other names, parted by |"),
        column(
            "scientific_name",
            Kind::Text,
            true,
            "dwc:scientificName",
            "Species and, in single quotation marks, the cultivar, as the International Code of Nomenclature for Cultivated Plants writes it",
        ),
        column("family", Kind::Text, false, "", "Key of the family that it belongs to"),
    ]
}

/// Columns of `flags.csv`.
pub fn flags() -> Vec<Column> {
    vec![
        column("flag", Kind::Text, true, "", "Code"),
        column("meaning", Kind::Text, true, "", "What the rule noticed. A flag asks a steward to look; it refuses nothing"),
    ]
}

/// Columns of `vocabularies.csv`.
pub fn vocabularies() -> Vec<Column> {
    vec![
        column("column", Kind::Text, true, "", "Column of a table of records"),
        column("word", Kind::Text, true, "", "Word"),
        column("meaning", Kind::Text, true, "", "As the form asks it"),
    ]
}
