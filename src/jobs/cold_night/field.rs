//! The fields of the form of a cold night, and the names under which a browser sends them.

use std::borrow::Cow;

use crate::science::cold_night::stage::CoverKind;

/// An enum of the fields of one row, each with its part of the name.
macro_rules! row_fields {
    ($(#[$meta:meta])* $name:ident { $($(#[$doc:meta])* $variant:ident = $key:literal),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum $name { $($(#[$doc])* $variant),+ }

        impl $name {
            /// Every field of the row, in the order of the form.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// Its part of the name.
            pub const fn key(self) -> &'static str {
                match self { $(Self::$variant => $key),+ }
            }
        }
    };
}

row_fields! {
    /// One night with the day before it.
    NightField {
        /// Highest of the day before.
        DayMaximum = "max",
        /// Forecast lowest.
        Minimum = "min",
        /// Kind of night.
        Kind = "kind",
    }
}

row_fields! {
    /// Figs alike.
    FigField {
        /// Name, or "unknown".
        Cultivar = "cultivar",
        /// What it looks like.
        Stage = "stage",
        /// In the ground or in a pot.
        Grows = "grows",
        /// Size of the pot.
        Pot = "pot",
        /// How many alike.
        Count = "count",
        /// Years since planting.
        Years = "years",
        /// What one is worth.
        Value = "value",
        /// Minutes to carry one.
        Minutes = "move",
        /// Temperature of the pot at dusk.
        PotStart = "start",
        /// Years that its standing wood has grown.
        WoodYears = "wood",
        /// Where in the garden, where the forecast is not of that spot.
        Spot = "spot",
    }
}

row_fields! {
    /// Other plants than figs.
    OtherField {
        /// What it is.
        Name = "name",
        /// Hurt at and below.
        Hurt = "hurt",
        /// Dead at and below.
        Dead = "dead",
        /// How many alike.
        Count = "count",
        /// Size of the pot.
        Pot = "pot",
        /// Room of one.
        Room = "room",
        /// What one is worth.
        Value = "value",
        /// Minutes to carry one.
        Minutes = "move",
    }
}

row_fields! {
    /// A place to carry to.
    StoreField {
        /// Its name.
        Name = "name",
        /// What it is.
        Kind = "kind",
        /// Room.
        Room = "room",
        /// Lowest that a heated one holds.
        Minimum = "min",
        /// First pair of readings, outside.
        FirstOutside = "out1",
        /// First pair of readings, inside.
        FirstInside = "in1",
        /// Second pair of readings, outside.
        SecondOutside = "out2",
        /// Second pair of readings, inside.
        SecondInside = "in2",
    }
}

row_fields! {
    /// One night of the own thermometer.
    LogField {
        /// What was forecast.
        Forecast = "forecast",
        /// What was measured.
        Measured = "measured",
    }
}

/// A field of the form. Rows are counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Field {
    /// °C and litres, or °F and US gallons.
    Scale,
    /// Whether this is the worked example.
    Example,
    /// The town or coordinates.
    Place,
    /// Latitude of the forecast.
    Latitude,
    /// Longitude of the forecast.
    Longitude,
    /// Date of the first night.
    Date,
    /// The first planned night, a number from 1.
    PlannedFrom,
    /// How many nights there are.
    NightCount,
    /// Nights pasted as lines.
    Pasted,
    /// Two hours after sunset of the first night.
    Evening,
    /// Hours from the forecast to the night.
    Lead,
    /// Minutes there are before each night.
    Minutes,
    /// Whether the place is near the sea.
    Coast,
    /// How many rows of figs there are.
    FigRows,
    /// How many rows of places there are.
    PlaceRows,
    /// Ground that one cloth covers.
    ClothArea,
    /// Whether a member keeps the places.
    KeepPlaces,
    /// What was ticked as done; once for each.
    Done,
    /// Button: more rows of something.
    More,
    /// Button: ask for a forecast.
    FetchForecast,
    /// A night.
    Night(usize, NightField),
    /// Figs alike.
    Fig(usize, FigField),
    /// Other plants alike.
    Other(usize, OtherField),
    /// A place to carry to.
    Store(usize, StoreField),
    /// A night of the own thermometer.
    Log(usize, LogField),
    /// How many covers of a kind there are.
    Cover(CoverKind),
}

impl Field {
    /// The name under which it is sent. The first night's lowest and kind keep the names they had when a form held one night.
    pub fn name(self) -> String {
        let plain = match self {
            Self::Night(1, NightField::Minimum) => "minimum",
            Self::Night(1, NightField::Kind) => "kind",
            Self::Night(night, field) => return format!("n{night}_{}", field.key()),
            Self::Fig(row, field) => return format!("p{row}_{}", field.key()),
            Self::Other(row, field) => return format!("t{row}_{}", field.key()),
            Self::Store(row, field) => return format!("s{row}_{}", field.key()),
            Self::Log(row, field) => return format!("log{row}_{}", field.key()),
            Self::Cover(kind) => return format!("cover_{kind}"),
            Self::Scale => "scale",
            Self::Example => "example",
            Self::Place => "place",
            Self::Latitude => "latitude",
            Self::Longitude => "longitude",
            Self::Date => "date",
            Self::PlannedFrom => "from",
            Self::NightCount => "nights",
            Self::Pasted => "pasted",
            Self::Evening => "evening",
            Self::Lead => "lead",
            Self::Minutes => "minutes",
            Self::Coast => "coast",
            Self::FigRows => "rows",
            Self::PlaceRows => "place_rows",
            Self::ClothArea => "cloth_area",
            Self::KeepPlaces => "keep_places",
            Self::Done => "did",
            Self::More => "more",
            Self::FetchForecast => "fetch",
        };
        plain.to_owned()
    }
}

impl From<Field> for String {
    fn from(field: Field) -> Self {
        field.name()
    }
}

impl From<Field> for Cow<'_, str> {
    fn from(field: Field) -> Self {
        Self::Owned(field.name())
    }
}
