//! Location of a plant: stored to 0.01° at most, published on a coarser grid chosen by the member.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::fmt;

use serde::{Deserialize, Serialize};

use super::member::MemberId;
use super::winter::Hemisphere;
use crate::units::{OutOfRange, within};
use crate::vocabulary::vocabulary;

/// Length of one degree of latitude, m: the mean over the ellipsoid, as the guide's formula uses it.
const METRES_PER_DEGREE: f64 = 111_320.0;

vocabulary! {
    /// How finely a place is made public.
    pub enum Publish: "choice of publication" {
        /// On the 0.1° grid.
        Grid = "grid" => "to about 10 km (0.1°)",
        /// On the 0.5° grid.
        Coarse = "coarse" => "to about 50 km (0.5°)",
        /// Not at all.
        Nowhere = "nowhere" => "not published",
        /// As an earlier release had it, on the 0.1° grid, however few members are there now.
        AsPublished = "as_published" => "to about 10 km, as published before",
        /// As an earlier release had it, on the 0.5° grid.
        AsPublishedCoarse = "as_published_coarse" => "to about 50 km, as published before",
    }
}

impl Publish {
    /// The choices offered to members.
    pub const OFFERED: [Self; 3] = [Self::Grid, Self::Coarse, Self::Nowhere];
}

/// A point on the Earth held to 0.01° (about 1 km).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct HeldPoint {
    /// Latitude, hundredths of a degree, north positive.
    latitude: i32,
    /// Longitude, hundredths of a degree, east positive.
    longitude: i32,
}

impl HeldPoint {
    /// Rounds to 0.01° at once, so that nothing finer is ever kept.
    pub fn new(latitude_deg: f64, longitude_deg: f64) -> Result<Self, OutOfRange> {
        let latitude = within("latitude", "°", latitude_deg, -90.0, 90.0)?;
        let longitude = within("longitude", "°", longitude_deg, -180.0, 180.0)?;
        Ok(Self { latitude: (latitude * 100.0).round() as i32, longitude: (longitude * 100.0).round() as i32 })
    }

    /// From hundredths of a degree as kept.
    pub fn from_hundredths(latitude: i64, longitude: i64) -> Result<Self, OutOfRange> {
        Self::new(latitude as f64 / 100.0, longitude as f64 / 100.0)
    }

    /// Latitude and longitude in hundredths of a degree.
    pub const fn hundredths(self) -> (i64, i64) {
        (self.latitude as i64, self.longitude as i64)
    }

    /// Latitude, degrees.
    pub fn latitude(self) -> f64 {
        f64::from(self.latitude) / 100.0
    }

    /// Longitude, degrees.
    pub fn longitude(self) -> f64 {
        f64::from(self.longitude) / 100.0
    }

    /// The hemisphere it lies in.
    pub const fn hemisphere(self) -> Hemisphere {
        if self.latitude < 0 { Hemisphere::South } else { Hemisphere::North }
    }

    /// The cell of the 0.1° grid around it.
    pub const fn cell(self) -> Cell {
        Cell { south: self.latitude.div_euclid(10), west: self.longitude.div_euclid(10), size: 1 }
    }
}

/// A cell of the grid on which places are made public; the same point always falls into the same cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct Cell {
    /// Southern edge, tenths of a degree.
    south: i32,
    /// Western edge, tenths of a degree.
    west: i32,
    /// Side, tenths of a degree.
    size: i32,
}

impl Cell {
    /// The cell of the 0.5° grid around this one.
    #[must_use]
    pub const fn coarser(self) -> Self {
        Self { south: self.south.div_euclid(5) * 5, west: self.west.div_euclid(5) * 5, size: 5 }
    }

    /// The cell of the 0.1° grid whose southern and western edges are these, tenths of a degree.
    pub fn of_edges(south: i64, west: i64) -> Result<Self, OutOfRange> {
        let south = within("southern edge", "tenths of a degree", south as f64, -900.0, 900.0)?;
        let west = within("western edge", "tenths of a degree", west as f64, -1800.0, 1800.0)?;
        Ok(Self { south: south as i32, west: west as i32, size: 1 })
    }

    /// Side, degrees.
    pub fn side_deg(self) -> f64 {
        f64::from(self.size) / 10.0
    }

    /// Middle, degrees of latitude.
    pub fn latitude(self) -> f64 {
        f64::from(self.south * 2 + self.size) / 20.0
    }

