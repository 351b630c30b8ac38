//! Elementary functions for arrays of eight numbers: the exponential of a number −|t| ≤ 0, the logarithm near 1, and the parts of a double.
//!
//! e^x is split as 2^k·e^r with |r| ≤ ½ log 2 and a Taylor polynomial for e^r − 1, so that 1 − e^−d keeps its digits for small d. No fused
//! multiply-add is asked for, so that each processor gives the same digits.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]
#![expect(clippy::cast_possible_wrap, reason = "exponents have eleven bits")]

/// Numbers per array.
pub(crate) const LANES: usize = 8;
/// Eight numbers.
pub(crate) type Eight = [f64; LANES];

/// Eight numbers that fill one line of the processor's cache; those that lie across two take two of its accesses, and a fit of 100,000 reports 187 ms for
/// 162 (`--bench fit`, in turns).
#[derive(Debug, Clone, Copy, PartialEq, Default, bytemuck::Pod, bytemuck::Zeroable)]
#[repr(C, align(64))]
pub(crate) struct Line(pub Eight);

/// Largest size taken: e to minus that is still a normal double.
pub(crate) const FARTHEST: f64 = 690.0;
/// 1.5·2⁵²: added to a small number, leaves it rounded to a whole one in the lowest bits.
const ROUNDER: f64 = 6_755_399_441_055_744.0;
/// log 2 in two parts, the first with zeros behind it so that whole multiples are exact (from the FreeBSD math library, e_exp.c).
pub(crate) const LN2: (f64, f64) = (6.931_471_803_691_238e-1, 1.908_214_929_270_587_7e-10);
/// Sign and fraction of a double, and the exponent of 1.
const FRACTION: u64 = 0x000f_ffff_ffff_ffff;
const ONE: u64 = 0x3ff0_0000_0000_0000;
/// Bias of the exponent, and the place where it begins.
const BIAS: u64 = 1023;
const EXPONENT: u32 = 52;

#[inline(always)]
pub(crate) fn get(array: &[f64], at: usize) -> Eight {
    let mut eight = [0.0; LANES];
    eight.copy_from_slice(&array[at..at + LANES]);
    eight
}

#[inline(always)]
pub(crate) fn put(array: &mut [f64], at: usize, values: &Eight) {
    array[at..at + LANES].copy_from_slice(values);
}

/// A function of a number, for eight of them at once; its body is `#[inline(always)]`.
pub(crate) trait OfEight {
    fn of_eight(&self, arguments: &Eight) -> Eight;
}

/// Puts the values of a function in the place of its arguments, in vector instructions of whatever the processor has.
pub(crate) fn replace(arguments: &mut [f64], function: &impl OfEight) {
    pulp::Arch::new().dispatch(Replacing { arguments, function });
}

/// The work handed over. A closure over borrowed values would do the same through a function of the compiler's own (`FnOnce::call_once`), which may
/// be left out of line, and then keeps the instructions of every processor.
struct Replacing<'a, F> {
    arguments: &'a mut [f64],
    function: &'a F,
}

impl<F: OfEight> pulp::NullaryFnOnce for Replacing<'_, F> {
    type Output = ();

    #[inline(always)]
    fn call(self) {
        let whole = self.arguments.len() - self.arguments.len() % LANES;
        let (eights, rest) = self.arguments.split_at_mut(whole);
        for at in (0..whole).step_by(LANES) {
            let values = self.function.of_eight(&get(eights, at));
            put(eights, at, &values);
        }
        if !rest.is_empty() {
            // Filled up with noughts.
            let mut last = [0.0; LANES];
            last[..rest.len()].copy_from_slice(rest);
            rest.copy_from_slice(&self.function.of_eight(&last)[..rest.len()]);
        }
    }
}

/// Σ a·b over two arrays of the same length.
pub(crate) fn product(a: &[f64], b: &[f64]) -> f64 {
    pulp::Arch::new().dispatch(Multiplying { a, b })
}

struct Multiplying<'a> {
    a: &'a [f64],
    b: &'a [f64],
}

impl pulp::NullaryFnOnce for Multiplying<'_> {
    type Output = f64;

    #[inline(always)]
    fn call(self) -> f64 {
        let ((a, rest_a), (b, rest_b)) = (self.a.as_chunks::<LANES>(), self.b.as_chunks::<LANES>());
        let mut sums = [0.0; LANES];
        for (a, b) in a.iter().zip(b) {
            for i in 0..LANES {
                sums[i] += a[i] * b[i];
            }
        }
        sums.iter().sum::<f64>() + rest_a.iter().zip(rest_b).map(|(a, b)| a * b).sum::<f64>()
    }
}

#[inline(always)]
pub(crate) fn times(a: &Eight, b: &Eight) -> Eight {
    let mut product = [0.0; LANES];
    for i in 0..LANES {
        product[i] = a[i] * b[i];
    }
    product
}

/// e^−size as (2^k, e^r − 1), for size ≥ 0; beyond [`FARTHEST`] as there.
#[inline(always)]
pub(crate) fn exponential(size: f64) -> (f64, f64) {
    let x = -(if size > FARTHEST { FARTHEST } else { size });
    let rounded = x * std::f64::consts::LOG2_E + ROUNDER;
    let k = rounded - ROUNDER;
    let r = (x - k * LN2.0) - k * LN2.1;
    let scale = f64::from_bits(rounded.to_bits().wrapping_add(BIAS) << EXPONENT);
    // Taylor to the twelfth power: what is left is below 2e-16 at |r| = ½ log 2. Powers in pairs, so that they do not wait for each other.
    let r2 = r * r;
    let r4 = r2 * r2;
    let r8 = r4 * r4;
    let c2 = 1.0 / 2.0 + r * (1.0 / 6.0);
    let c4 = 1.0 / 24.0 + r * (1.0 / 120.0);
    let c6 = 1.0 / 720.0 + r * (1.0 / 5_040.0);
    let c8 = 1.0 / 40_320.0 + r * (1.0 / 362_880.0);
    let c10 = 1.0 / 3_628_800.0 + r * (1.0 / 39_916_800.0);
    let c12 = 1.0 / 479_001_600.0;
    let rest = r + r2 * ((c2 + r2 * c4) + r4 * (c6 + r2 * c8) + r8 * (c10 + r2 * c12));
    (scale, rest)
}

/// A positive number as its fraction in 1..2 and its exponent.
#[inline(always)]
pub(crate) fn split(x: f64) -> (f64, i64) {
    let bits = x.to_bits();
    (f64::from_bits((bits & FRACTION) | ONE), (bits >> EXPONENT) as i64 - BIAS as i64)
}

/// A whole number of modest size as a double, without a conversion that older processors lack.
#[inline(always)]
pub(crate) fn whole(k: i64) -> f64 {
    f64::from_bits(ROUNDER.to_bits().wrapping_add(k.cast_unsigned())) - ROUNDER
}

/// log x for x between √½ and √2: 2 artanh((x − 1)/(x + 1)) by its series, what is left below 1e-17.
#[inline(always)]
pub(crate) fn logarithm(x: f64) -> f64 {
    let s = (x - 1.0) / (x + 1.0);
    let z = s * s;
    let z2 = z * z;
    let z4 = z2 * z2;
    let low = (1.0 / 3.0 + z * (1.0 / 5.0)) + z2 * (1.0 / 7.0 + z * (1.0 / 9.0));
    let high = (1.0 / 11.0 + z * (1.0 / 13.0)) + z2 * (1.0 / 15.0 + z * (1.0 / 17.0)) + z4 * (1.0 / 19.0);
    2.0 * (s + s * z * (low + z4 * high))
}
