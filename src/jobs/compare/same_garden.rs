//! Plants of two kinds that met the same winter in one garden, by published reports alone.
//!
//! A garden is what the open data join: one reporter's code and one published place. Plants count together where both stood in the ground or
//! both in pots, under the same cover.

use std::collections::BTreeMap;

use crate::jobs::open_data::publication::Published;
use crate::records::Winter;
use crate::records::words::Cover;

/// Difference of mean damage from which one kind was harmed less, levels. DESIGN: half a level.
const APART: f64 = 0.5;

/// Reporter, published place, winter, whether in pots, cover.
type Met<'a> = (&'a str, String, Winter, bool, Cover);

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
    pub fn of(reports: &[Published], first: &str, second: &str) -> Self {
        let mut met: BTreeMap<Met<'_>, [Vec<f64>; 2]> = BTreeMap::new();
        for report in reports {
            let (winter, plant) = (&report.winter, &report.plant);
            let kind = match plant.cultivar.as_ref().map(crate::catalogue::Slug::as_str) {
                Some(slug) if slug == first => 0,
                Some(slug) if slug == second => 1,
                _ => continue,
            };
            let (Some(reporter), Some(low), Some(high)) = (winter.reporter.as_deref(), winter.damage, winter.damage_high) else { continue };
            let place = format!("{:?} {:?}", plant.latitude, plant.longitude);
            let in_pot = plant.container_l.is_some() || plant.culture != "ground";
            let harm = f64::midpoint(low.index() as f64, high.index() as f64);
            if let Some(harms) = met.entry((reporter, place, winter.winter, in_pot, winter.protection)).or_default().get_mut(kind) {
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
    use crate::jobs::reports::survivors::tests::published;
    use crate::records::Report;
    use crate::science::hardiness::level::DamageLevel;

    fn told(slug: &str, reporter: Option<&str>, winter: &str, damage: DamageLevel, cover: Cover) -> Published {
        let mut report: Report = crate::records::sample::report();
        report.record.winter = winter.parse().unwrap();
        report.record.looked = report.record.winter.verdict_day();
        let mut told = published(&report);
        told.plant.cultivar = Some(crate::catalogue::Slug::new(slug).unwrap());
        (told.winter.reporter, told.winter.protection) = (reporter.map(str::to_owned), cover);
        (told.winter.damage, told.winter.damage_high) = (Some(damage), Some(damage));
        told
    }

    /// By hand: three winters met by both; another garden, another cover and a member who left count for nothing.
    #[test]
    fn only_plants_of_one_garden_and_winter_planted_alike_are_held_against_each_other() {
        use DamageLevel::{Dead, Tips, ToGround, Unharmed};
        let all = [
            told("celeste", Some("r1"), "2023/24", Tips, Cover::None),
            told("alma", Some("r1"), "2023/24", ToGround, Cover::None),
            told("celeste", Some("r1"), "2024/25", Dead, Cover::None),
            told("alma", Some("r1"), "2024/25", ToGround, Cover::None),
            told("celeste", Some("r2"), "2024/25", Unharmed, Cover::None),
            told("alma", Some("r2"), "2024/25", Unharmed, Cover::None),
            told("alma", Some("r3"), "2023/24", Dead, Cover::None),
            told("celeste", Some("r4"), "2024/25", Tips, Cover::None),
            told("alma", Some("r4"), "2024/25", Tips, Cover::Mulch),
            told("celeste", None, "2024/25", Tips, Cover::None),
            told("alma", None, "2024/25", Dead, Cover::None),
        ];
        let seen = SameGarden::of(&all, "celeste", "alma");
        assert_eq!((seen.winters, seen.first_less, seen.second_less, seen.equal()), (3, 1, 1, 1));
        assert_eq!(SameGarden::of(&all, "alma", "celeste"), SameGarden { first_less: 1, second_less: 1, ..seen });
    }
}
