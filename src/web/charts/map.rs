//! Where plants stand: an outline of land with the coarse cells in which their places are published.
//!
//! Equirectangular, true at the middle of the picture. Land: Natural Earth 4.1.0, 1:110,000,000 (public domain), `seed-data/land-outline.txt`.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use crate::places::land::LAND;

/// Width of the picture in its own units; heights are of the same units.
const WIDTH: f64 = 1000.0;
/// Shortest and tallest picture.
const HEIGHTS: (f64, f64) = (380.0, 800.0);
/// Squares over the width, so that one is some eight pixels wide on a phone.
const SQUARES: f64 = 40.0;
/// Smallest square, °: places are published no finer than half a degree unless their members chose it.
const SMALLEST_DEG: f64 = 0.5;
/// Room round the outermost cells: share of their spread, and at least so many degrees, so that coasts are known again.
const MARGIN: (f64, f64) = (0.25, 9.0);
/// Living plants from which a square is drawn darker, and darkest.
const SHADES: [usize; 2] = [3, 10];

/// Most squares listed beside the picture: some 200 bytes of a page each.
const MOST_LINES: usize = 24;

/// A published cell with what grows in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Grown {
    /// Middle, °.
    pub latitude: f64,
    /// Middle, °.
    pub longitude: f64,
    /// Plants reported.
    pub plants: usize,
    /// Those alive by their newest report.
    pub alive: usize,
}

/// A square of the map.
pub struct Square {
    /// Left edge.
    pub x: String,
    /// Top edge.
    pub y: String,
    /// Sides.
    pub width: String,
    /// Sides.
    pub height: String,
    /// Class of its shade.
    pub class: &'static str,
}

/// A line of the table.
pub struct Line {
    /// Where, in words.
    pub place: String,
    /// Middle of the square, °.
    pub at: (f64, f64),
    /// Plants reported.
    pub plants: usize,
    /// Those alive.
    pub alive: usize,
}

impl Line {
    /// Query of the reports from about here.
    pub fn near(&self) -> [(&'static str, String); 2] {
        [("latitude", format!("{:.2}", self.at.0)), ("longitude", format!("{:.2}", self.at.1))]
    }
}

/// The picture.
pub struct Map {
    /// Its box.
    pub view_box: String,
    /// Outline of land.
    pub land: String,
    /// Squares.
    pub squares: Vec<Square>,
    /// In words.
    pub description: String,
    /// The squares with most living plants first, at most [`MOST_LINES`].
    pub table: Vec<Line>,
    /// How many squares more there are.
    pub lines_left: usize,
}

/// What is shown, °, and how many units a degree of longitude takes.
struct View {
    west: f64,
    north: f64,
    unit: f64,
    /// Units of a degree of latitude for each of longitude.
    stretch: f64,
    height: f64,
}

impl View {
    fn round(cells: &[Grown]) -> Option<Self> {
        let ends = |of: fn(&Grown) -> f64| {
            let values = cells.iter().map(of);
            values.fold(None, |ends: Option<(f64, f64)>, v| Some(ends.map_or((v, v), |(low, high)| (low.min(v), high.max(v)))))
        };
        let (south, north) = ends(|cell| cell.latitude)?;
        let (west, east) = ends(|cell| cell.longitude)?;
        let room = |low: f64, high: f64| (MARGIN.0 * (high - low)).max(MARGIN.1);
        let (up, side) = (room(south, north), room(west, east));
        let stretch = 1.0 / f64::midpoint(south, north).to_radians().cos().max(0.2);
        let (south, north) = ((south - up).max(-90.0), (north + up).min(90.0));
        let (mut width, mut height) = (east - west + 2.0 * side, (north - south) * stretch);
        // Wide enough, or tall enough, for the shape of the picture.
        width = width.max(height * WIDTH / HEIGHTS.1);
        height = height.max(width * HEIGHTS.0 / WIDTH);
        let (middle_x, middle_y) = (f64::midpoint(west, east), f64::midpoint(south, north));
        let unit = WIDTH / width;
        Some(Self { west: middle_x - width / 2.0, north: middle_y + height / stretch / 2.0, unit, stretch, height: height * unit })
    }

    fn at(&self, longitude: f64, latitude: f64) -> (f64, f64) {
        ((longitude - self.west) * self.unit, (self.north - latitude) * self.unit * self.stretch)
    }

