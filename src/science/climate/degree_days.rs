//! Degree-days of one day by the single sine with a lower base and an upper cap.
//!
//! The day follows a sine between its minimum and maximum; what lies above the base counts, what lies above the cap does not add
//! (horizontal cut-off). Baskerville & Emin 1969, Ecology 50, 514–517; no published sum may be compared without naming the method.

use std::f64::consts::{FRAC_PI_2, PI};

/// Base and cap of degree-days for figs, °C: Souza et al. 2009 (basal temperatures of the fig, Botucatu).
pub const FIG_BASE_C: f64 = 8.0;
/// Temperature above which more warmth adds nothing, °C: the same source.
pub const FIG_CAP_C: f64 = 36.0;

/// Degree-days (K·d) of a day between `min_c` and `max_c`, above `base_c`, cut off at `cap_c`. A minimum above the maximum is read as
/// the maximum.
pub fn single_sine(min_c: f64, max_c: f64, base_c: f64, cap_c: f64) -> f64 {
    above(min_c, max_c, base_c) - above(min_c, max_c, cap_c)
}

/// Degree-days of figs, base 8 °C, cap 36 °C.
pub fn fig_degree_days(min_c: f64, max_c: f64) -> f64 {
    single_sine(min_c, max_c, FIG_BASE_C, FIG_CAP_C)
}

/// Mean height of the sine above `base_c` through a day.
fn above(min_c: f64, max_c: f64, base_c: f64) -> f64 {
    let (mean, half_range) = (f64::midpoint(min_c, max_c), 0.5 * (max_c - min_c).max(0.0));
    if mean - half_range >= base_c {
        mean - base_c
    } else if mean + half_range <= base_c {
        0.0
    } else {
        let angle = ((base_c - mean) / half_range).clamp(-1.0, 1.0).asin();
        ((mean - base_c) * (FRAC_PI_2 - angle) + half_range * angle.cos()) / PI
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed forms worked in the evidence on degree-days (base 10 unless stated): 5/π, 10/π, 9.258328, 0.468059.
    #[test]
    fn published_closed_forms_are_reproduced() {
        for (min, max, base, want) in
            [(5.0, 15.0, 10.0, 5.0 / PI), (0.0, 20.0, 10.0, 10.0 / PI), (8.0, 30.0, 10.0, 9.258_328), (7.0, 14.0, 12.0, 0.468_059)]
        {
            assert!((single_sine(min, max, base, 1000.0) - want).abs() < 1e-6);
        }
    }

    #[test]
    fn warmth_above_the_cap_adds_nothing() {
        assert!((single_sine(40.0, 44.0, 8.0, 36.0) - 28.0).abs() < 1e-12);
        assert!((single_sine(12.0, 20.0, 8.0, 36.0) - 8.0).abs() < 1e-12);
        assert_eq!(single_sine(-5.0, 7.0, 8.0, 36.0), 0.0);
    }
}
