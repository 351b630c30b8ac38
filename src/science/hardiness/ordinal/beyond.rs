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
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    use super::super::fitted::FitOptions;
    use crate::catalogue::prior_table;
    use crate::science::cultivar::HardinessClass;
    use crate::science::hardiness::fit::{HardinessSpec, Likelihood, PriorUse, fit, refit};
    use crate::science::hardiness::observation::{CultivarPrior, Reports};
    use crate::science::hardiness::simulate::{Design, Faults, Truth, simulate};
    use crate::science::numeric::Gaussian;

    fn reports() -> Reports {
        let priors = prior_table::priors().unwrap();
        let mut rng = ChaCha8Rng::seed_from_u64(8);
        let class = |c: u8| CultivarPrior { class: HardinessClass::new(c % 5 + 1).ok(), from_memory: false };
        let cultivars: Vec<CultivarPrior> = (0..30).map(class).collect();
        let truth = Truth::draw(&priors, &cultivars, &mut rng);
        let design = Design {
            cultivars,
            reporters: 300,
            winters: (2010, 8),
            reports: 5_000,
            gardens: Gaussian::new(-13.0, 4.0),
            winter_spread: 3.0,
            thermometers: vec![0.3, 1.8],
            varied: true,
            faults: Faults::default(),
        };
        simulate(&priors, truth, &design, &mut rng).reports
    }

    /// Seven fits on end, each of some more reports than the one before it, some of which take over what an earlier one found: the last has the standard
    /// errors of a fit from scratch.
    #[test]
    fn standard_errors_of_a_chain_of_fits_are_those_of_one_from_scratch() {
        let all = reports();
        let priors = prior_table::priors().unwrap();
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
