//! How many years in ten a fig bears in the long run, as far as it is known: a distribution, kept apart by what all figs of a place share, so
//! that two of them can be compared without their common doubt.
//!
//! Shared: how cold and how warm the place is, what setting, cover, age and store do, what roots in a pot stand. Own: how hardy the kind is,
//! what its crop needs, whether it bears on shoots from the base. Given what is shared, kinds are taken as independent.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use crate::science::numeric::eight_numbers::{Eight, LANES};

/// Shares this near are told as the same: half a year in ten. DESIGN: nobody would notice less.
pub const SAME: f64 = 0.05;
/// Equal parts by which the shares of a state are stood for where many figs are held against each other; sums of weights may be rounded to 1, so
/// that there is room for one more.
const PARTS: f64 = 16.0;
const ROOM: usize = 17;
/// The last bit of a share's fraction: its way of bearing.
const WAY: u64 = 1;
/// Weight among which a quantile is looked for share by share, 0..1; or how near to each other shares are, however much they weigh.
const LITTLE: f64 = 1.0 / 64.0;
const NEAR: f64 = 1e-4;
/// Least part that a cut leaves on a side, so that both sides come near soon.
const LEAST_PART: f64 = 1.0 / 16.0;
/// More than any share with its way of bearing.
const ABOVE_ALL: f64 = 1.0 + 4.0 * f64::EPSILON;

/// A share of years with the weight that it has.
pub(super) type Weighted = (f64, f64);

/// Shares of years with ripe figs that one fig may have at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct LongRun {
    /// Weight of each state of what is shared; they sum to 1.
    states: Vec<f64>,
    /// Shares possible in each state, ascending: eight states side by side, a row for each share; what stands beside the last of them means
    /// nothing. The last bit of a share says its way of bearing, so that both keep together when shares are put in order.
    rows: Vec<Eight>,
    /// Shares of a state.
    length: usize,
    /// Weight of a share by its way of bearing; those of a state sum to 1.
    ways: [f64; 2],
    /// Parts of the shares of each state, ascending: each a run of them by its mean, with their weight; for each eight states as many rows.
    parts: Vec<Part>,
}

/// A part of the shares of each of eight states: their mean and weight; of no weight where there is none.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
struct Part {
    mean: Eight,
    weight: Eight,
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

/// A share that carries its way of bearing, 0 or 1.
#[inline(always)]
pub(super) fn marked(share: f64, way: usize) -> f64 {
    f64::from_bits((share.to_bits() & !WAY) | way as u64)
}

impl LongRun {
    /// From shares that carry their ways of bearing, ascending, `length` rows for each eight states.
    pub(super) fn new(states: Vec<f64>, rows: Vec<Eight>, length: usize, ways: [f64; 2]) -> Self {
        let mut run = Self { states, rows, length, ways, parts: Vec::new() };
        run.parts = pulp::Arch::new().dispatch(Parting { run: &run });
        run
    }

    /// A share as it is kept, told apart into share and weight.
    #[inline(always)]
    fn told(&self, kept: f64) -> Weighted {
        let weight = if kept.to_bits() & WAY == WAY { self.ways[1] } else { self.ways[0] };
        (f64::from_bits(kept.to_bits() & !WAY), weight)
    }

    /// Weights of the states.
    pub(super) fn states(&self) -> &[f64] {
        &self.states
    }

    /// The parts of a state, ascending.
    pub(super) fn parts(&self, state: usize) -> impl DoubleEndedIterator<Item = Weighted> + '_ {
        let (eight, lane) = (state / LANES, state % LANES);
        let parts = self.parts.get(eight * ROOM..(eight + 1) * ROOM).unwrap_or_default();
        parts.iter().map(move |part| (part.mean[lane], part.weight[lane])).filter(|(_, weight)| *weight > 0.0)
    }

    /// Rows of each eight states, with the weights of these.
    #[inline(always)]
    fn eights(&self) -> impl Iterator<Item = (&[Eight], &[f64])> {
        self.rows.chunks(self.length.max(1)).zip(self.states.chunks(LANES))
    }

    /// Shares of a state with their weights, ascending.
    fn list(&self, state: usize) -> impl Iterator<Item = Weighted> + '_ {
        self.rows_of(state).iter().map(move |row| self.told(row[state % LANES]))
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

    /// Chance that it is less than `x`, every share looked at: quicker for eight states at once than to search each of them.
    #[inline(always)]
    fn below(&self, x: f64) -> f64 {
        // A share and its way of bearing together are less than `x` where the share alone is.
        let x = marked(x, 0);
        let mut sum = 0.0;
        for (rows, states) in self.eights() {
            let counted = |share: f64| {
                let own = if share.to_bits() & WAY == WAY { self.ways[1] } else { self.ways[0] };
                if share < x { own } else { 0.0 }
            };
            // Four sums, so that none waits for the one before.
            let mut below = [[0.0; LANES]; 4];
            let (fours, last) = rows.as_chunks::<4>();
            for rows in fours {
                for i in 0..LANES {
                    below[0][i] += counted(rows[0][i]);
                    below[1][i] += counted(rows[1][i]);
                    below[2][i] += counted(rows[2][i]);
                    below[3][i] += counted(rows[3][i]);
                }
            }
            for row in last {
                for i in 0..LANES {
                    below[0][i] += counted(row[i]);
                }
            }
            for (i, weight) in states.iter().enumerate() {
                sum += weight * (below[0][i] + below[1][i] + below[2][i] + below[3][i]);
            }
        }
        sum
    }

