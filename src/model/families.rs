//! Families in the model: strains borrow from their family and teach it, as [`crate::science::hardiness::family`] works it out.

use crate::catalogue::Catalogue;
use crate::model::snapshot::{CultivarModel, Snapshot};
use crate::science::hardiness::belief::HardinessBelief;
use crate::science::hardiness::family::{Member, pooled, said};
use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::posterior::Fitted;
use crate::science::numeric::Gaussian;

/// Places of each family's entries: its own first, then its strains in the order of the catalogue. A family without strains is none here.
fn families(catalogue: &Catalogue) -> Vec<Vec<usize>> {
    let all = catalogue.cultivars();
    let strains = |family| all.iter().enumerate().filter(move |(_, c)| c.family.as_ref() == Some(family)).map(|(place, _)| place);
    all.iter()
        .enumerate()
        .filter(|(_, cultivar)| cultivar.is_family)
        .map(|(place, family)| std::iter::once(place).chain(strains(&family.slug)).collect::<Vec<_>>())
        .filter(|family| family.len() > 1)
        .collect()
}

/// Whether a source gives the entry a class.
const fn is_sourced(model: &CultivarModel) -> bool {
    model.class.is_some() && !model.class_from_memory
}

impl Snapshot {
    /// Gives entries without a sourced class what is believed of one of their family that has one: of the family itself, where it has.
    pub(super) fn lend_classes(&mut self) {
        for family in families(&self.catalogue) {
            let lender = family.iter().find_map(|&place| self.standings.get(place).filter(|model| is_sourced(model)));
            let Some(belief) = lender.map(|lender| lender.belief.clone()) else { continue };
            for &place in &family {
                if let Some(model) = self.standings.get_mut(place).filter(|model| model.class.is_none()) {
                    model.belief = belief.clone();
                }
            }
        }
        self.count_family_reports();
    }

    /// Pools what the reports of a family's entries say; `may_move`: whether what is believed of an entry goes by reports at all.
    pub(super) fn pool_families(&mut self, fitted: &Fitted, may_move: impl Fn(&CultivarModel) -> bool) {
        for family in families(&self.catalogue) {
            let family: Vec<usize> = family.into_iter().filter(|&place| self.standings.get(place).is_some_and(&may_move)).collect();
            let sourced = family.iter().find(|&&place| self.standings.get(place).is_some_and(is_sourced));
            let lent = sourced.and_then(|&place| fitted.before_reports(place));
            let member = |&place: &usize| {
                let model = self.standings.get(place)?;
                let own = fitted.before_reports(place)?;
                let after = fitted.t50(place, DamageLevel::ToGround).filter(|_| fitted.reports_of(place) > 0);
                let before = if model.class.is_none() { lent.unwrap_or(own) } else { own };
                Some(Member { before, said: after.and_then(|after| said(own, after)) })
            };
            let Some(members) = family.iter().map(member).collect::<Option<Vec<_>>>() else { continue };
            for ((place, pooled), member) in family.iter().zip(pooled(&members)).zip(&members) {
                let alone =
                    (lent.is_some() && self.standings.get(*place).is_some_and(|model| model.class.is_none())).then(|| alone(member));
                let belief = pooled.or(alone).and_then(|h| HardinessBelief::mixture([(1.0, h)]));
                if let (Some(belief), Some(model)) = (belief, self.standings.get_mut(*place)) {
                    model.belief = belief;
                }
            }
        }
        self.count_family_reports();
    }

    /// Counts for each entry of a family the reports of the others.
    pub(super) fn count_family_reports(&mut self) {
        for family in families(&self.catalogue) {
            let of = |places: &[usize]| -> usize { places.iter().filter_map(|&p| self.standings.get(p)).map(|model| model.reports).sum() };
            let all = of(&family);
            let counts: Vec<usize> = family.iter().map(|&place| all - of(&[place])).collect();
            for (place, others) in family.into_iter().zip(counts) {
                if let Some(model) = self.standings.get_mut(place) {
                    model.family_reports = Some(others);
                }
            }
        }
    }
}

