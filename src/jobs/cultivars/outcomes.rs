//! What members report of one fig, beside what is claimed of it: each outcome with its cold, age, stage and protection.

use crate::jobs::open_data::publication::Published;
use crate::records::words::{Cover, Stage, Vitality};
use crate::science::hardiness::level::DamageLevel;
use crate::units::Celsius;

/// Most outcomes that are listed, the coldest first.
pub const MOST_OUTCOMES: usize = 12;

/// One reported winter.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// Report.
    pub report: String,
    /// Winter, as people write it.
    pub winter: String,
    /// Coldest it met; `None`: not measured.
    pub coldest: Option<Celsius>,
    /// Damage, the worst that its answers leave possible.
    pub damage: Option<DamageLevel>,
    /// Alive, dead, or not seen yet.
    pub vitality: Vitality,
    /// Whole years since planting.
    pub age_years: Option<u8>,
    /// What it was doing.
    pub stage: Option<Stage>,
    /// What was done for it.
    pub cover: Cover,
    /// In a pot.
    pub in_pot: bool,
}

/// Reported outcomes of a fig and how many there are, the coldest winters first.
pub fn outcomes(published: &[Published], slug: &str) -> (usize, Vec<Outcome>) {
    let own = published.iter().filter(|report| report.winter.cultivar.as_ref().is_some_and(|c| c.as_str() == slug));
    let mut all: Vec<Outcome> = own
        .map(|report| Outcome {
            report: report.winter.report_id.clone(),
            winter: report.winter.winter.to_string(),
            coldest: report.winter.coldest_c.and_then(|c| Celsius::new(c).ok()),
            damage: report.winter.damage_high,
            vitality: report.winter.vitality,
            age_years: report.winter.age_years,
            stage: report.winter.stage,
            cover: report.winter.protection,
            in_pot: report.plant.container_l.is_some() || report.plant.culture != "ground",
        })
        .collect();
    let cold = |outcome: &Outcome| outcome.coldest.map_or(f64::INFINITY, Celsius::degrees);
    all.sort_by(|a, b| cold(a).total_cmp(&cold(b)).then_with(|| a.report.cmp(&b.report)));
    let count = all.len();
    all.truncate(MOST_OUTCOMES);
    (count, all)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::reports::survivors::tests::published;

    fn told(cultivar: &str, coldest: f64) -> Published {
        let mut told = crate::records::sample::report();
        told.plant.cultivar = crate::catalogue::Slug::new(cultivar).ok();
        told.record.coldest.as_mut().unwrap().celsius = Celsius::new(coldest).unwrap();
        published(&told)
    }

    #[test]
    fn outcomes_are_of_the_fig_alone_and_the_coldest_stands_first() {
        let reports = [told("celeste", -9.0), told("alma", -20.0), told("celeste", -14.0)];
        let (count, found) = outcomes(&reports, "celeste");
        assert_eq!(count, 2);
        assert_eq!(found.iter().map(|o| o.coldest.unwrap().degrees()).collect::<Vec<_>>(), [-14.0, -9.0]);
    }
}
