//! The range of a share of which some were seen.

use statrs::distribution::{Beta, ContinuousCDF};

use super::gaussian::TAILS_90;
use crate::units::Interval;

/// The 90 % interval of a share, 0..=1, of which `of` in `all` were seen, by Jeffreys' prior (Brown, Cai & `DasGupta` 2001, Statistical
/// Science 16:101–133); what counts for less than one may stand in both. `None` where nothing was seen.
pub fn share_range(of: f64, all: f64) -> Option<Interval<f64>> {
    let rest = all - of;
    if !(all > 0.0 && of >= 0.0 && rest >= 0.0) {
        return None;
    }
    let beta = Beta::new(of + 0.5, rest + 0.5).ok()?;
    Some(Interval { low: beta.inverse_cdf(TAILS_90.0), high: beta.inverse_cdf(TAILS_90.1) })
}

#[cfg(test)]
mod tests {
    use super::*;

    // scipy 1.x: stats.beta.ppf([.05, .95], of + .5, all - of + .5).
    #[test]
    fn ranges_are_those_of_scipy() {
        for (of, all, low, high) in
            [(7.0, 10.0, 0.441_873_23, 0.882_670_62), (0.0, 4.25, 0.000_436_14, 0.346_457_07), (2.25, 7.25, 0.103_686_5, 0.611_279_36)]
        {
            let range = share_range(of, all).unwrap();
            assert!((range.low - low).abs() < 1e-6 && (range.high - high).abs() < 1e-6, "{of} of {all}: {range:?}");
        }
        assert_eq!((share_range(0.0, 0.0), share_range(2.0, 1.0), share_range(f64::NAN, 1.0)), (None, None, None));
    }
}
