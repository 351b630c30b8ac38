//! Starting values of propagation as typed numbers, read from the rows of `seed-data/propagation-priors.csv` (their one home, with provenance).

use super::method::Method;
use crate::science::numeric::Gaussian;
use crate::science::priors::{PriorError, PriorRow, Table};

/// Every starting value of propagation.
#[derive(Debug, Clone, PartialEq)]
pub struct PropagationPriors {
    /// Share of sticks that root over many batches, by method in the order of [`Method::ALL`].
    pub rooted_share: [Gaussian; 8],
    /// Correlation between sticks of one batch: its median, and the doubt of its logarithm.
    pub batch_correlation: Gaussian,
    /// What a batch rooted with bottom heat tells of one without, and the reverse, as a share of a batch of its own kind, 0..=1.
    pub other_heat_weight: f64,
    /// Temperature above which rooting goes on, °C.
    pub rooting_base_c: f64,
    /// Temperature above which it goes no faster, °C.
    pub rooting_cap_c: f64,
    /// Heat from sticking to roots, degree-days above the base.
    pub rooting_degree_days: Gaussian,
    /// Further heat until a rooted plant is potted and established, degree-days above the base.
    pub growing_on_degree_days: Gaussian,
    /// Length of a stick, m.
    pub stick_m: f64,
    /// Share of last year's length that a cut takes: shortened shoots, framework, to the ground.
    pub cut_share: [f64; 3],
    /// Share of last year's length that makes sound sticks: the thin and unripe ends left out.
    pub sound_share: Gaussian,
    /// Seasons of rest after a cut: shortened shoots, framework, to the ground.
    pub rest_seasons: [f64; 3],
    /// Work of one stick, from the cut to its place, min.
    pub stick_minutes: f64,
    /// Work of carrying one pot in and out again over a winter, min.
    pub carry_minutes: f64,
    /// Work of covering one plant and taking the cover off again, min.
    pub cover_minutes: f64,
}

impl PropagationPriors {
    /// Reads every value; rows it does not know are left alone.
    ///
    /// # Errors
    /// A row that is missing or holds no number.
    pub fn from_rows(rows: &[PriorRow]) -> Result<Self, PriorError> {
        let table = Table(rows);
        let mut rooted_share = [Gaussian::new(0.0, 0.0); 8];
        for (slot, method) in rooted_share.iter_mut().zip(Method::ALL) {
            *slot = table.gaussian(&format!("rooted_{method}"))?;
        }
        let three = |key: &str| Table::numbers(key, &table.row(key)?.value, "three numbers");
        Ok(Self {
            rooted_share,
            batch_correlation: table.gaussian("batch_correlation")?,
            other_heat_weight: table.value("other_heat_weight")?.clamp(0.0, 1.0),
            rooting_base_c: table.value("rooting_base")?,
            rooting_cap_c: table.value("rooting_cap")?,
            rooting_degree_days: table.gaussian("rooting_heat")?,
            growing_on_degree_days: table.gaussian("growing_on_heat")?,
            stick_m: table.value("stick_length")?,
            cut_share: three("cut_share")?,
            sound_share: table.gaussian("sound_share")?,
            rest_seasons: three("rest_seasons")?,
            stick_minutes: table.value("stick_minutes")?,
            carry_minutes: table.value("carry_minutes")?,
            cover_minutes: table.value("cover_minutes")?,
        })
    }

    /// Share that roots, by method.
    pub fn rooted(&self, method: Method) -> Gaussian {
        let at = Method::ALL.iter().position(|&other| other == method).unwrap_or(0);
        self.rooted_share.get(at).copied().unwrap_or(Gaussian::new(0.5, 0.28))
    }
}
