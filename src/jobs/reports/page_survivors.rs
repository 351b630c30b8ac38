//! Survivors in words and bars: a line for each cultivar among the reports shown.

use crate::jobs::reports::survivors::{CameThrough, Kind};
use crate::records::words::{Cover, Thermometer};
use crate::units::counted;
use crate::web::charts::level_bar::LevelBar;
use crate::web::frame::Frame;

/// A line.
pub struct KindView {
    /// Name.
    pub name: String,
    /// Name in addresses, where it is in the catalogue.
    pub slug: Option<String>,
    /// How many of its plants live.
    pub alive: String,
    /// How many winters are told.
    pub winters: String,
    /// What winters did.
    pub bar: LevelBar,
    /// The worst winter that a plant was alive after.
    pub came_through: String,
}

/// How a temperature was measured, in the words of somebody else than its reporter.
const fn read_by(thermometer: Thermometer) -> &'static str {
    match thermometer {
        Thermometer::AtPlant => " at the plant",
        Thermometer::InGarden => " elsewhere in the garden",
        Thermometer::Station => " at a weather station nearby",
        Thermometer::Forecast => " by the forecast",
        Thermometer::Guess => " by a guess",
    }
}

fn through(worst: &CameThrough, frame: &Frame) -> String {
    let age = worst.age_years.map_or_else(|| "age not said".to_owned(), |age| format!("{} planted", counted(age.into(), "year", "years")));
    let cover = if worst.cover == Cover::None { "no protection".to_owned() } else { worst.cover.label().to_lowercase() };
    let stage = worst.stage.map_or_else(|| "stage not said".to_owned(), |stage| stage.label().to_lowercase());
    let read = worst.thermometer.map_or("", read_by);
    format!("{}{read}, in {}: {cover}, {age}, {stage}", frame.temperature(worst.coldest), worst.winter)
}

impl KindView {
    /// In the reader's scale.
    pub fn new(kind: &Kind, frame: &Frame) -> Self {
        let longest = if kind.longest > 1 { format!(", up to {} of one plant", kind.longest) } else { String::new() };
        Self {
            name: kind.name.clone(),
            slug: kind.slug.clone(),
            alive: format!("{} of {}", kind.alive, counted(kind.plants, "plant", "plants")),
            winters: format!("{}{longest}", counted(kind.winters, "winter", "winters")),
            bar: LevelBar::new(&kind.levels),
            came_through: kind.came_through.as_ref().map_or_else(|| "not known".to_owned(), |worst| through(worst, frame)),
        }
    }
}
