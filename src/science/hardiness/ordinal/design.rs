//! The columns of the records in the border, laid out for a pass: a row of effects, as long as a whole number of vectors, and one group level.
//!
//! A record's column in the border is x = (row of effects, 1 at its group level); an effect that every record of one group level has besides
//! ([`super::spec::Group::own`]) is the same column as that level, so sums are kept of the level alone and copied ([`Columns::into_border`]). Effects that no
//! record has, such as the mean of a class, have no column. What a pass adds up over columns is therefore a matrix in three parts, which meets
//! the border once at its end.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use std::collections::BTreeSet;
use std::hint::black_box;

use nalgebra::{DMatrix, DVector};

use super::patterns::{Patterns, Slot};
use super::spec::Spec;
use crate::science::numeric::Aligned;
use crate::science::numeric::eight_numbers::{Eight, LANES};

/// Rows of effects and places of columns in the border.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Design {
    /// Border slots of the effects that some record has.
    effects: Vec<u32>,
    /// Length of a row of effects, a whole number of [`LANES`].
    pub wide: usize,
    /// Row of each pattern.
    rows: Aligned,
    /// Group levels; one where records have none, which meets no border.
    pub groups: usize,
    /// Length of a row of numbers by group level, a whole number of [`LANES`].
    pub stride: usize,
    /// Border slots of each group level: its own, and that of the effect that all its records have.
    slots: Vec<[Option<u32>; 2]>,
}

impl Design {
    /// Of a specification whose effects lie in `of_effects`, with group levels from `first_group` on.
    pub fn new(spec: &Spec, patterns: &Patterns, of_effects: &[Slot], first_group: usize) -> Self {
        let slots = (0..patterns.len() as u32).flat_map(|pattern| patterns.border(pattern)).map(|(slot, _)| *slot);
        let effects: Vec<u32> = slots.collect::<BTreeSet<u32>>().into_iter().collect();
        let wide = effects.len().next_multiple_of(LANES);
        let mut rows = Aligned::zeros(patterns.len() * wide);
        for (pattern, row) in rows.chunks_exact_mut(wide.max(1)).enumerate() {
            for &(slot, x) in patterns.border(pattern as u32) {
                row[effects.partition_point(|known| *known < slot)] += x;
            }
        }
        let border = |effect: usize| match of_effects[effect] {
            Slot::Border(slot) => Some(slot as u32),
            Slot::Maximised(_) => None,
        };
        let slots = match &spec.group {
            Some(group) => (0..group.parents.len())
                .map(|level| [Some((first_group + level) as u32), group.own.get(level).copied().flatten().and_then(border)])
                .collect(),
            None => vec![[None; 2]],
        };
        let groups = slots.len();
        Self { effects, wide, rows, groups, stride: groups.next_multiple_of(LANES), slots }
    }

    /// Row of effects of a pattern.
    #[inline(always)]
    pub fn row(&self, pattern: u32) -> &[f64] {
        &self.rows[pattern as usize * self.wide..][..self.wide]
    }

    /// Number of effects that some record has: rows end on noughts beyond it.
    pub fn effects(&self) -> usize {
        self.effects.len()
    }

    /// Bytes held.
    pub fn bytes(&self) -> usize {
        self.rows.len() * 8
    }

    /// What a vector over the border is for each group level: the level and its own effect together.
    pub fn of_groups(&self, border: &[f64]) -> Vec<f64> {
        self.slots.iter().map(|slots| slots.iter().flatten().map(|slot| border[*slot as usize]).sum()).collect()
    }

    /// Adds to a vector over the border one over the columns.
    pub fn add_vector(&self, of_effects: &[f64], of_groups: &[f64], border: &mut DVector<f64>) {
        self.places_of_effects().for_each(|(slot, a)| border[slot] += of_effects[a]);
        self.places_of_groups().for_each(|(slot, g)| border[slot] += of_groups[g]);
    }

    /// Adds to a vector over the border a multiple of one record's column.
    pub fn add_record(&self, group: u32, pattern: u32, factor: f64, border: &mut DVector<f64>) {
        self.effects.iter().zip(self.row(pattern)).for_each(|(slot, x)| border[*slot as usize] += factor * x);
        self.slots[group as usize].iter().flatten().for_each(|slot| border[*slot as usize] += factor);
    }

