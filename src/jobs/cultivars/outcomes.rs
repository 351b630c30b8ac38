//! What members report of one fig, beside what is claimed of it: each outcome with its cold, age, stage and protection.

use crate::records::Register;
use crate::records::register::Row;
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

fn outcome(row: &Row) -> Outcome {
    Outcome {
        report: row.id.to_string(),
        winter: row.winter.to_string(),
        coldest: row.coldest(),
        damage: row.worst(),
        vitality: row.vitality,
        age_years: row.years,
        stage: row.stage,
        cover: row.cover,
        in_pot: row.in_pot,
    }
}

/// Reported outcomes of a fig and how many there are, the coldest winters first.
pub fn outcomes(register: &Register, slug: &str) -> (usize, Vec<Outcome>) {
    let Some(number) = register.number_of(slug) else { return (0, Vec::new()) };
    let mut own: Vec<&Row> = register.rows_of(number).collect();
    let cold = |row: &Row| (row.coldest_hundredths().unwrap_or(i32::MAX), row.id);
    let count = own.len();
    if count > MOST_OUTCOMES {
        own.select_nth_unstable_by_key(MOST_OUTCOMES, |row| cold(row));
        own.truncate(MOST_OUTCOMES);
    }
    own.sort_unstable_by_key(|row| cold(row));
    (count, own.into_iter().map(outcome).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::reports::survivors::tests::register;
    use crate::records::Report;

    fn told(cultivar: &str, coldest: f64) -> Report {
        let mut told = crate::records::sample::report();
        told.plant.cultivar = crate::catalogue::Slug::new(cultivar).ok();
        told.record.coldest.as_mut().unwrap().celsius = Celsius::new(coldest).unwrap();
        told
    }

    #[test]
    fn outcomes_are_of_the_fig_alone_and_the_coldest_stands_first() {
        let reports = [told("celeste", -9.0), told("alma", -20.0), told("celeste", -14.0)];
        let (count, found) = outcomes(&register(&reports), "celeste");
        assert_eq!(count, 2);
        assert_eq!(found.iter().map(|o| o.coldest.unwrap().degrees()).collect::<Vec<_>>(), [-14.0, -9.0]);
    }
}
