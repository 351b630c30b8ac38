//! Plants of two kinds that met the same winter in one garden, by published reports alone.
//!
//! A garden is what the open data join: one reporter's code and one published place. Plants count together where both stood in the ground or
//! both in pots, under the same cover.

use std::collections::BTreeMap;

use crate::records::place::PublishedPlace;
use crate::records::register::NO_REPORTER;
use crate::records::words::Cover;
use crate::records::{Register, Winter};

/// Difference of mean damage from which one kind was harmed less, levels. DESIGN: half a level.
const APART: f64 = 0.5;

/// Reporter, published place, winter, whether in pots, cover.
type Met = (u32, PublishedPlace, Winter, bool, Cover);

/// What such winters showed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SameGarden {
    /// Winters of a garden that plants of both met, planted alike.
    pub winters: usize,
    /// Those in which the first was harmed less.
    pub first_less: usize,
    /// Those in which the second was.
    pub second_less: usize,
}

impl SameGarden {
    /// Winters in which neither was.
    pub fn equal(&self) -> usize {
        self.winters - self.first_less - self.second_less
    }

    /// Of two kinds, by their names in addresses.
    pub fn of(register: &Register, first: &str, second: &str) -> Self {
        let mut met: BTreeMap<Met, [Vec<f64>; 2]> = BTreeMap::new();
        let kinds = [first, second].map(|slug| register.number_of(slug));
        let own = kinds.into_iter().enumerate().filter_map(|(kind, number)| Some((kind, number?)));
        let rows = own.flat_map(|(kind, number)| register.rows_of(number).map(move |row| (kind, row)));
        for (kind, row) in rows.filter(|(_, row)| row.reporter != NO_REPORTER) {
            let Some(damage) = row.damage else { continue };
            let harm = f64::midpoint(damage.low().index() as f64, damage.high().index() as f64);
            if let Some(harms) = met.entry((row.reporter, row.place(), row.winter, row.in_pot, row.cover)).or_default().get_mut(kind) {
                harms.push(harm);
            }
        }
        let mean = |harms: &[f64]| harms.iter().sum::<f64>() / harms.len() as f64;
        met.values().filter(|[a, b]| !a.is_empty() && !b.is_empty()).fold(Self::default(), |sum, [a, b]| {
            let more = mean(b) - mean(a);
            Self {
                winters: sum.winters + 1,
                first_less: sum.first_less + usize::from(more >= APART),
                second_less: sum.second_less + usize::from(more <= -APART),
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::reports::survivors::tests::register;
    use crate::records::words::{TopKilled, Vitality};
    use crate::records::{MemberId, Report};
    use crate::science::hardiness::level::DamageLevel;

    fn told(slug: &str, reporter: Option<u128>, winter: &str, damage: DamageLevel, cover: Cover) -> Report {
        let mut report: Report = crate::records::sample::report();
        report.record.winter = winter.parse().unwrap();
        report.record.looked = report.record.winter.verdict_day();
        report.plant.cultivar = Some(crate::catalogue::Slug::new(slug).unwrap());
        (report.reporter, report.record.cover) = (reporter.map(|n| MemberId(uuid::Uuid::from_u128(n))), cover);
        (report.record.top, report.record.vitality) = match damage {
            DamageLevel::Dead => (TopKilled::ToGround, Vitality::Dead),
            DamageLevel::ToGround => (TopKilled::ToGround, Vitality::Alive),
            DamageLevel::Tips => (TopKilled::Tips, Vitality::Alive),
            _ => (TopKilled::None, Vitality::Alive),
        };
        report
    }

    /// By hand: three winters met by both; another garden, another cover and a member who left count for nothing.
    #[test]
    fn only_plants_of_one_garden_and_winter_planted_alike_are_held_against_each_other() {
        use DamageLevel::{Dead, Tips, ToGround, Unharmed};
        let all = [
            told("celeste", Some(1), "2023/24", Tips, Cover::None),
            told("alma", Some(1), "2023/24", ToGround, Cover::None),
            told("celeste", Some(1), "2024/25", Dead, Cover::None),
            told("alma", Some(1), "2024/25", ToGround, Cover::None),
            told("celeste", Some(2), "2024/25", Unharmed, Cover::None),
            told("alma", Some(2), "2024/25", Unharmed, Cover::None),
            told("alma", Some(3), "2023/24", Dead, Cover::None),
            told("celeste", Some(4), "2024/25", Tips, Cover::None),
            told("alma", Some(4), "2024/25", Tips, Cover::Mulch),
            told("celeste", None, "2024/25", Tips, Cover::None),
            told("alma", None, "2024/25", Dead, Cover::None),
        ];
        let all = register(&all);
        let seen = SameGarden::of(&all, "celeste", "alma");
        assert_eq!((seen.winters, seen.first_less, seen.second_less, seen.equal()), (3, 1, 1, 1));
        assert_eq!(SameGarden::of(&all, "alma", "celeste"), SameGarden { first_less: 1, second_less: 1, ..seen });
    }
}