    /// The outline inside the picture; what lies far outside is drawn in to its margin.
    fn land(&self) -> String {
        let mut path = String::new();
        for ring in LAND.iter() {
            let points: Vec<(f64, f64)> = ring.iter().map(|&(longitude, latitude)| self.at(longitude, latitude)).collect();
            let inside = |&(x, y): &(f64, f64)| (0.0..=WIDTH).contains(&x) && (0.0..=self.height).contains(&y);
            let round = points.iter().any(|p| p.0 < 0.0) && points.iter().any(|p| p.0 > WIDTH);
            if !points.iter().any(inside) && !round {
                continue;
            }
            let (mut last, mut begun) = ((i32::MIN, i32::MIN), false);
            for (x, y) in points {
                let held = (x.clamp(-WIDTH, 2.0 * WIDTH).round() as i32, y.clamp(-self.height, 2.0 * self.height).round() as i32);
                if held != last {
                    // Writing to a string cannot fail.
                    let _ = write!(path, "{}{} {}", if begun { 'L' } else { 'M' }, held.0, held.1);
                    (last, begun) = (held, true);
                }
            }
            if begun {
                path.push('Z');
            }
        }
        path
    }
}

impl Map {
    /// Draws cells; `None` where no place is published.
    pub fn new(cells: &[Grown]) -> Option<Self> {
        let view = View::round(cells)?;
        let side = (WIDTH / view.unit / SQUARES).max(SMALLEST_DEG);
        let mut grid: BTreeMap<(i64, i64), (usize, usize)> = BTreeMap::new();
        for cell in cells {
            // Squares look square in the middle of the picture.
            let key = ((cell.latitude * view.stretch / side).floor() as i64, (cell.longitude / side).floor() as i64);
            let sum = grid.entry(key).or_default();
            *sum = (sum.0 + cell.plants, sum.1 + cell.alive);
        }
        let (mut squares, mut table) = (Vec::new(), Vec::new());
        for ((row, column), (plants, alive)) in grid {
            let (top, left) = ((row + 1) as f64 * side / view.stretch, column as f64 * side);
            let (x, y) = view.at(left, top);
            let (width, height) = (side * view.unit, side * view.unit);
            let class = match alive {
                0 => "map-none",
                n if n < SHADES[0] => "map-few",
                n if n < SHADES[1] => "map-some",
                _ => "map-many",
            };
            let number = |v: f64| format!("{v:.0}");
            squares.push(Square { x: number(x), y: number(y), width: number(width), height: number(height), class });
            let at = (top - side / view.stretch / 2.0, left + side / 2.0);
            table.push(Line { place: place_words(at), at, plants, alive });
        }
        table.sort_by(|a, b| b.alive.cmp(&a.alive).then_with(|| b.plants.cmp(&a.plants)));
        let (plants, alive) = table.iter().fold((0, 0), |sum, line| (sum.0 + line.plants, sum.1 + line.alive));
        let lines_left = table.len().saturating_sub(MOST_LINES);
        table.truncate(MOST_LINES);
        Some(Self {
            view_box: format!("0 0 {WIDTH:.0} {:.0}", view.height),
            land: view.land(),
            description: format!("{alive} living of {plants} reported plants, in {} squares.", squares.len()),
            squares,
            table,
            lines_left,
        })
    }

    /// The squares of each shade as one path.
    pub fn shades(&self) -> Vec<(&'static str, String)> {
        let mut shades: BTreeMap<&'static str, String> = BTreeMap::new();
        for Square { x, y, width, height, class } in &self.squares {
            // Writing to a string cannot fail.
            let _ = write!(shades.entry(class).or_default(), "M{x} {y}h{width}v{height}H{x}z");
        }
        shades.into_iter().collect()
    }
}

/// `47.3° N, 15.4° E`.
fn place_words((latitude, longitude): (f64, f64)) -> String {
    let side = |value: f64, positive, negative| if value < 0.0 { negative } else { positive };
    format!("{:.1}° {}, {:.1}° {}", latitude.abs(), side(latitude, 'N', 'S'), longitude.abs(), side(longitude, 'E', 'W'))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cell(latitude: f64, longitude: f64, plants: usize, alive: usize) -> Grown {
        Grown { latitude, longitude, plants, alive }
    }

    #[test]
    fn every_plant_is_on_the_map_inside_its_box_and_neighbours_share_a_square() {
        let cells = [cell(47.05, 15.45, 3, 2), cell(47.05, 15.55, 1, 1), cell(38.5, -0.5, 4, 0), cell(51.5, 0.5, 20, 20)];
        let map = Map::new(&cells).unwrap();
        assert_eq!(map.table.iter().map(|line| line.plants).sum::<usize>(), 28);
        assert_eq!((map.squares.len(), map.table[0].alive), (3, 20));
        let height: f64 = map.view_box.rsplit(' ').next().unwrap().parse().unwrap();
        for square in &map.squares {
            let (x, y): (f64, f64) = (square.x.parse().unwrap(), square.y.parse().unwrap());
            assert!((0.0..WIDTH).contains(&x) && (0.0..height).contains(&y), "{x} {y} of {height}");
        }
        assert!(Map::new(&[]).is_none());
        let all = map.shades().into_iter().map(|(_, path)| path.matches('M').count()).sum::<usize>();
        assert_eq!((all, map.lines_left), (3, 0));
    }

    #[test]
    fn a_map_of_very_many_cells_is_bounded() {
        let cells: Vec<Grown> = (0..40_000).map(|n| cell(-60.0 + f64::from(n / 320), -175.0 + 1.1 * f64::from(n % 320), 3, 2)).collect();
        let map = Map::new(&cells).unwrap();
        let bytes: usize = map.shades().iter().map(|(_, path)| path.len()).sum();
        assert!(map.table.len() <= MOST_LINES && map.lines_left > 0 && bytes < 60_000, "{bytes}");
    }

    /// Natural Earth: London's meridian and the sea south of Spain; checked against coordinates of the coast (own reading of the table).
    #[test]
    fn land_is_where_it_is() {
        let contains = |longitude: f64, latitude: f64| {
            let crosses = |ring: &Vec<(f64, f64)>| {
                let ends = ring.iter().zip(ring.iter().cycle().skip(1));
                ends.filter(|((x1, y1), (x2, y2))| {
                    (*y1 > latitude) != (*y2 > latitude) && longitude < (x2 - x1) * (latitude - y1) / (y2 - y1) + x1
                })
                .count()
            };
            LAND.iter().map(crosses).sum::<usize>() % 2 == 1
        };
        assert!(contains(15.4, 47.1) && contains(-100.0, 40.0) && contains(145.0, -37.0));
        assert!(!contains(-30.0, 40.0) && !contains(5.0, 40.0) && !contains(170.0, 0.0));
    }
}