    /// Adds to rows of a matrix over the border rows over the columns, `wide` numbers after `wide` numbers.
    pub fn add_rows(&self, of_effects: &[f64], of_groups: &[f64], wide: usize, border: &mut DMatrix<f64>) {
        for n in 0..border.ncols() {
            let mut to = border.column_mut(n);
            self.places_of_effects().for_each(|(slot, a)| to[slot] += of_effects[a * wide + n]);
            self.places_of_groups().for_each(|(slot, g)| to[slot] += of_groups[g * wide + n]);
        }
    }

    /// Border slots with the group level whose column they are.
    fn places_of_groups(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.slots.iter().enumerate().flat_map(|(g, slots)| slots.iter().flatten().map(move |slot| (*slot as usize, g)))
    }

    /// The same of effects.
    fn places_of_effects(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.effects.iter().enumerate().map(|(a, slot)| (*slot as usize, a))
    }
}

/// A symmetric matrix over the columns.
#[derive(Debug, Clone)]
pub(super) struct Columns {
    /// Effects by effects, rows of `wide`.
    pub effects: Aligned,
    /// Group levels by effects, rows of `wide`.
    pub across: Aligned,
    /// Group levels by group levels, `stride` rows of `stride`. While sums are taken, half of the matrix: with its transpose it makes the whole.
    pub groups: Aligned,
}

impl Columns {
    pub fn new(design: &Design) -> Self {
        let Design { wide, groups, stride, .. } = *design;
        Self {
            effects: Aligned::zeros(design.effects() * wide),
            across: Aligned::zeros(groups * wide),
            groups: Aligned::zeros(stride * stride),
        }
    }

    /// Adds the sums of another.
    pub fn add(&mut self, other: &Self) {
        for (to, from) in [(&mut self.effects, &other.effects), (&mut self.across, &other.across), (&mut self.groups, &other.groups)] {
            to.iter_mut().zip(from.iter()).for_each(|(to, from)| *to += from);
        }
    }

    /// The matrix over the border, from sums.
    pub fn into_border(self, design: &Design, border: usize) -> DMatrix<f64> {
        let Design { wide, stride, .. } = *design;
        let Self { effects, across, groups } = self;
        let mut matrix = DMatrix::zeros(border, border);
        let columns = matrix.as_mut_slice();
        for (slot, a) in design.places_of_effects() {
            let to = &mut columns[slot * border..][..border];
            design.places_of_effects().for_each(|(slot, b)| to[slot] += effects[a * wide + b]);
            design.places_of_groups().for_each(|(slot, g)| to[slot] += across[g * wide + a]);
        }
        for (slot, g) in design.places_of_groups() {
            let to = &mut columns[slot * border..][..border];
            design.places_of_effects().for_each(|(slot, a)| to[slot] += across[g * wide + a]);
            design.places_of_groups().for_each(|(slot, h)| to[slot] += groups[g * stride + h] + groups[h * stride + g]);
        }
        matrix
    }

    /// T'·V·T for a symmetric matrix V over the border and T that takes columns there: what it is for columns.
    pub fn of_border(design: &Design, matrix: &DMatrix<f64>) -> Self {
        let Design { wide, stride, .. } = *design;
        let mut columns = Self::new(design);
        let border = matrix.nrows();
        let from = |slot: usize| &matrix.as_slice()[slot * border..][..border];
        for (slot, a) in design.places_of_effects() {
            let (from, to) = (from(slot), &mut columns.effects[a * wide..][..wide]);
            design.places_of_effects().for_each(|(slot, b)| to[b] += from[slot]);
        }
        for (slot, g) in design.places_of_groups() {
            let (from, to) = (from(slot), &mut columns.across[g * wide..][..wide]);
            design.places_of_effects().for_each(|(slot, a)| to[a] += from[slot]);
            let to = &mut columns.groups[g * stride..][..stride];
            design.places_of_groups().for_each(|(slot, h)| to[h] += from[slot]);
        }
        columns
    }
}

