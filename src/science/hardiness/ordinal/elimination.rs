//! Eliminating the levels of the arrow system (see [`super::sweep`]): the sparse coupling of one level to the border, and the sums that are left.

/// Coupling of one level to the border, gathered sparsely.
pub(super) struct Coupling {
    pub values: Vec<f64>,
    pub touched: Vec<usize>,
    marked: Vec<bool>,
}

impl Coupling {
    pub fn new(d: usize) -> Self {
        Self { values: vec![0.0; d], touched: Vec::new(), marked: vec![false; d] }
    }

    #[inline]
    pub fn add(&mut self, slot: usize, value: f64) {
        if !self.marked[slot] {
            self.marked[slot] = true;
            self.touched.push(slot);
        }
        self.values[slot] += value;
    }

    /// Adds a multiple of another coupling.
    #[inline]
    pub fn add_all(&mut self, other: &Self, factor: f64) {
        for &slot in &other.touched {
            self.add(slot, factor * other.values[slot]);
        }
    }

    pub fn sort(&mut self) {
        self.touched.sort_unstable();
    }

    pub fn clear(&mut self) {
        for &slot in &self.touched {
            self.values[slot] = 0.0;
            self.marked[slot] = false;
        }
        self.touched.clear();
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

    /// Takes a level with the curvature D and right-hand side y out of the system.
    #[inline]
    pub fn eliminate(&mut self, coupling: &mut Coupling, curvature: f64, score: f64) {
        self.log_det.add(curvature);
        self.decrement += score * score / curvature;
        coupling.sort();
        let d = self.gradient.len();
        for (row, &a) in coupling.touched.iter().enumerate() {
            let share = coupling.values[a] / curvature;
            self.gradient[a] -= share * score;
            let line = &mut self.schur[a * d..=a * d + a];
            for &b in &coupling.touched[..=row] {
                line[b] -= share * coupling.values[b];
            }
        }
    }
}
