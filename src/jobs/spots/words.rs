//! Why a spot is warmer or colder, in a sentence or two.

use crate::science::site::Setting;

/// Why; sizes in K are written by `size`, in the reader's degrees.
pub fn why(setting: Setting, size: &dyn Fn(f64) -> String) -> String {
    match setting {
        Setting::Open => "What a forecast or a station speaks of: all others are told against it. The range is how far one lawn differs from another.".to_owned(),
        Setting::Wall => "It gives back by night what the sun left in it, within half a metre; six metres off nothing is left. Measured by day only: no reading of the air beside one at night was found.".to_owned(),
        Setting::Courtyard => "Walls hide the sky and hold the wind off; but a tight still court can fill with cold air and be colder than the lawn.".to_owned(),
        Setting::Hollow => format!(
            "Cold air is heavy and collects there. In hilly orchards valley bottoms were {} colder on average and up to {} on clear nights. On a windy night the same hollow is sheltered.",
            size(1.4),
            size(6.0)
        ),
        Setting::Slope => "Half-way up, the cold air drains away: the warm belt. On a windy night it is the exposed place, and colder.".to_owned(),
        Setting::Town => format!("Walls and streets store heat. Middle-sized cities come to {} on clear still nights; wind takes it away.", size(3.6)),
        Setting::Water => "Open water is warmer than winter air. The shore that the cold wind reaches last is the warm one. Frozen water gives next to nothing.".to_owned(),
        Setting::Trees => "Evergreen crowns hide the sky. Bare ones do next to nothing, and all take sun and water in summer.".to_owned(),
    }
}
