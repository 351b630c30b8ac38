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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;
    use crate::model::learn_hardiness::learn;
    use crate::records::register::Building;
    use crate::records::words::TopKilled;
    use crate::records::{MemberId, PlantId, sample};
    use crate::science::hardiness::ordinal::FitOptions;
    use crate::units::Celsius;
    use uuid::Uuid;

    /// The nth report of all: a plant of its own, of one of two members.
    fn put(building: &mut Building, n: u128, member: u128, celsius: f64) -> ReportId {
        let mut report = sample::report();
        report.id = ReportId(Uuid::from_u128(n));
        report.plant.id = PlantId(Uuid::from_u128(n));
        report.plant.owner = Some(MemberId(Uuid::from_u128(member)));
        report.plant.planted = Some(1990);
        report.reporter = report.plant.owner;
        report.record.winter = format!("{}/{:02}", 2000 + n, 1 + n).parse().unwrap();
        report.record.top = if celsius < -11.0 { TopKilled::ToGround } else { TopKilled::Tips };
        if let Some(coldest) = &mut report.record.coldest {
            coldest.celsius = Celsius::new(celsius).unwrap();
        }
        building.put(&report);
        report.id
    }

    fn learned(register: &Register) -> Snapshot {
        let accepted = register.rows().filter_map(|row| row.evidence(register));
        learn(Catalogue::embedded().unwrap(), accepted, Vec::new(), None, jiff::Timestamp::UNIX_EPOCH, 1, FitOptions::default()).unwrap()
    }

    // A reading is drawn towards the usual winter of its own reporter: ahead of a fit as in it, whoever came first.
    #[test]
    fn a_report_ahead_of_its_fit_is_read_by_the_winters_of_its_own_reporter() {
        let mut building = Building::default();
        for n in 1..=6 {
            let step = 0.3 * f64::from(n as u32);
            put(&mut building, 2 * n, 1, -6.0 - step);
            put(&mut building, 2 * n + 1, 2, -14.0 - step);
        }
        let register = Arc::new(building.finish(1));
        let base = Base { snapshot: Arc::new(learned(&register)), register };
        let id = put(&mut building, 20, 2, -13.0);
        let now = building.finish(2);
        let shown = |snapshot: &Snapshot| {
            let place = snapshot.catalogue.place("celeste").unwrap();
            snapshot.learned.as_ref().unwrap().points[place].last().unwrap().exposure.mean
        };
        let (ahead, fitted) = (shown(&base.ahead(&now, &[id]).unwrap()), shown(&learned(&now)));
        assert!((ahead - fitted).abs() < 0.5, "{ahead} ahead of a fit, {fitted} in it");
    }
}
