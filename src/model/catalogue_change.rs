//! A snapshot over another catalogue: what was learned of a fig stays with it, a new fig stands on priors, and the next fit has it all.

use std::sync::Arc;

use arc_swap::ArcSwap;

use crate::catalogue::Catalogue;
use crate::model::snapshot::{Snapshot, SnapshotError};
use crate::model::trained::TrainedModel;
use crate::science::numeric::Gaussian;

impl Snapshot {
    /// The same model over another catalogue, made at once: nothing is fitted. Beliefs, reports and points go with the slugs of their figs; where
    /// a fig's class is another from now on, it stands on priors until the next fit.
    ///
    /// # Errors
    /// A shipped table of priors that does not read.
    pub fn over(&self, catalogue: Catalogue) -> Result<Self, SnapshotError> {
        let mut next = Self::from_priors(catalogue)?;
        next.priors = self.priors.clone();
        next.scale = self.scale;
        next.model = self.model.clone();
        next.simulated = self.simulated;
        next.fruit_trouble.clone_from(&self.fruit_trouble);
        next.note_trouble(self.trouble().map(|trouble| (*trouble).clone()));
        // Where each fig of the new catalogue stood in the old one.
        let stood: Vec<Option<usize>> = next
            .catalogue
            .cultivars()
            .iter()
            .map(|c| self.catalogue.place(c.slug.as_str()).filter(|at| self.same_fig(*at, c.slug.as_str())))
            .collect();
        for (standing, at) in next.standings.iter_mut().zip(&stood) {
            standing.simulated = self.simulated;
            let Some(old) = at.and_then(|at| self.standings.get(at)) else { continue };
            standing.reports = old.reports;
            if (old.class, old.class_from_memory) == (standing.class, standing.class_from_memory) {
                standing.belief = old.belief.clone();
            }
        }
        next.learned = self.learned.as_ref().map(|learned| TrainedModel {
            // Its order of figs is another.
            fitted: None,
            reporters: Arc::default(),
            lesson: learned.lesson.clone(),
            scored: ArcSwap::from(learned.scored.load_full()),
            points: stood.iter().map(|at| at.and_then(|at| learned.points.get(at)).cloned().unwrap_or_default()).collect(),
            before: next
                .standings
                .iter()
                .zip(&stood)
                .map(|(standing, at)| at.and_then(|at| learned.before.get(at)).unwrap_or(&standing.belief).clone())
                .collect(),
            scale_before: learned.scale_before,
            left_out: learned.left_out,
        });
        let mut fruit = self.fruit_effects.clone();
        for pooled in fruit.iter_mut().flat_map(|fruit| [&mut fruit.ripe.main, &mut fruit.ripe.breba]).flatten() {
            let unknown = Gaussian::new(pooled.shared.mean, pooled.shared.sd.hypot(pooled.cultivar_spread));
            pooled.cultivars = stood.iter().map(|at| at.and_then(|at| pooled.cultivars.get(at)).copied().unwrap_or(unknown)).collect();
            pooled.reports = stood.iter().map(|at| at.and_then(|at| pooled.reports.get(at)).copied().unwrap_or(0)).collect();
        }
        next.take_fruit_lesson(fruit);
        next.shoots = self.shoots;
        next.count_family_reports();
        Ok(next)
    }

    /// Whether the fig at a place bears this very slug, and not one that was merged into it.
    fn same_fig(&self, at: usize, slug: &str) -> bool {
        self.catalogue.cultivars().get(at).is_some_and(|c| c.slug.as_str() == slug)
    }
}
