//! When rounds are made: every hour one, for those places whose sun says that it is morning or afternoon.

use jiff::{SignedDuration, Timestamp};

/// Hour of the morning's round by the sun of a place: after nine, when the night to come is the next one, whatever the clock of its zone.
const MORNING_H: i64 = 10;
/// Hour of the afternoon's round by the sun: three or more hours before dusk of a winter's day.
const AFTERNOON_H: i64 = 15;
/// Hundredths of a degree that the earth turns in an hour.
const HUNDREDTHS_PER_HOUR: i64 = 1500;
const SECONDS_PER_HOUR: i64 = 3600;
/// Easternmost longitude, hundredths of a degree, and one more.
const EAST_END: i64 = 18_001;

/// Which of the day's two rounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turn {
    /// Looks ahead, and asks about the night that is over.
    Morning,
    /// Looks ahead.
    Afternoon,
}

impl Turn {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Morning, Self::Afternoon];

    const fn hour(self) -> i64 {
        match self {
            Self::Morning => MORNING_H,
            Self::Afternoon => AFTERNOON_H,
        }
    }

    /// The longitudes whose sun stands so at a round, hundredths of a degree: from, to below.
    pub fn bands(self, slot: Timestamp) -> Vec<(i64, i64)> {
        let of_day = slot.as_second().rem_euclid(24 * SECONDS_PER_HOUR) / SECONDS_PER_HOUR;
        // −12..=11 hours from Greenwich.
        let offset = (self.hour() - of_day + 12).rem_euclid(24) - 12;
        let middle = offset * HUNDREDTHS_PER_HOUR;
        let (west, east) = (middle - HUNDREDTHS_PER_HOUR / 2, middle + HUNDREDTHS_PER_HOUR / 2);
        if offset == -12 { vec![(west, east), (-west - HUNDREDTHS_PER_HOUR, EAST_END)] } else { vec![(west, east)] }
    }
}

/// The hour that a moment lies in.
pub fn slot(now: Timestamp) -> Timestamp {
    let into = now.as_second().rem_euclid(SECONDS_PER_HOUR);
    Timestamp::from_second(now.as_second() - into).unwrap_or(now)
}

/// The rounds that may still be made at a moment, the oldest first: this hour's and those of a few hours before, where no process was there.
pub fn open(now: Timestamp, hours_back: i64) -> Vec<Timestamp> {
    (0..=hours_back).rev().map(|back| slot(now) - SignedDuration::from_hours(back)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn every_place_has_one_round_of_each_turn_a_day(longitude in -18_000_i64..=18_000, day in 0_i64..20_000) {
            for turn in Turn::ALL {
                let midnight = day * 24 * SECONDS_PER_HOUR;
                let rounds: Vec<i64> = (0..24)
                    .filter(|hour| {
                        let slot = Timestamp::from_second(midnight + hour * SECONDS_PER_HOUR).unwrap();
                        turn.bands(slot).iter().any(|(west, east)| (*west..*east).contains(&longitude))
                    })
                    .collect();
                prop_assert_eq!(rounds.len(), 1, "{:?}", rounds);
                let sun = (rounds[0] as f64 + longitude as f64 / 1500.0).rem_euclid(24.0);
                prop_assert!((sun - turn.hour() as f64).abs() <= 0.51, "{}", sun);
            }
        }
    }

    #[test]
    fn rounds_of_the_hours_before_are_made_up() {
        let open = open("2026-11-28T14:25:10Z".parse().unwrap(), 2);
        assert_eq!(
            open.iter().map(ToString::to_string).collect::<Vec<_>>(),
            ["2026-11-28T12:00:00Z", "2026-11-28T13:00:00Z", "2026-11-28T14:00:00Z"]
        );
    }
}
