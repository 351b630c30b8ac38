//! A report beside the model and beside others: for its reporter, for stewards, and for whoever reads it.

use crate::jobs::reports::comparison::SameCold;
use crate::jobs::reports::expectation::{AtAnyCold, Expectation};
use crate::model::snapshot::Snapshot;
use crate::records::{Register, Report, ReportId};
use crate::science::hardiness::observation::DamageRange;
use crate::web::charts::level_bar::LevelBar;
use crate::web::charts::own_winter::OwnWinter;
use crate::web::frame::Frame;

/// What stands beside a report.
pub struct Beside {
    /// What the model expects, in words.
    pub expected: String,
    /// The picture.
    pub own: OwnWinter,
    /// Others at the same cold: who, and what happened to them, where there are any.
    pub same: Vec<(String, Option<LevelBar>)>,
}

impl Beside {
    /// `None` where the report lacks what the model needs: a cultivar of the catalogue, a coldest temperature, a known protection.
    pub fn new(report: &Report, of_plant: &[ReportId], snapshot: &Snapshot, register: &Register, frame: &Frame) -> Option<Self> {
        let met = report.record.coldest.as_ref()?.celsius;
        let any = AtAnyCold::of(&report.plant, &report.record, snapshot)?;
        let others = SameCold::beside(report, of_plant, register)?;
        let damage = report.record.damage().map(|damage: DamageRange| (damage.low(), damage.high()));
        let band = frame.range(others.band);
        let told = |who: &str, levels: &[usize; 5]| match levels.iter().sum::<usize>() {
            0 => (format!("No other report of {who} at {band} yet"), None),
            1 => (format!("1 other report of {who} at {band}"), Some(LevelBar::new(levels))),
            reports => (format!("{reports} other reports of {who} at {band}"), Some(LevelBar::new(levels))),
        };
        Some(Self {
            expected: Expectation::of(report, snapshot)?.sentence(),
            own: OwnWinter::new(met, damage, (&others.of_kind, others.kind_count), &|c| any.chances(c), &|c| frame.temperature(c)),
            same: vec![told(any.name(), &others.kind_there), told("any fig", &others.all_there)],
        })
    }
}
