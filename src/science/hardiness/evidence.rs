//! Reports that a fit goes through: kept as they are, or made anew each time from what holds them, so that no copy of all of them stands beside
//! the packed problem.

use super::observation::{CultivarPrior, Reports, WinterObservation};

/// Reports with the cultivars they may be about, gone through as often as is asked and each time in the same order.
pub trait Evidence {
    /// Every cultivar to be estimated; those without reports fall back on their class.
    fn cultivars(&self) -> &[CultivarPrior];

    /// Number of reporters.
    fn reporters(&self) -> u32;

    /// Every report.
    fn observations(&self) -> Box<dyn Iterator<Item = WinterObservation> + '_>;

    /// How many reports.
    fn count(&self) -> usize {
        self.observations().count()
    }

    /// Whether there is none.
    fn is_empty(&self) -> bool {
        self.observations().next().is_none()
    }
}

impl Evidence for Reports {
    fn cultivars(&self) -> &[CultivarPrior] {
        &self.cultivars
    }

    fn reporters(&self) -> u32 {
        self.reporters
    }

    fn observations(&self) -> Box<dyn Iterator<Item = WinterObservation> + '_> {
        Box::new(self.observations.iter().copied())
    }

    fn count(&self) -> usize {
        self.observations.len()
    }
}

impl Reports {
    /// A copy of some reports.
    pub fn of(evidence: &dyn Evidence) -> Self {
        let observations = evidence.observations().collect();
        Self { cultivars: evidence.cultivars().to_vec(), reporters: evidence.reporters(), observations }
    }
}

/// Those of some reports that are kept.
#[derive(Debug, Clone, Copy)]
pub struct Part<'a, F>(pub &'a dyn Evidence, pub F);

impl<F: Fn(&WinterObservation) -> bool> Evidence for Part<'_, F> {
    fn cultivars(&self) -> &[CultivarPrior] {
        self.0.cultivars()
    }

    fn reporters(&self) -> u32 {
        self.0.reporters()
    }

    fn observations(&self) -> Box<dyn Iterator<Item = WinterObservation> + '_> {
        Box::new(self.0.observations().filter(&self.1))
    }
}

impl std::fmt::Debug for dyn Evidence + '_ {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} cultivars, {} reporters", self.cultivars().len(), self.reporters())
    }
}
