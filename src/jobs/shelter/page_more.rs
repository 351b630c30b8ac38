//! The further parts of a shelter's answer as a grower reads them: measured gains, the order for the money, the neighbour, the day, damp.

use crate::jobs::shelter::page_words::{short_difference, watts};
use crate::jobs::shelter::{GainAnswer, MatsAnswer, NeighbourAnswer, ShelterAnswer, ShelterInput};
use crate::units::{Celsius, Interval};
use crate::web::cells::tied;
use crate::web::frame::Frame;

/// What was measured before and after.
pub(crate) struct ExperimentView {
    pub lines: Vec<GainLine>,
    pub said: Vec<String>,
}

/// One gain.
pub(crate) struct GainLine {
    pub name: String,
    pub measured: String,
    pub interval: String,
    pub predicted: String,
    pub nights: String,
}

/// One change in the order for the money.
pub(crate) struct OrderLine {
    pub name: String,
    pub gain: String,
    pub cost: String,
    pub each: String,
    pub so_far: String,
}

/// The neighbour.
pub(crate) struct NeighbourView {
    pub name: String,
    pub said: Vec<String>,
}

fn between(pair: [f64; 2], frame: &Frame) -> String {
    let [low, high] = pair;
    format!("{} to {}", short_difference(low, frame), short_difference(high, frame))
}

pub(super) fn experiment(input: &ShelterInput, a: &ShelterAnswer, frame: &Frame) -> Option<ExperimentView> {
    if a.states.is_empty() {
        return None;
    }
    let mut said: Vec<String> = a.gains.iter().map(|g| sentence(g, frame)).collect();
    if a.gains.is_empty() {
        said.push("Readings from before and from after a change say what it gained; so far they lie on one side only.".to_owned());
    }
    said.extend(a.gains.iter().filter_map(|g| g.remark.clone()));
    if input.pool_states == Some(true) && a.gains.len() > 1 {
        said.push("All nights together correct what stands now.".to_owned());
    }
    let lines = a
        .gains
        .iter()
        .map(|g| GainLine {
            name: format!("{} → {}", g.from, g.to),
            measured: short_difference(g.difference_k, frame),
            interval: tied(&between(g.interval_k, frame)),
            predicted: short_difference(g.predicted_k, frame),
            nights: format!("{} and {}", g.readings[0], g.readings[1]),
        })
        .collect();
    Some(ExperimentView { lines, said: said.iter().map(|s| tied(s)).collect() })
}

fn sentence(g: &GainAnswer, frame: &Frame) -> String {
    let loss = match (g.loss_ratio, g.loss_ratio_interval) {
        (Some(ratio), Some([low, high])) => {
            format!(" It now loses {:.0} % of what it lost ({:.0} to {:.0}).", 100.0 * ratio, 100.0 * low, 100.0 * high)
        }
        _ => String::new(),
    };
    format!(
        "From “{}” to “{}”: {} gained, measured over {} and {} nights (nine in ten such sets would give {}). Its description says {}; with the nights before counted, {}.{loss}",
        g.from,
        g.to,
        short_difference(g.difference_k, frame),
        g.readings[0],
        g.readings[1],
        between(g.interval_k, frame),
        short_difference(g.predicted_k, frame),
        short_difference(g.predicted_from_before_k, frame),
    )
}

pub(super) fn order(a: &ShelterAnswer, frame: &Frame) -> Vec<OrderLine> {
    let money = |m: Option<f64>| m.map_or_else(|| "—".to_owned(), |c| format!("{c:.0}"));
    let per = if frame.fahrenheit_first() { 1.8 } else { 1.0 };
    a.order
        .iter()
        .map(|o| OrderLine {
            name: o.name.clone(),
            gain: if o.gain_k < 0.05 { "—".to_owned() } else { short_difference(o.gain_k, frame) },
            cost: money(o.material_cost),
            each: o.cost_per_k.map_or_else(|| "—".to_owned(), |c| format!("{:.1}", c / per)),
            so_far: short_difference(o.gain_so_far_k, frame),
        })
        .collect()
}

