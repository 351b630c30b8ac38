//! A report compared with others that met about the same cold.

use crate::jobs::open_data::publication::Published;
use crate::jobs::reports::survivors::by_level;
use crate::records::Report;
use crate::science::hardiness::level::DamageLevel;
use crate::units::{Celsius, Interval, TemperatureDelta};

/// How far a coldest night may lie from another and still be called the same: the whole band is half a hardiness zone, 5 °F (USDA Plant
/// Hardiness Zone Map, 2023).
pub const SAME_WITHIN: TemperatureDelta = TemperatureDelta::literal(2.5 / 1.8);

/// Other reports that bear on one.
#[derive(Debug)]
pub struct SameCold {
    /// Every other report of the cultivar with a coldest temperature, other winters of the same plant left out.
    pub of_kind: Vec<(Celsius, DamageLevel, DamageLevel)>,
    /// Reports of the cultivar at that cold, by damage.
    pub kind_there: [usize; DamageLevel::ALL.len()],
    /// Reports of any fig at that cold, by damage.
    pub all_there: [usize; DamageLevel::ALL.len()],
    /// The band, °C.
    pub band: Interval<Celsius>,
}

impl SameCold {
    /// Beside `report`; `None` where it has no cultivar of the catalogue or no coldest temperature.
    pub fn beside(report: &Report, published: &[Published]) -> Option<Self> {
        let (slug, met) = (report.plant.cultivar.as_ref()?, report.record.coldest.as_ref()?.celsius);
        let (id, plant) = (report.id.to_string(), report.plant.id.to_string());
        let others = published.iter().filter(|other| other.winter.report_id != id && other.winter.plant_id != plant);
        let band = Interval { low: met - SAME_WITHIN, high: met + SAME_WITHIN };
        let there = |other: &&Published| other.winter.coldest_c.is_some_and(|c| (band.low.degrees()..=band.high.degrees()).contains(&c));
        let is_kind = |other: &&Published| other.winter.cultivar.as_ref() == Some(slug);
        let at_that_cold: Vec<&Published> = others.clone().filter(there).collect();
        let point =
            |other: &Published| Some((Celsius::new(other.winter.coldest_c?).ok()?, other.winter.damage?, other.winter.damage_high?));
        Some(Self {
            of_kind: others.filter(is_kind).filter_map(point).collect(),
            kind_there: by_level(&at_that_cold.iter().copied().filter(is_kind).collect::<Vec<_>>()),
            all_there: by_level(&at_that_cold),
            band,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::reports::survivors::tests::published;
    use crate::records::words::TopKilled;
    use crate::records::{PlantId, ReportId};
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
        ]
        .map(|report| published(&report));
        let same = SameCold::beside(&here, &others).unwrap();
        assert_eq!(same.of_kind.len(), 2, "of the cultivar, whatever the cold, but of other plants");
        assert_eq!((same.kind_there, same.all_there), ([0, 0, 0, 1, 0], [1, 0, 0, 1, 0]));
        assert!((same.band.high.degrees() - same.band.low.degrees() - 5.0 / 1.8).abs() < 1e-9, "5 °F");
    }
}
