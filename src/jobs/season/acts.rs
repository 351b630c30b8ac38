//! What waits for a safe date: uncover, move out, plant out, cut; and from when, by the chance that one accepts.

use super::safe::{STAGES, Safe, Stage, outside};
use crate::science::climate::season::CREST_DAY_NORTH;
use crate::science::climate::spring_nights::SpringNights;
use crate::units::TemperatureDelta;

/// Chances of a harmful night afterwards for which a date is given: 1 in 2, 1 in 4, 1 in 10, 1 in 50. DESIGN.
pub const CHANCES: [f64; 4] = [0.5, 0.25, 0.1, 0.02];

/// Something to do in spring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Act {
    /// Its word in JSON and addresses.
    pub word: &'static str,
    /// What is done.
    pub words: &'static str,
    /// The stage that the plant is in then, an index of [`STAGES`].
    stage: usize,
    /// What else has to be so.
    pub and: &'static str,
}

/// Each act, in the order of a spring.
pub const ACTS: [Act; 6] = [
    Act {
        word: "move_out_asleep",
        words: "Stand a leafless pot outside",
        stage: 2,
        and: "Shade and shelter for the first week. Once its buds break the next lines count.",
    },
    Act {
        word: "plant_out_asleep",
        words: "Plant out a leafless young tree",
        stage: 2,
        and: "Soil not frozen nor sodden; mulch goes on the same day.",
    },
    Act {
        word: "uncover",
        words: "Uncover a plant in the ground for good",
        stage: 1,
        and: "Open it on mild days before, so that it does not wake under the cover; keep the cover at hand until the date of 1 in 50.",
    },
    Act {
        word: "cut",
        words: "Cut back to live wood",
        stage: 1,
        and: "A cut wakes the buds below it, so not before such nights are past, and not before growth shows where live wood ends (common practice, no source). Of a plant that shows nothing cut nothing before midsummer.",
    },
    Act {
        word: "move_out_in_leaf",
        words: "Move a pot in leaf out for good",
        stage: 0,
        and: "Out by day and in by night until then. A week in shade first: leaves grown inside burn in the sun.",
    },
    Act {
        word: "plant_out_in_leaf",
        words: "Plant out a plant in leaf",
        stage: 0,
        and: "Hardened off for a week; the first winter is its most dangerous one.",
    },
];

impl Act {
    /// The stage that the plant is in.
    pub fn stage(&self) -> Stage {
        let [leaf, buds, rest] = STAGES;
        match self.stage {
            0 => leaf,
            1 => buds,
            _ => rest,
        }
    }
}

/// One act with its dates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ActRow {
    /// What.
    pub act: Act,
    /// From when, for each of [`CHANCES`]. Days from the turn of the year.
    pub dates: [Safe; 4],
    /// Chance of a harmful night after the day asked about, up to the crest of summer.
    pub chance_after: Option<f64>,
}

/// Every act, asked on `today`, in a spot that is warmer than the open by `spot` on a clear still night; with the chance after `on`, days from the
/// turn of the year.
pub fn rows(nights: &SpringNights, today: f64, on: Option<f64>, spot: TemperatureDelta) -> Vec<ActRow> {
    ACTS.iter()
        .map(|&act| {
            let below = outside(&act.stage(), spot);
            ActRow {
                act,
                dates: CHANCES.map(|chance| Safe::on(nights, today, below, chance)),
                chance_after: on.map(|day| nights.between(day, CREST_DAY_NORTH, below.degrees()).chance),
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::season::safe;

    /// Twenty years whose last night of −3 °C falls on day 80, 81, … 99; no other night is colder than 5 °C.
    fn counted() -> SpringNights {
        let year = |n: usize| (0..365).map(|day| if day == 80 + n { -3.0 } else { 5.0 }).collect();
        SpringNights::Recorded((0..20).map(year).collect())
    }

    /// Counted by hand: after day 89 ten years of twenty still have such a night, after 94 five, after 97 two, after 99 none.
    #[test]
    fn dates_are_those_after_which_one_year_in_two_four_ten_and_fifty_still_freezes() {
        let rows = rows(&counted(), 10.0, Some(94.0), TemperatureDelta::ZERO);
        let uncover = rows.iter().find(|row| row.act.word == "uncover").unwrap();
        assert_eq!(uncover.dates, [89.0, 94.0, 97.0, 99.0].map(Safe::From));
        assert_eq!(uncover.chance_after, Some(0.25));
        let asleep = rows.iter().find(|row| row.act.word == "plant_out_asleep").unwrap();
        assert_eq!(asleep.chance_after, Some(0.0), "no night of this record harms a plant at rest");
    }

    #[test]
    fn acts_and_the_table_of_stages_say_one_date() {
        let (nights, spot) = (counted(), TemperatureDelta::literal(1.5));
        for stage in safe::rows(&nights, 10.0, spot) {
            for row in rows(&nights, 10.0, None, spot).iter().filter(|row| row.act.stage() == stage.stage) {
                assert_eq!(row.dates[2], stage.when, "{}", row.act.word);
            }
        }
    }
}
