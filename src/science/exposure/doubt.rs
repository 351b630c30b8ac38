//! What is not known of an exposure, by where the doubt comes from: data, so that a page can say which is largest.
//!
//! Doubt stays the same from winter to winter; what differs between winters is luck and stands apart. An interval holds all doubt and no
//! luck; a chance holds both.

use crate::vocabulary::vocabulary;

vocabulary! {
    /// Where a doubt comes from.
    pub enum DoubtSource: "source of doubt" {
        /// How cold winters get here: the place within its half-zone, too few winters of a record.
        Place = "place" => "how cold your winters get",
        /// What the setting gains or loses.
        Setting = "setting" => "what the spot in the garden gains",
        /// What a cover gains.
        Cover = "cover" => "what the cover gains",
        /// What a store keeps.
        Store = "store" => "how warm the store stays",
        /// What age does.
        Age = "age" => "what its age does",
        /// How far it hardens.
        Hardening = "hardening" => "how far it hardens here",
        /// The cultivar.
        Hardiness = "hardiness" => "how hardy the kind is",
        /// Distances between the levels of damage, and their steepness.
        Levels = "levels" => "how far one level of damage lies from the next",
        /// Roots in a pot.
        Roots = "roots" => "what roots in a pot stand",
        /// Heat of the season and need of the crop.
        Summer = "summer" => "how warm your summers are and what ripening takes",
        /// Whether it bears on shoots from the base.
        Regrowth = "regrowth" => "whether it bears on shoots from the base",
    }
}

/// Number of sources.
pub const SOURCES: usize = DoubtSource::ALL.len();

/// Variances by source, K².
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Doubts([f64; SOURCES]);

impl Doubts {
    /// Adds a standard deviation, K, to a source.
    #[must_use]
    pub fn with(mut self, source: DoubtSource, sd_k: f64) -> Self {
        self.0[source as usize] += sd_k * sd_k;
        self
    }

    /// Standard deviation of a source, K.
    pub fn sd_k(&self, source: DoubtSource) -> f64 {
        self.0[source as usize].sqrt()
    }

    /// All of it, K².
    pub fn variance_k2(&self) -> f64 {
        self.0.iter().sum()
    }

    /// Sources that are not nothing, with their standard deviations, K.
    pub fn sources(&self) -> impl Iterator<Item = (DoubtSource, f64)> + '_ {
        DoubtSource::ALL.iter().zip(self.0).filter(|(_, v)| *v > 0.0).map(|(s, v)| (*s, v.sqrt()))
    }

    /// The same after a linear change of scale by `factor`.
    #[must_use]
    pub fn scaled(mut self, factor: f64) -> Self {
        self.0.iter_mut().for_each(|v| *v *= factor * factor);
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Independent doubts add by their squares, 3-4-5; a change of scale stretches every one of them by as much.
    #[test]
    fn doubts_add_by_their_squares_and_keep_their_sources() {
        let doubts = Doubts::default().with(DoubtSource::Place, 3.0).with(DoubtSource::Cover, 1.2).with(DoubtSource::Cover, 1.6);
        assert!((doubts.sd_k(DoubtSource::Cover) - 2.0).abs() < 1e-12);
        assert!((doubts.variance_k2() - 13.0).abs() < 1e-12);
        let half = doubts.scaled(-0.5);
        assert!((half.sd_k(DoubtSource::Place) - 1.5).abs() < 1e-12 && (half.variance_k2() - 13.0 / 4.0).abs() < 1e-12);
        let named: Vec<DoubtSource> = half.sources().map(|(source, _)| source).collect();
        assert_eq!(named, [DoubtSource::Place, DoubtSource::Cover]);
        assert!(half.sources().all(|(source, sd_k)| (sd_k - half.sd_k(source)).abs() < 1e-12));
    }
}
