//! Eliminating the levels of the arrow system (see [`super::sweep`]): the sums that are left over the columns of the records.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]
#![expect(clippy::needless_range_loop, reason = "loops over lanes by index are what the compiler turns into vector instructions")]

use std::hint::black_box;

use super::design::{Columns, Coupling, Design, add_row};
use crate::science::numeric::Aligned;
use crate::science::numeric::eight_numbers::{LANES, get, put};

/// Levels that are eliminated together.
const TOGETHER: usize = 8;
/// Rows that are taken together meanwhile.
const ROWS: usize = 4;
/// Records of a block up to which each meets every other where it is eliminated; of more, sums by group level do.
pub(super) const MANY: usize = 20;
/// Groups for each one touched up to which whole rows are worked through: eight numbers at a time cost less than looking up one after another.
const WIDE: usize = 16;

/// Sum of logarithms of positive numbers, few of them taken.
pub(super) struct LogSum {
    product: f64,
    sum: f64,
}

impl LogSum {
    pub fn new() -> Self {
        Self { product: 1.0, sum: 0.0 }
    }

    #[inline(always)]
    pub fn add(&mut self, x: f64) {
        self.product *= x;
        if !(1e-100..1e100).contains(&self.product) {
            self.sum += self.product.ln();
            self.product = 1.0;
        }
    }

    pub fn get(&self) -> f64 {
        self.sum + self.product.ln()
    }
}

/// What one shard adds to value, Schur complement and right-hand side.
pub(super) struct Sums<'a> {
    design: &'a Design,
    pub value: f64,
    pub schur: Columns,
    pub gradient: Vectors,
    pub log_det: LogSum,
    /// Σ log of the precisions of the eliminated priors.
    pub log_prior: LogSum,
    pub decrement: f64,
    waiting: Waiting,
}

/// Couplings to groups of levels that are eliminated together: the rows that they are taken from are then loaded and stored once for all of them.
struct Waiting {
    count: usize,
    /// M of each, rows of `stride`.
    couplings: Aligned,
    /// M/D.
    shares: Aligned,
}

/// A vector over the columns.
pub(super) struct Vectors {
    pub effects: Aligned,
    pub groups: Aligned,
}

/// Records of one block: group level, row of effects, score and curvature of each.
#[derive(Clone, Copy)]
pub(super) struct Block<'a> {
    pub group: &'a [u32],
    pub pattern: &'a [u32],
    pub score: &'a [f64],
    pub curvature: &'a [f64],
}

impl<'a> Sums<'a> {
    pub fn new(design: &'a Design) -> Self {
        Self {
            design,
            value: 0.0,
            schur: Columns::new(design),
            gradient: Vectors { effects: Aligned::zeros(design.wide), groups: Aligned::zeros(design.stride) },
            log_det: LogSum::new(),
            log_prior: LogSum::new(),
            decrement: 0.0,
            waiting: Waiting {
                count: 0,
                couplings: Aligned::zeros(TOGETHER * design.stride),
                shares: Aligned::zeros(TOGETHER * design.stride),
            },
        }
    }

    /// Adds records of one group level and one row of effects: their score and curvature.
    #[inline(always)]
    pub fn records(&mut self, group: usize, pattern: u32, score: f64, curvature: f64) {
        self.group(group, pattern, score, curvature);
        self.effects(pattern, score, curvature);
    }

    /// What concerns the group level of it.
    #[inline(always)]
    pub fn group(&mut self, group: usize, pattern: u32, score: f64, curvature: f64) {
        let Design { wide, stride, .. } = *self.design;
        self.gradient.groups[group] += score;
        self.schur.groups[group * stride + group] += 0.5 * curvature;
        add_row(&mut self.schur.across[group * wide..][..wide], self.design.row(pattern), curvature);
    }

    /// What concerns the effects alone.
    #[inline(always)]
    pub fn effects(&mut self, pattern: u32, score: f64, curvature: f64) {
        let row = self.design.row(pattern);
        add_row(&mut self.gradient.effects, row, score);
        self.add_square(row, curvature);
    }

    /// Adds a multiple of aa' for a row of effects a.
    #[inline(always)]
    fn add_square(&mut self, row: &[f64], factor: f64) {
        let wide = self.design.wide;
        for (to, x) in self.schur.effects.chunks_exact_mut(wide.max(1)).zip(row).filter(|(_, x)| **x != 0.0) {
            add_row(to, row, factor * x);
        }
    }

