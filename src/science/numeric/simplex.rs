//! Minimising a function of a few variables without derivatives: the simplex of Nelder & Mead (1965, Computer Journal 7, 308–313), restarted
//! at its own answer.
//!
//! Used where Newton's method finds no minimum: the functions here have an edge beyond which they are infinite (the support of an extreme-value
//! distribution). A restart with a fresh simplex guards against the known failure of the method, a collapsed simplex.

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

/// Stands for "outside the domain": finite, so that corners can be compared.
pub const OUTSIDE: f64 = 1e30;
/// Difference between the best and the worst corner at which a run ends.
const TOLERANCE: f64 = 1e-11;
/// Steps a run may take.
const MAX_STEPS: usize = 2000;
/// Restarts at most.
const MAX_RESTARTS: usize = 8;
/// Gain of a restart below which the answer is settled.
const SETTLED_GAIN: f64 = 1e-9;

/// The minimum of `function` near `start`, with first steps of `steps` along the axes. `None` where `start` itself is outside the domain.
pub fn minimise(function: impl Fn(&[f64]) -> f64, start: &[f64], steps: &[f64]) -> Option<Minimum> {
    let value = |at: &[f64]| {
        let value = function(at);
        if value.is_finite() { value.min(OUTSIDE) } else { OUTSIDE }
    };
    let mut best = (start.to_vec(), value(start));
    if best.1 >= OUTSIDE {
        return None;
    }
    let mut settled = false;
    for restart in 0..MAX_RESTARTS {
        let shrink = if restart == 0 { 1.0 } else { 0.2 };
        let found = run(&value, &best, steps, shrink);
        let gain = best.1 - found.1;
        if gain >= 0.0 {
            best = found;
        }
        if restart > 0 && gain.abs() < SETTLED_GAIN {
            settled = true;
            break;
        }
    }
    Some(Minimum { at: best.0, value: best.1, settled })
}

type Corner = (Vec<f64>, f64);

/// One run from a fresh simplex: reflect, expand, contract, shrink with the usual 1, 2, ½, ½.
fn run(value: &impl Fn(&[f64]) -> f64, start: &Corner, steps: &[f64], shrink: f64) -> Corner {
    let at = |place: Vec<f64>| {
        let height = value(&place);
        (place, height)
    };
    let mut corners: Vec<Corner> = vec![start.clone()];
    for (axis, step) in steps.iter().enumerate() {
        let mut corner = start.0.clone();
        corner[axis] += shrink * step;
        corners.push(at(corner));
    }
    for _ in 0..MAX_STEPS {
        corners.sort_by(|a, b| a.1.total_cmp(&b.1));
        let worst = corners.len() - 1;
        if corners[worst].1 - corners[0].1 < TOLERANCE {
            break;
        }
        let centre: Vec<f64> =
            (0..steps.len()).map(|axis| corners[..worst].iter().map(|corner| corner.0[axis]).sum::<f64>() / worst as f64).collect();
        // A point on the line from the worst corner through the centre of the others: 0 is the centre, 1 the reflection.
        let beyond = |share: f64| at(centre.iter().zip(&corners[worst].0).map(|(c, w)| c + share * (c - w)).collect());
        let reflected = beyond(1.0);
        let taken = if reflected.1 < corners[0].1 {
            let expanded = beyond(2.0);
            Some(if expanded.1 < reflected.1 { expanded } else { reflected })
        } else if reflected.1 < corners[worst - 1].1 {
            Some(reflected)
        } else {
            let contracted = beyond(if reflected.1 < corners[worst].1 { 0.5 } else { -0.5 });
            (contracted.1 < reflected.1.min(corners[worst].1)).then_some(contracted)
        };
        if let Some(corner) = taken {
            corners[worst] = corner;
        } else {
            let best = corners[0].0.clone();
            for corner in &mut corners[1..] {
                *corner = at(best.iter().zip(&corner.0).map(|(b, c)| f64::midpoint(*b, *c)).collect());
            }
        }
    }
    corners.into_iter().min_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or_else(|| start.clone())
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
