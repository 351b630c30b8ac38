//! Dates and sums of a spring question that cannot be, each named with the reason.

use jiff::civil::Date;

use crate::input::errors::FieldErrors;
use crate::jobs::spring::dates::{days, other_hemisphere, turn_before};
use crate::science::climate::winters::Hemisphere;

/// Days from the turn of the year between which growth after winter begins: to the end of September.
const GROWTH_DAYS: (f64, f64) = (0.0, 272.0);
/// Days from the turn of the year between which a freeze belongs to the winter before: from September to the end of June.
const FREEZE_DAYS: (f64, f64) = (-122.0, 180.0);

/// More than twice what the warmest gardens have by then is another base, another unit or another starting day.
pub(super) fn check_heat(errors: &mut FieldErrors, sum: f64, day: f64) {
    let most = 28.0 * day.max(1.0);
    if sum > most {
        errors.add(
            "heat_so_far",
            &sum.to_string(),
            format!(
                "{sum:.0} degree-days by today cannot be: with every day at 36 °C it would be {most:.0}. Sums in °F are 1.8 times those in °C; \
                 count from the turn of the year"
            ),
        );
    }
}

fn spoken(date: Date) -> String {
    date.strftime("%-d %B %Y").to_string()
}

pub(super) fn check_dates(
    errors: &mut FieldErrors,
    hemisphere: Hemisphere,
    turn: Date,
    today: Date,
    grows: bool,
    growth: Option<Date>,
    freeze: Option<Date>,
) {
    let wrong_hemisphere = |date: Date, (from, to): (f64, f64)| {
        let fits = |turn| (from..=to).contains(&days(turn, date));
        (!fits(turn)).then(|| {
            let also = if fits(turn_before(other_hemisphere(hemisphere), today)) {
                format!("; it would fit the {}", other_hemisphere(hemisphere).label())
            } else {
                String::new()
            };
            format!("{}{also}", hemisphere.label())
        })
    };
    if let Some(growth) = growth {
        let value = growth.to_string();
        if growth > today {
            errors.add("growth_seen", &value, format!("{} lies after the day of the question, {}", spoken(growth), spoken(today)));
        } else if !grows {
            errors.add("growth_seen", &value, "you say that nothing has grown yet; leave this date blank, or choose the growth you saw");
        } else if let Some(place) = wrong_hemisphere(growth, GROWTH_DAYS) {
            errors.add(
                "growth_seen",
                &value,
                format!(
                    "{} is not in the growing season after this winter on the {place}. Correct the date or the hemisphere",
                    spoken(growth)
                ),
            );
        } else if let Some(freeze) = freeze.filter(|&freeze| freeze > growth) {
            errors.add(
                "growth_seen",
                &value,
                format!(
                    "growth on {} came before the freeze of {}, which killed it: give the first growth seen after the freeze",
                    spoken(growth),
                    spoken(freeze)
                ),
            );
        }
    }
    if let Some(freeze) = freeze {
        let value = freeze.to_string();
        if freeze > today {
            errors.add("freeze", &value, format!("{} lies after the day of the question, {}", spoken(freeze), spoken(today)));
        } else if let Some(place) = wrong_hemisphere(freeze, FREEZE_DAYS) {
            errors.add(
                "freeze",
                &value,
                format!("{} is not in the winter before this season on the {place}. Correct the date or the hemisphere", spoken(freeze)),
            );
        }
    }
}
