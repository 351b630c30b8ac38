//! When is it safe: for each stage of the plant the dates on which a chance of a harmful night is left, never counting a winter that has yet
//! to come.

use crate::science::climate::season::{CREST_DAY_NORTH, YEAR_DAYS};
use crate::science::climate::spring_nights::{SpringNights, StillToCome};
use crate::units::{Celsius, TemperatureDelta};

/// Chance of a harmful night that is called safe: one year in ten.
pub const ACCEPTED: f64 = 0.1;
/// Chances of a harmful night for which a date is given: every other year, one in ten, one in fifty (DESIGN).
pub const CHANCES: [f64; 3] = [0.5, ACCEPTED, 0.02];

/// A stage of the plant, the night that hurts it, and what waits for its date.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stage {
    /// The stage in words.
    pub words: &'static str,
    /// What may be done once it is safe.
    pub then: &'static str,
    /// Name of its row in addresses.
    pub anchor: &'static str,
    /// Air temperature at the plant that hurts it.
    pub threshold: Celsius,
    /// Where that comes from.
    pub source: &'static str,
}

/// Stages, tenderest first.
pub const STAGES: [Stage; 3] = [
    Stage {
        words: "green shoots or leaves",
        then: "move a pot in leaf out for good, plant it out, put the covers away",
        anchor: "safe-in-leaf",
        threshold: Celsius::literal(-1.0),
        source: "new shoots hurt at −1 °C and below (Turkish guidance, grower grade); plants in active growth at −1.1 °C (CRFG2006, extension grade)",
    },
    Stage {
        words: "buds breaking",
        then: "uncover a plant in the ground",
        anchor: "safe-to-uncover",
        threshold: Celsius::literal(-2.0),
        source: "limit quoted for the bud-break state (Japanese amateur guide, grower grade)",
    },
    Stage {
        words: "young tree still at rest",
        then: "plant out a leafless young tree, stand its pot outside",
        anchor: "safe-at-rest",
        threshold: Celsius::literal(-6.0),
        source: "young trees in winter can die at −6 to −8 °C (Turkish guidance, grower grade)",
    },
];

/// From when, or until when. Days from the turn of the year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Safe {
    /// Safe now, until that day of autumn or winter; `None`: through the winter too.
    Now(Option<f64>),
    /// Safe from that day on, which lies after today.
    From(f64),
}

impl Safe {
    /// On `today`, where the plant is hurt by air at or below `outside` (in the open) and `accepted` is the chance that is called safe.
    pub fn on(nights: &SpringNights, today: f64, outside: Celsius, accepted: f64) -> Self {
        let outside = outside.degrees();
        let autumn = || nights.until(CREST_DAY_NORTH, outside, accepted);
        if today <= CREST_DAY_NORTH {
            let from = nights.safe_from(today, outside, accepted);
            return if from <= today { Self::Now(autumn()) } else { Self::From(from) };
        }
        match autumn() {
            Some(end) if today > end => Self::From(YEAR_DAYS + nights.safe_from(today - YEAR_DAYS, outside, accepted)),
            end => Self::Now(end),
        }
    }

    /// The day from which it is safe: today where it is.
    pub fn from(self, today: f64) -> f64 {
        match self {
            Self::Now(_) => today,
            Self::From(day) => day,
        }
    }
}

/// One stage of the answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SafeRow {
    /// The stage.
    pub stage: Stage,
    /// Safe by [`ACCEPTED`].
    pub when: Safe,
    /// For each of [`CHANCES`].
    pub dates: [Safe; 3],
    /// Such nights from today on: to the date on which it is safe, or to the crest of this summer if that is later.
    pub to_come: StillToCome,
}

/// Every stage, on a day, in a spot that is warmer than the open by `spot` on a clear still night (colder: negative).
pub fn rows(nights: &SpringNights, today: f64, spot: TemperatureDelta) -> Vec<SafeRow> {
    STAGES
        .iter()
        .map(|&stage| {
            let outside = outside(&stage, spot);
            let when = Safe::on(nights, today, outside, ACCEPTED);
            let end = when.from(today).max(CREST_DAY_NORTH);
            SafeRow {
                stage,
                when,
                dates: CHANCES.map(|chance| Safe::on(nights, today, outside, chance)),
                to_come: nights.between(today, end, outside.degrees()),
            }
        })
        .collect()
}

