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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::{Catalogue, Cultivar, prior_table};
    use crate::science::climate::kind::ClimateKind;
    use crate::science::climate::season::{Origin, Season};
    use crate::science::climate::winter_minimum::WinterMinimum;
    use crate::science::fruiting::SeasonDegreeDays;
    use crate::science::hardiness::belief::HardinessBelief;
    use crate::science::numeric::Gaussian;
    use crate::science::site::{Culture, Protection, Setting, Site, YearsEstablished};
    use crate::units::{Celsius, TemperatureDelta};

    /// A garden by a wall; with so cold a mean winter, °C.
    fn site(mean_c: f64) -> Site {
        Site {
            winter: WinterMinimum::Normal { mean: Celsius::literal(mean_c), spread: TemperatureDelta::literal(3.0) },
            place_error_k: 0.0,
            hardening_counted: false,
            hardening_doubt_k: 0.0,
            winter_by_class: None,
            climate: ClimateKind::Inland,
            setting: Setting::Wall.into(),
            own_spot: None,
            culture: Culture::Ground,
            years: YearsEstablished::ESTABLISHED,
            wood_years: None,
            protection: Protection::None,
            store: None,
            season: Season::new(190.0, Celsius::literal(24.0), Origin::Assumed, Origin::Assumed).unwrap(),
        }
    }

    /// The whole catalogue, each kind believed to be of a hardiness of its own, at two places: every share by itself against those few.
    #[test]
    fn few_shares_of_each_kind_say_as_well_as_all_which_is_the_best_of_a_catalogue() {
        let (priors, fruit_priors) = (prior_table::priors().unwrap(), prior_table::fruit_priors().unwrap());
        let catalogue = Catalogue::embedded().unwrap();
        let ranked: Vec<&Cultivar> = catalogue.cultivars().iter().filter(|c| !c.fruit_traits().is_pollinator_only()).collect();
        let moved = |n: usize| Gaussian::new(0.01 * n as f64 - 0.4, 0.0);
        let belief = |(n, c): (usize, &&Cultivar)| priors.belief(c.hardiness_class.known(), false).shifted(moved(n));
        let beliefs: Vec<HardinessBelief> = ranked.iter().enumerate().map(belief).collect();
        let entry = |(key, c): (usize, &&Cultivar)| Entry { key, belief: &beliefs[key], fruit: c.fruit_traits(), guessed: false };
        let entries: Vec<Entry<'_, usize>> = ranked.iter().enumerate().map(entry).collect();
        for mean_c in [-9.0, -14.0] {
            let site = site(mean_c);
            let heat = SeasonDegreeDays::from_season(&site.season, &fruit_priors);
            let picture = SitePicture::new(&site, &priors, &priors.scale(), heat, &beliefs);
            let few: Vec<_> = entries.iter().map(|e| picture.long_run_in(e, &fruit_priors, Steps::WHOLE_CATALOGUE)).collect();
            let all: Vec<_> = few.iter().map(|run| run.clone().with_every_share()).collect();
            let (few, all) = (chance_best(&few.iter().collect::<Vec<_>>()), chance_best(&all.iter().collect::<Vec<_>>()));
            for ((few, all), fig) in few.iter().zip(&all).zip(&ranked) {
                assert!((few - all).abs() < 0.01, "{mean_c} °C, {}: {few:.4} by few, {all:.4} by all", fig.slug);
            }
            assert!(all.iter().any(|chance| *chance > 0.05), "nobody wins");
        }
    }
}
