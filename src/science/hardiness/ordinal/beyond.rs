//! What −L'' has beyond the curvature of the profile ([`super::information`]), kept from one fit for the next of nearly the same records.
//!
//! The determinants that it comes from hardly depend on what was observed, only on how many records there are for each level, and on where the outer
//! parameters stand. A fit of a tenth more or fewer records that ends near takes it over, by the number of records, and has its curvature for one pass.

use nalgebra::DMatrix;

/// Growth of the records up to which it stands.
const MOST_GROWTH: f64 = 1.1;
/// How far an outer parameter may have moved meanwhile, in its standard errors.
const FARTHEST: f64 = 0.5;

/// That part of the curvature, and of what.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Beyond {
    matrix: DMatrix<f64>,
    psi: Vec<f64>,
    records: usize,
}

impl Beyond {
    /// Of so many records whose outer parameters stand at ψ.
    pub fn new(matrix: DMatrix<f64>, records: usize, psi: &[f64]) -> Self {
        Self { matrix, psi: psi.to_vec(), records }
    }

    /// The same of other records, whose outer parameters stand at ψ and have the covariance given; `None` where that is too far away. What concerns
    /// the spread of the `group`, at its place in ψ, does not grow with the records.
    pub fn of(&self, records: usize, group: Option<usize>, psi: &[f64], covariance: &DMatrix<f64>) -> Option<DMatrix<f64>> {
        let grown = records as f64 / self.records as f64;
        let near = |i: usize| (psi[i] - self.psi[i]).abs() <= FARTHEST * covariance[(i, i)].abs().sqrt();
        let stands = self.psi.len() == psi.len() && (0..psi.len()).all(near) && (1.0 / MOST_GROWTH..=MOST_GROWTH).contains(&grown);
        stands
            .then(|| self.matrix.map_with_location(|i, j, value| if group == Some(i) || group == Some(j) { value } else { value * grown }))
    }
}

#[cfg(test)]
mod tests {
    use super::super::fitted::FitOptions;
    use super::*;
    use crate::catalogue::prior_table;
    use crate::science::hardiness::fit::{HardinessSpec, Likelihood, PriorUse, fit, refit};
    use crate::science::hardiness::observation::Reports;
    use crate::science::hardiness::simulate::society;

    // By hand: 105 records for 100, the second parameter the spread of the group.
    #[test]
    fn it_grows_with_the_records_but_for_the_group_and_is_not_taken_from_afar() {
        let three = |rows: &[f64]| DMatrix::from_row_slice(3, 3, rows);
        let kept = Beyond::new(three(&[2.0, 0.5, 1.0, 0.5, 3.0, 0.25, 1.0, 0.25, 4.0]), 100, &[1.0, -1.0, 0.0]);
        // Standard errors of 0.2, 0.4 and, for what is held at a bound, nought.
        let covariance = three(&[0.04, 0.0, 0.0, 0.0, 0.16, 0.0, 0.0, 0.0, 0.0]);
        let at = |records, psi: &[f64]| kept.of(records, Some(1), psi, &covariance);
        let found = at(105, &[1.09, -1.19, 0.0]).unwrap();
        assert!((found - three(&[2.1, 0.5, 1.05, 0.5, 3.0, 0.25, 1.05, 0.25, 4.2])).amax() < 1e-12);
        assert!(at(111, &[1.0, -1.0, 0.0]).is_none() && at(90, &[1.0, -1.0, 0.0]).is_none() && at(110, &[1.0, -1.0, 0.0]).is_some());
        assert!(at(105, &[1.11, -1.0, 0.0]).is_none() && at(105, &[1.0, -1.21, 0.0]).is_none() && at(105, &[1.0, -1.0, 0.01]).is_none());
        assert!(at(105, &[1.0, -1.0]).is_none());
    }

    /// Seven fits on end, each of some more reports than the one before it, some of which take over what an earlier one found: the last has the standard
    /// errors of a fit from scratch.
    #[test]
    fn standard_errors_of_a_chain_of_fits_are_those_of_one_from_scratch() {
        let priors = prior_table::priors().unwrap();
        let all = society(&priors, 8, (30, 300, 8, 5_000));
        let effort = FitOptions { threads: 2, ..FitOptions::default() };
        for prior_use in [PriorUse::Evidence, PriorUse::Flat] {
            // What thermometers err by is learned by a fit from scratch alone: with it the two would not be of one model.
            let likelihood = Likelihood { unstated_error: false, young_death: prior_use == PriorUse::Evidence, ..Likelihood::default() };
            let spec = HardinessSpec { priors: &priors, prior_use, likelihood, effort };
            let first = |count: usize| Reports { observations: all.observations[..count].to_vec(), ..all.clone() };
            let (mut taken, mut found) = (0, 0);
            let mut fitted = fit(&spec, &first(3_500)).unwrap();
            for count in [3_700, 3_950, 4_200, 4_400, 4_650, 4_850, 5_000] {
                let next = refit(&spec, &first(count), &fitted).unwrap();
                assert!(next.convergence().converged, "{count}: {:?}", next.convergence());
                assert!(next.engine().beyond.is_some());
                if next.engine().beyond == fitted.engine().beyond {
                    taken += 1;
                    assert!(next.convergence().evaluations < next.engine().psi.len(), "{:?}", next.convergence());
                } else {
                    found += 1;
                }
                fitted = next;
            }
            assert!(taken >= 3 && found >= 2, "{taken} took over what {found} had found");
            let scratch = fit(&spec, &all).unwrap();
            let (chain, scratch) = (fitted.engine(), scratch.engine());
            for i in 0..chain.psi.len() {
                let sd = scratch.psi_covariance[(i, i)].sqrt();
                let ratio = chain.psi_covariance[(i, i)].sqrt() / sd;
                println!("{prior_use:?} ψ{i}: {ratio}");
                assert!((ratio - 1.0).abs() < 0.02, "{prior_use:?} ψ{i}: {ratio} of the standard error from scratch");
                assert!(
                    (chain.psi[i] - scratch.psi[i]).abs() < 0.05 * sd,
                    "{prior_use:?} ψ{i}: {} against {}",
                    chain.psi[i],
                    scratch.psi[i]
                );
            }
        }
    }
}