    /// Notes that a level with the curvature D and right-hand side y is taken out of the system.
    #[inline(always)]
    pub fn eliminated(&mut self, d: f64, y: f64) {
        self.log_det.add(d);
        self.decrement += y * y / d;
    }

    /// Takes a block with the curvature D and right-hand side y out of the system; its records couple it to their groups, and to effects as is given.
    #[inline(always)]
    pub fn eliminate_block(&mut self, block: Block<'_>, effects: &[f64], d: f64, y: f64) {
        self.eliminated(d, y);
        let Design { wide, stride, .. } = *self.design;
        let inverse = 1.0 / d;
        for (place, (&group, &w)) in block.group.iter().zip(block.curvature).enumerate() {
            let group = group as usize;
            let share = w * inverse;
            self.gradient.groups[group] -= share * y;
            add_row(&mut self.schur.across[group * wide..][..wide], effects, -share);
            let line = &mut self.schur.groups[group * stride..][..stride];
            for (&other, &w) in block.group[..place].iter().zip(block.curvature) {
                line[other as usize] -= share * w;
            }
            line[group] -= 0.5 * share * w;
        }
        add_row(&mut self.gradient.effects, effects, -inverse * y);
        self.add_square(effects, -inverse);
    }

    /// Takes a crossed level out of the system.
    #[inline(always)]
    pub fn eliminate(&mut self, coupling: &Coupling, d: f64, y: f64) {
        self.eliminated(d, y);
        let Design { wide, stride, groups, .. } = *self.design;
        let inverse = 1.0 / d;
        let touched = coupling.touched();
        let together = touched.len() * WIDE >= groups;
        for (place, &group) in touched.iter().enumerate() {
            let group = group as usize;
            let share = coupling.groups[group] * inverse;
            self.gradient.groups[group] -= share * y;
            add_row(&mut self.schur.across[group * wide..][..wide], &coupling.effects, -share);
            if !together {
                let line = &mut self.schur.groups[group * stride..][..stride];
                for &other in &touched[..place] {
                    line[other as usize] -= share * coupling.groups[other as usize];
                }
                line[group] -= 0.5 * share * coupling.groups[group];
            }
        }
        if together {
            let place = self.waiting.count * stride;
            self.waiting.couplings[place..][..stride].copy_from_slice(&coupling.groups);
            let shares = &mut self.waiting.shares[place..][..stride];
            shares.iter_mut().zip(coupling.groups.iter()).for_each(|(share, m)| *share = m * inverse);
            self.waiting.count += 1;
            if self.waiting.count == TOGETHER {
                self.eliminate_waiting();
            }
        }
        add_row(&mut self.gradient.effects, &coupling.effects, -inverse * y);
        self.add_square(&coupling.effects, -inverse);
    }

    /// Takes the levels that wait for each other out of the system.
    #[inline(always)]
    pub fn eliminate_waiting(&mut self) {
        let Design { groups, stride, .. } = *self.design;
        let Waiting { count, couplings, shares } = &mut self.waiting;
        for row in (0..groups).step_by(ROWS) {
            let own = row - row % LANES;
            for at in (0..=own).step_by(LANES) {
                let mut sums = ([0.0; LANES], [0.0; LANES], [0.0; LANES], [0.0; LANES]);
                for level in (0..*count * stride).step_by(stride) {
                    let of_lanes = get(couplings, black_box(level + at));
                    let [a, b, c, d] = [0, 1, 2, 3].map(|n| shares[level + row + n]);
                    for i in 0..LANES {
                        sums.0[i] += a * of_lanes[i];
                        sums.1[i] += b * of_lanes[i];
                        sums.2[i] += c * of_lanes[i];
                        sums.3[i] += d * of_lanes[i];
                    }
                }
                // Lanes before the rows' own as they are; their own by half, since each group of them brings them.
                let factor = if at == own { -0.5 } else { -1.0 };
                for (n, sums) in [(0, sums.0), (1, sums.1), (2, sums.2), (3, sums.3)] {
                    let line = (row + n) * stride + at;
                    let mut to = get(&self.schur.groups, line);
                    for i in 0..LANES {
                        to[i] += factor * sums[i];
                    }
                    put(&mut self.schur.groups, line, &to);
                }
            }
        }
        *count = 0;
    }
}
