//! A cumulative-logit engine: ordered outcomes, fixed effects, two crossed random intercepts and one nested in the second of them.
//!
//! What a caller does: write a [`Spec`], push [`Observation`]s into [`Problem::builder`], choose [`Parameters`] ([`Free`] has flat priors),
//! call [`fit`]. Outcomes may be ranges of levels, exposures uncertain (attenuation), records weighted.
//!
//! Outer parameters (thresholds, slope, maximised coefficients, standard deviations) maximise the Laplace marginal likelihood with its
//! exact gradient; all other effects are integrated around their mode, found by Newton's method with the crossed and the
//! nested intercept eliminated by Schur complement. Cost is linear in the records. Formulas are in the modules: `record` (likelihood), `kernel` (the same, many
//! records at once), `sweep` (elimination), `gradient` (outer gradient), `outer` (search), `information`
//! (its curvature).
//!
//! With flat priors and no exposure error this is the ordinary cumulative-link (mixed) model; `tests/science/statistics` holds it against
//! published fits.

mod beyond;
mod bounds;
mod builder;
mod collecting;
mod curvature;
mod design;
mod elimination;
mod factor;
mod fitted;
mod fitting;
mod further;
mod gather;
mod gathered;
mod gradient;
mod information;
mod inner;
mod kernel;
mod laplace;
mod levels;
mod log_product;
mod natural;
mod outer;
mod parallel;
mod patterns;
mod point;
mod problem;
mod record;
mod robust;
mod spec;
mod standing;
mod stop;
mod sweep;
#[cfg(test)]
mod tests;
mod variance;

pub use builder::ProblemBuilder;
pub use fitted::{Combination, Convergence, Diagnostic, FitOptions, Fitted, Place};
pub use fitting::{fit, look, refit, refit_one_step};
pub use natural::{Free, GAP_BOUNDS, LOCATION_BOUND, Layout, Natural, Parameters, SCALE_BOUNDS};
pub use point::Mode;
pub use problem::{ATTENUATION, Problem};
pub use record::{FullTerms, Terms, UNBOUNDED, full_terms, log_likelihood, terms};
pub use robust::{Contamination, Seed, doubt_again, fit_robust, refit_robust};
pub use spec::{DataError, Group, Observation, Role, Spec};
pub use stop::Stop;
pub use sweep::log_likelihood_of;
