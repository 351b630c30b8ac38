//! What "better" means, and a total order that does not depend on the order of the input.

use std::cmp::Ordering;

use super::row::Row;
use crate::vocabulary::vocabulary;

vocabulary! {
    /// What the shortlist is ranked by.
    pub enum RankBy: "ranking" {
        /// Years in ten with ripe figs.
        Fruit = "fruit" => "years in ten with ripe figs",
        /// Winters with nothing worse than tips lost.
        Wood = "wood" => "how often it keeps its wood",
        /// Winters it lives through.
        Alive = "alive" => "how surely it stays alive",
    }
}

/// Grain of a comparison, far below what anyone could observe. Values are laid on a grid of it rather than compared with a tolerance,
/// since "nearly equal" is not transitive and would let the order of the input through.
const GRAIN: f64 = 1e-9;

fn better(a: f64, b: f64) -> Ordering {
    let on_grid = |x: f64| (x / GRAIN).round() as i64;
    on_grid(b).cmp(&on_grid(a))
}

/// The rows, best first; equal ones by the other measures, then by key.
pub fn ranked<K: Ord>(mut rows: Vec<Row<K>>, by: RankBy) -> Vec<Row<K>> {
    rows.sort_by(|a, b| {
        let fruit = better(a.ripe_share, b.ripe_share);
        let wood = better(a.keeps_wood(), b.keeps_wood());
        let alive = better(a.stays_alive(), b.stays_alive());
        let first = match by {
            RankBy::Fruit => fruit.then(wood).then(alive),
            RankBy::Wood => wood.then(alive).then(fruit),
            RankBy::Alive => alive.then(wood).then(fruit),
        };
        first.then_with(|| a.key.cmp(&b.key))
    });
    rows
}
