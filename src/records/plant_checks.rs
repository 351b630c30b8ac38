//! Whether what a report says of its plant agrees with itself: the age of its wood with that of the plant, a store with being carried in.

use super::plant::Plant;
use super::report::WinterRecord;
use super::words::{Cover, Vitality};

/// An answer that another contradicts.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{why}")]
pub struct Contradicted {
    /// Which answer: `wood_years`, `store` or `shoot_length`.
    pub answer: &'static str,
    /// As it was read.
    pub read: String,
    /// Why it cannot be, and what would be accepted.
    pub why: String,
}

impl WinterRecord {
    /// The first answer that another, or the plant's year of planting, contradicts.
    ///
    /// # Errors
    /// Wood that has stood longer than the plant, a kind of store where nothing was carried in, or new shoots on a dead plant.
    pub fn check_plant(&self, plant: &Plant) -> Result<(), Contradicted> {
        self.check_planted(plant.planted)
    }

    /// The same for a year of planting.
    ///
    /// # Errors
    /// As [`Self::check_plant`].
    pub fn check_planted(&self, planted: Option<i16>) -> Result<(), Contradicted> {
        if let (Some(wood), Some(planted)) = (self.wood_years, planted) {
            let years = self.winter.year() - planted;
            if i16::from(wood) > years {
                let why = format!(
                    "its wood cannot have stood for {wood} years when winter {} came: it was planted in {planted}, {} before; correct one of the two, or leave the years of wood blank",
                    self.winter,
                    counted(years.max(0))
                );
                return Err(Contradicted { answer: "wood_years", read: wood.to_string(), why });
            }
        }
        if let Some(store) = self.store.filter(|_| self.cover != Cover::CarriedIn) {
            let why = format!(
                "“{}” goes with a plant that was carried in; what was done for the winter is given as “{}”: correct one of the two",
                store.label(),
                self.cover.label()
            );
            return Err(Contradicted { answer: "store", read: store.word().to_owned(), why });
        }
        if let Some(cm) = self.shoot_cm.filter(|_| self.vitality == Vitality::Dead) {
            let why = "a plant that is dead has no new shoots; correct one of the two, or leave the length blank".to_owned();
            return Err(Contradicted { answer: "shoot_length", read: format!("{cm} cm"), why });
        }
        Ok(())
    }
}

fn counted(years: i16) -> String {
    if years == 1 { "1 year".to_owned() } else { format!("{years} years") }
}

#[cfg(test)]
mod tests {
    use super::super::sample::report;
    use super::*;
    use crate::science::site::Store;

    fn said(change: impl Fn(&mut WinterRecord)) -> Option<(&'static str, String)> {
        let mut report = report();
        change(&mut report.record);
        report.record.check_plant(&report.plant).err().map(|bad| (bad.answer, bad.why))
    }

    #[test]
    fn wood_may_be_younger_than_its_plant_and_never_older() {
        // Planted in 2019, so six years old in winter 2025/26.
        for wood in 0..=6 {
            assert_eq!(said(|r| r.wood_years = Some(wood)), None);
        }
        let (answer, why) = said(|r| r.wood_years = Some(7)).unwrap();
        assert_eq!(answer, "wood_years");
        assert!(why.contains("7 years") && why.contains("2019, 6 years before"), "{why}");
    }

    #[test]
    fn a_store_goes_with_a_plant_that_was_carried_in() {
        assert_eq!(said(|r| r.store = Some(Store::Cellar)).unwrap().0, "store");
        assert_eq!(said(|r| (r.store, r.cover) = (Some(Store::Cellar), Cover::CarriedIn)), None);
    }
}
