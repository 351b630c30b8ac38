//! Simulation-based calibration (Talts, Betancourt, Simpson, Vehtari & Gelman 2018): truths drawn from the priors, reports drawn from the
//! truths, and the place of each truth in its own posterior must be uniform; 90 % intervals must hold 90 % of truths.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use winterfig_core::catalogue::prior_table;
use winterfig_core::science::cultivar::HardinessClass;
use winterfig_core::science::hardiness::fit::{HardinessSpec, Likelihood, PriorUse, fit};
use winterfig_core::science::hardiness::observation::CultivarPrior;
use winterfig_core::science::hardiness::ordinal::FitOptions;
use winterfig_core::science::hardiness::simulate::{Design, Faults, Truth, simulate};
use winterfig_core::science::numeric::Gaussian;

/// Places of truths in their posteriors, 0..1.
#[derive(Default)]
pub struct Places {
    /// h of a cultivar reported often.
    pub common: Vec<f64>,
    /// h of one reported seldom, class from memory.
    pub rare: Vec<f64>,
    /// h of one with no class.
    pub unclassed: Vec<f64>,
    /// log β.
    pub slope: Vec<f64>,
    /// log of the spread of shared winters.
    pub event: Vec<f64>,
    /// Fits that did not converge.
    pub failed: usize,
}

/// Runs the replicates.
pub fn replicate(replicates: u64, reports: usize, seed: u64) -> Places {
    let priors = prior_table::priors().unwrap();
    let mut places = Places::default();
    let class = |n| CultivarPrior { class: HardinessClass::new(n).ok(), from_memory: false };
    // The simulator names the first cultivars most often.
    let mut cultivars = vec![class(3), CultivarPrior::default(), class(2), class(4), class(3), class(2)];
    cultivars.push(CultivarPrior { from_memory: true, ..class(3) });
    for replicate in 0..replicates {
        let mut rng = ChaCha8Rng::seed_from_u64(seed + replicate);
        let truth = Truth::draw(&priors, &cultivars, &mut rng);
        let design = Design {
            cultivars: cultivars.clone(),
            reporters: 12,
            winters: (2010, 6),
            reports,
            gardens: Gaussian::new(-14.0, 3.0),
            winter_spread: 3.0,
            thermometers: vec![0.0],
            varied: true,
            faults: Faults::default(),
        };
        let drawn = simulate(&priors, truth, &design, &mut rng);
        // Every report says what happened, and the fit is told so.
        let likelihood = Likelihood { contamination: false, ..Likelihood::default() };
        let effort = FitOptions { tolerance: 1e-6, ..FitOptions::default() };
        let spec = HardinessSpec { priors: &priors, prior_use: PriorUse::Evidence, likelihood, effort };
        let fitted = fit(&spec, &drawn.reports).unwrap();
        places.failed += usize::from(!fitted.convergence().converged);
        let place = |c: usize| -> f64 {
            let h = drawn.truth.hardiness[c];
            fitted.belief(c).unwrap().components().iter().map(|part| part.weight * part.h.cdf(h)).sum()
        };
        places.common.push(place(0));
        places.unclassed.push(place(1));
        places.rare.push(place(6));
        let event = fitted.event_state();
        places.event.push(Gaussian::new(event.mean.ln(), event.sd / event.mean).cdf(drawn.truth.event_state.ln()));
        let beta = fitted.beta();
        places.slope.push(Gaussian::new(beta.mean.ln(), beta.sd / beta.mean).cdf(drawn.truth.scale.beta.ln()));
    }
    places
}

/// χ² of the places over ten bins.
pub fn chi_square(places: &[f64]) -> f64 {
    let mut bins = [0.0; 10];
    for p in places {
        bins[((p * 10.0) as usize).min(9)] += 1.0;
    }
    let expected = places.len() as f64 / 10.0;
    bins.iter().map(|b| (b - expected) * (b - expected) / expected).sum()
}

/// Share of truths within the central 90 %.
pub fn coverage(places: &[f64]) -> f64 {
    places.iter().filter(|p| (0.05..=0.95).contains(*p)).count() as f64 / places.len() as f64
}

/// Within binomial and χ² bounds of one in a thousand (χ² with 9 degrees of freedom: 27.88; 3.3 standard errors of 90 %).
#[test]
fn truths_fall_anywhere_in_their_posteriors_and_nine_in_ten_in_the_intervals() {
    let replicates = 60;
    let places = replicate(replicates, 120, 7_000);
    assert!(places.failed <= 2, "{} fits did not converge", places.failed);
    let bound = 3.3 * (0.09 / replicates as f64).sqrt();
    for (name, of) in [
        ("common", &places.common),
        ("rare", &places.rare),
        ("unclassed", &places.unclassed),
        ("slope", &places.slope),
        ("event", &places.event),
    ] {
        let (chi, cover) = (chi_square(of), coverage(of));
        println!("{name}: χ² {chi:.1}, coverage {cover:.3}");
        assert!(chi < 27.88, "{name}: χ² {chi}");
        assert!((cover - 0.9).abs() < bound, "{name}: {cover}");
    }
}
