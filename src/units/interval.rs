//! An interval with ordered ends.

use serde::{Deserialize, Serialize};

/// Low and high end of a range of one quantity; 90 % unless said otherwise where it is used.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Interval<T> {
    /// Lower end.
    pub low: T,
    /// Upper end.
    pub high: T,
}

impl<T: PartialOrd + Copy> Interval<T> {
    /// The interval between two values given in either order.
    pub fn between(a: T, b: T) -> Self {
        if b < a { Self { low: b, high: a } } else { Self { low: a, high: b } }
    }

    /// The smallest interval that holds this one and `value`.
    #[must_use]
    pub fn including(self, value: T) -> Self {
        Self { low: if value < self.low { value } else { self.low }, high: if value > self.high { value } else { self.high } }
    }

    /// Whether `value` lies within, ends included.
    pub fn contains(&self, value: T) -> bool {
        self.low <= value && value <= self.high
    }
}