/// The reading in the open at which the plant is hurt: as much below its limit as its spot is warmer.
pub fn outside(stage: &Stage, spot: TemperatureDelta) -> Celsius {
    stage.threshold - spot
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Twenty years whose last night of −3 °C falls on day 80, 81, … 99 and whose first in autumn on day 300, 301, … 319; no other night is
    /// colder than 5 °C, but for one of −8 °C on day 20.
    fn counted() -> SpringNights {
        let year = |n: usize| {
            (0..365)
                .map(|day| match day {
                    20 => -8.0,
                    day if day == 80 + n || day == 300 + n => -3.0,
                    _ => 5.0,
                })
                .collect()
        };
        SpringNights::Recorded((0..20).map(year).collect())
    }

    fn safe(today: f64, outside: f64) -> Safe {
        Safe::on(&counted(), today, Celsius::literal(outside), ACCEPTED)
    }

    /// The definition, counted by hand: after day 97 two years of twenty still have such a night (98 and 99), which is one in ten.
    #[test]
    fn safe_is_the_day_after_which_one_year_in_ten_still_freezes() {
        assert_eq!(safe(10.0, -2.0), Safe::From(97.0));
        assert_eq!(safe(-40.0, -2.0), Safe::From(97.0), "asked in the winter before");
        assert_eq!(safe(10.0, -5.0), Safe::From(20.0), "a hardier stage is safe after the one night that hurts it");
        let rows = rows(&counted(), 10.0, TemperatureDelta::literal(0.0));
        // Every other year: after day 89 ten of twenty; one in fifty: none, after day 99.
        assert_eq!(rows[1].dates, [Safe::From(89.0), Safe::From(97.0), Safe::From(99.0)]);
    }

    /// After day 301 two years of twenty have frozen (300 and 301), so that day 300, after which one has, is the last safe one.
    #[test]
    fn in_summer_it_is_safe_until_autumn_and_in_autumn_from_next_spring_on() {
        assert_eq!(safe(150.0, -2.0), Safe::Now(Some(300.0)));
        assert_eq!(safe(250.0, -2.0), Safe::Now(Some(300.0)));
        assert_eq!(safe(301.0, -2.0), Safe::From(365.0 + 97.0));
        assert_eq!(safe(250.0, -20.0), Safe::Now(None));
    }

    /// A wall that is 2 K warmer is safe as a place whose nights are 2 K warmer, a hollow as one whose nights are colder.
    #[test]
    fn a_warm_spot_is_safe_earlier_and_a_hollow_later() {
        let rows_at = |spot: f64| rows(&counted(), 10.0, TemperatureDelta::literal(spot))[1].when;
        // Buds break: −2 °C at the plant is −4 °C in the open by a wall, which only the night of −8 °C brings.
        assert_eq!(rows_at(2.0), Safe::From(20.0));
        assert_eq!(rows_at(0.0), Safe::From(97.0));
        assert_eq!(outside(&STAGES[1], TemperatureDelta::literal(2.0)), Celsius::literal(-4.0));
        assert_eq!(outside(&STAGES[1], TemperatureDelta::literal(-1.5)), Celsius::literal(-0.5));
    }

    proptest! {
        #[test]
        fn no_date_is_past_and_less_risk_is_never_sooner(today in -160.0..365.0f64, outside in -9.0..2.0f64) {
            let nights = counted();
            let dates = CHANCES.map(|chance| Safe::on(&nights, today.floor(), Celsius::literal(outside), chance));
            for date in dates {
                prop_assert!(date.from(today.floor()) >= today.floor());
                if let Safe::Now(Some(end)) = date {
                    prop_assert!(end >= today.floor());
                }
            }
            prop_assert!(dates.windows(2).all(|w| w[0].from(today.floor()) <= w[1].from(today.floor())));
        }
    }
}
