//! Surfaces, volume and edge of the common shapes of shelter, from the lengths a tape measures.

use std::f64::consts::PI;

use crate::units::{OutOfRange, within};
use crate::vocabulary::vocabulary;

vocabulary! {
    /// Shapes.
    pub enum ShapeKind: "shape" {
        /// Two roof slopes.
        Gable = "gable" => "house with a ridge",
        /// A hoop.
        Hoop = "hoop" => "hoop house or tunnel",
        /// One slope against a wall.
        LeanTo = "lean_to" => "lean-to against a building",
        /// Solid walls under a ridge or a flat roof.
        Shed = "shed" => "garage or shed",
    }
}

/// A shape with its lengths, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shape {
    kind: ShapeKind,
    length_m: f64,
    width_m: f64,
    wall_m: f64,
    top_m: f64,
}

/// What the lengths come to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measures {
    /// Walls and ends, m²; of a lean-to without the building's wall.
    pub walls_m2: f64,
    /// Roof, or the hooped cover, m².
    pub roof_m2: f64,
    /// Floor, m².
    pub floor_m2: f64,
    /// Air, m³.
    pub volume_m3: f64,
    /// Edge of the floor to the outside, m.
    pub perimeter_m: f64,
    /// Leans on a building.
    pub attached: bool,
}

impl Shape {
    /// Lengths 0.3..=100 m and heights 0.2..=12 m; the top (ridge, crown, or the wall it leans on) must not lie below the wall. A hoop has no wall of
    /// its own: `wall_m` is left aside.
    pub fn new(kind: ShapeKind, length_m: f64, width_m: f64, wall_m: f64, top_m: f64) -> Result<Self, OutOfRange> {
        let wall_m = if kind == ShapeKind::Hoop { 0.0 } else { within("height of the walls", "m", wall_m, 0.2, 12.0)? };
        Ok(Self {
            kind,
            length_m: within("length", "m", length_m, 0.3, 100.0)?,
            width_m: within("width", "m", width_m, 0.3, 100.0)?,
            wall_m,
            top_m: within("height at the top (not below the walls)", "m", top_m, wall_m.max(0.2), 12.0)?,
        })
    }

    /// Surfaces and volume. Hoops are half ellipses (Ramanujan's perimeter).
    pub fn measures(&self) -> Measures {
        let Self { length_m: l, width_m: w, wall_m: wall, top_m: top, .. } = *self;
        let floor_m2 = l * w;
        let rise = top - wall;
        match self.kind {
            // A flat roof is a ridge no higher than the walls.
            ShapeKind::Gable | ShapeKind::Shed => Measures {
                walls_m2: 2.0 * (l + w) * wall + w * rise,
                roof_m2: 2.0 * l * (w / 2.0).hypot(rise),
                floor_m2,
                volume_m3: floor_m2 * (wall + rise / 2.0),
                perimeter_m: 2.0 * (l + w),
                attached: false,
            },
            ShapeKind::Hoop => {
                let (a, b) = (w / 2.0, top);
                let half_perimeter = PI / 2.0 * (3.0 * (a + b) - ((3.0 * a + b) * (a + 3.0 * b)).sqrt());
                Measures {
                    walls_m2: PI * a * b,
                    roof_m2: l * half_perimeter,
                    floor_m2,
                    volume_m3: l * PI * a * b / 2.0,
                    perimeter_m: 2.0 * (l + w),
                    attached: false,
                }
            }
            ShapeKind::LeanTo => Measures {
                walls_m2: l * wall + w * (wall + top),
                roof_m2: l * w.hypot(rise),
                floor_m2,
                volume_m3: floor_m2 * f64::midpoint(wall, top),
                perimeter_m: l + 2.0 * w,
                attached: true,
            },
        }
    }
}

impl Shape {
    /// A long side as high as its top, m²: where a hoop stands with its side against a wall.
    pub fn side_m2(&self) -> f64 {
        let height = if self.kind == ShapeKind::Hoop { self.top_m } else { self.wall_m };
        self.length_m * height
    }

    /// Its largest upright face that another shelter or a building could stand against, m²: a long side, a gable end, the end of a hoop.
    pub fn largest_face_m2(&self) -> f64 {
        let Self { length_m: l, width_m: w, wall_m: wall, top_m: top, .. } = *self;
        match self.kind {
            // The high wall of a lean-to is the building's; the front and the ends are left.
            ShapeKind::Gable | ShapeKind::Shed | ShapeKind::LeanTo => (l * wall).max(w * f64::midpoint(wall, top)),
            ShapeKind::Hoop => PI * (w / 2.0) * top / 2.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // 8 × 12 ft, 6 ft walls, 2 ft rise: "about 363 ft²" (cases/shelter/gh_8x12_floor_area_trap.json).
    #[test]
    fn the_small_house_has_the_surface_the_trap_states() {
        let m = Shape::new(ShapeKind::Gable, 12.0, 8.0, 6.0, 8.0).unwrap().measures();
        assert!((m.walls_m2 + m.roof_m2 - 363.0).abs() < 1.0);
    }

    // Slopes of 2.5 m and 5 m by the triangle of 3, 4 and 5; the rest by hand.
    #[test]
    fn houses_with_round_slopes_have_the_measures_worked_by_hand() {
        let gable = Shape::new(ShapeKind::Gable, 4.0, 3.0, 2.0, 4.0).unwrap();
        let all = |m: Measures| [m.walls_m2, m.roof_m2, m.floor_m2, m.volume_m3, m.perimeter_m];
        assert_eq!(all(gable.measures()), [34.0, 20.0, 12.0, 36.0, 14.0]);
        assert_eq!((gable.side_m2(), gable.largest_face_m2()), (8.0, 9.0));
        let lean_to = Shape::new(ShapeKind::LeanTo, 4.0, 3.0, 2.0, 6.0).unwrap();
        assert_eq!(all(lean_to.measures()), [32.0, 20.0, 12.0, 48.0, 10.0]);
    }

    // A half circle has arc πr and ends πr² together: plane geometry.
    #[test]
    fn a_round_hoop_is_half_a_cylinder() {
        let m = Shape::new(ShapeKind::Hoop, 5.0, 4.0, 0.0, 2.0).unwrap().measures();
        assert!(
            (m.roof_m2 - 5.0 * PI * 2.0).abs() < 1e-9 && (m.walls_m2 - 4.0 * PI).abs() < 1e-9 && (m.volume_m3 - 10.0 * PI).abs() < 1e-9
        );
    }

    // cases/shelter/jp_rooftop_house_faces.json has its own back wall; without it front, sides and roof agree (m²: 0.718, 0.894, 2.551).
    #[test]
    fn a_lean_to_has_the_published_faces() {
        let m = Shape::new(ShapeKind::LeanTo, 2.44, 1.0, 0.29427, 0.6).unwrap().measures();
        assert!((m.walls_m2 - 0.718 - 0.894).abs() < 2e-3 && (m.roof_m2 - 2.551).abs() < 2e-3);
    }
}
