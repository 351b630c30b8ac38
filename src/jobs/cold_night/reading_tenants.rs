//! Other plants than figs, from the JSON-shaped input.

use crate::input::json::Checked;
use crate::jobs::cold_night::input::PlantInput;
use crate::records::text;
use crate::science::cold_night::spell::tenant::Tenant;

/// Longest name of another plant, characters.
const LONGEST_NAME: usize = 60;

/// Whether a plant is given as another than a fig.
pub(super) fn is_tenant(given: &PlantInput) -> bool {
    given.other.is_some() || given.hurt_c.is_some() || given.dead_c.is_some()
}

/// Another plant, with what it is called.
pub(super) fn tenant(checked: &mut Checked, path: &dyn Fn(&str) -> String, given: &PlantInput) -> Option<(String, Tenant)> {
    if !given.cultivar.trim().is_empty() {
        checked.wrong(
            &path("cultivar"),
            &given.cultivar,
            "a fig has a cultivar, another plant has other, hurt_c and dead_c: give one of them",
        );
        return None;
    }
    let other = given.other.as_deref().unwrap_or("another plant");
    let name = checked.take(&path("other"), other, text::line(other, LONGEST_NAME))?.unwrap_or_else(|| "another plant".to_owned());
    let (Some(hurt), Some(dead)) = (given.hurt_c, given.dead_c) else {
        let missing = if given.hurt_c.is_none() { "hurt_c" } else { "dead_c" };
        checked.wrong(&path(missing), "", "another plant needs both: the temperature that hurts it and the one that kills it");
        return None;
    };
    let hurt_c = checked.number(&path("hurt_c"), "temperature that hurts it", "°C", hurt, -60.0, 30.0);
    let dead_c = checked.number(&path("dead_c"), "temperature that kills it", "°C", dead, -60.0, 30.0);
    if dead_c > hurt_c {
        checked.wrong(&path("dead_c"), dead_c, format!("it cannot die at a warmer temperature than the one that hurts it ({hurt_c} °C)"));
        return None;
    }
    Some((name, Tenant { hurt_c, dead_c }))
}
