//! Words of the plan that JSON and page share.

use crate::science::cold_night::spell::plan::{Binds, Unused};

/// What is not known of roots in pots.
pub(crate) const ROOTS_IN_POTS: &str = "Roots in pots: no measured limit for figs exists. The chances rest on planning values by age and state, each with a wide range; the page on method lists them (/method#roots). Growers' reports run from −9 to −4 °C.";

/// How the cost of heat meets the worth of plants.
pub(crate) const HEAT_AND_WORTH: &str = "Heat has a price, so its cost stands beside what plants lose, in the same money as their worth: each priced shelter is planned heated through all planned nights and planned cold, and the plan that loses least in all is shown.";

/// Why a plant stays where it is.
pub(crate) fn why_it_stays(binds: Binds, movable: bool) -> &'static str {
    match (binds, movable) {
        (Binds::NothingHelps, true) => "nothing at hand would help it enough to matter",
        (Binds::NothingHelps, false) => "in the ground, and no cover at hand would help it enough to matter",
        (Binds::Room, _) => "no room or cover is left that others do not need more",
        (Binds::Minutes, _) => "no minutes are left that others do not need more",
    }
}

/// Why covers lie unused.
pub(crate) fn why_unused(unused: Unused) -> &'static str {
    match unused {
        Unused::GainsTooLittle => "they would spare no plant as much as one part in a hundred",
        Unused::NoMinutes => "no minutes are left to put them on",
        Unused::BetterOtherwise => "what they would help is better off carried in or under another cover",
    }
}