    /// Rows of the eight states that one is among.
    fn rows_of(&self, state: usize) -> &[Eight] {
        let eight = state / LANES;
        self.rows.get(eight * self.length..(eight + 1) * self.length).unwrap_or_default()
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
        while upto - before > LITTLE && high - low > NEAR {
            let part = ((p - before) / (upto - before)).clamp(LEAST_PART, 1.0 - LEAST_PART);
            let cut = marked(low + part * (high - low), 0);
            let below = run.below(cut);
            if below < p {
                (low, before) = (cut, below);
            } else {
                (high, upto) = (cut, below);
            }
        }
        let mut between: Vec<Weighted> = Vec::new();
        for (rows, states) in run.eights() {
            for row in rows {
                for (kept, of_state) in row.iter().zip(states).filter(|(kept, _)| **kept >= low && **kept < high) {
                    let (share, own) = run.told(*kept);
                    between.push((share, of_state * own));
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

/// The same: the parts of every state.
struct Parting<'a> {
    run: &'a LongRun,
}

impl pulp::NullaryFnOnce for Parting<'_> {
    type Output = Vec<Part>;

    #[inline(always)]
    fn call(self) -> Self::Output {
        let mut parts = Vec::with_capacity(ROOM * self.run.states.len().div_ceil(LANES));
        for (rows, _) in self.run.eights() {
            let mut found = [Part::default(); ROOM];
            // Sixteenths of the weight before a row, and the first part that is not full in every state.
            let (mut before, mut first) = ([0.0; LANES], 0);
            for row in rows {
                let (mut share, mut own, mut least) = ([0.0; LANES], [0.0; LANES], f64::INFINITY);
                for i in 0..LANES {
                    (share[i], own[i]) = self.run.told(row[i]);
                    least = if before[i] < least { before[i] } else { least };
                }
                while first + 1 < ROOM && least >= (first + 1) as f64 {
                    first += 1;
                }
                for (at, part) in found.iter_mut().enumerate().skip(first) {
                    let (from, to, mut later) = (at as f64, (at + 1) as f64, false);
                    for i in 0..LANES {
                        let weight = if from <= before[i] && before[i] < to { own[i] } else { 0.0 };
                        part.weight[i] += weight;
                        part.mean[i] += weight * share[i];
                        later |= before[i] >= to;
                    }
                    if !later {
                        break;
                    }
                }
                for i in 0..LANES {
                    before[i] += PARTS * own[i];
                }
            }
            for part in &mut found {
                for i in 0..LANES {
                    part.mean[i] /= part.weight[i];
                }
            }
            parts.extend(found);
        }
        parts
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
        (1..20usize, 1..40usize, 0.05..0.95f64)
            .prop_flat_map(move |(states, length, bears)| {
                let row = proptest::array::uniform8(share.clone());
                (Just((states, length, bears)), proptest::collection::vec(row, states.div_ceil(LANES) * 2 * length))
            })
            .prop_map(|((states, length, bears), mut rows)| {
                for rows in rows.chunks_mut(2 * length) {
                    rows.iter_mut().enumerate().for_each(|(n, row)| *row = row.map(|share| marked(share, n % 2)));
                    sort_eights(rows);
                }
                let sum = (states * (states + 1) / 2) as f64;
                let weights = (1..=states).map(|n| n as f64 / sum).collect();
                LongRun::new(weights, rows, 2 * length, [bears / length as f64, (1.0 - bears) / length as f64])
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
            prop_assert!((run.at_least(x) - beyond).abs() < 1e-12 && (0.0..=1.0).contains(&run.at_least(x)));
        }

        // Sixteen parts of equal weight, but for the share that lies on a bound: together they keep weight and mean, in order.
        #[test]
        fn the_parts_of_a_state_keep_its_weight_and_mean(run in any_long_run()) {
            for state in 0..run.states.len() {
                let sums = |list: &mut dyn Iterator<Item = Weighted>| list.fold((0.0, 0.0), |sum, (x, w)| (sum.0 + w, sum.1 + w * x));
                let (parts, all) = (sums(&mut run.parts(state)), sums(&mut run.list(state)));
                prop_assert!((parts.0 - all.0).abs() < 1e-12 && (parts.1 - all.1).abs() < 1e-12);
                let heaviest = run.ways[0].max(run.ways[1]) + 1.0 / PARTS;
                prop_assert!(run.parts(state).all(|(_, w)| w <= heaviest + 1e-12) && run.parts(state).is_sorted_by(|a, b| a.0 <= b.0 + 1e-12));
            }
        }
    }
}
