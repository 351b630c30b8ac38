//! The share in which unharmed plants are reported, against simulated truths with every fault at once: it must lie within its own error.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use winterfig_core::catalogue::prior_table;
use winterfig_core::science::cultivar::HardinessClass;
use winterfig_core::science::hardiness::fit::{HardinessSpec, Likelihood, PriorUse, fit};
use winterfig_core::science::hardiness::observation::CultivarPrior;
use winterfig_core::science::hardiness::ordinal::FitOptions;
use winterfig_core::science::hardiness::selection::reported_share;
use winterfig_core::science::hardiness::simulate::{Design, Faults, Truth, simulate};
use winterfig_core::science::numeric::Gaussian;

const TRUTHS: u64 = 6;
/// Share of unharmed plants in no complete list that are left out; as many are reported.
const LEFT_OUT: f64 = 0.5;

/// Σ ((log ρ − true)/error)² is χ² with as many degrees of freedom as truths: below 22.46 for six in 999 of 1,000 (tables of χ²).
#[test]
fn the_share_in_which_unharmed_plants_are_reported_lies_within_its_error() {
    let priors = prior_table::priors().unwrap();
    let mut sum = 0.0;
    for seed in 0..TRUTHS {
        let mut rng = ChaCha8Rng::seed_from_u64(41_000 + seed);
        let prior = |c: u8| CultivarPrior { class: HardinessClass::new(c % 5 + 1).ok(), from_memory: false };
        let cultivars: Vec<_> = (0..20).map(prior).collect();
        let truth = Truth { event_state: 3.0, ..Truth::draw(&priors, &cultivars, &mut rng) };
        let design = Design {
            cultivars,
            reporters: 200,
            winters: (2010, 8),
            reports: 4_000,
            gardens: Gaussian::new(-13.0, 4.0),
            winter_spread: 3.0,
            thermometers: vec![0.3, 1.0, 1.8],
            varied: true,
            faults: Faults { heavy_tails: Some(3.0), off_k: Some(3.0), at_random: 0.1, unharmed_left_out: LEFT_OUT, complete_lists: 0.3 },
        };
        let drawn = simulate(&priors, truth, &design, &mut rng);
        let spec = HardinessSpec {
            priors: &priors,
            prior_use: PriorUse::Evidence,
            likelihood: Likelihood::default(),
            effort: FitOptions { tolerance: 1e-6, ..FitOptions::default() },
        };
        let fitted = fit(&spec, &drawn.reports).unwrap();
        let found = reported_share(&spec, &drawn.reports, &fitted).unwrap();
        let z = (found.log.mean - (1.0 - LEFT_OUT).ln()) / found.log.sd;
        println!("truth {seed}: {:?}, {z:+.2}", found.log);
        sum += z * z;
    }
    assert!(sum < 22.46, "Σ z² is {sum}");
}
