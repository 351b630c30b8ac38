//! Rows of the form as the page shows them: nights, figs, places, what was done, and the standing table of covers.

use jiff::civil::Date;

use crate::jobs::cold_night::done::Done;
use crate::jobs::cold_night::field::{Field, FigField, NightField, OtherField, StoreField};
use crate::jobs::cold_night::form;
use crate::jobs::cold_night::form_others::KEPT_SHELTER;
use crate::jobs::cold_night::sent_form::{MOST_ROWS, SentForm};
use crate::model::snapshot::Snapshot;
use crate::records::Setup;
use crate::science::cold_night::covers::CoverGain;
use crate::science::cold_night::places::StoreKind;
use crate::science::cold_night::stage::{CoverKind, NightKind, Stage};
use crate::science::numeric::Gaussian;
use crate::science::site::Setting;
use crate::units::TemperatureDelta;
use crate::web::cells::{Cell, upper_first};
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;

/// A night after the first.
pub(crate) struct NightRow {
    pub number: usize,
    pub label: String,
    pub cells: Vec<Cell>,
    pub over: bool,
}

pub(crate) struct PlantCells {
    pub cells: Vec<Cell>,
    pub more: Vec<Cell>,
    pub more_open: bool,
}

/// Something ticked as done before.
pub(crate) struct DoneLine {
    pub value: String,
    pub words: String,
}

/// What a cover gains, over soil and over a pot, on the three kinds of night.
pub(crate) struct CoverLine {
    pub name: &'static str,
    pub gains: Vec<String>,
}

pub(crate) struct PlaceRow {
    pub cells: Vec<Cell>,
    pub readings: Vec<Cell>,
    pub readings_open: bool,
    pub open: bool,
}

pub(crate) fn words(word: &str, label: &str) -> (String, String) {
    (word.to_owned(), upper_first(label))
}

/// The night of a row by its date, or its number.
pub(crate) fn night_label(n: usize, date: Option<Date>) -> String {
    date.map_or_else(|| format!("Night {n}"), |d| format!("Night {n}, {}", d.strftime("%a %-d %b")))
}

pub(crate) fn night_row(typed: &Typed, n: usize, degrees: &str, date: Option<Date>, over: bool) -> NightRow {
    let cells = vec![
        Cell::line(typed, Field::Night(n, NightField::DayMaximum), format!("Day’s highest, {degrees}"), "text"),
        Cell::line(typed, Field::Night(n, NightField::Minimum), format!("Night’s lowest, {degrees}"), "text"),
        Cell::list(
            typed,
            Field::Night(n, NightField::Kind),
            "The night is",
            "clear_still",
            NightKind::ALL.iter().map(|k| words(k.word(), k.label())),
        ),
    ];
    NightRow { number: n, label: night_label(n, date), cells, over }
}

pub(crate) fn planned_from(typed: &Typed, nights: usize, dates: &[Option<Date>]) -> Vec<Choice> {
    if nights < 2 {
        return Vec::new();
    }
    let choice = |n: usize| (n.to_string(), night_label(n, dates.get(n - 1).copied().flatten()));
    typed.choices(&Field::PlannedFrom.name(), "1", (1..=nights).map(choice))
}

/// What was ticked up to the first planned night, in words.
pub(crate) fn done_lines(form: &SentForm) -> Vec<DoneLine> {
    let (from, dates) = (form.first_planned(), form.dates());
    let line = |done: &Done| {
        let other = done.row.checked_sub(MOST_ROWS).filter(|row| *row > 0);
        let plant = match other {
            Some(row) => form.text(Field::Other(row, OtherField::Name)).unwrap_or("another plant"),
            None => form.text(Field::Fig(done.row, FigField::Cultivar)).unwrap_or("unknown fig"),
        };
        let day = dates.get(done.night.saturating_sub(1)).copied().flatten();
        let when = day.map_or_else(|| format!("before night {}", done.night), |d| d.strftime("%A %-d %B").to_string());
        let place = |row: usize| form.text(Field::Store(row, StoreField::Name)).map_or_else(|| format!("place {row}"), str::to_owned);
        let went = done.place.map_or_else(|| "out".to_owned(), |row| format!("to the {}", place(row)));
        DoneLine { value: done.written(), words: format!("{} × {plant} {went}, {when}", done.count) }
    };
    form.done().iter().filter(|done| done.night <= from).map(line).collect()
}

/// The standing table of covers.
pub(crate) fn cover_table(snapshot: &Snapshot, frame: &Frame) -> Vec<CoverLine> {
    let words = |g: Gaussian| frame.gain(TemperatureDelta::literal(g.mean), TemperatureDelta::literal(g.sd));
    let line = |kind: &CoverKind| {
        let shipped = |night: &NightKind| CoverGain::shipped(&snapshot.night_priors, &snapshot.priors.roots, *kind, *night);
        let over_soil = NightKind::ALL.iter().map(|night| words(shipped(night).over_soil));
        let over_pot = NightKind::ALL.iter().map(|night| words(shipped(night).over_pot));
        CoverLine { name: kind.label(), gains: over_soil.chain(over_pot).collect() }
    };
    CoverKind::ALL.iter().map(line).collect()
}

