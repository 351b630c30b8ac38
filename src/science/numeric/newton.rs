//! Minimising a smooth function of a few variables whose gradient and second derivatives are known: Newton's method, damped.
//!
//! Where the matrix of second derivatives is not positive definite, or a step does not lower the value, the diagonal is raised until it is
//! (Levenberg 1944, Quarterly of Applied Mathematics 2, 164–168; Marquardt 1963, SIAM J. 11, 431–441). A point outside the domain of the
//! function is `None` and counts as a step that does not lower the value.

use nalgebra::{SMatrix, SVector};

/// Value, gradient and second derivatives at one point.
#[derive(Debug, Clone, PartialEq)]
pub struct Jet<const N: usize> {
    /// The value.
    pub value: f64,
    /// First derivatives.
    pub gradient: SVector<f64, N>,
    /// Second derivatives, symmetric.
    pub hessian: SMatrix<f64, N, N>,
}

impl<const N: usize> Jet<N> {
    /// Zero everywhere.
    pub fn zero() -> Self {
        Self { value: 0.0, gradient: SVector::zeros(), hessian: SMatrix::zeros() }
    }

    fn is_finite(&self) -> bool {
        self.value.is_finite() && self.gradient.iter().chain(self.hessian.iter()).all(|x| x.is_finite())
    }
}

/// A minimum with the derivatives there: the second derivatives are positive definite and the gradient has vanished.
#[derive(Debug, Clone, PartialEq)]
pub struct NewtonMinimum<const N: usize> {
    /// Its place.
    pub at: [f64; N],
    /// Value and derivatives there.
    pub jet: Jet<N>,
}

/// Steps that lower the value.
const MAX_STEPS: usize = 60;
/// Attempts at one step with an ever larger diagonal.
const MAX_DAMPINGS: usize = 30;
/// Gain that the quadratic model still promises at which the search has arrived: far below what shows in a log likelihood.
const GAIN_LEFT: f64 = 1e-13;
/// The same where the step that gains it is taken unseen: what it leaves goes with the power of 1.5.
const GAIN_UNSEEN: f64 = 1e-8;
/// First diagonal, as a share of the largest second derivative.
const FIRST_DAMPING: f64 = 1e-3;
/// Factor by which the diagonal grows and shrinks.
const DAMPING_FACTOR: f64 = 8.0;

/// The minimum reached from `start`; `None` where the start is outside the domain or no minimum with a positive definite curvature is reached.
pub fn minimise<const N: usize>(f: impl Fn(&[f64; N]) -> Option<Jet<N>>, start: [f64; N]) -> Option<NewtonMinimum<N>> {
    descend(f, start, GAIN_LEFT).map(|(found, _)| found)
}

/// The place and value of the minimum alone, the last step not looked at: where the quadratic model promises so little the value is as exact as
/// after another round, and the place within a ten-millionth of its standard error.
pub fn lowest<const N: usize>(f: impl Fn(&[f64; N]) -> Option<Jet<N>>, start: [f64; N]) -> Option<([f64; N], f64)> {
    let (NewtonMinimum { at, jet }, change) = descend(f, start, GAIN_UNSEEN)?;
    Some((std::array::from_fn(|i| at[i] - change[i]), jet.value - 0.5 * jet.gradient.dot(&change)))
}

/// Where the quadratic model promises no more than `left`, with the step that it would take from there.
fn descend<const N: usize>(
    f: impl Fn(&[f64; N]) -> Option<Jet<N>>,
    start: [f64; N],
    left: f64,
) -> Option<(NewtonMinimum<N>, SVector<f64, N>)> {
    let inside = |at: &[f64; N]| f(at).filter(Jet::is_finite);
    let mut at = start;
    let mut jet = inside(&at)?;
    let mut damping = 0.0;
    for _ in 0..MAX_STEPS {
        if let Some(cholesky) = jet.hessian.cholesky() {
            let change = cholesky.solve(&jet.gradient);
            if 0.5 * jet.gradient.dot(&change) < left {
                return Some((NewtonMinimum { at, jet }, change));
            }
        }
        let (next, next_jet, used) = step(&inside, &at, &jet, damping)?;
        damping = if used > 0.0 { used / DAMPING_FACTOR } else { 0.0 };
        if damping < f64::EPSILON {
            damping = 0.0;
        }
        (at, jet) = (next, next_jet);
    }
    None
}

