//! Answers to a question, handed to who asked it: JSON and CSV. No person, no word that somebody wrote, places on squares of half a degree.

use jiff::tz::TimeZone;
use serde::Serialize;
use utoipa::ToSchema;

use crate::catalogue::Catalogue;
use crate::records::place::Cell;
use crate::records::words::{Cover, Fruit};
use crate::records::{AnswerState, HeldPoint, Survey, SurveyAnswer};

/// Columns of the table, in the order and by the names of the JSON.
const COLUMNS: [&str; 14] = [
    "sent",
    "seen",
    "cultivar",
    "culture",
    "least_damage",
    "greatest_damage",
    "vitality",
    "cover",
    "coldest_c",
    "thermometer",
    "fruit",
    "square_latitude",
    "square_longitude",
    "square_deg",
];

/// The answers to a question that are counted.
#[derive(Debug, Serialize, ToSchema)]
pub struct AnswersJson {
    /// Its public word.
    pub code: String,
    /// The winter it asks about.
    pub winter: String,
    /// The answers, oldest first.
    pub answers: Vec<AnswerJson>,
}

/// One answer.
#[derive(Debug, Serialize, ToSchema)]
pub struct AnswerJson {
    /// Day it came, UTC.
    #[schema(value_type = String, format = Date)]
    pub sent: jiff::civil::Date,
    /// `own`: of a plant of who answered; `another`: seen in another garden.
    pub seen: &'static str,
    /// The fig of the catalogue; absent where the name written is none of its names.
    pub cultivar: Option<String>,
    /// `ground` or `pot`.
    pub culture: &'static str,
    /// Least damage it may have been: `unharmed`, `tips`, `wood`, `to_ground` or `dead`; absent where nothing was seen.
    pub least_damage: Option<&'static str>,
    /// Greatest damage it may have been.
    pub greatest_damage: Option<&'static str>,
    /// State of the whole plant.
    pub vitality: &'static str,
    /// What was done for the winter; absent where it is not known.
    pub cover: Option<&'static str>,
    /// Coldest night there, °C.
    pub coldest_c: Option<f64>,
    /// What it was measured by.
    pub thermometer: Option<&'static str>,
    /// Fruit by autumn.
    pub fruit: Option<&'static str>,
    /// Middle of the square that it stands in, degrees.
    pub square_latitude: Option<f64>,
    /// The same, degrees of longitude.
    pub square_longitude: Option<f64>,
    /// Side of the square, degrees.
    pub square_deg: Option<f64>,
}

impl AnswersJson {
    /// Those of the answers that are counted.
    pub fn of(survey: &Survey, answers: &[SurveyAnswer], catalogue: &Catalogue) -> Self {
        let counted = answers.iter().filter(|answer| answer.state == AnswerState::Shown);
        let answers = counted.map(|answer| AnswerJson::of(answer, catalogue)).collect();
        Self { code: survey.code.to_string(), winter: survey.winter.to_string(), answers }
    }

    /// The same as a table.
    ///
    /// # Errors
    /// When a row cannot be written.
    pub fn table(&self) -> Result<Vec<u8>, csv::Error> {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(COLUMNS)?;
        for answer in &self.answers {
            let word = |word: Option<&'static str>| word.unwrap_or_default().to_owned();
            let number = |number: Option<f64>| number.map(|number| number.to_string()).unwrap_or_default();
            writer.write_record([
                answer.sent.to_string(),
                answer.seen.to_owned(),
                answer.cultivar.clone().unwrap_or_default(),
                answer.culture.to_owned(),
                word(answer.least_damage),
                word(answer.greatest_damage),
                answer.vitality.to_owned(),
                word(answer.cover),
                number(answer.coldest_c),
                word(answer.thermometer),
                word(answer.fruit),
                number(answer.square_latitude),
                number(answer.square_longitude),
                number(answer.square_deg),
            ])?;
        }
        writer.into_inner().map_err(|error| error.into_error().into())
    }
}

impl AnswerJson {
    fn of(answer: &SurveyAnswer, catalogue: &Catalogue) -> Self {
        let (content, record) = (&answer.content, &answer.content.record);
        let damage = record.damage().filter(|damage| damage.is_informative());
        let square = content.point.map(|point| HeldPoint::cell(point).coarser());
        let known = content.cultivar.as_ref().and_then(|slug| catalogue.get(slug.as_str()));
        Self {
            sent: TimeZone::UTC.to_datetime(answer.sent).date(),
            seen: if content.second_hand { "another" } else { "own" },
            cultivar: known.map(|fig| fig.slug.to_string()),
            culture: if content.in_pot { "pot" } else { "ground" },
            least_damage: damage.map(|damage| damage.low().word()),
            greatest_damage: damage.map(|damage| damage.high().word()),
            vitality: record.vitality.word(),
            cover: Some(record.cover).filter(|cover| *cover != Cover::NotKnown).map(Cover::word),
            coldest_c: record.coldest.as_ref().map(|coldest| (10.0 * coldest.celsius.degrees()).round() / 10.0),
            thermometer: record.coldest.as_ref().map(|coldest| coldest.thermometer.word()),
            fruit: record.fruit.map(Fruit::word),
            square_latitude: square.map(Cell::latitude),
            square_longitude: square.map(Cell::longitude),
            square_deg: square.map(Cell::side_deg),
        }
    }
}
