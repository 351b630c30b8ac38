//! The part of `/method` about spring and fruit: starting values, and the values fitted from dates in reports.

use crate::jobs::spring::words::tens;
use crate::model::snapshot::Snapshot;
use crate::science::fruiting::shown::Shown;
use crate::science::hardiness::level::DamageLevel;
use crate::science::numeric::Gaussian;

/// What dates of growth and fruit have taught.
pub struct FruitLessons {
    /// Value, before any report, now, reports behind it.
    pub values: Vec<(&'static str, String, String, usize)>,
    /// Reports with dates whose heat no daily record counts.
    pub heat_unknown: usize,
    /// Reports with dates whose damage was not plain or whose plant was not known to live.
    pub unclear: usize,
}

impl FruitLessons {
    /// From what a snapshot learned; `None` where no report gives a date.
    pub fn of(snapshot: &Snapshot) -> Option<Self> {
        let (lesson, priors) = (snapshot.fruit_effects.as_ref()?, &snapshot.fruit_priors);
        let growth = [
            "first growth, nothing dead",
            "first growth, tips dead",
            "first growth, part of the wood dead",
            "first growth, dead to the ground",
        ];
        let mut values: Vec<_> = growth
            .into_iter()
            .zip(DamageLevel::ALL)
            .zip(&priors.shown)
            .map(|((name, level), prior)| {
                let now = snapshot.shown(level);
                (name, half(&Shown::prior(prior)), half(&now), now.reports)
            })
            .collect();
        let reports = lesson.ripe_reports();
        let shifted = |mid: Gaussian, excess: Gaussian| give_or_take(Gaussian::new(mid.mean + excess.mean, excess.sd));
        if let Some(main) = &lesson.ripe.main {
            values.push((
                "main crop, mid-season, on sound wood",
                give_or_take(priors.main_need),
                shifted(priors.main_need, main.shared),
                reports.main,
            ));
            values.push((
                "more on shoots from the base",
                give_or_take(priors.regrowth_need),
                shifted(priors.regrowth_need, main.base),
                reports.main,
            ));
            values.push(("spread of cultivars of one season", tens(priors.cultivar_spread), tens(main.cultivar_spread), reports.main));
        }
        if let Some(breba) = &lesson.ripe.breba {
            values.push((
                "early crop, mid-season",
                give_or_take(priors.breba_need),
                shifted(priors.breba_need, breba.shared),
                reports.breba,
            ));
        }
        Some(Self { values, heat_unknown: lesson.heat_unknown, unclear: lesson.unclear })
    }
}

/// Heat by which half have shown growth, with its 90 % interval.
fn half(shown: &Shown) -> String {
    let (heat, range) = shown.degree_days_by_which(0.5);
    format!("{} ({} to {})", tens(heat), tens(range.low), tens(range.high))
}

fn give_or_take(heat: Gaussian) -> String {
    format!("{} ± {}", tens(heat.mean), tens(heat.sd))
}
