//! What the time of year asks of somebody with figs: one sentence, two things to do.

use jiff::civil::Date;

use crate::address;
use crate::science::climate::winters::Hemisphere;

/// The question of the season.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SeasonNow {
    /// What it is.
    pub title: &'static str,
    /// Why.
    pub why: &'static str,
    /// Address and words of what to do first, and else.
    pub first: (&'static str, &'static str),
    /// See above.
    pub then: (&'static str, &'static str),
}

const AUTUMN: SeasonNow = SeasonNow {
    title: "Autumn: cover the young, carry in the pots",
    why: "A fig in its first three winters dies where an old one only loses its top. A shortlist says by which date and temperature to act at your place.",
    first: (address::COLD_NIGHT.as_str(), "Plan a cold night"),
    then: (address::STORE.as_str(), "Will this garage do?"),
};
const WINTER: SeasonNow = SeasonNow {
    title: "Winter: what first, tonight?",
    why: "Type the forecast and what stands outside, and get a list to tick off. A leafless fig is asleep: nothing is dead yet.",
    first: (address::COLD_NIGHT.as_str(), "Plan tonight"),
    then: (address::FROZEN_POT.as_str(), "The pot froze solid"),
};
const SPRING: SeasonNow = SeasonNow {
    title: "Spring: wait, do not dig",
    why: "Most figs that look dead in May have shoots from the roots by midsummer.",
    first: (address::SPRING.as_str(), "Is it dead, and how long do I wait?"),
    then: (address::NEW_REPORT.as_str(), "Report what winter did"),
};
const SUMMER: SeasonNow = SeasonNow {
    title: "Summer: choose, and tell what winter did",
    why: "By midsummer every fig that lives has shown it: now a report is sure, and next year’s answer better.",
    first: (address::NEW_REPORT.as_str(), "Report a winter"),
    then: (address::CULTIVARS.as_str(), "Look at the cultivars"),
};

impl SeasonNow {
    /// On a day of a half of the Earth: by the months in which figs drop their leaves (September to November in the north), sleep, wake
    /// (March to mid-June) and bear. COMMON_PRACTICE, the meteorological seasons with spring drawn out to midsummer.
    pub fn on(day: Date, hemisphere: Hemisphere) -> Self {
        let month = match hemisphere {
            Hemisphere::North => day.month(),
            Hemisphere::South => (day.month() + 5) % 12 + 1,
        };
        match month {
            9..=11 => AUTUMN,
            12 | 1 | 2 => WINTER,
            3..=5 => SPRING,
            6 if day.day() <= 20 => SPRING,
            _ => SUMMER,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn the_season_turns_with_the_half_of_the_earth() {
        for (day, north, south) in [
            (date(2026, 11, 28), AUTUMN, SPRING),
            (date(2027, 1, 10), WINTER, SUMMER),
            (date(2026, 5, 20), SPRING, AUTUMN),
            (date(2026, 7, 25), SUMMER, WINTER),
        ] {
            assert_eq!((SeasonNow::on(day, Hemisphere::North), SeasonNow::on(day, Hemisphere::South)), (north, south), "{day}");
        }
    }
}
