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
    /// [`MOST_SHOWN`] every so many in the order of their cold, the coldest and the mildest among them, each with its worst possible damage.
    pub of_kind: Vec<(Celsius, DamageLevel)>,
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
        let at = |row: &Row| Some((row.coldest_hundredths()?, row.worst()?));
        let name = register.number_of(slug.as_str());
        let left_out: BTreeSet<ReportId> = of_plant.iter().copied().chain([report.id]).collect();
        let left_out: Vec<&Row> = left_out.iter().filter_map(|id| register.get(*id)).collect();
        let of_kind_left_out: Vec<_> = left_out.iter().filter(|row| Some(row.name) == name).filter_map(|row| at(row)).collect();
        let met_by_kind = name.and_then(|name| register.met_by(name));
        let less = |mut counts: ByLevel, rows: &[(i32, DamageLevel)]| {
            rows.iter().filter(|(cold, _)| there.contains(cold)).for_each(|(_, level)| counts[level.index()] -= 1);
            counts
        };
        let all_left_out: Vec<_> = left_out.iter().filter_map(|row| at(row)).collect();
        let all_there = less(register.met_within(there.clone()), &all_left_out);
        let kind_there = less(met_by_kind.map(|met| met.within(there.clone())).unwrap_or_default(), &of_kind_left_out);
        let mut of_kind: Vec<(i32, DamageLevel, usize)> = met_by_kind.map(|met| met.iter().collect()).unwrap_or_default();
        for (cold, level, count) in &mut of_kind {
            *count -= of_kind_left_out.iter().filter(|row| **row == (*cold, *level)).count();
        }
        let kind_count = of_kind.iter().map(|(_, _, count)| count).sum();
        Some(Self { of_kind: thinned(&of_kind, kind_count), kind_count, kind_there, all_there, band })
    }
}

/// All, or every so many in the order of their cold.
fn thinned(reports: &[(i32, DamageLevel, usize)], count: usize) -> Vec<(Celsius, DamageLevel)> {
    let shown = count.min(MOST_SHOWN);
    let place = |nth: usize| if count <= MOST_SHOWN { nth } else { nth * (count - 1) / (MOST_SHOWN - 1) };
    let (mut found, mut before) = (Vec::with_capacity(shown), 0);
    for (cold, level, here) in reports {
        while found.len() < shown && place(found.len()) < before + here {
            found.push((Celsius::literal(f64::from(*cold) / 100.0), *level));
        }
        before += here;
    }
    found
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
        let told: Vec<_> = same.of_kind.iter().map(|(cold, level)| (cold.degrees(), *level)).collect();
        assert_eq!(
            told,
            [(-11.5, DamageLevel::ToGround), (-11.3, DamageLevel::ToGround)],
            "of the cultivar, whatever the cold, but of other plants"
        );
        assert_eq!((same.kind_there, same.all_there), ([0, 0, 0, 1, 0], [1, 0, 0, 1, 0]));
        assert!((same.band.high.degrees() - same.band.low.degrees() - 5.0 / 1.8).abs() < 1e-9, "5 °F");
    }

    #[test]
    fn of_very_many_reports_a_part_is_shown_from_the_coldest_to_the_mildest() {
        let here = told(1, 1, "celeste", -10.0, TopKilled::Tips);
        let others: Vec<Report> = (0..1_001).map(|n| told(10 + n, 10 + n, "celeste", -20.0 + n as f64 / 100.0, TopKilled::None)).collect();
        let same = SameCold::beside(&here, &[], &register(&others)).unwrap();
        let ends = |of: &[(Celsius, DamageLevel)]| (of[0].0.degrees(), of[of.len() - 1].0.degrees());
        assert_eq!((same.kind_count, same.of_kind.len(), ends(&same.of_kind)), (1_001, MOST_SHOWN, (-20.0, -10.0)));
    }
}
