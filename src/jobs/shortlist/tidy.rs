//! How numbers are rounded before they are written as JSON.

/// Rounds to a millionth: far below any meaning, and short on the wire.
pub(crate) fn tidy(x: f64) -> f64 {
    // Adding nought turns −0 into 0.
    (x * 1e6).round() / 1e6 + 0.0
}
