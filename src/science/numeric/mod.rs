//! Numerical pieces that no maintained crate gives in the form needed here.

mod aligned;
pub(crate) mod eight_normal;
pub(crate) mod eight_numbers;
mod gaussian;
mod logistic_normal;
pub mod newton;
pub mod quantile;
mod quintic_table;
mod share;
pub mod simplex;
mod table;
mod vectorised;

pub(crate) use aligned::Aligned;
pub use gaussian::{Gaussian, TAILS_90, Z_90, standard_normal_cdf, standard_normal_pdf};
pub use logistic_normal::{PROBIT_MIXTURE, SoftLogistic, SoftMixture, expected_logistic};
pub use quintic_table::QuinticTable;
pub use share::share_range;
pub use table::SmoothTable;
pub(crate) use vectorised::vectorised;
