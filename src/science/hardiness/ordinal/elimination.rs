//! Eliminating the levels of the arrow system (see [`super::sweep`]): the sparse coupling of one level to the border, and the sums that are left.

use crate::science::numeric::vectorised;

/// Coupling of one level to the border, gathered sparsely.
pub(super) struct Coupling {
    /// Nought where not touched.
    pub values: Vec<f64>,
    /// The slots touched, then one more place to write to.
    touched: Vec<u32>,
    count: usize,
    marked: Vec<bool>,
}

/// Slots for each one touched up to which whole rows are worked through: eight numbers at a time cost less than looking up one after another.
const WIDE: usize = 16;

impl Coupling {
    pub fn new(d: usize) -> Self {
        Self { values: vec![0.0; d], touched: vec![0; d + 1], count: 0, marked: vec![false; d] }
    }

    #[inline]
    pub fn add(&mut self, slot: usize, value: f64) {
        // Written whether it is new or not, and kept where it is: which of the two cannot be guessed ahead.
        self.touched[self.count] = slot as u32;
        self.count += usize::from(!self.marked[slot]);
        self.marked[slot] = true;
        self.values[slot] += value;
    }

    /// Slots touched, in the order in which they were.
    #[inline]
    pub fn touched(&self) -> &[u32] {
        &self.touched[..self.count]
    }

    /// Whether so many of all slots are touched that whole rows are worked through.
    pub fn wide(&self) -> bool {
        self.count * WIDE >= self.values.len()
    }

    /// Adds a multiple of another coupling.
    #[inline]
    pub fn add_all(&mut self, other: &Self, factor: f64) {
        for &slot in other.touched() {
            self.add(slot as usize, factor * other.values[slot as usize]);
        }
    }

    pub fn clear(&mut self) {
        for &slot in &self.touched[..self.count] {
            self.values[slot as usize] = 0.0;
            self.marked[slot as usize] = false;
        }
        self.count = 0;
    }
}

/// Sum of logarithms of positive numbers, few of them taken.
pub(super) struct LogSum {
    product: f64,
    sum: f64,
}

impl LogSum {
    pub fn new() -> Self {
        Self { product: 1.0, sum: 0.0 }
    }

    #[inline]
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
pub(super) struct Sums {
    pub value: f64,
    pub schur: Vec<f64>,
    pub gradient: Vec<f64>,
    pub log_det: LogSum,
    /// Σ log of the precisions of the eliminated priors.
    pub log_prior: LogSum,
    pub decrement: f64,
}

impl Sums {
    pub fn new(d: usize) -> Self {
        Self {
            value: 0.0,
            schur: vec![0.0; d * d],
            gradient: vec![0.0; d],
            log_det: LogSum::new(),
            log_prior: LogSum::new(),
            decrement: 0.0,
        }
    }

    /// Adds records of one group level (its slot) and one row of effects: their score and curvature.
    #[inline]
    pub fn border(&mut self, slot: Option<usize>, columns: &[(u32, f64)], score: f64, curvature: f64) {
        self.group(slot, columns, score, curvature);
        self.effects(columns, score, curvature);
    }

    /// What concerns the group level of it.
    #[inline]
    pub fn group(&mut self, slot: Option<usize>, columns: &[(u32, f64)], score: f64, curvature: f64) {
        let d = self.gradient.len();
        if let Some(c) = slot {
            self.gradient[c] += score;
            let line = &mut self.schur[c * d..=c * d + c];
            line[c] += curvature;
            // The group's slots come after the effects', so this is in the lower triangle.
            for &(k, x) in columns {
                line[k as usize] += curvature * x;
            }
        }
    }

    /// What concerns the effects alone.
    #[inline]
    pub fn effects(&mut self, columns: &[(u32, f64)], score: f64, curvature: f64) {
        let d = self.gradient.len();
        for (place, &(k, x)) in columns.iter().enumerate() {
            let k = k as usize;
            self.gradient[k] += score * x;
            for &(l, y) in &columns[..=place] {
                let l = l as usize;
                self.schur[k.max(l) * d + k.min(l)] += curvature * x * y;
            }
        }
    }

    /// Takes a level with the curvature D and right-hand side y out of the system.
    #[inline]
    pub fn eliminate(&mut self, coupling: &Coupling, curvature: f64, score: f64) {
        self.log_det.add(curvature);
        self.decrement += score * score / curvature;
        let d = self.gradient.len();
        let (values, touched) = (&coupling.values, coupling.touched());
        let inverse = 1.0 / curvature;
        for (row, &a) in touched.iter().enumerate() {
            let a = a as usize;
            let share = values[a] * inverse;
            self.gradient[a] -= share * score;
            for &b in &touched[..=row] {
                let b = b as usize;
                self.schur[a.max(b) * d + a.min(b)] -= share * values[b];
            }
        }
    }

    /// The same for a level that touches much of the border.
    pub fn eliminate_wide(&mut self, coupling: &Coupling, curvature: f64, score: f64) {
        if !coupling.wide() {
            self.eliminate(coupling, curvature, score);
            return;
        }
        self.log_det.add(curvature);
        self.decrement += score * score / curvature;
        let d = self.gradient.len();
        let (schur, gradient, values) = (&mut self.schur, &mut self.gradient, &coupling.values);
        let inverse = 1.0 / curvature;
        vectorised(
            #[inline(always)]
            || {
                for &a in coupling.touched() {
                    let a = a as usize;
                    let share = values[a] * inverse;
                    gradient[a] -= share * score;
                    for (to, from) in schur[a * d..=a * d + a].iter_mut().zip(&values[..=a]) {
                        *to -= share * from;
                    }
                }
            },
        );
    }
}
