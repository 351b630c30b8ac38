//! Cold nights on the page of a record in words: two periods, carrying and heating.

use crate::jobs::station_record::page_view_rows::range;
use crate::science::climate::site_climate::SiteClimate;
use crate::units::TemperatureDelta;
use crate::web::cells::tied;
use crate::web::degrees::heat_loss;
use crate::web::frame::Frame;

/// How far the coldest nights of the two periods differ, in words.
pub(super) fn change(climate: &SiteClimate, frame: &Frame) -> Option<String> {
    let change = climate.periods.as_ref()?.difference?;
    let way = if change.mean_k >= 0.0 { "milder" } else { "colder" };
    let k = |kelvin: f64| frame.difference(TemperatureDelta::literal(kelvin));
    let sure = if change.low_k > 0.0 || change.high_k < 0.0 { "" } else { "; winters differ so much that this may be chance" };
    Some(format!(
        "The coldest night of a mean winter is {} {way} in the second period (95 % interval {} to {}){sure}.",
        k(change.mean_k.abs()),
        k(change.low_k),
        k(change.high_k)
    ))
}

/// Nights of carrying, where they were asked for.
pub(super) fn carrying(climate: &SiteClimate, frame: &Frame) -> Option<String> {
    let c = climate.spells.as_ref()?.carrying.as_ref()?;
    Some(tied(&format!(
        "Pots that go in below {}: {} nights a winter inside, {} times in and out again, the longest stay {} nights.",
        frame.temperature(c.below_c),
        range(&c.nights),
        range(&c.trips),
        range(&c.longest_stay)
    )))
}

/// Heating a shelter, where it was asked for.
pub(super) fn heating(climate: &SiteClimate, frame: &Frame) -> Vec<String> {
    let Some(h) = climate.spells.as_ref().and_then(|s| s.heating.as_ref()) else { return Vec::new() };
    let spell = &h.design_spell;
    let (loss, per_degree) = heat_loss(frame, h.conductance_w_k);
    [
        format!(
            "A shelter that loses {loss} {per_degree}, held at {}: {} nights of heating and {} kWh a winter; its coldest night asks for {} W.",
            frame.temperature(h.hold_c),
            range(&h.nights),
            range(&h.energy_kwh),
            range(&h.power_w)
        ),
        format!(
            "The costliest {} days in a row of a winter take {} kWh; the costliest of all, from {}, took {:.0} kWh. Sun and the warmth of the ground are left out.",
            spell.days,
            range(&spell.energy_kwh),
            spell.worst_first.strftime("%-d %B %Y"),
            spell.worst_energy_kwh
        ),
    ]
    .iter()
    .map(|s| tied(s))
    .collect()
}
