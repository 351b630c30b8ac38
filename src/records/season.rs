//! Checks of the dates of growth and fruit in a report: in season for the hemisphere, in order, and on a living plant.

use jiff::civil::Date;

use super::report::{FirstGrowth, WinterRecord};
use super::winter::{Hemisphere, Winter};
use super::words::{Fruit, Vitality};

/// A date that cannot be, with the answer it stands in.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{why}")]
pub struct BadDate {
    /// Which answer: `first_growth` or `first_ripe`.
    pub answer: &'static str,
    /// The date, as a value.
    pub date: Date,
    /// Why, and what would be accepted.
    pub why: String,
}

fn spoken(date: Date) -> String {
    date.strftime("%-d %B %Y").to_string()
}

/// Words for a date outside its part of the year, naming the other half of the Earth where it would fit there.
fn outside(date: Date, winter: Winter, what: &str, days: fn(Winter) -> (Date, Date)) -> Option<String> {
    let within = |winter: Winter| {
        let (from, to) = days(winter);
        (from..=to).contains(&date)
    };
    if within(winter) {
        return None;
    }
    let (other, hemisphere) = match winter.hemisphere() {
        Hemisphere::North => (Hemisphere::South, "southern"),
        Hemisphere::South => (Hemisphere::North, "northern"),
    };
    let there = [-1, 0, 1].into_iter().filter_map(|step| Winter::new(winter.year() + step, other).ok()).find(|&winter| within(winter));
    let (from, to) = days(winter);
    let also = there.map_or_else(String::new, |there| format!("; it would fit winter {there} on the {hemisphere} half of the Earth"));
    Some(format!("{} is no day for {what} after winter {winter}, which is from {} to {}{also}", spoken(date), spoken(from), spoken(to)))
}

impl WinterRecord {
    /// The first date of growth or fruit that cannot be.
    ///
    /// # Errors
    /// A date in the wrong season or half of the Earth, fruit before growth, on a dead plant, or where the report says none ripened.
    pub fn check_season(&self) -> Result<(), BadDate> {
        let refuse = |answer, date, why: Option<String>| why.map_or(Ok(()), |why| Err(BadDate { answer, date, why }));
        if let Some(FirstGrowth::On(growth)) = self.first_growth {
            refuse("first_growth", growth, outside(growth, self.winter, "first growth", Winter::growth_days))?;
        }
        let Some(ripe) = self.first_ripe else { return Ok(()) };
        let why = match (self.first_growth, self.fruit) {
            _ if self.vitality == Vitality::Dead => {
                Some("a plant that died that winter ripens nothing after it: correct the date, or whether the plant lives".to_owned())
            }
            (Some(FirstGrowth::On(growth)), _) if ripe <= growth => {
                Some(format!("{} does not come after first growth on {}", spoken(ripe), spoken(growth)))
            }
            (Some(FirstGrowth::NotBy(day)), _) if ripe <= day => {
                Some(format!("nothing had grown by {}, so no fig was ripe on {}", spoken(day), spoken(ripe)))
            }
            (_, Some(Fruit::None | Fruit::Unripe | Fruit::NotLooked)) => {
                Some("the answer above says that no fig ripened or nobody looked; correct it, or leave this date blank".to_owned())
            }
            (_, None) => Some("say above which crop it was: the early crop, the main crop, or both".to_owned()),
            _ => outside(ripe, self.winter, "ripe figs", Winter::fruit_days),
        };
        refuse("first_ripe", ripe, why)
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample::record;
    use super::*;
    use jiff::civil::date;

    fn with(change: impl Fn(&mut WinterRecord)) -> Result<(), String> {
        let mut record = record();
        (record.fruit, record.first_ripe) = (Some(Fruit::MainRipe), Some(date(2026, 9, 12)));
        change(&mut record);
        record.check_season().map_err(|bad| format!("{}: {}", bad.answer, bad.why))
    }

    #[test]
    fn dates_that_cannot_be_are_named_with_the_reason() {
        assert_eq!(with(|_| ()), Ok(()));
        let says = |change: fn(&mut WinterRecord), words: &str| {
            let message = with(change).unwrap_err();
            assert!(message.contains(words), "{message}");
        };
        says(|r| r.vitality = Vitality::Dead, "ripens nothing");
        says(|r| r.first_ripe = Some(date(2026, 4, 12)), "does not come after first growth");
        says(|r| r.fruit = Some(Fruit::Unripe), "no fig ripened");
        says(|r| r.fruit = None, "which crop");
        says(|r| r.first_ripe = Some(date(2027, 2, 3)), "southern half");
        says(|r| r.first_growth = Some(FirstGrowth::On(date(2025, 9, 30))), "first_growth: 30 September 2025");
        says(
            |r| (r.first_growth, r.first_ripe) = (Some(FirstGrowth::NotBy(date(2026, 7, 1))), Some(date(2026, 6, 20))),
            "nothing had grown",
        );
    }

    #[test]
    fn the_southern_season_runs_over_the_turn_of_the_year() {
        let south = |ripe| {
            with(|r| {
                r.winter = "2026".parse().unwrap();
                (r.first_growth, r.first_ripe) = (Some(FirstGrowth::On(date(2026, 9, 20))), Some(ripe));
            })
        };
        assert_eq!(south(date(2027, 2, 3)), Ok(()));
        assert!(south(date(2027, 9, 12)).unwrap_err().contains("northern half"));
    }
}
