//! Places and covers of the plan in words and tables: what a place holds night by night, its heat, a power failure, and the degrees each cover
//! buys.

use crate::jobs::cold_night::form_night::FormNight;
use crate::jobs::cold_night::page_plan_lines::{cover_words, night_words, worth};
use crate::jobs::cold_night::{ColdNightAnswer, PlaceAnswer};
use crate::units::{Celsius, Interval, TemperatureDelta};
use crate::web::cells::{tied, upper_first};
use crate::web::frame::Frame;

/// One night in a described shelter.
pub(crate) struct PlaceNight {
    pub when: String,
    pub lowest: String,
    pub range: String,
    pub energy: String,
}

/// The degrees of one cover on each coming night, over soil and over a pot.
pub(crate) struct CoverNights {
    pub name: String,
    pub nights: Vec<(String, String, String)>,
}

/// A described shelter night by night; of other places their line says it.
pub(crate) fn place_nights(answer: &ColdNightAnswer, place: &PlaceAnswer, frame: &Frame) -> Vec<PlaceNight> {
    let Some(heat) = &place.heat else { return Vec::new() };
    let coming = answer.nights.iter().filter(|n| !n.over);
    coming
        .filter_map(|n| {
            let [low, high] = *place.ranges_c.get(n.number - 1)?;
            Some(PlaceNight {
                when: night_words(answer, n.number),
                lowest: frame.temperature(Celsius::literal(*place.minima_c.get(n.number - 1)?)),
                range: frame.range(Interval { low: Celsius::literal(low), high: Celsius::literal(high) }),
                energy: format!("{:.1}", heat.energy_kwh.get(n.number - 1)?),
            })
        })
        .collect()
}

/// What is to be said of a place beside its lowest and its room.
pub(crate) fn place_words(night: &FormNight, answer: &ColdNightAnswer, place: &PlaceAnswer, frame: &Frame) -> Vec<String> {
    let t = |c: f64| frame.temperature(Celsius::literal(c));
    let mut said = Vec::new();
    if let Some(heat) = &place.heat {
        let coming = answer.nights.iter().filter(|n| !n.over);
        let energy: f64 = coming.filter_map(|n| heat.energy_kwh.get(n.number - 1)).sum();
        match (heat.heated, heat.cost) {
            (true, Some(cost)) => said.push(format!("Heated: {energy:.1} kWh, {cost:.2} for these nights, counted in the loss above.")),
            (true, None) => said.push(format!("Heated: {energy:.1} kWh for these nights.")),
            (false, Some(_)) => said.push("Left cold: its heat would cost more than it spares.".to_owned()),
            (false, None) => {}
        }
        if let Some(fails) = heat.power_fails {
            let of = if fails.plants == 1 { "the plant there" } else { "what stands there" };
            said.push(format!(
                "If the power fails at dusk of {}: down to {}, and {of} loses about {} instead of {}.",
                night_words(answer, fails.night),
                t(fails.minimum_c),
                worth(night, fails.loss),
                worth(night, fails.loss_planned)
            ));
        }
    }
    if let Some(hold) = place.must_hold_c {
        said.push(format!("It has to stay above {} for the other plants in it.", t(hold)));
    }
    said.iter().map(|s| tied(s)).collect()
}

/// The degrees that each kind of cover buys on the coming nights.
pub(crate) fn cover_gains(answer: &ColdNightAnswer, frame: &Frame) -> Vec<CoverNights> {
    let k = |k: &f64| frame.difference(TemperatureDelta::literal(*k));
    let line = |cover: &crate::jobs::cold_night::CoverAnswer| CoverNights {
        name: upper_first(&cover_words(&cover.kind)),
        nights: answer
            .nights
            .iter()
            .filter(|n| !n.over)
            .filter_map(|n| {
                let (soil, pot) = (cover.gains_k.get(n.number - 1)?, cover.gains_over_pot_k.get(n.number - 1)?);
                Some((night_words(answer, n.number), k(soil), k(pot)))
            })
            .collect(),
    };
    answer.covers.iter().filter(|c| c.count > 0).map(line).collect()
}
