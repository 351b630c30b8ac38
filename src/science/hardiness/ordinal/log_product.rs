//! Sum of the logarithms of probabilities, eight records at once. Without weights the probabilities of a lane are multiplied up, exponents set
//! aside, and one logarithm is taken of the product.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]
#![expect(clippy::needless_range_loop, reason = "loops over lanes by index are what the compiler turns into vector instructions")]

use super::bounds::Bounds;
use crate::science::numeric::eight_numbers::{Eight, LANES, LN2, logarithm, split, whole};

/// Sum of logarithms, taken of products where there are no weights.
pub(super) struct LogProduct {
    product: Eight,
    exponent: [i64; LANES],
    weighted: Eight,
    /// Not a number once a bound was not.
    guard: Eight,
}

impl LogProduct {
    #[inline(always)]
    pub fn new() -> Self {
        Self { product: [1.0; LANES], exponent: [0; LANES], weighted: [0.0; LANES], guard: [0.0; LANES] }
    }

    /// Takes in Σ log p of eight records.
    #[inline(always)]
    pub fn multiply(&mut self, bounds: &Bounds) {
        for i in 0..LANES {
            let sides = bounds.upper.below[i] * bounds.lower.above[i];
            self.guard[i] += sides * 0.0;
            let (fraction, exponent) = split(sides);
            let (product, more) = split(self.product[i] * (fraction * bounds.gap[i]));
            self.product[i] = product;
            self.exponent[i] += exponent + more;
        }
    }

    /// Takes in Σ m·log p of eight records.
    #[inline(always)]
    pub fn add(&mut self, bounds: &Bounds, weight: &Eight) {
        for i in 0..LANES {
            let sides = bounds.upper.below[i] * bounds.lower.above[i];
            self.guard[i] += sides * 0.0;
            let (fraction, exponent) = split(sides);
            let (fraction, more) = split(fraction * bounds.gap[i]);
            // Halved beyond √2, so that the series below is short.
            let high = fraction > std::f64::consts::SQRT_2;
            let x = if high { 0.5 * fraction } else { fraction };
            let e = whole(exponent + more) + if high { 1.0 } else { 0.0 };
            self.weighted[i] += weight[i] * (e * LN2.0 + (e * LN2.1 + logarithm(x)));
        }
    }

    #[inline(always)]
    pub fn sum(&self) -> f64 {
        let mut sum = 0.0;
        for i in 0..LANES {
            let exponent = self.exponent[i] as f64;
            sum += exponent * LN2.0 + (exponent * LN2.1 + self.product[i].ln()) + self.weighted[i] + self.guard[i];
        }
        sum
    }
}
