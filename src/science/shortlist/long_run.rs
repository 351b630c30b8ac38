//! How many years in ten a fig bears in the long run, as far as it is known: a distribution, kept apart by what all figs of a place share, so
//! that two of them can be compared without their common doubt.
//!
//! Shared: how cold and how warm the place is, what setting, cover, age and store do, what roots in a pot stand. Own: how hardy the kind is,
//! what its crop needs, whether it bears on shoots from the base. Given what is shared, kinds are taken as independent.

use crate::science::numeric::eight_numbers::{Eight, LANES};

/// Shares this near are told as the same: half a year in ten. DESIGN: nobody would notice less.
pub const SAME: f64 = 0.05;

/// Equal slices of the shares in which a quantile is looked for first.
const SLICES: usize = 64;
/// A share of years with the weight that it has.
pub(super) type Weighted = (f64, f64);

/// Shares of years with ripe figs that one fig may have at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct LongRun {
    /// Weight of each state of what is shared; they sum to 1.
    pub(super) states: Vec<f64>,
    /// Shares possible in each state, ascending: eight states side by side, a row for each share; what stands beside the last of them means
    /// nothing. The last bits of a share say which of the combinations it is of, so that both keep together when shares are put in order, and
    /// equal ones stand in the order of combinations.
    pub(super) rows: Vec<Eight>,
    /// Weight of each combination; those of a state sum to 1.
    pub(super) own: Vec<f64>,
}

/// Which of two bears in more years, as chances that sum to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Comparison {
    /// The first does, by half a year in ten or more.
    pub first: f64,
    /// The second does.
    pub second: f64,
    /// Neither: within half a year in ten.
    pub same: f64,
    /// The first bears in more years by however little, ties halved.
    pub first_ahead: f64,
}

/// How much of an ascending list lies behind a bound that only moves on.
#[derive(Default)]
struct Passed {
    count: usize,
    weight: f64,
}

impl Passed {
    fn pass(&mut self, list: &[Weighted], behind: impl Fn(f64) -> bool) -> f64 {
        while let Some((_, w)) = list.get(self.count).filter(|(y, _)| behind(*y)) {
            self.weight += w;
            self.count += 1;
        }
        self.weight
    }
}

/// The bits of a share that say of which of so many combinations it is: a share loses less than 1e-12 by them.
fn bits(combinations: usize) -> u64 {
    combinations.next_power_of_two() as u64 - 1
}

/// A share that carries which of so many combinations it is of.
#[inline]
pub(super) fn marked(share: f64, combination: usize, combinations: usize) -> f64 {
    f64::from_bits((share.to_bits() & !bits(combinations)) | combination as u64)
}

impl LongRun {
    /// A share as it is kept, told apart into share and weight.
    #[inline]
    fn told(&self, kept: f64) -> Weighted {
        let bits = bits(self.own.len());
        let combination = (kept.to_bits() & bits) as usize;
        (f64::from_bits(kept.to_bits() & !bits), self.own.get(combination).copied().unwrap_or_default())
    }

    /// Weight of a state.
    pub(super) fn weight(&self, state: usize) -> f64 {
        self.states.get(state).copied().unwrap_or_default()
    }

