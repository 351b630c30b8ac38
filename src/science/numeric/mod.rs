//! Numerical pieces that no maintained crate gives in the form needed here.

pub mod simplex;
