//! The standard normal distribution function and density, written so that loops over arrays of them become vector instructions: an answer takes
//! some hundred thousand of them.
//!
//! Φ(−z) = e^(−z²/2)·R(z) for z ≥ 0, where R is smooth: a polynomial in (z − 5)/(z + 5), after Shepherd & Laframboise (1981), Mathematics of
//! Computation 36, 249–253. Coefficients: own fit at the Chebyshev nodes of 0 ≤ z ≤ 37 with fifty digits; relative error 2e-13 (tested against the
//! error function of the C library).
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use super::eight_numbers::{Eight, LANES, OfEight, exponential};
use super::gaussian::INV_SQRT_2PI;

/// Standard deviations beyond which nothing is looked at: less than 1e-299 lies there.
const FARTHEST: f64 = 37.0;
/// z that the polynomial's variable has its middle at.
const MIDDLE: f64 = 5.0;
/// The polynomial, from its constant.
const TAIL: [f64; 19] = [
    0.076_919_304_975_006_4,
    -0.143_457_555_264_015_35,
    0.116_068_811_885_967_34,
    -0.080_883_877_263_914_4,
    0.047_855_352_286_031_72,
    -0.023_413_900_491_082_76,
    0.008_991_370_515_092_897,
    -0.002_378_844_343_259_429_7,
    0.000_219_551_065_670_861_23,
    0.000_134_276_947_446_007_49,
    -6.042_913_617_183_808e-5,
    9.600_838_403_851_46e-7,
    6.649_145_165_107_969e-6,
    -1.265_027_006_386_679_3e-6,
    -6.824_596_621_829_269e-7,
    2.326_929_378_232_669e-7,
    8.222_825_247_785_991e-8,
    -2.747_967_575_385_198_2e-8,
    -1.065_018_282_047_842_1e-8,
];

/// Φ and φ at `z`.
#[inline(always)]
pub(crate) fn normal_cdf_and_pdf(z: f64) -> (f64, f64) {
    let size = if z.abs() > FARTHEST { FARTHEST } else { z.abs() };
    let (scale, rest) = exponential(0.5 * size * size);
    let exponential = scale + scale * rest;
    let t = (size - MIDDLE) / (size + MIDDLE);
    let (t2, c) = (t * t, &TAIL);
    let t4 = t2 * t2;
    let t8 = t4 * t4;
    // Powers in pairs, so that they do not wait for each other.
    let low = ((c[0] + c[1] * t) + t2 * (c[2] + c[3] * t)) + t4 * ((c[4] + c[5] * t) + t2 * (c[6] + c[7] * t));
    let high = ((c[8] + c[9] * t) + t2 * (c[10] + c[11] * t)) + t4 * ((c[12] + c[13] * t) + t2 * (c[14] + c[15] * t));
    let highest = (c[16] + c[17] * t) + t2 * c[18];
    let tail = exponential * (low + t8 * (high + t8 * highest));
    (if z > 0.0 { 1.0 - tail } else { tail }, INV_SQRT_2PI * exponential)
}

/// Φ at `z`.
#[inline(always)]
pub(crate) fn normal_cdf(z: f64) -> f64 {
    normal_cdf_and_pdf(z).0
}

/// Φ of many numbers.
pub(crate) struct NormalCdf;

impl OfEight for NormalCdf {
    #[inline(always)]
    fn of_eight(&self, z: &Eight) -> Eight {
        let mut cdf = [0.0; LANES];
        for i in 0..LANES {
            cdf[i] = normal_cdf(z[i]);
        }
        cdf
    }
}

/// ∫Φ up to `z`, an antiderivative that vanishes far below.
#[inline(always)]
pub(crate) fn normal_cdf_integral(z: f64) -> f64 {
    let (cdf, pdf) = normal_cdf_and_pdf(z);
    z * cdf + pdf
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::numeric::{standard_normal_cdf, standard_normal_pdf};

    // Python 3.11: math.erfc(-z/math.sqrt(2))/2, by the C library.
    #[test]
    fn the_distribution_function_is_that_of_the_c_library() {
        for (z, known) in [
            (-30.0, 4.906_713_927_148_764e-198),
            (-12.0, 1.776_482_112_077_702e-33),
            (-6.0, 9.865_876_450_377_012e-10),
            (-3.3, 0.000_483_424_142_383_777_6),
            (-1.7, 0.044_565_462_758_543_076),
            (-0.6, 0.274_253_117_750_073_6),
            (-0.05, 0.480_061_194_161_627_5),
            (0.4, 0.655_421_741_610_324_2),
            (2.2, 0.986_096_552_486_501_4),
            (5.0, 0.999_999_713_348_428_1),
        ] {
            let got = normal_cdf(z);
            assert!((got / known - 1.0).abs() < 4e-13, "{z}: {got:e} {known:e}");
        }
        assert!((normal_cdf(0.0) - 0.5).abs() < 2e-13);
        assert_eq!([f64::NEG_INFINITY, f64::INFINITY].map(|z| normal_cdf(z) > 0.5), [false, true]);
        assert!(normal_cdf(f64::NAN).is_nan());
    }

    // The error function of `statrs` 0.19 is good to 1e-10 of the smaller tail: some of its constants are rounded to ten digits.
    #[test]
    fn everywhere_it_and_its_density_are_those_of_the_error_function() {
        for step in -3_690..=3_690 {
            let z = 0.01 * f64::from(step);
            let (cdf, pdf) = normal_cdf_and_pdf(z);
            let (known, height) = (standard_normal_cdf(z), standard_normal_pdf(z));
            assert!((cdf - known).abs() <= 2e-10 * known, "{z}: {cdf:e} {known:e}");
            assert!((pdf / height - 1.0).abs() < 3e-13, "{z}: {pdf:e} {height:e}");
        }
    }

    #[test]
    fn the_integral_grows_by_the_distribution_function() {
        for step in -40..=40 {
            let z = 0.2 * f64::from(step);
            let slope = (normal_cdf_integral(z + 1e-4) - normal_cdf_integral(z - 1e-4)) / 2e-4;
            assert!((slope - standard_normal_cdf(z)).abs() < 1e-8, "{z}");
        }
    }
}
