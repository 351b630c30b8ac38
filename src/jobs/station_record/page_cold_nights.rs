//! Cold nights on the page of a record: rows by threshold, two periods, carrying and heating in words.

use crate::science::climate::frost::{Quantiles, SeasonDay};
use crate::science::climate::periods::PeriodClimate;
use crate::science::climate::site_climate::SiteClimate;
use crate::science::climate::spells::BelowThreshold;
use crate::units::{Celsius, TemperatureDelta};
use crate::web::cells::tied;
use crate::web::frame::Frame;

/// Cold nights below one threshold.
pub struct SpellRow {
    pub threshold: String,
    pub nights: String,
    pub longest_run: String,
    pub weeks: String,
    pub first: String,
    pub last: String,
    pub longest: String,
}

/// One of two periods.
pub struct PeriodView {
    pub period: String,
    pub winters: usize,
    pub mean: String,
    pub zone: String,
    pub ten: String,
    pub thirty: String,
    pub nights: Vec<String>,
}

/// `22 (11 to 43)`.
fn range(q: &Quantiles<f64>) -> String {
    format!("{:.0} ({:.0} to {:.0})", q.p50, q.p10, q.p90)
}

pub(super) fn spell_row(below: &BelowThreshold, frame: &Frame) -> SpellRow {
    let date = |q: &Option<Quantiles<SeasonDay>>| q.as_ref().map_or_else(|| "none".to_owned(), |q| q.p50.words());
    SpellRow {
        threshold: frame.temperature(below.threshold),
        nights: range(&below.nights),
        longest_run: range(&below.longest_run),
        weeks: range(&below.weeks),
        first: date(&below.first_night),
        last: date(&below.last_night),
        longest: below.longest.map_or_else(
            || "none".to_owned(),
            |run| format!("{} nights from {}, down to {}", run.nights, run.first.strftime("%-d %B %Y"), frame.temperature(run.minimum_c)),
        ),
    }
}

pub(super) fn period_view(of: &PeriodClimate, frame: &Frame) -> PeriodView {
    let level = |years: u32| {
        let found = of.yearly_minimum.return_levels.iter().find(|level| level.years == years);
        found.map_or_else(|| "too few winters".to_owned(), |level| frame.temperature(Celsius::literal(level.level_c)))
    };
    PeriodView {
        period: of.period.to_string(),
        winters: of.yearly_minimum.winters_used,
        mean: frame.temperature(Celsius::literal(of.yearly_minimum.mean_c)),
        zone: of.yearly_minimum.half_zone.clone().unwrap_or_default(),
        ten: level(10),
        thirty: level(30),
        nights: of.spells.by_threshold.iter().map(|below| range(&below.nights)).collect(),
    }
}

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
    [
        format!(
            "A shelter that loses {:.0} W/K, held at {}: {} nights of heating and {} kWh a winter; its coldest night asks for {} W.",
            h.conductance_w_k,
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
