//! The part of an accepted report that the model reads: no name, no exact place.

use sha2::{Digest, Sha256};

use super::member::MemberId;
use super::place::Place;
use super::report::{Report, ReportId};
use super::review_state::ReviewState;
use super::winter::Winter;
use super::words::{Cover, Stage, Thermometer};
use crate::catalogue::Slug;
use crate::science::hardiness::observation::DamageRange;
use crate::science::site::{Culture, Setting, Store};
use crate::units::Celsius;

/// One accepted report as evidence. Reports without a cultivar of the catalogue, without a coldest temperature, under heat, or telling
/// nothing of cold are not among these.
#[derive(Debug, Clone, PartialEq)]
pub struct AcceptedReport {
    /// The report.
    pub id: ReportId,
    /// Cultivar.
    pub cultivar: Slug,
    /// Who reported, for the reporter effect; `None` for members who have left.
    pub reporter: Option<MemberId>,
    /// Number that tells the reporter's garden from their other ones and says nothing of where it is.
    pub garden: u16,
    /// Winter.
    pub winter: Winter,
    /// Coldest air temperature recorded, before any offset.
    pub coldest: Celsius,
    /// How it was measured.
    pub thermometer: Thermometer,
    /// Setting, where given.
    pub setting: Option<Setting>,
    /// Ground or pot.
    pub culture: Culture,
    /// Protection; never heated or unknown.
    pub cover: Cover,
    /// Stage when the cold came, where given.
    pub stage: Option<Stage>,
    /// Whole years since planting, where known.
    pub years: Option<u8>,
    /// By how much harder than at the reference on the coldest night, K, where a daily record tells it.
    pub harder_k: Option<f64>,
    /// Whole years of the standing wood, where known.
    pub wood_years: Option<u8>,
    /// Where it was carried in to, where said.
    pub store: Option<Store>,
    /// Damage levels possible.
    pub damage: DamageRange,
    /// Whether a steward took it with doubt.
    pub doubtful: bool,
    /// Whether the reporter gave every plant of the garden for this winter.
    pub complete_list: bool,
}

/// An id that stands for the code of a reporter in a package: equal codes, equal ids.
fn imported(code: &str) -> MemberId {
    let mut bytes = [0_u8; 16];
    bytes.iter_mut().zip(Sha256::digest(code.as_bytes())).for_each(|(byte, hashed)| *byte = hashed);
    MemberId(uuid::Uuid::from_bytes(bytes))
}

/// Who reported, as far as that tells one reporter from another: the member, or an id that stands for the code of a package.
pub(super) fn reporter_of(report: &Report) -> Option<MemberId> {
    report.reporter.or_else(|| report.credited.as_ref().and_then(|credited| credited.reporter.as_deref()).map(imported))
}

/// Equal places, equal numbers. Two gardens of one reporter may share one by chance, one in 65,536; they then count as one.
pub(super) fn garden(place: &Place) -> u16 {
    let words = place.words.as_deref().unwrap_or_default().trim().to_lowercase();
    let place = place.point.map_or(words, |point| format!("{:?}", point.hundredths()));
    let digest = Sha256::digest(place.as_bytes());
    u16::from_be_bytes([digest[0], digest[1]])
}

/// How much a report counts that a steward took with doubt. Source: DESIGN; the guide promises "less weight".
pub const WEIGHT_IN_DOUBT: f64 = 0.5;

impl AcceptedReport {
    /// How much it counts in the model: 1, or [`WEIGHT_IN_DOUBT`].
    pub fn weight(&self) -> f64 {
        if self.doubtful { WEIGHT_IN_DOUBT } else { 1.0 }
    }

    /// The evidence in a report, where it holds any the model can use.
    pub fn from_report(report: &Report) -> Option<Self> {
        let (plant, record) = (&report.plant, &report.record);
        let coldest = record.coldest.as_ref()?;
        record.cover.protection()?;
        Some(Self {
            id: report.id,
            cultivar: plant.cultivar.clone()?,
            reporter: reporter_of(report),
            garden: garden(&plant.place),
            winter: record.winter,
            coldest: coldest.celsius,
            thermometer: coldest.thermometer,
            setting: plant.setting,
            culture: plant.culture,
            cover: record.cover,
            stage: record.stage,
            years: plant.years_at(record.winter),
            harder_k: record.heat.and_then(|heat| heat.harder_k),
            wood_years: record.wood_years,
            store: record.store,
            damage: record.damage()?,
            doubtful: report.state == ReviewState::AcceptedWithDoubt,
            complete_list: record.complete_list,
        })
        .filter(|_| report.state.counts())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::place::{HeldPoint, Publish};
    use crate::records::sample;

    fn taken(report: &Report) -> AcceptedReport {
        AcceptedReport::from_report(report).unwrap()
    }

    #[test]
    fn only_the_two_states_that_count_reach_the_model() {
        for state in ReviewState::ALL.iter().copied() {
            let evidence = AcceptedReport::from_report(&Report { state, ..sample::report() });
            assert_eq!(evidence.is_some(), matches!(state, ReviewState::Accepted | ReviewState::AcceptedWithDoubt), "{state}");
        }
    }

    // The guide for reporters promises less weight; one half is DESIGN.
    #[test]
    fn what_was_taken_with_doubt_counts_half() {
        let doubtful = taken(&Report { state: ReviewState::AcceptedWithDoubt, ..sample::report() });
        assert!(doubtful.doubtful && (doubtful.weight() - 0.5).abs() < f64::EPSILON);
        let sure = taken(&sample::report());
        assert!(!sure.doubtful && (sure.weight() - 1.0).abs() < f64::EPSILON);
    }

    // What the model cannot read: no cultivar, no temperature, heat under the cover.
    #[test]
    fn what_the_model_cannot_read_is_no_evidence() {
        let mut report = sample::report();
        report.plant.cultivar = None;
        assert_eq!(AcceptedReport::from_report(&report), None);
        let mut report = sample::report();
        report.record.coldest = None;
        assert_eq!(AcceptedReport::from_report(&report), None);
        for cover in Cover::ALL.iter().copied() {
            let mut report = sample::report();
            report.record.cover = cover;
            assert_eq!(AcceptedReport::from_report(&report).is_some(), cover.protection().is_some(), "{cover}");
        }
    }

    // Plants of one garden share a winter in the model: the same place must always give the same number, another place another one.
    #[test]
    fn plants_of_one_place_share_a_garden_and_those_of_another_do_not() {
        let at = |words: Option<&str>, point: Option<HeldPoint>| {
            let mut report = sample::report();
            report.plant.place = Place { words: words.map(str::to_owned), point, publish: Publish::Nowhere };
            taken(&report).garden
        };
        let point = |lat, lon| Some(HeldPoint::new(lat, lon).unwrap());
        assert_eq!(at(Some("Orchard end"), None), at(Some("  orchard END "), None));
        assert_ne!(at(Some("orchard end"), None), at(Some("by the gate"), None));
        assert_eq!(at(Some("orchard end"), point(51.04, -0.13)), at(Some("by the gate"), point(51.04, -0.13)), "the point decides");
        assert_ne!(at(None, point(51.04, -0.13)), at(None, point(51.04, 0.13)));
    }

    // The reporter effect: reports of one code are of one reporter, those of two are not, and an own account goes before a code.
    #[test]
    fn a_code_of_a_package_stands_for_one_reporter() {
        assert_eq!(imported("r1"), imported("r1"));
        assert_ne!(imported("r1"), imported("r2"));
        assert_eq!(taken(&sample::report()).reporter, None);
    }
}
