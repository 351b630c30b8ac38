//! How many years in ten a fig bears in the long run, as far as it is known: a distribution, kept apart by what all figs of a place share, so
//! that two of them can be compared without their common doubt.
//!
//! Shared: how cold and how warm the place is, what setting, cover, age and store do, what roots in a pot stand. Own: how hardy the kind is,
//! what its crop needs, whether it bears on shoots from the base. Given what is shared, kinds are taken as independent.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use std::hint::black_box;
use std::ops::Range;

use crate::science::numeric::eight_numbers::{LANES, Line};

/// Shares this near are told as the same: half a year in ten. DESIGN: nobody would notice less.
pub const SAME: f64 = 0.05;
/// Weight among which a quantile is looked for share by share, 0..1; or how near to each other shares are, however much they weigh.
const LITTLE: f64 = 1.0 / 64.0;
const NEAR: f64 = 1e-4;
/// Weight beyond a quantile at which cuts are aimed, so that one soon lies on either side of it.
const BEYOND: f64 = 0.5 * LITTLE;
/// Least part that a cut leaves on a side, so that both sides come near soon.
const LEAST_PART: f64 = 1.0 / 16.0;
/// More than any share.
const ABOVE_ALL: f64 = 1.0 + 4.0 * f64::EPSILON;

/// A share of years with the weight that it has.
pub(super) type Weighted = (f64, f64);

/// Shares of years with ripe figs that one fig may have at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct LongRun {
    /// Weight of each state of what is shared; they sum to 1.
    states: Vec<f64>,
    /// Shares possible in each state: eight states side by side, a row for each share; what stands beside the last state means nothing.
    rows: Vec<Line>,
    /// Rows of a state that are of one weight, and that of each: the same in all states, where they sum to 1.
    weights: Vec<(Range<usize>, f64)>,
    /// A few rows of a state that stand for all, with their weights: for where many figs are held against each other.
    few: Vec<(usize, f64)>,
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

impl LongRun {
    /// From the shares of each state, their weights and the few that stand for them.
    pub(super) fn new(states: Vec<f64>, rows: Vec<Line>, weights: Vec<(Range<usize>, f64)>, few: Vec<(usize, f64)>) -> Self {
        Self { states, rows, weights, few }
    }

    /// The same with every share standing for itself.
    #[cfg(test)]
    pub(super) fn with_every_share(self) -> Self {
        let few = self.weights.iter().flat_map(|(alike, weight)| alike.clone().map(move |row| (row, *weight))).collect();
        Self { few, ..self }
    }

    /// Weights of the states.
    pub(super) fn states(&self) -> &[f64] {
        &self.states
    }

    /// The few shares of a state that stand for all, with their weights.
    pub(super) fn few(&self, state: usize) -> impl Iterator<Item = Weighted> + '_ {
        let rows = self.rows_of(state);
        self.few.iter().filter_map(move |(row, weight)| Some((rows.get(*row)?.0[state % LANES], *weight)))
    }

    /// Rows of a state.
    fn length(&self) -> usize {
        self.weights.last().map_or(0, |(alike, _)| alike.end)
    }

    /// Rows of the eight states that one is among.
    fn rows_of(&self, state: usize) -> &[Line] {
        self.rows.chunks(self.length().max(1)).nth(state / LANES).unwrap_or_default()
    }

    /// Rows of each eight states, with the weights of these.
    #[inline(always)]
    fn eights(&self) -> impl Iterator<Item = (&[Line], &[f64])> {
        self.rows.chunks(self.length().max(1)).zip(self.states.chunks(LANES))
    }

    /// Shares of a state with their weights, ascending.
    fn list(&self, state: usize) -> Vec<Weighted> {
        let rows = self.rows_of(state);
        let of_weight = |(alike, weight): &(Range<usize>, f64)| {
            let weight = *weight;
            rows.get(alike.clone()).unwrap_or_default().iter().map(move |row| (row.0[state % LANES], weight))
        };
        let mut list: Vec<Weighted> = self.weights.iter().flat_map(of_weight).collect();
        list.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        list
    }

    /// The share below which it lies with chance `p`.
    pub fn quantile(&self, p: f64) -> f64 {
        pulp::Arch::new().dispatch(Quantile { run: self, p })
    }

    /// Chance that the share is at least `x`.
    pub fn at_least(&self, x: f64) -> f64 {
        // Weights may sum to a little more than 1.
        (1.0 - pulp::Arch::new().dispatch(Below { run: self, x })).max(0.0)
    }

    /// Chance that it is less than `x`, every share looked at.
    #[inline(always)]
    fn below(&self, x: f64) -> f64 {
        let mut sum = 0.0;
        for (rows, states) in self.eights() {
            let mut below = [0.0; LANES];
            for (alike, weight) in &self.weights {
                let mut count = [0_u64; LANES];
                for row in rows.get(alike.clone()).unwrap_or_default() {
                    // Not seen through, or the compiler takes eight rows at a time instead of the eight numbers of each, and gathers these one by one.
                    let Line(row) = black_box(row);
                    for i in 0..LANES {
                        count[i] += u64::from(row[i] < x);
                    }
                }
                for i in 0..LANES {
                    below[i] += weight * count[i] as f64;
                }
            }
            sum += states.iter().zip(below).map(|(weight, below)| weight * below).sum::<f64>();
        }
        sum
    }

    /// This fig beside another at the same place.
    pub fn beside(&self, other: &Self) -> Comparison {
        let mut sum = Comparison { first: 0.0, second: 0.0, same: 0.0, first_ahead: 0.0 };
        for (state, weight) in self.states.iter().enumerate() {
            let theirs = other.list(state);
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

/// Work for the vector instructions of the processor: how likely a share is to be less than a number.
struct Below<'a> {
    run: &'a LongRun,
    x: f64,
}

impl pulp::NullaryFnOnce for Below<'_> {
    type Output = f64;

    #[inline(always)]
    fn call(self) -> f64 {
        self.run.below(self.x)
    }
}