/// One step that lowers the value, with the damping it took.
fn step<const N: usize>(
    inside: &impl Fn(&[f64; N]) -> Option<Jet<N>>,
    at: &[f64; N],
    jet: &Jet<N>,
    first: f64,
) -> Option<([f64; N], Jet<N>, f64)> {
    let largest = jet.hessian.iter().fold(0.0_f64, |most, x| most.max(x.abs())).max(1e-8);
    let mut damping = first;
    for _ in 0..MAX_DAMPINGS {
        let mut matrix = jet.hessian;
        for i in 0..N {
            matrix[(i, i)] += damping * largest;
        }
        if let Some(cholesky) = matrix.cholesky() {
            let change = cholesky.solve(&jet.gradient);
            let next: [f64; N] = std::array::from_fn(|i| at[i] - change[i]);
            if let Some(found) = inside(&next)
                && found.value <= jet.value
            {
                return Some((next, found, damping));
            }
        }
        damping = if damping > 0.0 { damping * DAMPING_FACTOR } else { FIRST_DAMPING };
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rosenbrock 1960: minimum 0 at (1, 1), along a curved valley in which the curvature is not positive definite everywhere.
    fn valley(p: &[f64; 2]) -> Jet<2> {
        let (x, y) = (p[0], p[1]);
        let bend = y - x * x;
        Jet {
            value: (1.0 - x).powi(2) + 100.0 * bend.powi(2),
            gradient: SVector::from([-2.0 * (1.0 - x) - 400.0 * x * bend, 200.0 * bend]),
            hessian: SMatrix::from([[2.0 - 400.0 * (bend - 2.0 * x * x), -400.0 * x], [-400.0 * x, 200.0]]),
        }
    }

    #[test]
    fn the_curved_valley_of_rosenbrock_is_followed_to_its_end() {
        let found = minimise(|p| Some(valley(p)), [-1.2, 1.0]).unwrap();
        assert!((found.at[0] - 1.0).abs() < 1e-6 && (found.at[1] - 1.0).abs() < 1e-6, "{found:?}");
    }

    // The step that is not looked at leaves place and value where the whole search ends.
    #[test]
    fn the_lowest_value_is_that_of_the_minimum() {
        let curved = |p: &[f64; 1]| {
            let e = p[0].exp();
            Some(Jet { value: e - 2.0 * p[0], gradient: SVector::from([e - 2.0]), hessian: SMatrix::from([[e]]) })
        };
        let (at, value) = lowest(curved, [3.0]).unwrap();
        let ln2 = std::f64::consts::LN_2;
        assert!((at[0] - ln2).abs() < 1e-8 && (value - (2.0 - 2.0 * ln2)).abs() < 1e-12, "{at:?} {value}");
    }

    #[test]
    fn a_step_over_the_edge_of_the_domain_is_shortened_and_a_saddle_is_no_answer() {
        // x − ln x on x > 0, from where the full step leads to −80: minimum at 1.
        let edged = |p: &[f64; 1]| {
            let x = p[0];
            (x > 0.0).then(|| Jet {
                value: x - x.ln(),
                gradient: SVector::from([1.0 - 1.0 / x]),
                hessian: SMatrix::from([[1.0 / (x * x)]]),
            })
        };
        assert!((minimise(edged, [10.0]).unwrap().at[0] - 1.0).abs() < 1e-6);
        assert_eq!(minimise(edged, [-1.0]), None);
        let saddle = |p: &[f64; 1]| {
            Some(Jet { value: p[0].powi(3), gradient: SVector::from([3.0 * p[0].powi(2)]), hessian: SMatrix::from([[6.0 * p[0]]]) })
        };
        assert_eq!(minimise(saddle, [-1e-3]), None);
    }
}
