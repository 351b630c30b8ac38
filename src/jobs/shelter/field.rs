//! The fields of the form of a shelter, and the names under which a browser sends them.

use std::borrow::Cow;

use crate::records::shelter_report::ShelterChange;

/// A field of the form. Rows are counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Field {
    /// °C and metres, or °F and feet.
    Scale,
    /// Whether this is the worked example.
    Example,
    /// Name under which a member keeps it.
    KeepAs,
    /// The town or coordinates.
    Place,
    /// Shape.
    Shape,
    /// Length of the floor.
    Length,
    /// Width of the floor.
    Width,
    /// Height of the walls.
    Wall,
    /// Height at the top.
    Top,
    /// Cover of the walls or ends.
    WallCover,
    /// Cover of the roof or hoop.
    RoofCover,
    /// How tight it is.
    Tightness,
    /// What the floor gives.
    Floor,
    /// A second skin stands.
    SecondSkin,
    /// Bubble lining stands.
    BubbleLining,
    /// Height of the boards that stand.
    Boards,
    /// Water in drums.
    Water,
    /// Lowest outside.
    Minimum,
    /// Outside two hours after sunset.
    Evening,
    /// Coldest night to be ready for.
    DesignLow,
    /// Warmest the day after.
    DayMaximum,
    /// What the heater gives.
    Heater,
    /// Where the heater stops.
    Thermostat,
    /// Temperature to hold.
    Hold,
    /// Price of a kWh.
    Price,
    /// Daily lows of a winter.
    Minima,
    /// Which readings correct the present state.
    Pool,
    /// Heat mats.
    Mats(MatsField),
    /// A pair of readings.
    Reading(usize, ReadingField),
    /// A change that is made already.
    Made(usize, MadeField),
    /// Whether a change on offer is compared.
    Compared(ShelterChange),
    /// What a change on offer costs.
    Cost(ShelterChange),
    /// What shares a wall.
    Neighbour(NeighbourField),
}

/// Heat mats.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MatsField {
    /// What all draw.
    Watts,
    /// Their area.
    Area,
    /// Where they stop.
    Thermostat,
}

/// A pair of readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadingField {
    /// Outside.
    Outside,
    /// Inside at the same moment.
    Inside,
    /// What the heater gave then.
    Heater,
    /// Behind the shared wall.
    Beside,
    /// The night it is of.
    Date,
}

/// A change that is made already.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MadeField {
    /// What was changed.
    What,
    /// First night with it.
    Since,
}

/// What shares a wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NeighbourField {
    /// Nothing, a room or another shelter.
    Kind,
    /// Its name.
    Name,
    /// Length of the shared wall.
    WallLength,
    /// Height of the shared wall.
    WallHeight,
    /// Cover of the shared wall.
    WallCover,
    /// Temperature that a room keeps.
    Holds,
    /// Shape.
    Shape,
    /// Length of its floor.
    Length,
    /// Width of its floor.
    Width,
    /// Height of its walls.
    Wall,
    /// Height at its top.
    Top,
    /// Its cover.
    Cover,
    /// How tight it is.
    Tightness,
    /// What its heater gives.
    Heater,
    /// Where its heater stops.
    Thermostat,
    /// Its heat mats.
    Mats(MatsField),
}

impl MatsField {
    const fn key(self) -> &'static str {
        match self {
            Self::Watts => "watts",
            Self::Area => "area",
            Self::Thermostat => "c",
        }
    }
}

impl ReadingField {
    const fn key(self) -> &'static str {
        match self {
            Self::Outside => "outside",
            Self::Inside => "inside",
            Self::Heater => "heater",
            Self::Beside => "beside",
            Self::Date => "date",
        }
    }
}

impl NeighbourField {
    fn name(self) -> Cow<'static, str> {
        Cow::Borrowed(match self {
            Self::Kind => "b_kind",
            Self::Name => "b_name",
            Self::WallLength => "b_wall_length",
            Self::WallHeight => "b_wall_height",
            Self::WallCover => "b_wall_cover",
            Self::Holds => "b_holds",
            Self::Shape => "b_shape",
            Self::Length => "b_length",
            Self::Width => "b_width",
            Self::Wall => "b_wall",
            Self::Top => "b_top",
            Self::Cover => "b_cover",
            Self::Tightness => "b_tightness",
            Self::Heater => "b_heater",
            Self::Thermostat => "b_thermostat",
            Self::Mats(field) => return Cow::Owned(format!("b_mats_{}", field.key())),
        })
    }
}