    /// Shares of a state with their weights, ascending.
    pub(super) fn list(&self, state: usize) -> impl Iterator<Item = Weighted> + '_ {
        let (eight, lane) = (state / LANES, state % LANES);
        let rows = self.rows.get(eight * self.own.len()..(eight + 1) * self.own.len()).unwrap_or_default();
        rows.iter().map(move |row| self.told(row[lane]))
    }

    /// The largest share of a state.
    pub(super) fn largest(&self, state: usize) -> f64 {
        let last = self.rows.get((state / LANES + 1) * self.own.len() - 1);
        last.map_or(0.0, |row| self.told(row[state % LANES]).0)
    }

    /// Looks at every share with its weight in all.
    #[inline]
    fn each(&self, mut look: impl FnMut(f64, f64)) {
        for (rows, states) in self.rows.chunks(self.own.len().max(1)).zip(self.states.chunks(LANES)) {
            for row in rows {
                for (kept, state) in row.iter().zip(states) {
                    let (share, own) = self.told(*kept);
                    look(share, state * own);
                }
            }
        }
    }

    /// The share below which it lies with chance `p`.
    pub fn quantile(&self, p: f64) -> f64 {
        let slice = |share: f64| ((share * SLICES as f64) as usize).min(SLICES - 1);
        let mut slices = [0.0; SLICES];
        self.each(|share, weight| slices[slice(share)] += weight);
        // The slice in which the sum of weights comes to `p`, or the last that holds any.
        let (mut before, mut found) = (0.0, None);
        for (at, weight) in slices.into_iter().enumerate().filter(|(_, weight)| *weight > 0.0) {
            before = found.map_or(0.0, |(_, upto)| upto);
            found = Some((at, before + weight));
            if before + weight >= p {
                break;
            }
        }
        let Some((at, _)) = found else { return 0.0 };
        let mut within: Vec<Weighted> = Vec::new();
        self.each(|share, weight| {
            if slice(share) == at {
                within.push((share, weight));
            }
        });
        within.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let reached = within.iter().find(|(_, weight)| {
            before += weight;
            before >= p
        });
        reached.or(within.last()).map_or(0.0, |(share, _)| *share)
    }

    /// Chance that the share is at least `x`.
    pub fn at_least(&self, x: f64) -> f64 {
        let mut sum = 0.0;
        self.each(|share, weight| sum += if share >= x { weight } else { 0.0 });
        sum
    }

    /// This fig beside another at the same place.
    pub fn beside(&self, other: &Self) -> Comparison {
        let mut sum = Comparison { first: 0.0, second: 0.0, same: 0.0, first_ahead: 0.0 };
        for (state, weight) in self.states.iter().enumerate() {
            let theirs: Vec<Weighted> = other.list(state).collect();
            // Both lists ascend, so each bound moves on only.
            let (mut near_from, mut below, mut upto, mut near_to) =
                (Passed::default(), Passed::default(), Passed::default(), Passed::default());
            for (x, w) in self.list(state) {
                let weight = weight * w;
                let less = near_from.pass(&theirs, |y| y <= x - SAME);
                let not_more = near_to.pass(&theirs, |y| y < x + SAME);
                sum.first += weight * less;
                sum.same += weight * (not_more - less);
                sum.second += weight * (1.0 - not_more);
                sum.first_ahead += weight * 0.5 * (below.pass(&theirs, |y| y < x) + upto.pass(&theirs, |y| y <= x));
            }
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::numeric::sorted_eights::sort_eights;
    use proptest::prelude::*;

    /// Shares between 0 and 1, of which many are the same.
    fn any_long_run() -> impl Strategy<Value = LongRun> {
        let share = prop_oneof![Just(0.0), Just(1.0), 0.3..0.31f64, 0.0..1.0f64];
        (1..20usize, 1..40usize)
            .prop_flat_map(move |(states, combinations)| {
                let row = proptest::array::uniform8(share.clone());
                let rows = proptest::collection::vec(row, states.div_ceil(LANES) * combinations);
                (Just(states), rows, proptest::collection::vec(0.1..1.0f64, combinations))
            })
            .prop_map(|(states, mut rows, own)| {
                let part = |weights: Vec<f64>| {
                    let sum: f64 = weights.iter().sum();
                    weights.into_iter().map(|w| w / sum).collect::<Vec<_>>()
                };
                for rows in rows.chunks_mut(own.len()) {
                    rows.iter_mut().enumerate().for_each(|(n, row)| *row = row.map(|share| marked(share, n, own.len())));
                    sort_eights(rows);
                }
                LongRun { states: part((1..=states).map(|n| n as f64).collect()), rows, own: part(own) }
            })
    }

    proptest! {
        // By the definitions: the first of all shares in order up to which weights come to the part asked for, and the sum of the weights beyond.
        #[test]
        fn quantiles_and_tails_are_those_of_all_shares_in_order(run in any_long_run(), p in 0.01..0.99f64, x in 0.0..1.0f64) {
            let mut all: Vec<Weighted> = (0..run.states.len()).flat_map(|n| run.list(n).map(|(x, w)| (x, w * run.states[n])).collect::<Vec<_>>()).collect();
            all.sort_by(|a, b| a.0.total_cmp(&b.0));
            let below = |margin: f64| {
                let mut sum = 0.0;
                all.iter().find(|(_, w)| { sum += w; sum >= p + margin }).or(all.last()).map_or(0.0, |(x, _)| *x)
            };
            let got = run.quantile(p);
            prop_assert!(below(-1e-12) <= got && got <= below(1e-12), "{got}");
            let beyond: f64 = all.iter().filter(|(share, _)| *share >= x).map(|(_, w)| w).sum();
            prop_assert!((run.at_least(x) - beyond).abs() < 1e-12);
        }
    }
}
