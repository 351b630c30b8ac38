//! What is learned from accepted reports: reports into observations, the fit, and the snapshot that holds them.
//!
//! Pure: the same reports, catalogue and moment give the same snapshot. `refit` runs it in the background.

use std::borrow::Borrow;
use std::sync::Arc;

use arc_swap::ArcSwap;

use crate::catalogue::Catalogue;
use crate::catalogue::prior_table::PriorTableError;
use crate::model::diagnostic_words::diagnostic_words;
use crate::model::snapshot::{Snapshot, SnapshotError};
use crate::model::told::Told;
use crate::model::trained::FittedFruiting;
use crate::model::trained::{FittedEffects, GatheredPoints, ModelVersion, Point, TrainedModel};
use crate::records::AcceptedReport;
use crate::records::spring_evidence::SpringEvidence;
use crate::science::hardiness::evidence::Evidence;
use crate::science::hardiness::fit::{FitError, HardinessSpec, Likelihood, PriorUse};
use crate::science::hardiness::ordinal::FitOptions;
use crate::science::hardiness::posterior::Fitted;
use crate::science::hardiness::selection::{FittedWithLists, fit_with_lists, sensitivity};
use crate::science::priors::Priors;

/// Reports that could not be learned from.
#[derive(Debug, thiserror::Error)]
pub enum LearningError {
    /// The fit.
    #[error("the reports could not be fitted: {0}")]
    Fit(#[from] FitError),
    /// The fit ended short of an answer.
    #[error("the fit did not converge: {0}")]
    NotConverged(String),
    /// The snapshot.
    #[error(transparent)]
    Snapshot(#[from] SnapshotError),
    /// The table for reading reports.
    #[error(transparent)]
    Priors(#[from] PriorTableError),
}

/// Reports above which what would follow from selective reporting is not worked out: that takes a step from the fit for each share shown.
const MOST_SHOWN: usize = 200_000;

/// Makes a new snapshot from all accepted reports, which are gone through several times. Without usable reports it holds priors alone.
pub fn learn<I>(
    catalogue: Catalogue,
    accepted: I,
    springs: Vec<SpringEvidence>,
    earlier: Option<&Fitted>,
    at: jiff::Timestamp,
    inputs_version: i64,
    effort: FitOptions<'_>,
) -> Result<Snapshot, LearningError>
where
    I: IntoIterator<Item: Borrow<AcceptedReport>, IntoIter: Clone>,
{
    let mut snapshot = Snapshot::from_priors(catalogue)?;
    // Hardiness does not wait for dates that cannot be fitted, nor does a withdrawn report stay for their sake.
    match FittedFruiting::learn(&snapshot, &springs) {
        Ok(lesson) => snapshot.take_fruit_lesson(lesson),
        Err(error) => snapshot.fruit_trouble = Some(error.to_string()),
    }
    drop(springs);
    let told = Told::of(&snapshot, accepted.into_iter());
    let (used, left_out) = (told.count(), told.left_out());
    let model = ModelVersion { version: format!("reports-{inputs_version}"), reports: used, fitted_at: Some(at), ahead: 0 };
    if used == 0 {
        if snapshot.fruit_effects.is_some() {
            snapshot.model = model;
        }
        return Ok(snapshot);
    }
    let spec = evidence_spec(&snapshot.priors, effort);
    let earlier = earlier.filter(|e| e.cultivars() == told.cultivars().len());
    let FittedWithLists { fitted, reported } = fit_with_lists(&spec, &told, earlier)?;
    if !fitted.convergence().converged {
        return Err(LearningError::NotConverged(fitted.diagnostics().iter().map(diagnostic_words).collect::<Vec<_>>().join("; ")));
    }
    let mut points = vec![GatheredPoints::default(); told.cultivars().len()];
    for o in told.observations() {
        if let Some(of) = points.get_mut(o.cultivar as usize) {
            of.add(Point { exposure: fitted.on_own_scale(&o), damage: o.damage, reports: 1 });
        }
    }
    let points = points.into_iter().map(GatheredPoints::all).collect();
    let sensitivity = if used <= MOST_SHOWN && reported.is_none() { sensitivity(&spec, &told, &fitted) } else { Vec::new() };
    let fitted = fitted.settled();
    let reporters = Arc::new(told.into_reporters());
    let before = snapshot.standings.iter().map(|s| s.belief.clone()).collect();
    take_beliefs(&mut snapshot, &fitted);
    let scale_before = snapshot.scale;
    // Steepness and gaps are everybody's: nothing invented moves them.
    if !snapshot.catalogue.has_invented() {
        snapshot.scale = fitted.scale();
    }
    snapshot.model = model;
    let lesson = FittedEffects { reported, sensitivity, ..FittedEffects::of(&fitted) };
    snapshot.take_hardiness_lesson(&lesson);
    snapshot.learned =
        Some(TrainedModel { fitted: Some(fitted), reporters, lesson, scored: ArcSwap::default(), points, before, scale_before, left_out });
    Ok(snapshot)
}

/// Puts what a fit says of each fig in the place of what was believed.
pub(super) fn take_beliefs(snapshot: &mut Snapshot, fitted: &Fitted) {
    let demonstration = snapshot.catalogue.has_invented();
    for (c, (standing, cultivar)) in snapshot.standings.iter_mut().zip(snapshot.catalogue.cultivars()).enumerate() {
        standing.reports = fitted.reports_of(c) as usize;
        // In a demonstration real cultivars stand on sources alone.
        if let Some(belief) = fitted.belief(c).filter(|_| !demonstration || cultivar.is_invented()) {
            standing.belief = belief;
        }
    }
    snapshot.pool_families(fitted, |model| !demonstration || model.invented);
}

/// How the live model is fitted.
pub fn evidence_spec<'a>(priors: &'a Priors, effort: FitOptions<'a>) -> HardinessSpec<'a> {
    let effort = FitOptions { tolerance: 1e-7, ..effort };
    HardinessSpec { priors, prior_use: PriorUse::Evidence, likelihood: Likelihood::default(), effort }
}

#[cfg(test)]
pub(crate) mod tests {
    use std::cell::Cell;
    use std::sync::Arc;

    use super::*;
    use crate::catalogue::prior_table;
    use crate::demo::society::demo_reports;
    use crate::model::scoring::score;
    use crate::records::{MemberId, ReportId};
    use crate::science::hardiness::ordinal::Stop;

    /// Accepted reports of a demonstration, without a store.
    pub(crate) fn accepted() -> Vec<AcceptedReport> {
        let catalogue = Catalogue::embedded().unwrap();
        let demo = demo_reports(3, &catalogue, &prior_table::priors().unwrap(), &prior_table::fruit_priors().unwrap(), 2025);
        demo.reports
            .iter()
            .enumerate()
            // A few gardens: the arithmetic of the tests is not optimised.
            .filter(|(_, r)| demo.plants[r.plant].gardener < 12)
            .map(|(n, r)| {
                let plant = &demo.plants[r.plant];
                let coldest = r.record.coldest.as_ref().unwrap();
                AcceptedReport {
                    id: ReportId(uuid::Uuid::from_u128(n as u128)),
                    cultivar: plant.cultivar.clone(),
                    reporter: Some(MemberId(uuid::Uuid::from_u128(u128::from(plant.gardener)))),
                    garden: 0,
                    winter: r.record.winter,
                    coldest: coldest.celsius,
                    thermometer: coldest.thermometer,
                    setting: None,
                    culture: plant.culture,
                    cover: r.record.cover,
                    stage: r.record.stage,
                    years: u8::try_from(r.record.winter.year() - plant.planted).ok(),
                    harder_k: None,
                    wood_years: r.record.wood_years,
                    store: None,
                    damage: r.record.damage().unwrap(),
                    doubtful: false,
                    complete_list: true,
                }
            })
            .collect()
    }

    /// The dates of growth and fruit in a demonstration.
    fn springs() -> Vec<SpringEvidence> {
        let catalogue = Catalogue::embedded().unwrap();
        let demo = demo_reports(3, &catalogue, &prior_table::priors().unwrap(), &prior_table::fruit_priors().unwrap(), 2025);
        let mut report = crate::records::sample::report();
        let evidence = demo.reports.iter().filter_map(|drawn| {
            report.record = drawn.record.clone();
            report.plant.cultivar = Some(demo.plants[drawn.plant].cultivar.clone());
            SpringEvidence::from_report(&report)
        });
        evidence.collect()
    }

    /// A snapshot that has learned from a demonstration, with its scores.
    pub(crate) fn demonstration() -> Snapshot {
        let snapshot = learned(&accepted(), None);
        snapshot.learned.as_ref().unwrap().scored.store(Arc::new(score(&snapshot, accepted(), FitOptions::default()).unwrap()));
        snapshot
    }

    #[test]
    fn dates_alone_teach_spring_and_fruit_and_what_cannot_be_used_is_counted() {
        let mut springs = springs();
        springs[0].said = Err(crate::records::spring_evidence::Unusable::DegreeDaysUnknown);
        let at = jiff::Timestamp::UNIX_EPOCH;
        let snapshot = learn(Catalogue::embedded().unwrap(), NOTHING, springs, None, at, 7, FitOptions::default()).unwrap();
        let table = Snapshot::from_seed().unwrap();
        assert_eq!((snapshot.model.version.as_str(), snapshot.model.reports), ("reports-7", 0));
        let lesson = snapshot.fruit_effects.as_ref().unwrap();
        assert_eq!(lesson.heat_unknown, 1);
        let reports: usize = DamageLevel::ALL[..4].iter().map(|&level| snapshot.shown(level).reports).sum();
        assert!(reports > 100, "{reports}");
        // The demonstration is drawn from the tables, so that what is learned stays near them and is surer.
        for level in &DamageLevel::ALL[..2] {
            let (now, before) = (snapshot.shown(*level).degree_days_by_which(0.5), table.shown(*level).degree_days_by_which(0.5));
            assert!((now.0 / before.0).ln().abs() < 0.2, "{now:?} {before:?}");
            assert!((now.1.high / now.1.low).ln() < 0.7 * (before.1.high / before.1.low).ln());
        }
        let main = lesson.ripe.main.as_ref().unwrap();
        for learned in [main.shared, main.base] {
            assert!(learned.mean.abs() < 2.5 * learned.sd && learned.sd < 60.0, "{learned:?}");
        }
        let (place, standing) = snapshot.standings.iter().enumerate().max_by_key(|(_, s)| s.first_figs.main).unwrap();
        assert!(standing.first_figs.main >= 5, "{:?}", standing.first_figs);
        let (now, before) = (standing.fruit.main_need(&snapshot.fruit_priors), table.standings[place].fruit.main_need(&table.fruit_priors));
        assert!(now.sd < 0.7 * before.sd, "{now:?} {before:?}");
        assert_eq!(standing.reports, 0);
    }

    fn learned(reports: &[AcceptedReport], earlier: Option<&Fitted>) -> Snapshot {
        learn(Catalogue::embedded().unwrap(), reports, springs(), earlier, jiff::Timestamp::UNIX_EPOCH, 5, FitOptions::default()).unwrap()
    }

    #[test]
    fn reports_replace_priors_and_one_more_moves_its_cultivar() {
        let mut reports = accepted();
        let last = reports.pop().unwrap();
        let before = learned(&reports, None);
        assert_eq!((before.model.reports, before.model.version.as_str()), (reports.len(), "reports-5"));
        let prior = Snapshot::from_seed().unwrap();
        let most = before.standings.iter().enumerate().max_by_key(|(_, s)| s.reports).unwrap().0;
        assert!(before.standings[most].belief.sd() < prior.standings[most].belief.sd());
        let facts = before.learned.as_ref().unwrap();
        assert!(facts.fitted().unwrap().problem().is_none(), "packed reports are given up once a fit stands");
        assert_eq!(facts.points.iter().map(Vec::len).sum::<usize>(), reports.len());
        assert_eq!(facts.scored.load().of, None, "scores are not part of learning");
        let scored = score(&before, &reports, FitOptions::default()).unwrap();
        assert_eq!(scored.of.as_ref(), Some(&before.model));
        let scores = scored.by_winter.unwrap();
        assert!(scores.model.log_score < scores.frequencies.log_score, "{scores:?}");

        reports.push(AcceptedReport { coldest: Celsius::literal(-11.0), damage: TO_GROUND, ..last.clone() });
        let after = learned(&reports, facts.fitted());
        let mean = |s: &Snapshot| s.standing(last.cultivar.as_str()).unwrap().belief.mean().degrees();
        assert!(
            mean(&after) > mean(&before) + 0.01,
            "killed to the ground at −11 °C makes it tenderer: {} {}",
            mean(&before),
            mean(&after)
        );
    }

    #[test]
    fn a_report_taken_with_doubt_moves_its_curve_half_as_far_and_back_again() {
        let mut reports = accepted();
        let last = reports.pop().unwrap();
        let mean = |s: &Snapshot| s.standing(last.cultivar.as_str()).unwrap().belief.mean().degrees();
        let without = learned(&reports, None);
        let surprising = AcceptedReport { coldest: Celsius::literal(-11.0), damage: TO_GROUND, ..last.clone() };
        let with = |doubtful: bool, earlier: Option<&Fitted>| {
            let report = AcceptedReport { doubtful, ..surprising.clone() };
            learned(&reports.iter().cloned().chain([report]).collect::<Vec<_>>(), earlier)
        };
        let full = with(false, None);
        let half = with(true, full.learned.as_ref().unwrap().fitted());
        let back = with(false, half.learned.as_ref().unwrap().fitted());
        let (none, in_doubt, in_full) = (mean(&without), mean(&half), mean(&full));
        assert!(none < in_doubt && in_doubt < in_full, "{none} {in_doubt} {in_full}");
        let share = (in_doubt - none) / (in_full - none);
        assert!((0.3..0.8).contains(&share), "{share} of the way");
        assert!((mean(&back) - in_full).abs() < 0.02, "{} {in_full}", mean(&back));
    }

    #[test]
    fn dates_that_cannot_be_fitted_leave_the_tables_and_do_not_hold_hardiness_up() {
        let mut springs = springs();
        let said = springs.iter_mut().find_map(|spring| spring.said.as_mut().ok()).unwrap();
        said.growth = Some(crate::science::fruiting::shown::Censoring::At(f64::NAN));
        let reports = accepted();
        let snapshot =
            learn(Catalogue::embedded().unwrap(), &reports, springs, None, jiff::Timestamp::UNIX_EPOCH, 5, FitOptions::default()).unwrap();
        assert_eq!((snapshot.model.reports, snapshot.fruit_effects.is_none()), (reports.len(), true));
        assert!(snapshot.fruit_trouble.as_ref().unwrap().contains("first growth"), "{:?}", snapshot.fruit_trouble);
        let kept = snapshot.to_keep(5, jiff::Timestamp::UNIX_EPOCH).unwrap();
        let elsewhere = Snapshot::from_kept(Catalogue::embedded().unwrap(), &kept).unwrap();
        assert_eq!(elsewhere.fruit_trouble, snapshot.fruit_trouble);
    }

    // The reports are gone through once to number reporters and three times more before the first pass of the fit: what is looked at is where it
    // is told, not when.
    #[test]
    fn a_fit_that_is_told_to_stop_gives_no_model_and_leaves_the_one_before() {
        let reports = accepted();
        let before = learned(&reports, None);
        let name = before.model.version.clone();
        for told_after in [0, reports.len() + 7, 3 * reports.len() + 1] {
            let (stop, read) = (Stop::default(), Cell::new(0));
            let reading = reports.iter().inspect(|_| {
                read.set(read.get() + 1);
                if read.get() > told_after {
                    stop.tell();
                }
            });
            let effort = FitOptions { stop: Some(&stop), ..FitOptions::default() };
            let earlier = before.learned.as_ref().and_then(TrainedModel::fitted);
            let ended = learn(Catalogue::embedded().unwrap(), reading, Vec::new(), earlier, jiff::Timestamp::UNIX_EPOCH, 6, effort);
            assert!(matches!(ended, Err(LearningError::Fit(FitError::Stopped))), "{ended:?}");
            assert!(read.get() <= told_after + 4 * reports.len(), "{} reports read after {told_after}", read.get());
        }
        assert_eq!(before.model.version, name);
        assert!(before.learned.unwrap().fitted().unwrap().convergence().converged);
    }

    // Told within the first fold: the reports are gone through once to number reporters and once to find the folds before it, and four times in it.
    #[test]
    fn scores_that_are_told_to_stop_end_within_their_fold() {
        let (snapshot, reports) = (learned(&accepted(), None), accepted());
        let (stop, read) = (Stop::default(), Cell::new(0));
        let reading = reports.iter().inspect(|_| {
            read.set(read.get() + 1);
            if read.get() > 3 * reports.len() {
                stop.tell();
            }
        });
        let ended = score(&snapshot, reading, FitOptions { stop: Some(&stop), ..FitOptions::default() });
        assert!(matches!(ended, Err(LearningError::Fit(FitError::Stopped))), "{ended:?}");
        assert!(read.get() <= 6 * reports.len() + 1, "{} reports read", read.get());
        assert_eq!(snapshot.learned.unwrap().scored.load().of, None);
    }

    #[test]
    fn without_reports_the_priors_stand() {
        let snapshot = learned(&[], None);
        assert!(snapshot.learned.is_none());
        assert_eq!(snapshot.standings.len(), Snapshot::from_seed().unwrap().standings.len());
    }

    use crate::science::hardiness::level::DamageLevel;
    use crate::units::Celsius;

    use crate::science::hardiness::observation::DamageRange;

    const NOTHING: [AcceptedReport; 0] = [];
    const TO_GROUND: DamageRange = DamageRange::exactly(DamageLevel::ToGround);
}
