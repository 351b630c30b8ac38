//! A probability, 0..=1.

use serde::{Deserialize, Serialize};

use super::{OutOfRange, within};

/// A probability, 0..=1, never NaN.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Probability(f64);

impl Probability {
    /// Cannot happen.
    pub const ZERO: Self = Self(0.0);
    /// Certain.
    pub const ONE: Self = Self(1.0);

    /// Refused when not finite or outside 0..=1.
    pub fn new(value: f64) -> Result<Self, OutOfRange> {
        within("probability", "", value, 0.0, 1.0).map(Self)
    }

    /// For results of arithmetic that may stray past the ends by rounding. NaN becomes 0 and is a defect upstream (asserted in debug builds).
    pub fn clamped(value: f64) -> Self {
        debug_assert!(value.is_finite(), "probability from {value}");
        Self(if value.is_finite() { value.clamp(0.0, 1.0) } else { 0.0 })
    }

    /// The number, 0..=1.
    pub const fn value(self) -> f64 {
        self.0
    }

    /// The chance that it does not happen.
    #[must_use]
    pub fn complement(self) -> Self {
        Self(1.0 - self.0)
    }
}
