//! The garden as a table: one row a plant, whether this winter is told, and a filter.

use jiff::civil::Date;

use crate::address;
use crate::jobs::garden::fruit;
use crate::jobs::garden::lists::value;
use crate::jobs::garden::winters_told::{WintersTold, half_of, place_words, places};
use crate::jobs::reports::page_new::plant_words;
use crate::model::snapshot::Snapshot;
use crate::records::winter::NotAWinter;
use crate::records::{Plant, Winter};
use crate::science::site::Culture;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;

/// Most plants on one page: it then stays below 100 kB. DESIGN.
const PLANTS_ON_A_PAGE: usize = 50;
/// Plants from which a filter is offered: fewer are seen at once. DESIGN.
const FILTER_FROM: usize = 6;
/// The plant after which a page begins.
const AFTER: &str = "after";
/// Fields of the filter.
const FILTER: [&str; 3] = ["q", "told", "culture"];

/// The table with what stands above it.
pub(crate) struct GardenTable {
    /// The winter that it is about.
    pub winter: Winter,
    /// How many plants there are in all.
    pub all: usize,
    /// How many have that winter still to be told, and how many the fruit after it.
    pub to_tell: usize,
    /// See above.
    pub fruit_to_tell: usize,
    /// The rows of this page.
    pub rows: Vec<PlantRow>,
    /// Which of those that pass the filter are shown, where not all are.
    pub shown: Option<Shown>,
    /// The filter, where there is one.
    pub filter: Option<Filter>,
    /// How many pass it.
    pub passed: usize,
}

/// Which of many plants are shown.
pub(crate) struct Shown {
    pub from: usize,
    pub to: usize,
    /// Address of those that follow.
    pub next: Option<String>,
}

/// The filter as it was asked.
pub(crate) struct Filter {
    pub typed: Typed,
    pub told: Vec<Choice>,
    pub cultures: Vec<Choice>,
    pub is_on: bool,
}

/// A plant.
pub(crate) struct PlantRow {
    pub id: String,
    pub words: String,
    /// Where plants stand at several places.
    pub place: Option<String>,
    pub in_catalogue: bool,
    pub winter: RowWinter,
    /// Other winters told.
    pub earlier: usize,
}

/// What is known of the winter that the table is about.
pub(crate) enum RowWinter {
    /// Told: report, level of damage, words, coldest.
    Told { report: String, level: &'static str, words: &'static str, coldest: String, state: Option<&'static str> },
    /// Still to be told.
    Asked,
    /// Dead since a winter.
    Dead(String),
    /// It was not there yet.
    NotThere,
}

impl RowWinter {
    /// Whether it is still to be told.
    pub fn is_asked(&self) -> bool {
        matches!(self, Self::Asked)
    }
}

fn row_winter(plant: &Plant, told: &WintersTold<'_>, winter: Winter, frame: &Frame) -> RowWinter {
    if let Some(report) = told.report(plant.id, winter) {
        let record = &report.record;
        return RowWinter::Told {
            report: report.id.to_string(),
            level: record.damage().map_or("", |damage| damage.high().word()),
            words: record.top.label(),
            coldest: record.coldest.as_ref().map(|coldest| frame.short(coldest.celsius)).unwrap_or_default(),
            state: (!report.state.counts()).then(|| report.state.label()),
        };
    }
    match told.died(plant.id).filter(|died| *died < winter) {
        Some(died) => RowWinter::Dead(died.to_string()),
        None if told.asks(plant, winter) => RowWinter::Asked,
        None => RowWinter::NotThere,
    }
}

/// Whether a plant passes the filter.
fn passes(plant: &Plant, row: &RowWinter, pairs: &[(String, String)]) -> bool {
    let words = value(pairs, "q").is_none_or(|sought| {
        let all = format!("{} {}", plant.name_written, place_words(plant)).to_lowercase();
        sought.to_lowercase().split_whitespace().all(|word| all.contains(word))
    });
    let told = match value(pairs, "told") {
        Some("no") => row.is_asked(),
        Some("yes") => matches!(row, RowWinter::Told { .. }),
        _ => true,
    };
    let culture = match value(pairs, "culture") {
        Some("ground") => plant.culture == Culture::Ground,
        Some("container") => plant.culture != Culture::Ground,
        _ => true,
    };
    words && told && culture
}

fn filter(pairs: &[(String, String)], is_on: bool) -> Filter {
    let typed = Typed::new(pairs.to_vec(), crate::input::errors::FieldErrors::default());
    let told = [("no", "Still to tell"), ("yes", "Told")].map(|(v, w)| (v.to_owned(), w.to_owned()));
    let cultures = [("ground", "In the ground"), ("container", "In a pot")].map(|(v, w)| (v.to_owned(), w.to_owned()));
    Filter { told: typed.choices("told", "", told), cultures: typed.choices("culture", "", cultures), typed, is_on }
}

impl GardenTable {
    /// Of a garden as an address asks for it.
    ///
    /// # Errors
    /// Where the year has no winter that can be named.
    pub fn new(
        plants: &[Plant],
        told: &WintersTold<'_>,
        pairs: &[(String, String)],
        today: Date,
        snapshot: &Snapshot,
        frame: &Frame,
    ) -> Result<Self, NotAWinter> {
        let winter = Winter::last_over(today, half_of(plants))?;
        let several = places(plants).len() > 1;
        let rows: Vec<_> = plants
            .iter()
            .map(|plant| (plant, row_winter(plant, told, winter, frame)))
            .filter(|(plant, row)| passes(plant, row, pairs))
            .collect();
        // Where the plant is gone, from the beginning.
        let after = value(pairs, AFTER).and_then(|id| rows.iter().position(|(plant, _)| plant.id.to_string() == id));
        let (first, passed) = (after.map_or(0, |at| at + 1), rows.len());
        let on_page: Vec<_> = rows.into_iter().skip(first).take(PLANTS_ON_A_PAGE).collect();
        let is_on = FILTER.iter().any(|name| value(pairs, name).is_some());
        let filters = FILTER.iter().filter_map(|name| Some((*name, value(pairs, name)?.to_owned())));
        let next = on_page.last().filter(|_| first + on_page.len() < passed);
        let next = next.map(|(last, _)| address::GARDEN.with(filters.chain([(AFTER, last.id.to_string())])));
        let shown = (on_page.len() < passed).then(|| Shown { from: first + 1, to: first + on_page.len(), next });
        let row = |(plant, row): (&Plant, RowWinter)| PlantRow {
            id: plant.id.to_string(),
            words: plant_words(plant),
            place: several.then(|| place_words(plant)),
            in_catalogue: plant.cultivar.as_ref().is_some_and(|slug| snapshot.catalogue.get(slug.as_str()).is_some()),
            winter: row,
            earlier: told.others(plant.id, winter),
        };
        Ok(Self {
            winter,
            all: plants.len(),
            to_tell: told.asked(plants, winter).len(),
            fruit_to_tell: fruit::asked(plants, told, winter).len(),
            rows: on_page.into_iter().map(row).collect(),
            shown,
            filter: (plants.len() >= FILTER_FROM || is_on).then(|| filter(pairs, is_on)),
            passed,
        })
    }
}
