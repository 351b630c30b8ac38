//! A model ahead of its fit: reports that were accepted since move their figs' curves at once, each by the one number that the fit's own
//! curvature leaves open ([`crate::science::hardiness::further`]). The next fit, which begins where this one ended, takes its place.

use std::sync::Arc;

use crate::model::learn_hardiness::take_beliefs;
use crate::model::snapshot::Snapshot;
use crate::model::told::observation;
use crate::model::trained::{ModelVersion, Point, TrainedModel, merged};
use crate::records::register::{NO_REPORTER, Row};
use crate::records::report::ReportId;
use crate::records::{AcceptedReport, Register};
use crate::science::hardiness::observation::WinterObservation;
use crate::science::hardiness::selection::weight_of;

/// Most reports that a model goes ahead of its fit by: their curves are moved one report at a time, and a fit has them all together.
pub const MOST_AHEAD: usize = 50;

/// A fitted model and the reports that it was fitted to.
#[derive(Debug, Clone)]
pub struct Base {
    /// The model.
    pub snapshot: Arc<Snapshot>,
    /// The reports.
    pub register: Arc<Register>,
}

impl Base {
    /// The model with the reports that came to count since, `now` being the register that holds them and `changed` whatever changed meanwhile;
    /// `None` where anything but new reports is among it, where they are many, or where only a fit tells what they say.
    pub fn ahead(&self, now: &Register, changed: &[ReportId]) -> Option<Snapshot> {
        let learned = self.snapshot.learned.as_ref()?;
        let mut fitted = learned.fitted()?.clone();
        let before = Snapshot::from_priors(self.snapshot.catalogue.clone()).ok()?;
        let mut told = Vec::new();
        for id in changed {
            match (self.register.get(*id), now.get(*id)) {
                (Some(before), Some(after)) if before == after => {}
                (None, None) => {}
                (None, Some(row)) => told.push(row),
                (Some(_), _) => return None,
            }
        }
        let mut points = Vec::new();
        for row in told {
            let Some(report) = row.evidence(now) else { continue };
            let reporter = Row::member_of(row.reporter).and_then(|member| learned.reporters.get(&member)).copied();
            // Of somebody new nothing is known, by whatever number.
            let seen = as_fitted(&before, learned, &report, reporter.unwrap_or(u32::MAX))?;
            let own = reporter.map_or_else(Vec::new, |reporter| self.own(&before, learned, row, reporter));
            fitted = fitted.further(&seen, &own)?;
            points.push((seen.cultivar as usize, Point { exposure: fitted.on_own_scale(&seen), damage: seen.damage, reports: 1 }));
        }
        if points.is_empty() || points.len() > MOST_AHEAD {
            return None;
        }
        let mut next = self.snapshot.over(self.snapshot.catalogue.clone()).ok()?;
        take_beliefs(&mut next, &fitted);
        let ModelVersion { version, reports, fitted_at, .. } = self.snapshot.model.clone();
        let ahead = points.len();
        next.model = ModelVersion { version: format!("{version}+{ahead}"), reports: reports + ahead, fitted_at, ahead };
        if let Some(kept) = &mut next.learned {
            for (cultivar, point) in points {
                if let Some(of) = kept.points.get_mut(cultivar) {
                    of.push(point);
                    *of = merged(std::mem::take(of));
                }
            }
            kept.fitted = Some(fitted);
            kept.reporters = Arc::clone(&learned.reporters);
        }
        Some(next)
    }

    /// The reports of the fit by a row's reporter, as they were fitted.
    fn own(&self, before: &Snapshot, learned: &TrainedModel, row: &Row, reporter: u32) -> Vec<WinterObservation> {
        let own = self.register.rows().filter(|own| own.reporter == row.reporter && own.reporter != NO_REPORTER);
        own.filter_map(|own| as_fitted(before, learned, &own.evidence(&self.register)?, reporter)).collect()
    }
}

/// A report as the fit weighs it.
fn as_fitted(before: &Snapshot, learned: &TrainedModel, report: &AcceptedReport, reporter: u32) -> Option<WinterObservation> {
    let mut seen = observation(before, report, reporter)?;
    seen.weight *= weight_of(&seen, learned.lesson.reported.as_ref());
    Some(seen)
}