pub(super) fn mats(m: &MatsAnswer, frame: &Frame) -> String {
    let range = Interval { low: Celsius::literal(m.medium_range_c[0]), high: Celsius::literal(m.medium_range_c[1]) };
    tied(&format!(
        "On the mats the mix stands at about {} at the coldest moment ({}), and they draw {}.",
        frame.temperature(Celsius::literal(m.medium_c)),
        frame.range(range),
        watts(m.power_w)
    ))
}

pub(super) fn neighbour(n: &NeighbourAnswer, frame: &Frame) -> NeighbourView {
    let t = |c: f64| frame.temperature(Celsius::literal(c));
    let mut said = Vec::new();
    if let Some([low, high]) = n.inside_range_c {
        let range = Interval { low: Celsius::literal(low), high: Celsius::literal(high) };
        said.push(format!("Lowest there about {} ({}).", t(n.inside_minimum_c), frame.range(range)));
    }
    let way = if n.wall_heat_w >= 0.0 { "comes in through" } else { "goes out through" };
    said.push(format!("At the coldest moment about {} {way} the shared wall.", watts(n.wall_heat_w.abs())));
    if n.inside_range_c.is_some() {
        said.push(format!(
            "If that wall let nothing through, it would be {} there and {} here.",
            t(n.inside_minimum_alone_c),
            t(n.first_inside_minimum_alone_c)
        ));
        if n.energy_kwh > 0.05 {
            let cost = n.cost.map_or_else(String::new, |c| format!(", cost {c:.2}"));
            said.push(format!("It takes {:.1} kWh this night{cost}; {:.1} hours at full output.", n.energy_kwh, n.hours_at_full));
        }
    }
    said.extend(n.mats.as_ref().map(|m| mats(m, frame)));
    NeighbourView { name: n.name.clone(), said: said.iter().map(|s| tied(s)).collect() }
}

/// An area with its unit, the reader's first.
fn area(m2: f64, frame: &Frame) -> String {
    if frame.fahrenheit_first() {
        format!("{:.1} sq ft", m2 / crate::units::customary::SQUARE_METRES_PER_SQUARE_FOOT)
    } else {
        format!("{m2:.2} m²")
    }
}

pub(super) fn day(a: &ShelterAnswer, frame: &Frame) -> Vec<String> {
    let Some(d) = &a.day else { return Vec::new() };
    let t = |c: f64| frame.temperature(Celsius::literal(c));
    let mut said =
        vec![format!("Shut on a clear day it reaches about {} some {:.0} hours after sunrise.", t(d.shut_maximum_c), d.shut_maximum_hour)];
    match d.vent_hours {
        Some([from, to]) => said.push(format!(
            "Open from about {from:.1} to {to:.1} hours after sunrise, whenever it is above {}: a low opening of {} and as much high up carry it off without wind. The trade’s rule for summer is {} to {} at the sides and the same in the roof.",
            t(d.vent_above_c),
            area(d.vent_opening_m2, frame),
            area(d.vent_rule_m2[0], frame),
            area(d.vent_rule_m2[1], frame)
        )),
        None => said.push(format!("It stays below {}: there is no need to open it for warmth.", t(d.vent_above_c))),
    }
    said.push(format!("About {:.0} % of the light comes in.", d.light_percent));
    said.iter().map(|s| tied(s)).collect()
}

pub(super) fn damp(a: &ShelterAnswer, frame: &Frame) -> Vec<String> {
    a.covers
        .iter()
        .map(|c| {
            let face = frame.temperature(Celsius::literal(c.face_c));
            let above = c.drips_above_percent;
            tied(&if c.drips && c.freezes {
                format!(
                    "{}: its inner face falls to {face}; it drips above {above:.0} % humidity, and what drips freezes to it.",
                    crate::web::cells::upper_first(&c.name)
                )
            } else if c.drips {
                format!(
                    "{}: its inner face falls to {face}; it drips above {above:.0} % humidity.",
                    crate::web::cells::upper_first(&c.name)
                )
            } else {
                format!("{}: its inner face stays at {face}, dry up to {above:.0} % humidity.", crate::web::cells::upper_first(&c.name))
            })
        })
        .collect()
}