    /// Middle, degrees of longitude.
    pub fn longitude(self) -> f64 {
        f64::from(self.west * 2 + self.size) / 20.0
    }

    /// Southern and western edge, tenths of a degree: how a cell is kept and asked for.
    pub const fn edges(self) -> (i64, i64) {
        (self.south as i64, self.west as i64)
    }

    /// How far from the middle a point of the cell can lie, m: half the diagonal.
    pub fn uncertainty_m(self) -> u32 {
        let half_side = METRES_PER_DEGREE * self.side_deg() / 2.0;
        (half_side * (1.0 + self.latitude().to_radians().cos().powi(2)).sqrt()).ceil() as u32
    }
}

/// `51.05, −0.15` in degrees, middle of the cell.
impl fmt::Display for Cell {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = format!("{:.2}, {:.2}", self.latitude(), self.longitude());
        f.write_str(&text.replace('-', "−"))
    }
}

/// Where a plant stands and how finely that is made public.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Place {
    /// Nearest town or postcode district, in the member's words; never published.
    pub words: Option<String>,
    /// The point, where one was given.
    pub point: Option<HeldPoint>,
    /// The member's choice.
    pub publish: Publish,
}

/// What the public sees of a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum PublishedPlace {
    /// A cell of the grid.
    Cell(Cell),
    /// Nothing: no point was given or the member wants none published.
    Withheld,
}

/// Fewest members with records in a 0.1° cell for it to be published as such; below, the 0.5° cell is.
pub const FEWEST_MEMBERS_PER_CELL: usize = 3;

/// The cells of the 0.1° grid in which those who chose the fine grid are shown on it.
///
/// Only they are counted: the size of a cell says nothing of members who chose otherwise. The cells are counted when a release is made and
/// stay until the next, so that no page tells from one day to the next who came or went.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FineCells(BTreeSet<Cell>);

impl FineCells {
    /// Counts the cells: those with at least [`FEWEST_MEMBERS_PER_CELL`] members who chose [`Publish::Grid`] for a plant there.
    pub fn counted<'a>(places: impl IntoIterator<Item = (MemberId, &'a Place)>) -> Self {
        let mut counting = CountingCells::default();
        places.into_iter().for_each(|(member, place)| counting.add(member, place));
        counting.finish()
    }

    /// What the public sees of a place.
    pub fn shown(&self, place: &Place) -> PublishedPlace {
        match (place.publish, place.point) {
            (Publish::Nowhere, _) | (_, None) => PublishedPlace::Withheld,
            (Publish::AsPublished, Some(point)) => PublishedPlace::Cell(point.cell()),
            (Publish::Grid, Some(point)) if self.0.contains(&point.cell()) => PublishedPlace::Cell(point.cell()),
            (_, Some(point)) => PublishedPlace::Cell(point.cell().coarser()),
        }
    }

    /// Whether a cell is among them.
    pub fn holds(&self, cell: Cell) -> bool {
        self.0.contains(&cell)
    }

    /// The cells, in order.
    pub fn cells(&self) -> impl Iterator<Item = Cell> {
        self.0.iter().copied()
    }
}

/// Cells being counted, place by place.
#[derive(Debug, Default)]
pub struct CountingCells(BTreeMap<Cell, HashSet<MemberId>>);

impl CountingCells {
    /// One more place of a member.
    pub fn add(&mut self, member: MemberId, place: &Place) {
        if let (Publish::Grid, Some(point)) = (place.publish, place.point) {
            let members = self.0.entry(point.cell()).or_default();
            // More than enough need not be told apart.
            if members.len() < FEWEST_MEMBERS_PER_CELL {
                members.insert(member);
            }
        }
    }

    /// Those that are shown.
    pub fn finish(self) -> FineCells {
        self.0.into_iter().filter(|(_, members)| members.len() >= FEWEST_MEMBERS_PER_CELL).map(|(cell, _)| cell).collect()
    }
}

impl FromIterator<Cell> for FineCells {
    fn from_iter<I: IntoIterator<Item = Cell>>(cells: I) -> Self {
        Self(cells.into_iter().collect())
    }
}

impl Place {
    /// Whether the public sees nothing of it.
    pub const fn is_withheld(&self) -> bool {
        matches!((self.publish, self.point), (Publish::Nowhere, _) | (_, None))
    }

