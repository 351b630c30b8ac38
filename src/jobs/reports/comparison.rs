//! A report compared with others that met about the same cold.

use std::collections::BTreeSet;

use crate::records::register::{ByLevel, Row};
use crate::records::{Register, Report, ReportId};
use crate::science::hardiness::level::DamageLevel;
use crate::units::{Celsius, Interval, TemperatureDelta};

/// How far a coldest night may lie from another and still be called the same: the whole band is half a hardiness zone, 5 °F (USDA Plant
/// Hardiness Zone Map, 2023).
pub const SAME_WITHIN: TemperatureDelta = TemperatureDelta::literal(2.5 / 1.8);

/// Most reports of a cultivar that a picture holds. DESIGN: marks cover each other well before.
pub const MOST_SHOWN: usize = 400;

/// Other reports that bear on one.
#[derive(Debug)]
pub struct SameCold {
    /// Other reports of the cultivar with a coldest temperature, other winters of the same plant left out: all, or where there are more than
    /// [`MOST_SHOWN`] every so many in the order of their cold, the coldest and the mildest among them.
    pub of_kind: Vec<(Celsius, DamageLevel, DamageLevel)>,
    /// How many there are.
    pub kind_count: usize,
    /// Reports of the cultivar at that cold, by damage.
    pub kind_there: ByLevel,
    /// Reports of any fig at that cold, by damage.
    pub all_there: ByLevel,
    /// The band, °C.
    pub band: Interval<Celsius>,
}

impl SameCold {
    /// Beside `report`, reports of the same plant left out; `None` where it has no cultivar of the catalogue or no coldest temperature.
    pub fn beside(report: &Report, of_plant: &[ReportId], register: &Register) -> Option<Self> {
        let (slug, met) = (report.plant.cultivar.as_ref()?, report.record.coldest.as_ref()?.celsius);
        let band = Interval { low: met - SAME_WITHIN, high: met + SAME_WITHIN };
        let there = band.low.hundredths()..=band.high.hundredths();
        let at = |row: &Row| row.worst().filter(|_| row.coldest_hundredths().is_some_and(|cold| there.contains(&cold)));
        let left_out: BTreeSet<ReportId> = of_plant.iter().copied().chain([report.id]).collect();
        let mut all_there = register.met_within(there.clone());
        for level in left_out.iter().filter_map(|id| register.get(*id)).filter_map(at) {
            all_there[level.index()] -= 1;
        }
        let (mut of_kind, mut kind_there) = (Vec::new(), ByLevel::default());
        let kind = register.number_of(slug.as_str()).into_iter().flat_map(|number| register.rows_of(number));
        for row in kind.filter(|row| !left_out.contains(&row.id)) {
            if let Some((coldest, damage)) = row.coldest().zip(row.damage) {
                of_kind.push((coldest, damage.low(), damage.high()));
            }
            if let Some(level) = at(row) {
                kind_there[level.index()] += 1;
            }
        }
        let kind_count = of_kind.len();
        Some(Self { of_kind: thinned(of_kind), kind_count, kind_there, all_there, band })
    }
}

/// All, or every so many in the order of their cold.
fn thinned(mut reports: Vec<(Celsius, DamageLevel, DamageLevel)>) -> Vec<(Celsius, DamageLevel, DamageLevel)> {
    if reports.len() <= MOST_SHOWN {
        return reports;
    }
    reports.sort_by(|a, b| a.0.degrees().total_cmp(&b.0.degrees()));
    let last = reports.len() - 1;
    (0..MOST_SHOWN).filter_map(|nth| reports.get(nth * last / (MOST_SHOWN - 1)).copied()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::reports::survivors::tests::register;
    use crate::records::PlantId;
    use crate::records::words::TopKilled;
    use uuid::Uuid;

    /// A report of a plant: cultivar, coldest night, what happened to its top.
    fn told(number: u128, plant: u128, cultivar: &str, coldest: f64, top: TopKilled) -> Report {
        let mut told = crate::records::sample::report();
        (told.id, told.plant.id) = (ReportId(Uuid::from_u128(number)), PlantId(Uuid::from_u128(plant)));
        told.plant.cultivar = crate::catalogue::Slug::new(cultivar).ok();
        told.record.top = top;
        told.record.coldest.as_mut().unwrap().celsius = Celsius::new(coldest).unwrap();
        told
    }

    #[test]
    fn others_at_the_same_cold_are_those_within_half_a_zone_without_the_plant_itself() {
        let here = told(1, 1, "celeste", -10.0, TopKilled::Tips);
        let others = [
            told(1, 1, "celeste", -10.0, TopKilled::Tips),
            told(2, 1, "celeste", -10.5, TopKilled::None),
            told(3, 2, "celeste", -11.3, TopKilled::ToGround),
            told(4, 3, "celeste", -11.5, TopKilled::ToGround),
            told(5, 4, "alma", -8.7, TopKilled::None),
        ];
        let same = SameCold::beside(&here, &[others[0].id, others[1].id], &register(&others)).unwrap();
        assert_eq!(same.of_kind.len(), 2, "of the cultivar, whatever the cold, but of other plants");
        assert_eq!((same.kind_there, same.all_there), ([0, 0, 0, 1, 0], [1, 0, 0, 1, 0]));
        assert!((same.band.high.degrees() - same.band.low.degrees() - 5.0 / 1.8).abs() < 1e-9, "5 °F");
    }

    #[test]
    fn of_very_many_reports_a_part_is_shown_from_the_coldest_to_the_mildest() {
        let here = told(1, 1, "celeste", -10.0, TopKilled::Tips);
        let others: Vec<Report> = (0..1_001).map(|n| told(10 + n, 10 + n, "celeste", -20.0 + n as f64 / 100.0, TopKilled::None)).collect();
        let same = SameCold::beside(&here, &[], &register(&others)).unwrap();
        let ends = |of: &[(Celsius, DamageLevel, DamageLevel)]| (of[0].0.degrees(), of[of.len() - 1].0.degrees());
        assert_eq!((same.kind_count, same.of_kind.len(), ends(&same.of_kind)), (1_001, MOST_SHOWN, (-20.0, -10.0)));
    }
}
