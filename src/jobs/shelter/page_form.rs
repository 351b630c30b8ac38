//! The fields of the shelter's form, group by group, as they stand in its template.

use crate::catalogue::materials::COVERS;
use crate::jobs::shelter::field::{Field, MadeField, MatsField, NeighbourField, ReadingField};
use crate::jobs::shelter::form::{self, READING_ROWS};
use crate::jobs::shelter::form_changes::STATE_ROWS;
use crate::jobs::shelter::form_neighbour::Behind;
use crate::jobs::shelter::form_parts;
use crate::records::ShelterChange as Offer;
use crate::science::shelter::shape::ShapeKind;
use crate::web::cells::{Cell, upper_first};
use crate::web::forms::{Choice, Typed};

/// Rows of readings shown while fewer are filled in.
const FIRST_ROWS: usize = 3;

/// Something that stands already, or a change to be compared.
pub(super) struct Tick {
    pub name: String,
    pub label: &'static str,
    pub on: bool,
}

/// A change on offer: whether it is compared, and its price.
pub(super) struct OfferRow {
    pub tick: Tick,
    pub price: Cell,
}

/// All groups.
pub(super) struct Fields {
    pub shapes: Vec<Choice>,
    pub lengths: Vec<Cell>,
    pub covers: Vec<Cell>,
    pub has: Vec<Tick>,
    pub extras: Vec<Cell>,
    pub night: Vec<Cell>,
    pub heat: Vec<Cell>,
    pub mats: Vec<Cell>,
    pub readings: Vec<Vec<Cell>>,
    pub states: Vec<Vec<Cell>>,
    pub pool: Vec<Choice>,
    pub behind: Vec<Choice>,
    pub wall: Vec<Cell>,
    pub room: Vec<Cell>,
    pub neighbour: Vec<Cell>,
    pub neighbour_open: bool,
    pub offers: Vec<OfferRow>,
    pub offers_open: bool,
    pub minima: Cell,
}

struct Words<'a> {
    typed: &'a Typed,
    degrees: &'static str,
    long: &'static str,
    square: &'static str,
    volume: &'static str,
}

impl Words<'_> {
    fn line(&self, field: Field, label: &str, unit: &str) -> Cell {
        Cell::line(self.typed, field, if unit.is_empty() { label.to_owned() } else { format!("{label}, {unit}") }, "text")
    }

    fn length(&self, field: Field, label: &str) -> Cell {
        self.line(field, label, self.long)
    }

    fn covers(&self, field: Field, label: &str, usual: &'static str) -> Cell {
        Cell::list(self.typed, field, label, usual, COVERS.iter().map(|c| (c.key.to_owned(), upper_first(c.name)))).wide()
    }

    fn tightness(&self, field: Field) -> Cell {
        let all = form_parts::Tightness::ALL.iter().map(|t| (t.word().to_owned(), upper_first(t.label())));
        Cell::list(self.typed, field, "How tight", "ordinary", all).wide()
    }

    fn reading(&self, row: usize, beside: bool) -> Vec<Cell> {
        let mut cells = vec![
            self.line(Field::Reading(row, ReadingField::Outside), "Outside", self.degrees),
            self.line(Field::Reading(row, ReadingField::Inside), "Inside", self.degrees),
            // Always: whoever types nights from before and after a change needs it on the same page.
            Cell::line(self.typed, Field::Reading(row, ReadingField::Date), "Night of", "date"),
            self.line(Field::Reading(row, ReadingField::Heater), "Heater then", "W"),
        ];
        if beside {
            cells.push(self.line(Field::Reading(row, ReadingField::Beside), "Behind the wall", self.degrees));
        }
        cells
    }

    fn made(&self, row: usize) -> Vec<Cell> {
        let all = std::iter::once((String::new(), "Nothing yet".to_owned()))
            .chain(Offer::ALL.iter().map(|o| (o.word().to_owned(), upper_first(o.label()))));
        vec![
            Cell::list(self.typed, Field::Made(row, MadeField::What), "Changed", "", all).wide(),
            Cell::line(self.typed, Field::Made(row, MadeField::Since), "First night with it", "date"),
        ]
    }
}

