//! Minimising a smooth function of a few variables without derivatives: Nelder–Mead from `argmin`, restarted at its own answer.
//!
//! Used where the function has an edge beyond which it is infinite (the support of an extreme-value distribution), at which methods that
//! follow a gradient fall over. A restart with a fresh simplex guards against the known failure of the method, a collapsed simplex.

use argmin::core::{CostFunction, Error, Executor, State};
use argmin::solver::neldermead::NelderMead;

/// Where a minimum was found.
#[derive(Debug, Clone, PartialEq)]
pub struct Minimum {
    /// The place.
    pub at: Vec<f64>,
    /// The value there.
    pub value: f64,
    /// Whether the last restart moved neither place nor value.
    pub settled: bool,
}

/// Stands for "outside the domain": finite, since the method averages over its corners.
pub const OUTSIDE: f64 = 1e30;
/// Spread of the values at the corners at which a run ends.
const TOLERANCE: f64 = 1e-11;
/// Steps a run may take.
const MAX_STEPS: u64 = 2000;
/// Restarts at most.
const MAX_RESTARTS: usize = 8;
/// Gain of a restart below which the answer is settled.
const SETTLED_GAIN: f64 = 1e-9;

struct Function<F>(F);

impl<F: Fn(&[f64]) -> f64> CostFunction for Function<F> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, at: &Vec<f64>) -> Result<f64, Error> {
        let value = (self.0)(at);
        Ok(if value.is_finite() { value.min(OUTSIDE) } else { OUTSIDE })
    }
}

/// The minimum of `function` near `start`, with first steps of `steps` along the axes. `None` where `start` itself is outside the domain.
pub fn minimise(function: impl Fn(&[f64]) -> f64, start: &[f64], steps: &[f64]) -> Option<Minimum> {
    let mut value = function(start);
    if value.is_nan() || value >= OUTSIDE {
        return None;
    }
    let mut at = start.to_vec();
    let mut settled = false;
    for restart in 0..MAX_RESTARTS {
        let shrink = if restart == 0 { 1.0 } else { 0.2 };
        let corners = std::iter::once(at.clone())
            .chain(steps.iter().enumerate().map(|(axis, step)| {
                let mut corner = at.clone();
                corner[axis] += shrink * step;
                corner
            }))
            .collect();
        let solver = NelderMead::new(corners).with_sd_tolerance(TOLERANCE).ok()?;
        let run = Executor::new(Function(&function), solver).timer(false).configure(|state| state.max_iters(MAX_STEPS)).run().ok()?;
        let (best, best_value) = (run.state().get_best_param()?.clone(), run.state().get_best_cost());
        let gain = value - best_value;
        if best_value <= value {
            (at, value) = (best, best_value);
        }
        if restart > 0 && gain.abs() < SETTLED_GAIN {
            settled = true;
            break;
        }
    }
    Some(Minimum { at, value, settled })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_curved_valley_of_rosenbrock_is_followed_to_its_end() {
        // Rosenbrock 1960: minimum 0 at (1, 1).
        let valley = |p: &[f64]| (1.0 - p[0]).powi(2) + 100.0 * (p[1] - p[0] * p[0]).powi(2);
        let found = minimise(valley, &[-1.2, 1.0], &[0.5, 0.5]).unwrap();
        assert!(found.settled && (found.at[0] - 1.0).abs() < 1e-4 && (found.at[1] - 1.0).abs() < 1e-4, "{found:?}");
    }

    #[test]
    fn an_edge_of_the_domain_is_no_obstacle_and_a_start_outside_is_refused() {
        let edged = |p: &[f64]| if p[0] <= 0.0 { f64::INFINITY } else { p[0] - p[0].ln() };
        assert!((minimise(edged, &[0.01], &[2.0]).unwrap().at[0] - 1.0).abs() < 1e-5);
        assert_eq!(minimise(edged, &[-1.0], &[0.5]), None);
    }
}
