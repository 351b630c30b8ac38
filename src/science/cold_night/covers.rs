//! What a cover buys on one night, over soil and over a pot: the one place where a night's plan and the standing table of covers take it from.

use super::priors::NightPriors;
use super::stage::{CoverKind, NightKind};
use crate::science::numeric::Gaussian;
use crate::science::priors::RootPriors;

/// Gain of one cover on one night, K.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoverGain {
    /// Over soil that gives up its warmth.
    pub over_soil: Gaussian,
    /// Over a pot on paving.
    pub over_pot: Gaussian,
}

impl CoverGain {
    /// A gain over soil, of which a pot gets `pot_share`: the mean is smaller there, what is not known is not.
    pub fn new(over_soil: Gaussian, pot_share: f64) -> Self {
        Self { over_soil, over_pot: Gaussian::new(over_soil.mean * pot_share, over_soil.sd) }
    }

    /// A shipped cover.
    pub fn shipped(night_priors: &NightPriors, roots: &RootPriors, cover: CoverKind, night: NightKind) -> Self {
        Self::new(night_priors.cover(cover, night), roots.cover_share)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pot_gets_a_share_of_the_gain_and_all_of_the_doubt() {
        let gain = CoverGain::new(Gaussian::new(3.0, 1.5), 0.5);
        assert_eq!((gain.over_soil, gain.over_pot), (Gaussian::new(3.0, 1.5), Gaussian::new(1.5, 1.5)));
    }
}
