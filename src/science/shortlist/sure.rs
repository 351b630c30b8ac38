//! Rows of several cultivars with what one can count on: quartile, five years in ten, and which is truly the best.

use rayon::prelude::*;

use super::best::chance_best;
use super::long_run_of::Steps;
use super::row::{Entry, Row, SitePicture, Sure};
use crate::science::fruiting::FruitPriors;

/// Part of what is believed that lies below the share one can count on. DESIGN: right three times in four.
const LOWER_QUARTILE: f64 = 0.25;
/// So many figs or fewer are worked out as finely as those that are compared.
const FEW: usize = 4;
/// Five years in ten.
const HALF: f64 = 0.5;

impl SitePicture {
    /// The whole answer for several cultivars, in their order.
    pub fn rows<K: Clone + Send + Sync>(&self, entries: &[Entry<'_, K>], priors: &FruitPriors) -> Vec<Row<K>> {
        let steps = if entries.len() > FEW { Steps::WHOLE_CATALOGUE } else { Steps::default() };
        let runs = self.long_runs(entries, priors, steps);
        let best = chance_best(&runs.iter().map(AsRef::as_ref).collect::<Vec<_>>());
        let rows = entries.par_iter().zip(&runs).zip(best).map(|((entry, run), best)| {
            let sure = Sure { lower_quartile: run.quantile(LOWER_QUARTILE), five_in_ten: run.at_least(HALF), best };
            Row { sure, ..self.chances_alone(entry, priors) }
        });
        rows.collect()
    }
}
