//! Simulated societies of the benchmarks.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use winterfig_core::science::cultivar::HardinessClass;
use winterfig_core::science::hardiness::observation::CultivarPrior;
use winterfig_core::science::hardiness::simulate::{Design, Faults, Simulated, Truth, simulate};
use winterfig_core::science::numeric::Gaussian;
use winterfig_core::science::priors::Priors;

/// Cultivars, in five classes.
pub const CULTIVARS: usize = 80;

/// Reports of gardens around -13 °C in twelve winters, fifty a reporter; `thermometers`: standard deviations of their readings, K; `varied`:
/// plants of all ages, pots and covers.
pub fn draw(priors: &Priors, reports: usize, thermometers: Vec<f64>, varied: bool) -> Simulated {
    let mut rng = ChaCha8Rng::seed_from_u64(20_240_101);
    let cultivars: Vec<CultivarPrior> =
        (0..CULTIVARS).map(|c| CultivarPrior { class: HardinessClass::new((c % 5) as u8 + 1).ok(), from_memory: false }).collect();
    let truth = Truth::draw(priors, &cultivars, &mut rng);
    let design = Design {
        cultivars,
        reporters: (reports / 50).max(5) as u32,
        winters: (2010, 12),
        reports,
        gardens: Gaussian::new(-13.0, 4.0),
        winter_spread: 3.0,
        thermometers,
        varied,
        faults: Faults::default(),
    };
    simulate(priors, truth, &design, &mut rng)
}
