//! Sample quantiles by linear interpolation between order statistics (type 7 of Hyndman & Fan 1996, Am. Stat. 50, 361–365; the default of R
//! and NumPy).

/// The quantile `p` (0..=1) of a sample in ascending order; `None` of an empty one.
pub fn quantile_of_sorted(sorted: &[f64], p: f64) -> Option<f64> {
    let place = p.clamp(0.0, 1.0) * (sorted.len().checked_sub(1)? as f64);
    let (low, high) = (sorted.get(place.floor() as usize)?, sorted.get(place.ceil() as usize)?);
    Some(low + (high - low) * place.fract())
}

/// A copy in ascending order.
pub fn sorted(values: impl IntoIterator<Item = f64>) -> Vec<f64> {
    let mut values: Vec<f64> = values.into_iter().collect();
    values.sort_by(f64::total_cmp);
    values
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_interpolate_between_order_statistics() {
        // R 4: quantile(c(1, 2, 4, 8), c(0, .1, .5, .9, 1)) gives 1, 1.3, 3, 6.8, 8.
        let sample = sorted([8.0, 1.0, 4.0, 2.0]);
        for (p, expected) in [(0.0, 1.0), (0.1, 1.3), (0.5, 3.0), (0.9, 6.8), (1.0, 8.0)] {
            assert!((quantile_of_sorted(&sample, p).unwrap() - expected).abs() < 1e-12, "{p}");
        }
        assert_eq!(quantile_of_sorted(&[], 0.5), None);
    }
}
