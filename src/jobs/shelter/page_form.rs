//! The fields of the shelter's form, group by group, as they stand in its template.

use crate::catalogue::materials::COVERS;
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
    fn line(&self, name: &str, label: &str, unit: &str) -> Cell {
        Cell::line(self.typed, name, if unit.is_empty() { label.to_owned() } else { format!("{label}, {unit}") }, "text")
    }

    fn length(&self, name: &str, label: &str) -> Cell {
        self.line(name, label, self.long)
    }

    fn covers(&self, name: &str, label: &str, usual: &'static str) -> Cell {
        Cell::list(self.typed, name, label, usual, COVERS.iter().map(|c| (c.key.to_owned(), upper_first(c.name)))).wide()
    }

    fn tightness(&self, name: &str) -> Cell {
        let all = form_parts::Tightness::ALL.iter().map(|t| (t.word().to_owned(), upper_first(t.label())));
        Cell::list(self.typed, name, "How tight", "ordinary", all).wide()
    }

    fn reading(&self, i: usize, dated: bool, beside: bool) -> Vec<Cell> {
        let mut row = vec![
            self.line(&format!("r{i}_outside"), "Outside", self.degrees),
            self.line(&format!("r{i}_inside"), "Inside", self.degrees),
            self.line(&format!("r{i}_heater"), "Heater then", "W"),
        ];
        if beside {
            row.push(self.line(&format!("r{i}_beside"), "Behind the wall", self.degrees));
        }
        let date = Cell::line(self.typed, format!("r{i}_date"), "Night of", "date");
        if dated || date.is_used() {
            row.push(date);
        }
        row
    }

    fn state(&self, i: usize) -> Vec<Cell> {
        let all = std::iter::once((String::new(), "Nothing yet".to_owned()))
            .chain(Offer::ALL.iter().map(|o| (o.word().to_owned(), upper_first(o.label()))));
        vec![
            Cell::list(self.typed, format!("s{i}_what"), "Changed", "", all).wide(),
            Cell::line(self.typed, format!("s{i}_since"), "First night with it", "date"),
        ]
    }
}

/// The fields as typed so far; `fahrenheit` names the units.
pub(super) fn fields(typed: &Typed, fahrenheit: bool) -> Fields {
    let (degrees, long, square, volume) = if fahrenheit { ("°F", "ft", "sq ft", "US gal") } else { ("°C", "m", "m²", "L") };
    let w = Words { typed, degrees, long, square, volume };
    let used = |prefix: &str, rows: usize| {
        (1..=rows).filter(|i| typed.any(&[&format!("{prefix}{i}_outside"), &format!("{prefix}{i}_inside")])).max()
    };
    let behind = typed.or("b_kind", "nothing").to_owned();
    let states_used = (1..=STATE_ROWS).filter(|i| typed.any(&[&format!("s{i}_what"), &format!("s{i}_since")])).max().unwrap_or(0);
    let shown = (used("r", READING_ROWS).unwrap_or(0) + 2).clamp(FIRST_ROWS, READING_ROWS);
    let offered = || Offer::ALL.iter().copied().filter(|o| *o != Offer::SecondLoose);
    Fields {
        shapes: typed.choices("shape", "gable", ShapeKind::ALL.iter().map(|s| (s.word().to_owned(), upper_first(s.label())))),
        lengths: vec![
            w.length("length", "Length"),
            w.length("width", "Width"),
            w.length("wall", "Walls (not a hoop), height"),
            w.length("top", "Height at the top"),
        ],
        covers: vec![
            w.covers("wall_cover", "Walls or ends", "film_single"),
            w.covers("roof_cover", "Roof or hoop", "film_single"),
            w.tightness("tightness"),
            Cell::list(typed, "floor", "Floor", "dry", form::Floor::ALL.iter().map(|t| (t.word().to_owned(), upper_first(t.label()))))
                .wide(),
        ],
        has: [("has_second", "a second skin, sealed"), ("has_bubble", "bubble lining")]
            .into_iter()
            .map(|(name, label)| Tick { name: name.to_owned(), label, on: !typed.text(name).is_empty() })
            .collect(),
        extras: vec![w.length("boards", "Foam boards up to"), w.line("water", "Water in drums", w.volume)],
        night: vec![
            w.line("minimum", "Lowest outside", degrees),
            w.line("evening", "Two hours after sunset", degrees),
            w.line("design_low", "Coldest night to be ready for", degrees),
            w.line("day_max", "Warmest the day after, in sun", degrees),
        ],
        heat: vec![
            w.line("heater", "Heater", "W"),
            w.line("thermostat", "Thermostat", degrees),
            w.line("hold", "To hold", degrees),
            w.line("price", "Price of a kWh", ""),
        ],
        mats: vec![
            w.line("mats_watts", "Heat mats, all", "W"),
            w.line("mats_area", "On an area of", w.square),
            w.line("mats_c", "Their thermostat", degrees),
        ],
        readings: (1..=shown).map(|i| w.reading(i, states_used > 0, behind != "nothing")).collect(),
        states: (1..=(states_used + 1).min(STATE_ROWS)).map(|i| w.state(i)).collect(),
        pool: typed.choices(
            "pool",
            "last",
            [
                ("last".to_owned(), "Only the nights since the last change".to_owned()),
                ("all".to_owned(), "All nights: what the house loses beyond its description stays the same".to_owned()),
            ],
        ),
        behind: typed.words::<Behind>("b_kind", "nothing"),
        wall: vec![
            w.length("b_wall_length", "Shared wall, length"),
            w.length("b_wall_height", "Shared wall, height"),
            w.covers("b_wall_cover", "That wall is of", "film_single"),
        ],
        room: vec![w.line("b_holds", "It keeps", degrees)],
        neighbour: vec![
            Cell::list(typed, "b_shape", "Its shape", "hoop", ShapeKind::ALL.iter().map(|s| (s.word().to_owned(), upper_first(s.label()))))
                .wide(),
            w.length("b_length", "Length"),
            w.length("b_width", "Width"),
            w.length("b_wall", "Walls (not a hoop), height"),
            w.length("b_top", "Height at the top"),
            w.covers("b_cover", "Its skin", "film_single"),
            w.tightness("b_tightness"),
            w.line("b_heater", "Its heater", "W"),
            w.line("b_thermostat", "Its thermostat", degrees),
            w.line("b_mats_watts", "Its heat mats, all", "W"),
            w.line("b_mats_area", "On an area of", w.square),
        ],
        neighbour_open: behind != "nothing",
        offers: offered()
            .map(|o| OfferRow {
                tick: Tick { name: format!("c_{o}"), label: o.label(), on: !typed.text(&format!("c_{o}")).is_empty() },
                price: w.line(&format!("p_{o}"), "Material costs", ""),
            })
            .collect(),
        offers_open: offered().any(|o| typed.any(&[&format!("c_{o}"), &format!("p_{o}")])),
        minima: w.line("minima", "Daily lows of a winter", degrees),
    }
}