impl Field {
    /// The name under which it is sent.
    pub fn name(self) -> Cow<'static, str> {
        Cow::Borrowed(match self {
            Self::Scale => "scale",
            Self::Example => "example",
            Self::KeepAs => "keep_as",
            Self::Place => "place",
            Self::Shape => "shape",
            Self::Length => "length",
            Self::Width => "width",
            Self::Wall => "wall",
            Self::Top => "top",
            Self::WallCover => "wall_cover",
            Self::RoofCover => "roof_cover",
            Self::Tightness => "tightness",
            Self::Floor => "floor",
            Self::SecondSkin => "has_second",
            Self::BubbleLining => "has_bubble",
            Self::Boards => "boards",
            Self::Water => "water",
            Self::Minimum => "minimum",
            Self::Evening => "evening",
            Self::DesignLow => "design_low",
            Self::DayMaximum => "day_max",
            Self::Heater => "heater",
            Self::Thermostat => "thermostat",
            Self::Hold => "hold",
            Self::Price => "price",
            Self::Minima => "minima",
            Self::Pool => "pool",
            Self::Mats(field) => return Cow::Owned(format!("mats_{}", field.key())),
            Self::Reading(row, field) => return Cow::Owned(format!("r{row}_{}", field.key())),
            Self::Made(row, MadeField::What) => return Cow::Owned(format!("s{row}_what")),
            Self::Made(row, MadeField::Since) => return Cow::Owned(format!("s{row}_since")),
            Self::Compared(change) => return Cow::Owned(format!("c_{change}")),
            Self::Cost(change) => return Cow::Owned(format!("p_{change}")),
            Self::Neighbour(field) => return field.name(),
        })
    }
}

impl From<Field> for String {
    fn from(field: Field) -> Self {
        field.name().into_owned()
    }
}

impl From<Field> for Cow<'_, str> {
    fn from(field: Field) -> Self {
        field.name()
    }
}

/// The field that a JSON path of the calculation was read from; `rows`: the rows of readings that were filled in.
pub(super) fn of_path(path: &str, rows: &[usize]) -> Field {
    // The index of a path such as `readings[3].inside_c`.
    let index = path.split(['[', ']']).nth(1).and_then(|n| n.parse::<usize>().ok()).unwrap_or(0);
    let (head, tail) = path.split_once(['[', '.']).unwrap_or((path, ""));
    match head {
        "readings" => {
            let field = match tail.rsplit('.').next().unwrap_or_default() {
                "heater_w" => ReadingField::Heater,
                "beside_c" => ReadingField::Beside,
                "outside_c" => ReadingField::Outside,
                _ => ReadingField::Inside,
            };
            Field::Reading(rows.get(index).copied().unwrap_or(1), field)
        }
        // The first state is the shelter as described.
        "states" => Field::Made(index.max(1), MadeField::Since),
        "neighbour" => Field::Neighbour(neighbour_of_path(tail)),
        "mats" => Field::Mats(MatsField::Watts),
        "day" => Field::DayMaximum,
        "season" => Field::Minima,
        "parts" if index == 0 => Field::WallCover,
        "parts" if index == 1 => Field::RoofCover,
        "night" => Field::Evening,
        "heater_w" => Field::Heater,
        "place" => Field::Place,
        "thermostat_c" => Field::Thermostat,
        "hold_c" => Field::Hold,
        "price_per_kwh" => Field::Price,
        "design_low_c" => Field::DesignLow,
        "water_litres" => Field::Water,
        _ => Field::Length,
    }
}

fn neighbour_of_path(path: &str) -> NeighbourField {
    match path.split(['[', '.']).next().unwrap_or_default() {
        key if key.starts_with("shared") => NeighbourField::WallLength,
        key if key.starts_with("holds") => NeighbourField::Holds,
        "mats" => NeighbourField::Mats(MatsField::Watts),
        "heater_w" | "heater_kind" => NeighbourField::Heater,
        "thermostat_c" => NeighbourField::Thermostat,
        "parts" => NeighbourField::Cover,
        _ => NeighbourField::Length,
    }
}
