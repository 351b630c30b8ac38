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

/// The rows, best first; equal ones by the other measures, then by key. Fruit goes by what one can count on: the lower quartile of what is
/// believed of the share of years, then its mean. Kinds whose hardiness is a guess stand below all others, whatever is asked for.
pub fn ranked<K: Ord>(mut rows: Vec<Row<K>>, by: RankBy) -> Vec<Row<K>> {
    rows.sort_by(|a, b| {
        let sure = better(a.sure.lower_quartile, b.sure.lower_quartile);
        let fruit = sure.then(better(a.ripe_share, b.ripe_share));
        let wood = better(a.keeps_wood(), b.keeps_wood());
        let alive = better(a.stays_alive(), b.stays_alive());
        let first = match by {
            RankBy::Fruit => fruit.then(wood).then(alive),
            RankBy::Wood => wood.then(alive).then(fruit),
            RankBy::Alive => alive.then(wood).then(fruit),
        };
        a.guessed.cmp(&b.guessed).then(first).then_with(|| a.key.cmp(&b.key))
    });
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::fruiting::CropChances;
    use crate::science::hardiness::chances::{Levels, Outlook};
    use crate::science::numeric::Gaussian;
    use crate::science::shortlist::Sure;

    /// A cultivar by what the ranking compares: ripe years, winters that keep the wood, winters lived through.
    fn row(key: char, ripe_share: f64, wood: f64, alive: f64) -> Row<char> {
        let chance = Levels { unharmed: wood, tips: 0.0, wood: alive - wood, to_ground: 0.0, dead: 1.0 - alive };
        let crop = CropChances {
            expected: [0.0; 5],
            low: [0.0; 5],
            high: [0.0; 5],
            main: [0.0; 5],
            breba: [0.0; 5],
            main_need: Gaussian::default(),
            regrowth_need: Gaussian::default(),
            regrowth_share: 0.0,
        };
        let sure = Sure { lower_quartile: ripe_share, five_in_ten: 0.0, best: 0.0 };
        Row { key, guessed: false, winter: Outlook { chance, alive_long_run: 0.0 }, crop, ripe_share, sure }
    }

    fn order(rows: &[Row<char>], by: RankBy) -> String {
        ranked(rows.to_vec(), by).iter().map(|row| row.key).collect()
    }

    /// By what a grower who asks for one thing would ask next: figs, then the wood that bears them, then the plant; a plant, then its wood, then
    /// figs. In each group of rows the later measures point the other way, so that only the right one gives the order. Worked by hand.
    #[test]
    fn equal_rows_go_by_wood_before_life_and_by_life_or_wood_before_figs() {
        let equal_in_figs = [row('a', 0.5, 0.3, 0.9), row('b', 0.5, 0.6, 0.7), row('c', 0.6, 0.1, 0.1), row('d', 0.5, 0.3, 0.95)];
        assert_eq!(order(&equal_in_figs, RankBy::Fruit), "cbda");
        let equal_in_wood = [row('a', 0.9, 0.4, 0.6), row('b', 0.1, 0.4, 0.8), row('c', 0.2, 0.4, 0.8), row('d', 0.0, 0.5, 0.5)];
        assert_eq!(order(&equal_in_wood, RankBy::Wood), "dcba");
        let equal_in_life = [row('a', 0.9, 0.4, 0.8), row('b', 0.1, 0.6, 0.8), row('c', 0.2, 0.6, 0.8), row('d', 0.0, 0.1, 0.9)];
        assert_eq!(order(&equal_in_life, RankBy::Alive), "dcba");
    }

    /// One bears in more years on average, the other in more years that one can count on.
    #[test]
    fn fruit_goes_by_the_lower_quartile_before_the_mean_and_a_guess_stands_below_whatever_it_promises() {
        let with = |key, mean, lower_quartile, guessed| {
            let row = row(key, mean, 0.5, 0.9);
            Row { sure: Sure { lower_quartile, ..row.sure }, guessed, ..row }
        };
        let rows = [with('a', 0.6, 0.2, false), with('b', 0.5, 0.3, false), with('c', 0.9, 0.9, true), with('d', 0.55, 0.3, false)];
        assert_eq!(order(&rows, RankBy::Fruit), "dbac");
        for &by in RankBy::ALL {
            assert!(order(&rows, by).ends_with('c'), "{by}");
        }
    }

    #[test]
    fn rows_equal_in_everything_go_by_key_and_a_difference_nobody_could_observe_is_none() {
        let rows = [row('b', 0.5, 0.3, 0.9), row('c', 0.5 + 1e-12, 0.3 + 1e-12, 0.9), row('a', 0.5, 0.3, 0.9 - 1e-12)];
        for &by in RankBy::ALL {
            assert_eq!(order(&rows, by), "abc", "{by}");
        }
        let seen = [row('a', 0.5, 0.3, 0.9), row('b', 0.5 + 1e-6, 0.3 + 1e-6, 0.9 + 1e-6)];
        for &by in RankBy::ALL {
            assert_eq!(order(&seen, by), "ba", "{by}");
        }
    }

    // The levels exclude one another, so chances of several add up: by hand from 5, 2, 1, 1 and 1 winters in ten.
    #[test]
    fn a_row_counts_its_winters_by_what_they_leave() {
        let mut winters = row('a', 0.0, 0.0, 0.0);
        winters.winter.chance = Levels { unharmed: 0.5, tips: 0.2, wood: 0.1, to_ground: 0.1, dead: 0.1 };
        for (counted, by_hand) in [(winters.keeps_wood(), 0.7), (winters.stays_alive(), 0.9), (winters.loses_top(), 0.2)] {
            assert!((counted - by_hand).abs() < 1e-12, "{counted} {by_hand}");
        }
    }
}