/// The fields as typed so far; `fahrenheit` names the units.
pub(super) fn fields(typed: &Typed, fahrenheit: bool) -> Fields {
    let (degrees, long, square, volume) = if fahrenheit { ("°F", "ft", "sq ft", "US gal") } else { ("°C", "m", "m²", "L") };
    let w = Words { typed, degrees, long, square, volume };
    let tick = |field: Field, label: &'static str| Tick { name: field.into(), label, on: !typed.text(&field.name()).is_empty() };
    let given = |field: Field| typed.given(&field.name());
    let read = |row: &usize| [ReadingField::Outside, ReadingField::Inside].iter().any(|field| given(Field::Reading(*row, *field)));
    let readings_used = (1..=READING_ROWS).filter(read).max().unwrap_or(0);
    let behind = typed.or(&Field::Neighbour(NeighbourField::Kind).name(), "nothing").to_owned();
    let made = |row: &usize| [MadeField::What, MadeField::Since].iter().any(|field| given(Field::Made(*row, *field)));
    let states_used = (1..=STATE_ROWS).filter(made).max().unwrap_or(0);
    let shown = (readings_used + 2).clamp(FIRST_ROWS, READING_ROWS);
    let offered = || Offer::ALL.iter().copied().filter(|o| *o != Offer::SecondLoose);
    Fields {
        shapes: typed.choices(&Field::Shape.name(), "gable", ShapeKind::ALL.iter().map(|s| (s.word().to_owned(), upper_first(s.label())))),
        lengths: vec![
            w.length(Field::Length, "Length"),
            w.length(Field::Width, "Width"),
            w.length(Field::Wall, "Walls (not a hoop), height"),
            w.length(Field::Top, "Height at the top"),
        ],
        covers: vec![
            w.covers(Field::WallCover, "Walls or ends", "film_single"),
            w.covers(Field::RoofCover, "Roof or hoop", "film_single"),
            w.tightness(Field::Tightness),
            Cell::list(typed, Field::Floor, "Floor", "dry", form::Floor::ALL.iter().map(|t| (t.word().to_owned(), upper_first(t.label()))))
                .wide(),
        ],
        has: [(Field::SecondSkin, "a second skin, sealed"), (Field::BubbleLining, "bubble lining")]
            .into_iter()
            .map(|(field, label)| tick(field, label))
            .collect(),
        extras: vec![w.length(Field::Boards, "Foam boards up to"), w.line(Field::Water, "Water in drums", w.volume)],
        night: vec![
            w.line(Field::Minimum, "Lowest outside", degrees),
            w.line(Field::Evening, "Two hours after sunset", degrees),
            w.line(Field::DesignLow, "Coldest night to be ready for", degrees),
            w.line(Field::DayMaximum, "Warmest the day after, in sun", degrees),
        ],
        heat: vec![
            w.line(Field::Heater, "Heater", "W"),
            w.line(Field::Thermostat, "Thermostat", degrees),
            w.line(Field::Hold, "To hold", degrees),
            w.line(Field::Price, "Price of a kWh", ""),
        ],
        mats: vec![
            w.line(Field::Mats(MatsField::Watts), "Heat mats, all", "W"),
            w.line(Field::Mats(MatsField::Area), "On an area of", w.square),
            w.line(Field::Mats(MatsField::Thermostat), "Their thermostat", degrees),
        ],
        readings: (1..=shown).map(|row| w.reading(row, behind != "nothing")).collect(),
        states: (1..=(states_used + 1).min(STATE_ROWS)).map(|row| w.made(row)).collect(),
        pool: typed.choices(
            &Field::Pool.name(),
            "last",
            [
                ("last".to_owned(), "Only the nights since the last change".to_owned()),
                ("all".to_owned(), "All nights: what the house loses beyond its description stays the same".to_owned()),
            ],
        ),
        behind: typed.words::<Behind>(&Field::Neighbour(NeighbourField::Kind).name(), "nothing"),
        wall: vec![
            w.length(Field::Neighbour(NeighbourField::WallLength), "Shared wall, length"),
            w.length(Field::Neighbour(NeighbourField::WallHeight), "Shared wall, height"),
            w.covers(Field::Neighbour(NeighbourField::WallCover), "That wall is of", "film_single"),
        ],
        room: vec![w.line(Field::Neighbour(NeighbourField::Holds), "It keeps", degrees)],
        neighbour: vec![
            Cell::list(
                typed,
                Field::Neighbour(NeighbourField::Shape),
                "Its shape",
                "hoop",
                ShapeKind::ALL.iter().map(|s| (s.word().to_owned(), upper_first(s.label()))),
            )
            .wide(),
            w.length(Field::Neighbour(NeighbourField::Length), "Length"),
            w.length(Field::Neighbour(NeighbourField::Width), "Width"),
            w.length(Field::Neighbour(NeighbourField::Wall), "Walls (not a hoop), height"),
            w.length(Field::Neighbour(NeighbourField::Top), "Height at the top"),
            w.covers(Field::Neighbour(NeighbourField::Cover), "Its skin", "film_single"),
            w.tightness(Field::Neighbour(NeighbourField::Tightness)),
            w.line(Field::Neighbour(NeighbourField::Heater), "Its heater", "W"),
            w.line(Field::Neighbour(NeighbourField::Thermostat), "Its thermostat", degrees),
            w.line(Field::Neighbour(NeighbourField::Mats(MatsField::Watts)), "Its heat mats, all", "W"),
            w.line(Field::Neighbour(NeighbourField::Mats(MatsField::Area)), "On an area of", w.square),
        ],
        neighbour_open: behind != "nothing",
        offers: offered()
            .map(|o| OfferRow {
                tick: Tick { name: format!("c_{o}"), label: o.label(), on: !typed.text(&format!("c_{o}")).is_empty() },
                price: w.line(Field::Cost(o), "Material costs", ""),
            })
            .collect(),
        offers_open: offered().any(|o| given(Field::Compared(o)) || given(Field::Cost(o))),
        minima: w.line(Field::Minima, "Daily lows of a winter", degrees),
    }
}