pub(crate) fn plant_row(typed: &Typed, n: usize, gallons: bool) -> PlantCells {
    let name = |field: FigField| Field::Fig(n, field);
    let pot = if gallons { "Pot, US gal" } else { "Pot, L" };
    let grows = [(String::new(), "Say which".to_owned()), words(form::GROUND, "in the ground"), words(form::POT, "in a pot")];
    let spots = Setting::ALL.iter().map(|s| words(s.word(), s.label()));
    let more = vec![
        Cell::line(typed, name(FigField::WoodYears), "Years its wood has stood (blank: not known)", "numeric"),
        Cell::list(
            typed,
            name(FigField::Spot),
            "Spot",
            "",
            std::iter::once((String::new(), "as the forecast says".to_owned())).chain(spots),
        ),
        Cell::line(typed, name(FigField::Value), "Worth (blank: 1)", "decimal"),
        Cell::line(typed, name(FigField::Minutes), "Minutes to carry one (blank: by its pot)", "decimal"),
        Cell::line(
            typed,
            name(FigField::PotStart),
            format!("Pot at dusk, {} (blank: by the evening)", if gallons { "°F" } else { "°C" }),
            "text",
        ),
    ];
    PlantCells {
        cells: vec![
            Cell::line(typed, name(FigField::Cultivar), format!("Fig {n}: name, or “unknown”"), "text").suggesting("names").wide(),
            Cell::list(typed, name(FigField::Stage), "It is", "hard", Stage::ALL.iter().map(|s| words(s.word(), s.label()))).wide(),
            Cell::list(typed, name(FigField::Grows), "It stands", "", grows),
            Cell::line(typed, name(FigField::Pot), pot, "decimal"),
            Cell::line(typed, name(FigField::Count), "How many alike", "numeric"),
            Cell::line(typed, name(FigField::Years), "Years since planting", "numeric"),
        ],
        more_open: more.iter().any(Cell::is_used),
        more,
    }
}

/// A row of other plants.
pub(crate) fn other_row(typed: &Typed, n: usize, imperial: bool) -> Vec<Cell> {
    let (degrees, area, pot) =
        if imperial { ("°F", "sq ft", "Pot, US gal (blank: in the ground)") } else { ("°C", "m²", "Pot, L (blank: in the ground)") };
    let line = |field: OtherField, label: String, mode: &'static str| Cell::line(typed, Field::Other(n, field), label, mode);
    vec![
        line(OtherField::Name, "What it is".to_owned(), "text").wide(),
        line(OtherField::Hurt, format!("Hurt at, {degrees}"), "text"),
        line(OtherField::Dead, format!("Dead at, {degrees}"), "text"),
        line(OtherField::Count, "How many alike".to_owned(), "numeric"),
        line(OtherField::Pot, pot.to_owned(), "decimal"),
        line(OtherField::Room, format!("Room of one, {area}"), "decimal"),
        line(OtherField::Value, "Worth (blank: 1)".to_owned(), "decimal"),
    ]
}

pub(crate) fn place_row(typed: &Typed, n: usize, imperial: bool, shelters: &[Setup]) -> PlaceRow {
    let (degrees, area) = if imperial { ("°F", "sq ft") } else { ("°C", "m²") };
    let name = |field: StoreField| Field::Store(n, field);
    let kinds = StoreKind::ALL.iter().map(|s| words(s.word(), s.label()));
    let kept = shelters.iter().map(|s| (format!("{KEPT_SHELTER}{}", s.id), format!("Your shelter “{}”", s.name.as_str())));
    let kinds = [(String::new(), "None".to_owned())].into_iter().chain(kinds).chain([words(form::HEATED, "heated place")]).chain(kept);
    let cells = vec![
        Cell::line(typed, name(StoreField::Name), "Its name", "text"),
        Cell::list(typed, name(StoreField::Kind), "What it is", "", kinds),
        Cell::line(typed, name(StoreField::Room), format!("Room, {area} (blank: enough)"), "decimal"),
        Cell::line(typed, name(StoreField::Minimum), format!("If heated: holds, {degrees}"), "text"),
    ];
    let reading = |field: StoreField, label: &str| Cell::line(typed, name(field), format!("{label}, {degrees}"), "text");
    let readings = vec![
        reading(StoreField::FirstOutside, "Outside"),
        reading(StoreField::FirstInside, "Inside"),
        reading(StoreField::SecondOutside, "Another night: outside"),
        reading(StoreField::SecondInside, "Inside"),
    ];
    let used = |cells: &[Cell]| cells.iter().any(Cell::is_used);
    PlaceRow { open: n == 1 || used(&cells) || used(&readings), readings_open: used(&readings), cells, readings }
}
