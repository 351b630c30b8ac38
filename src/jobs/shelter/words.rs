//! Sentences of the shelter's answer that are the same for every shelter.

use crate::science::shelter::envelope::ShareOf;
use crate::science::shelter::outage::StopGap;

/// Name of a line of the conductance.
pub(super) fn share_name(of: ShareOf) -> String {
    match of {
        ShareOf::Part(name) => name,
        ShareOf::FloorEdge => "edge of the floor".to_owned(),
        ShareOf::Leaks => "leaks".to_owned(),
    }
}

/// Damp and mould under a closed cover: what to do, each with its source.
pub(super) const DAMP: &[&str] = &[
    "A dripping cover is colder than the dew point of the air inside: by Magnus' formula some 1 °C (2 °F) below air of 92 % humidity, 3 °C (5 °F) below air of 80 %. Frost on its inner face says that the skin itself is below freezing. Drops on plain film also hold back some of the heat that shines through it (Savage 1980).",
    "Grey mould needs damp and still air more than warmth and is commoner in closed, lined frames in late winter than in summer: open on every mild day, early, so that leaves are dry by evening (University of Massachusetts and University of Connecticut extension: water early, space plants, heat and vent a few minutes at a time even in cool weather).",
    "Take out fallen leaves and unripe figs before closing up; dead and wounded tissue is where the mould starts (University of Massachusetts extension).",
    "Above 90 % humidity leaves hardly dry (University of Kentucky extension). Pots that are moist, not wet, and a floor without puddles keep a closed shelter below that for part of the day.",
];

/// Said where the neighbour is a shelter and a season or a power failure is asked.
pub(super) const NEIGHBOUR_LEFT_OUT: &str =
    "The season and the power failure are worked out for this shelter alone, as if nothing passed through the wall to the neighbour.";

/// The weather before and after differed by more than this, K. DESIGN.
pub(super) const OTHER_WEATHER_K: f64 = 4.0;

/// What is said where nights before and after were not alike.
pub(super) fn other_weather(k: f64) -> String {
    let word = if k < 0.0 { "colder" } else { "warmer" };
    format!(
        "The nights after were {} {word} than those before. With the heater at full output that changes little; on its thermostat, or with another wind, it does.",
        crate::units::both_scales(k.abs())
    )
}

/// What is said where the interval does not hold what the description predicts.
pub(super) fn unlike_described(predicted_k: f64, difference_k: f64) -> String {
    let word = if difference_k > predicted_k { "more" } else { "less" };
    format!(
        "It gained {word} than its description says ({}): what comes next is predicted from what you measured.",
        crate::units::both_scales(predicted_k)
    )
}

/// What is said where the scatter could not be seen.
pub(super) const ONE_NIGHT_EACH: &str = "One night on each side shows no scatter; the interval assumes 1.1 °C (2.0 °F) from night to night. A second night on either side says more than anything else.";

/// What is done at once after the power failed.
pub(super) const fn stop_gap(what: StopGap) -> &'static str {
    match what {
        StopGap::Seal => "shut and seal doors, vents and the foot of the skirt",
        StopGap::SecondSkin => "hang blankets, bubble lining or a second sheet inside, over the plants and down to the floor",
        StopGap::HotWater => "carry in 100 litres (26 US gallons) of hot water, in closed cans among the plants",
    }
}
