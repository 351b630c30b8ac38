//! What a change to a shelter gained, from readings before and after it.
//!
//! Every reading is one night's difference d = inside − outside. Least squares with one mean per state and one scatter for all of them:
//! `d = mean(state) + error`, so the gain is the difference of two means, its standard error `s·√(1/n₁ + 1/n₂)` with s² the pooled residual
//! variance, and its 90 % interval that of Student's t with n − states degrees of freedom. The same on ln G gives the ratio of the losses, which
//! does not depend on what the heater gave on either side. Nights are taken as independent; a change of weather between before and after is no
//! part of the interval and is said beside it.

use statrs::distribution::{ContinuousCDF, StudentsT};

use crate::science::numeric::Z_90;
use crate::units::Interval;

/// Scatter of a night's difference where no two readings share a state, K: two thermometers (0.7) and a night's wind and sky (0.09 of 10 K). DESIGN.
const ASSUMED_SCATTER_K: f64 = 1.1;
/// Least scatter believed, K: thermometers are read to half a degree. DESIGN.
const LEAST_SCATTER_K: f64 = 0.2;
/// Scatter of ln G where no two readings share a state. DESIGN: 0.09 from night to night and 0.7 K on 10 K.
const ASSUMED_SCATTER_LOG: f64 = 0.11;
/// Least scatter of ln G believed: 0.2 K on 10 K. DESIGN.
const LEAST_SCATTER_LOG: f64 = 0.02;

/// A value noted in a state (by index).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noted {
    /// Index of the state.
    pub state: usize,
    /// The value.
    pub value: f64,
}

/// Difference of the means of two states.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contrast {
    /// Mean after less mean before.
    pub difference: f64,
    /// 90 % interval.
    pub interval: Interval<f64>,
    /// Values before and after.
    pub counts: [usize; 2],
    /// Degrees of freedom of the scatter; 0: it is assumed, not seen.
    pub freedom: usize,
}

/// How far values scatter where it cannot be seen, and the least that is believed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scatter {
    /// Standard deviation without a degree of freedom.
    pub assumed: f64,
    /// Least standard deviation.
    pub least: f64,
}

impl Scatter {
    /// Of differences, K.
    pub const DIFFERENCES: Self = Self { assumed: ASSUMED_SCATTER_K, least: LEAST_SCATTER_K };
    /// Of ln G.
    pub const LOGS: Self = Self { assumed: ASSUMED_SCATTER_LOG, least: LEAST_SCATTER_LOG };
}

/// Compares two states by least squares over all values; `None` where one of them has none.
pub fn contrast(noted: &[Noted], from: usize, to: usize, scatter: Scatter) -> Option<Contrast> {
    let mean = |state: usize| -> Option<(f64, usize)> {
        let of: Vec<f64> = noted.iter().filter(|n| n.state == state).map(|n| n.value).collect();
        (!of.is_empty()).then(|| (of.iter().sum::<f64>() / of.len() as f64, of.len()))
    };
    let ((before, n_before), (after, n_after)) = (mean(from)?, mean(to)?);
    let mut states: Vec<usize> = noted.iter().map(|n| n.state).collect();
    states.sort_unstable();
    states.dedup();
    let freedom = noted.len() - states.len();
    let squares: f64 = noted.iter().filter_map(|n| mean(n.state).map(|(m, _)| (n.value - m).powi(2))).sum();
    let (deviation, reach) = if freedom > 0 {
        let seen = (squares / freedom as f64).sqrt().max(scatter.least);
        (seen, StudentsT::new(0.0, 1.0, freedom as f64).map_or(Z_90, |t| t.inverse_cdf(0.95)))
    } else {
        (scatter.assumed, Z_90)
    };
    let half = reach * deviation * (1.0 / n_before as f64 + 1.0 / n_after as f64).sqrt();
    let difference = after - before;
    Some(Contrast {
        difference,
        interval: Interval { low: difference - half, high: difference + half },
        counts: [n_before, n_after],
        freedom,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn noted(values: &[(usize, f64)]) -> Vec<Noted> {
        values.iter().map(|&(state, value)| Noted { state, value }).collect()
    }

    #[test]
    fn a_state_without_a_reading_has_no_gain() {
        assert_eq!(contrast(&noted(&[(0, 8.0), (0, 9.0)]), 0, 1, Scatter::DIFFERENCES), None);
    }

    #[test]
    fn one_reading_on_each_side_has_an_interval_all_the_same_and_a_wide_one() {
        let one = contrast(&noted(&[(0, 8.0), (1, 13.0)]), 0, 1, Scatter::DIFFERENCES).unwrap();
        assert!(one.freedom == 0 && (one.difference - 5.0).abs() < 1e-12);
        assert!(one.interval.high - one.interval.low > 4.0);
    }

    proptest! {
        /// Turning before and after round turns the sign; shifting every night by the same amount changes nothing.
        #[test]
        fn a_gain_backwards_is_the_loss_and_a_common_shift_is_none(
            before in prop::collection::vec(0.0..15.0f64, 2..8), after in prop::collection::vec(0.0..25.0f64, 2..8), shift in -5.0..5.0f64,
        ) {
            let all = |by: f64| -> Vec<Noted> {
                before.iter().map(|v| Noted { state: 0, value: v + by }).chain(after.iter().map(|v| Noted { state: 1, value: v + by })).collect()
            };
            let there = contrast(&all(0.0), 0, 1, Scatter::DIFFERENCES).unwrap();
            let back = contrast(&all(0.0), 1, 0, Scatter::DIFFERENCES).unwrap();
            let shifted = contrast(&all(shift), 0, 1, Scatter::DIFFERENCES).unwrap();
            prop_assert!((there.difference + back.difference).abs() < 1e-9);
            prop_assert!((there.interval.low + back.interval.high).abs() < 1e-9);
            prop_assert!((there.difference - shifted.difference).abs() < 1e-9 && (there.interval.low - shifted.interval.low).abs() < 1e-9);
        }
    }
}