/// Coupling of one level to the columns, of which it may touch few groups.
pub(super) struct Coupling {
    pub effects: Aligned,
    /// Nought where not touched.
    pub groups: Aligned,
    /// The groups touched, then one more place to write to.
    touched: Vec<u32>,
    count: usize,
    marked: Vec<bool>,
}

impl Coupling {
    pub fn new(design: &Design) -> Self {
        let Design { wide, groups, stride, .. } = *design;
        Self {
            effects: Aligned::zeros(wide),
            groups: Aligned::zeros(stride),
            touched: vec![0; groups + 1],
            count: 0,
            marked: vec![false; groups],
        }
    }

    #[inline(always)]
    pub fn add_group(&mut self, group: usize, value: f64) {
        // Written whether it is new or not, and kept where it is: which of the two cannot be guessed ahead.
        self.touched[self.count] = group as u32;
        self.count += usize::from(!self.marked[group]);
        self.marked[group] = true;
        self.groups[group] += value;
    }

    /// Groups touched, in the order in which they were.
    #[inline(always)]
    pub fn touched(&self) -> &[u32] {
        &self.touched[..self.count]
    }

    #[inline(always)]
    pub fn clear(&mut self) {
        for &group in &self.touched[..self.count] {
            self.groups[group as usize] = 0.0;
            self.marked[group as usize] = false;
        }
        self.count = 0;
        self.effects.fill(0.0);
    }
}

/// Adds a multiple of a row, both a whole number of [`LANES`] long.
#[inline(always)]
pub(super) fn add_row(to: &mut [f64], from: &[f64], factor: f64) {
    match (to.as_chunks_mut().0, from.as_chunks().0) {
        ([to], [from]) => add_eight(to, from, factor),
        (to, from) => to.iter_mut().zip(from).for_each(|(to, from)| add_eight(to, hidden(from), factor)),
    }
}

#[inline(always)]
fn add_eight(to: &mut Eight, from: &Eight, factor: f64) {
    let (mut sum, from) = (*to, *from);
    for i in 0..LANES {
        sum[i] += factor * from[i];
    }
    *to = sum;
}

/// Eight numbers of which the compiler does not see where they come from. Where it sees rows of eight it takes eight rows at a time, gathered and
/// scattered number by number, which takes some six times as long.
#[inline(always)]
fn hidden(eight: &Eight) -> &Eight {
    black_box(eight)
}

/// Sum of the products of two rows, lanes added in pairs.
#[inline(always)]
pub(super) fn product(a: &[f64], b: &[f64]) -> f64 {
    let add = |sums: &mut Eight, (a, b): (&Eight, &Eight)| {
        for i in 0..LANES {
            sums[i] += a[i] * b[i];
        }
    };
    let mut sums = [0.0; LANES];
    match (a.as_chunks().0, b.as_chunks().0) {
        ([a], [b]) => add(&mut sums, (a, b)),
        (a, b) => a.iter().zip(b).for_each(|(a, b)| add(&mut sums, (a, hidden(b)))),
    }
    in_pairs(sums)
}

/// Sum of the products of a row with what two others differ by, lanes added in pairs.
#[inline(always)]
pub(super) fn product_of_difference(x: &[f64], a: &[f64], b: &[f64]) -> f64 {
    let add = |sums: &mut Eight, (x, a, b): (&Eight, &Eight, &Eight)| {
        for i in 0..LANES {
            sums[i] += x[i] * (a[i] - b[i]);
        }
    };
    let mut sums = [0.0; LANES];
    match (x.as_chunks().0, a.as_chunks().0, b.as_chunks().0) {
        ([x], [a], [b]) => add(&mut sums, (x, a, b)),
        (x, a, b) => x.iter().zip(a).zip(b).for_each(|((x, a), b)| add(&mut sums, (x, a, hidden(b)))),
    }
    in_pairs(sums)
}

#[inline(always)]
fn in_pairs([a, b, c, d, e, f, g, h]: Eight) -> f64 {
    ((a + e) + (c + g)) + ((b + f) + (d + h))
}
