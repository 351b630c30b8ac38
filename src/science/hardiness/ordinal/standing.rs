//! Where a search of the outer parameters stands.

use nalgebra::DVector;

/// A place with what is known of L there.
pub(super) struct State {
    pub psi: Vec<f64>,
    pub value: f64,
    pub gradient: DVector<f64>,
}

/// Which parameters are not pressed against a bound.
pub(super) fn free(state: &State, bounds: &[(f64, f64)]) -> Vec<bool> {
    state
        .psi
        .iter()
        .zip(bounds)
        .zip(state.gradient.iter())
        .map(|((&x, &(low, high)), &g)| !((x <= low + 1e-9 && g < 0.0) || (x >= high - 1e-9 && g > 0.0)))
        .collect()
}