    /// Which half of the Earth; north where no point was given.
    pub fn hemisphere(&self) -> Hemisphere {
        self.point.map_or(Hemisphere::North, HeldPoint::hemisphere)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    // The guide's figures for a 0.1° cell: 6.6 km at 51° N, 7.2 km at 36° N, 7.9 km at the equator.
    #[test]
    fn uncertainty_of_a_cell_follows_the_latitude() {
        for (latitude, km) in [(51.0, 6.6), (36.0, 7.2), (0.0, 7.9)] {
            let cell = HeldPoint::new(latitude, 10.0).unwrap().cell();
            assert!((f64::from(cell.uncertainty_m()) / 1000.0 - km).abs() < 0.05, "{latitude}");
        }
    }

    /// What a second member sees of everybody, whatever else is public of them: the shown places of those who show any, in order.
    fn seen(garden: &[(MemberId, Place)]) -> Vec<PublishedPlace> {
        let fine = FineCells::counted(garden.iter().map(|(member, place)| (*member, place)));
        let mut shown: Vec<_> = garden.iter().map(|(_, place)| fine.shown(place)).collect();
        shown.sort();
        shown
    }

    // A member who chose “not published” or “50 km” moves between two 0.1° squares of one 0.5° cell: nothing that anybody sees changes, whoever
    // else stands in either, chose what, and in whatever order they came.
    #[test]
    fn in_which_square_a_member_stands_who_chose_otherwise_is_told_by_nobodys_cell() {
        let member = |n: u128| MemberId(uuid::Uuid::from_u128(n));
        let squares = [(51.01, 3.01), (51.11, 3.11)];
        let place = |publish, (lat, lon): (f64, f64)| Place { words: None, point: HeldPoint::new(lat, lon).ok(), publish };
        let others = [Publish::Grid, Publish::Coarse, Publish::Nowhere];
        for hidden in [Publish::Nowhere, Publish::Coarse] {
            for case in 0..(6_usize.pow(3)) {
                let neighbours: Vec<(MemberId, Place)> = (0..3)
                    .map(|n| {
                        let drawn = case / 6_usize.pow(n) % 6;
                        (member(u128::from(n) + 1), place(others[drawn / 2], squares[drawn % 2]))
                    })
                    .collect();
                let with = |square, at: usize| {
                    let mut all = neighbours.clone();
                    all.insert(at, (member(9), place(hidden, square)));
                    seen(&all)
                };
                for at in 0..=3 {
                    assert_eq!(with(squares[0], at), with(squares[1], 3 - at), "{hidden:?} among {neighbours:?}");
                }
            }
        }
    }

    #[test]
    fn three_members_who_chose_the_fine_grid_are_shown_on_it() {
        let place = |publish| Place { words: None, point: HeldPoint::new(51.04, -0.13).ok(), publish };
        let member = |n: u128| MemberId(uuid::Uuid::from_u128(n));
        let with = |third| {
            let all = [(member(1), place(Publish::Grid)), (member(2), place(Publish::Grid)), (member(3), place(third))];
            FineCells::counted(all.iter().map(|(member, place)| (*member, place)))
        };
        let fine = PublishedPlace::Cell(HeldPoint::new(51.04, -0.13).unwrap().cell());
        assert_eq!(with(Publish::Grid).shown(&place(Publish::Grid)), fine);
        for third in [Publish::Coarse, Publish::Nowhere] {
            assert_ne!(with(third).shown(&place(Publish::Grid)), fine);
        }
        let (south, west) = with(Publish::Grid).cells().next().unwrap().edges();
        assert_eq!(PublishedPlace::Cell(Cell::of_edges(south, west).unwrap()), fine);
    }

    proptest! {
        // PRV-04: public places lie on the grid, hold the point, and say truly how far off they may be.
        #[test]
        fn a_cell_holds_its_point_and_lies_on_the_grid(lat in -89.9..89.9f64, lon in -179.9..179.9f64) {
            let point = HeldPoint::new(lat, lon).unwrap();
            for cell in [point.cell(), point.cell().coarser()] {
                let half = cell.side_deg() / 2.0 + 1e-9;
                prop_assert!((point.latitude() - cell.latitude()).abs() <= half && (point.longitude() - cell.longitude()).abs() <= half);
                let steps = (cell.latitude() - cell.side_deg() / 2.0) / cell.side_deg();
                prop_assert!((steps - steps.round()).abs() < 1e-6);
            }
        }
    }
}