/// The same: the share below which it lies with a chance.
struct Quantile<'a> {
    run: &'a LongRun,
    p: f64,
}

impl pulp::NullaryFnOnce for Quantile<'_> {
    type Output = f64;

    #[inline(always)]
    fn call(self) -> f64 {
        let Self { run, p } = self;
        // Between these it lies, with so much weight below each; cut where it would be, were weight spread evenly, until little is between.
        let (mut low, mut before, mut high, mut upto) = (0.0, 0.0, ABOVE_ALL, 1.0);
        let mut beyond = -BEYOND;
        while upto - before > LITTLE && high - low > NEAR {
            let part = ((p + beyond - before) / (upto - before)).clamp(LEAST_PART, 1.0 - LEAST_PART);
            let cut = low + part * (high - low);
            let below = run.below(cut);
            if below < p {
                (low, before, beyond) = (cut, below, BEYOND);
            } else {
                (high, upto, beyond) = (cut, below, -BEYOND);
            }
        }
        let mut between: Vec<Weighted> = Vec::new();
        for (rows, states) in run.eights() {
            for (alike, own) in &run.weights {
                for Line(row) in rows.get(alike.clone()).unwrap_or_default() {
                    let within = |share: f64| share >= low && share < high;
                    // Few rows have any, and all eight are looked at in one go.
                    if row.iter().fold(false, |any, share| any | within(*share)) {
                        let within = row.iter().zip(states).filter(|(share, _)| within(**share));
                        between.extend(within.map(|(share, of_state)| (*share, of_state * own)));
                    }
                }
            }
        }
        between.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        let reached = between.iter().find(|(_, weight)| {
            before += weight;
            before >= p
        });
        // Where rounding leaves the sum short of it, the last share is it.
        reached.or(between.last()).map_or(low, |(share, _)| *share)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Shares between 0 and 1, of which many are the same, of two weights.
    fn any_long_run() -> impl Strategy<Value = LongRun> {
        let share = prop_oneof![Just(0.0), Just(1.0), 0.3..0.31f64, 0.0..1.0f64];
        (1..20usize, 1..40usize, 0.05..0.95f64)
            .prop_flat_map(move |(states, length, bears)| {
                let row = proptest::array::uniform8(share.clone()).prop_map(Line);
                (Just((states, length, bears)), proptest::collection::vec(row, states.div_ceil(LANES) * 2 * length))
            })
            .prop_map(|((states, length, bears), rows)| {
                let sum = (states * (states + 1) / 2) as f64;
                let of_states = (1..=states).map(|n| n as f64 / sum).collect();
                let weights = vec![(0..length, bears / length as f64), (length..2 * length, (1.0 - bears) / length as f64)];
                LongRun::new(of_states, rows, weights, Vec::new())
            })
    }

    proptest! {
        // By the definitions: the first of all shares in order up to which weights come to the part asked for, and the sum of the weights beyond.
        #[test]
        fn quantiles_and_tails_are_those_of_all_shares_in_order(run in any_long_run(), p in 0.01..0.99f64, x in 0.0..1.0f64) {
            let of_state = |n: usize| run.list(n).into_iter().map(|(x, w)| (x, w * run.states[n])).collect::<Vec<_>>();
            let mut all: Vec<Weighted> = (0..run.states.len()).flat_map(of_state).collect();
            all.sort_by(|a, b| a.0.total_cmp(&b.0));
            let below = |margin: f64| {
                let mut sum = 0.0;
                all.iter().find(|(_, w)| { sum += w; sum >= p + margin }).or(all.last()).map_or(0.0, |(x, _)| *x)
            };
            let got = run.quantile(p);
            prop_assert!(below(-1e-12) <= got && got <= below(1e-12), "{got}");
            let beyond: f64 = all.iter().filter(|(share, _)| *share >= x).map(|(_, w)| w).sum();
            prop_assert!((run.at_least(x) - beyond).abs() < 1e-12 && (0.0..=1.0).contains(&run.at_least(x)));
        }
    }
}
