//! Accepted reports as the fit takes them, made anew from what holds them each time the fit goes through them: a million reports are never
//! copied.

use std::borrow::Borrow;
use std::collections::HashMap;

use crate::model::snapshot::{CultivarModel, Snapshot};
use crate::records::{AcceptedReport, MemberId};
use crate::science::hardiness::evidence::Evidence;
use crate::science::hardiness::observation::{CultivarPrior, WinterObservation};

/// Accepted reports about the cultivars of a snapshot, with what its tables make of them.
pub struct Told<'a, I> {
    snapshot: &'a Snapshot,
    accepted: I,
    cultivars: Vec<CultivarPrior>,
    /// Number of each reporter. Someone who has left cannot be told from others who have: each report then stands for a reporter of its own.
    known: HashMap<MemberId, u32>,
    reporters: u32,
    /// Reports that a fit can use, and those that it cannot.
    used: usize,
    left_out: usize,
}

impl<'a, I: Iterator<Item: Borrow<AcceptedReport>> + Clone> Told<'a, I> {
    /// Of these reports, gone through once to number their reporters.
    pub fn of(snapshot: &'a Snapshot, accepted: I) -> Self {
        let prior = |standing: &CultivarModel| CultivarPrior { class: standing.class, from_memory: standing.class_from_memory };
        let cultivars = snapshot.standings.iter().map(prior).collect();
        let mut told = Self { snapshot, accepted, cultivars, known: HashMap::new(), reporters: 0, used: 0, left_out: 0 };
        for report in told.accepted.clone() {
            let report: &AcceptedReport = report.borrow();
            let seen = place_of(snapshot, report).and_then(|place| {
                let next = told.reporters;
                let reporter = report.reporter.map_or(next, |member| *told.known.entry(member).or_insert(next));
                told.reporters += u32::from(reporter == next);
                observation_at(snapshot, report, place, reporter)
            });
            *(if seen.is_some() { &mut told.used } else { &mut told.left_out }) += 1;
        }
        told
    }

    /// Reports that no fit can use.
    pub const fn left_out(&self) -> usize {
        self.left_out
    }

    /// The number of each reporter.
    pub fn into_reporters(self) -> HashMap<MemberId, u32> {
        self.known
    }
}

impl<I: Iterator<Item: Borrow<AcceptedReport>> + Clone> Evidence for Told<'_, I> {
    fn cultivars(&self) -> &[CultivarPrior] {
        &self.cultivars
    }

    fn reporters(&self) -> u32 {
        self.reporters
    }

    fn observations(&self) -> Box<dyn Iterator<Item = WinterObservation> + '_> {
        let mut next = 0;
        Box::new(self.accepted.clone().filter_map(move |report| {
            let report: &AcceptedReport = report.borrow();
            let place = place_of(self.snapshot, report)?;
            let reporter = report.reporter.and_then(|member| self.known.get(&member)).copied().unwrap_or(next);
            next += u32::from(reporter == next);
            observation_at(self.snapshot, report, place, reporter)
        }))
    }

    fn count(&self) -> usize {
        self.used
    }
}

/// An accepted report as the fit takes it; `None` where it is about a cultivar that the catalogue lacks.
pub(super) fn observation(snapshot: &Snapshot, report: &AcceptedReport, reporter: u32) -> Option<WinterObservation> {
    observation_at(snapshot, report, place_of(snapshot, report)?, reporter)
}

fn place_of(snapshot: &Snapshot, report: &AcceptedReport) -> Option<usize> {
    let place = snapshot.catalogue.place(report.cultivar.as_str())?;
    // Not one that it was merged into.
    snapshot.catalogue.cultivars().get(place).is_some_and(|cultivar| cultivar.slug == report.cultivar).then_some(place)
}

fn observation_at(snapshot: &Snapshot, report: &AcceptedReport, place: usize, reporter: u32) -> Option<WinterObservation> {
    let hardiness = snapshot.standings.get(place)?.belief.mean();
    snapshot.exposures().observation(report, place as u32, reporter, hardiness)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::learn_hardiness::tests::accepted;
    use crate::science::hardiness::observation::Reports;

    // Reporters are numbered as they come, each nameless report as somebody of its own; the numbers are counted here by hand.
    #[test]
    fn reports_are_the_same_each_time_and_who_has_left_is_told_from_everybody() {
        let mut reports = accepted();
        for nth in [0, 3, 4, 11] {
            reports[nth].reporter = None;
        }
        reports[2].cultivar = crate::catalogue::Slug::new("no-such-fig").unwrap();
        let snapshot = Snapshot::from_seed().unwrap();
        let told = Told::of(&snapshot, reports.iter());
        let once = Reports::of(&told);
        assert_eq!(once, Reports::of(&told));
        assert_eq!((told.count(), told.left_out()), (once.observations.len(), 1));
        let mut names: Vec<Option<MemberId>> = Vec::new();
        let usable = reports.iter().enumerate().filter(|(nth, _)| *nth != 2);
        for ((_, report), seen) in usable.zip(&once.observations) {
            let known = report.reporter.and_then(|member| names.iter().position(|name| *name == Some(member)));
            let number = known.unwrap_or_else(|| {
                names.push(report.reporter);
                names.len() - 1
            });
            assert_eq!(seen.reporter as usize, number);
        }
        assert_eq!(told.reporters() as usize, names.len());
    }
}