/// A member by its own reports and the class that it borrows.
fn alone(member: &Member) -> Gaussian {
    member.said.map_or(member.before, |said| member.before.given(said))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::{CatalogueRecords, Slug};
    use crate::model::learn_hardiness::learn;
    use crate::records::evidence::AcceptedReport;
    use crate::records::words::{Cover, Stage, Thermometer};
    use crate::records::{MemberId, ReportId};
    use crate::science::hardiness::observation::DamageRange;
    use crate::science::hardiness::ordinal::FitOptions;
    use crate::science::site::Culture;
    use crate::units::Celsius;

    /// The shipped figs, Celeste as a family that Atabaki, to which no source gives a class, and Alma may belong to.
    fn catalogue(strains: &[&str]) -> Catalogue {
        let mut records = CatalogueRecords::embedded().unwrap();
        records.family_entries.push("celeste".to_owned());
        records.families = strains.iter().map(|slug| ((*slug).to_owned(), "celeste".to_owned())).collect();
        records.assemble().unwrap()
    }

    fn reports(slug: &str, coldest: f64, damage: DamageLevel, count: u128) -> Vec<AcceptedReport> {
        let report = |n: u128| AcceptedReport {
            id: ReportId(uuid::Uuid::from_u128(n)),
            cultivar: Slug::new(slug).unwrap(),
            reporter: Some(MemberId(uuid::Uuid::from_u128(1000 + n % 4))),
            garden: (n % 4) as u16,
            winter: ["2021/22", "2022/23", "2023/24"][n as usize % 3].parse().unwrap(),
            coldest: Celsius::literal(coldest),
            thermometer: Thermometer::AtPlant,
            setting: None,
            culture: Culture::Ground,
            cover: Cover::None,
            stage: Some(Stage::Hard),
            years: Some(8),
            wood_years: None,
            store: None,
            harder_k: None,
            damage: DamageRange::exactly(damage),
            doubtful: false,
            complete_list: false,
        };
        (0..count).map(report).collect()
    }

    fn learned(strains: &[&str], reports: Vec<AcceptedReport>) -> Snapshot {
        learn(catalogue(strains), reports, Vec::new(), None, jiff::Timestamp::UNIX_EPOCH, 1, FitOptions::default()).unwrap()
    }

    fn belief(snapshot: &Snapshot, slug: &str) -> (f64, f64) {
        let belief = &snapshot.standing(slug).unwrap().belief;
        (belief.mean().degrees(), belief.sd().kelvin())
    }

    #[test]
    fn a_strain_without_a_class_starts_from_its_familys_and_the_others_are_left_alone() {
        let (apart, within) = (Snapshot::from_priors(catalogue(&[])).unwrap(), Snapshot::from_priors(catalogue(&["atabaki"])).unwrap());
        assert_eq!(belief(&within, "atabaki"), belief(&apart, "celeste"));
        assert_eq!(belief(&within, "celeste"), belief(&apart, "celeste"));
        assert_eq!(
            (apart.standing("atabaki").unwrap().family_reports, within.standing("atabaki").unwrap().family_reports),
            (None, Some(0))
        );
    }

    #[test]
    fn reports_of_a_family_teach_its_strains_and_those_of_a_strain_teach_the_family() {
        // Killed to the ground far milder than their classes, 4 and 1, stand.
        for (reported, other, killed_at) in [("celeste", "alma", -9.0), ("alma", "celeste", -4.0), ("alma", "atabaki", -4.0)] {
            let told = || reports(reported, killed_at, DamageLevel::ToGround, 8);
            let strains = ["alma", "atabaki"];
            let (apart, within) = (learned(&[], told()), learned(&strains, told()));
            let (before, after) = (belief(&Snapshot::from_priors(catalogue(&strains)).unwrap(), other), belief(&within, other));
            let alone = belief(&apart, other);
            assert!(after.0 > before.0 + 0.3 && after.1 < alone.1, "{other} of {reported}: {before:?} {after:?}, alone {alone:?}");
            assert_eq!(within.standing(other).unwrap().family_reports, Some(8));
            let (own_apart, own_within) = (belief(&apart, reported), belief(&within, reported));
            assert!((own_apart.0 - own_within.0).abs() < 1e-9, "nobody else said anything of the one that was reported");
        }
    }

    #[test]
    fn without_families_nothing_moves_and_a_kept_model_stands() {
        let told = || reports("celeste", -9.0, DamageLevel::ToGround, 4);
        let plain =
            learn(Catalogue::embedded().unwrap(), told(), Vec::new(), None, jiff::Timestamp::UNIX_EPOCH, 1, FitOptions::default()).unwrap();
        let without = learned(&[], told());
        for (a, b) in plain.standings.iter().zip(&without.standings) {
            assert_eq!(a.belief, b.belief);
        }
        assert_eq!(plain.inputs().unwrap(), without.inputs().unwrap());
        assert_ne!(plain.inputs().unwrap(), learned(&["alma"], told()).inputs().unwrap());
    }
}
