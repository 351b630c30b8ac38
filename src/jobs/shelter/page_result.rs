//! A shelter's answer as a grower reads it.

use crate::jobs::shelter::output::PowerFailure;
use crate::jobs::shelter::page_more::{ExperimentView, NeighbourView, OrderLine, damp, day, experiment, neighbour, order};
use crate::jobs::shelter::page_words::{short_difference, transmittance, watts};
use crate::jobs::shelter::{ChangeAnswer, ShelterAnswer, ShelterInput};
use crate::units::{Celsius, Interval, TemperatureDelta};
use crate::web::cells::tied;
use crate::web::charts::axis::percent;
use crate::web::charts::night::NightChart;
use crate::web::degrees::heat_loss;
use crate::web::frame::Frame;

/// The answer.
pub(crate) struct ResultView {
    pub title: String,
    pub lead: String,
    pub range: String,
    pub tonight: Option<String>,
    pub chart: Option<NightChart>,
    pub learned: Option<String>,
    pub remark: Option<String>,
    pub heat: Vec<String>,
    pub parts: Vec<PartLine>,
    pub changes: Vec<ChangeLine>,
    pub priced: bool,
    pub order: Vec<OrderLine>,
    pub experiment: Option<ExperimentView>,
    pub neighbour: Option<NeighbourView>,
    pub mats: Option<String>,
    pub day: Vec<String>,
    pub damp: Vec<String>,
    pub damp_advice: Vec<String>,
    pub more: Vec<String>,
    /// The address that gives this answer again; absent where it would be too long.
    pub address: Option<String>,
    pub notes: Vec<String>,
    pub cautions: Vec<String>,
}

/// A line of the loss.
pub(crate) struct PartLine {
    pub name: String,
    pub u: String,
    pub loss: String,
    pub share: String,
    pub width: String,
}

/// What a change would do.
pub(crate) struct ChangeLine {
    pub name: String,
    pub minimum: String,
    pub gain: String,
    pub need: String,
    pub light: String,
    pub cost: String,
    pub together: bool,
}

impl ResultView {
    pub(crate) fn new(input: &ShelterInput, a: &ShelterAnswer, frame: &Frame) -> Self {
        let t = |c: f64| frame.temperature(Celsius::literal(c));
        let k = |d: f64| frame.difference(TemperatureDelta::literal(d));
        let minimum = input.night.as_ref().map_or(0.0, |n| n.minimum_c);
        let range = Interval { low: Celsius::literal(a.inside_range_c[0]), high: Celsius::literal(a.inside_range_c[1]) };
        let series = |pick: fn(&crate::jobs::shelter::NightPoint) -> f64| {
            a.night.iter().filter(|p| p.hour >= 2.0).map(|p| (p.hour, pick(p))).collect()
        };
        let curves = [("c-site-line", "Outside", series(|p| p.outside_c)), ("c-fit", "Inside", series(|p| p.inside_c))];
        let warmer =
            if a.difference_k >= 0.05 { format!("{} warmer than outside", k(a.difference_k)) } else { "no warmer than outside".to_owned() };
        Self {
            title: tied(&format!("Your shelter when it is {} outside", t(minimum))),
            lead: tied(&format!("Lowest inside about {}: {warmer}.", t(a.inside_minimum_c))),
            range: tied(&format!("Nine nights in ten like this one end at {}.", frame.range(range))),
            tonight: tonight(input, a).map(|said| tied(&said)),
            chart: NightChart::new(&curves, frame),
            learned: a.from_readings.as_ref().map(|r| {
                let nights = if r.readings == 1 { "reading".to_owned() } else { format!("{} readings", r.readings) };
                let (degree, share) = if frame.fahrenheit_first() { ("°F", 1.8) } else { ("K", 1.0) };
                let [loss, low, high, described] =
                    [r.conductance_w_k, r.interval[0], r.interval[1], r.described_conductance_w_k].map(|w| w / share);
                format!(
                    "From your {nights} it loses {loss:.0} W for each {degree} ({low:.0} to {high:.0}); by its description alone {described:.0}. Everything here uses what your readings say."
                )
            }),
            remark: a.from_readings.as_ref().and_then(|r| r.remark.clone()),
            heat: heat(input, a, frame).iter().map(|said| tied(said)).collect(),
            parts: a
                .by_part
                .iter()
                .map(|p| PartLine {
                    name: p.name.clone(),
                    u: p.u_w_m2k.map_or_else(String::new, |u| transmittance(u, frame)),
                    loss: heat_loss(frame, p.conductance_w_k).0,
                    share: format!("{:.0} %", 100.0 * p.share),
                    width: percent(100.0 * p.share),
                })
                .collect(),
            changes: a.changes.iter().map(|c| change(c, frame)).chain(a.sets.iter().map(|c| ChangeLine { together: true, ..change(c, frame) })).collect(),
            priced: a.changes.iter().any(|c| c.material_cost.is_some()),
            order: order(a, frame),
            experiment: experiment(input, a, frame),
            neighbour: a.neighbour.as_ref().map(|n| neighbour(n, frame)),
            mats: a.mats.as_ref().map(|m| super::page_more::mats(m, frame)),
            day: day(a, frame),
            damp: damp(a, frame),
            damp_advice: a.damp.clone(),
            address: None,
            more: more(a, frame).iter().map(|said| tied(said)).collect(),
            notes: a.notes.clone(),
            cautions: a.cautions.clone(),
        }
    }
}

/// A change as a line of the table.
fn change(c: &ChangeAnswer, frame: &Frame) -> ChangeLine {
    let light = c.light_kept_percent.filter(|kept| *kept < 99.5);
    ChangeLine {
        together: c.name == "all together",
        name: c.name.clone(),
        minimum: frame.short(Celsius::literal(c.inside_minimum_c)),
        gain: if c.gain_k < 0.05 { "—".to_owned() } else { short_difference(c.gain_k, frame) },
        need: c.heater_needed_w.map_or_else(String::new, watts),
        light: light.map_or_else(|| "—".to_owned(), |kept| format!("−{:.0} %", 100.0 - kept)),
        cost: c.material_cost.map_or_else(String::new, |cost| format!("{cost:.0}")),
    }
}

/// What the night takes, in money and hours.
fn tonight(input: &ShelterInput, a: &ShelterAnswer) -> Option<String> {
    (input.heater_w.is_some_and(|w| w > 0.0) || a.mats.is_some()).then(|| {
        let cost = a.cost.map_or_else(String::new, |c| format!(", cost {c:.2}"));
        let full =
            if a.hours_at_full < 0.05 { "never at full output".to_owned() } else { format!("{:.1} hours at full output", a.hours_at_full) };
        format!("This night takes {:.1} kWh{cost}; {full}.", a.energy_kwh)
    })
}

fn heat(input: &ShelterInput, a: &ShelterAnswer, frame: &Frame) -> Vec<String> {
    let t = |c: f64| frame.temperature(Celsius::literal(c));
    let mut said = Vec::new();
    if let (Some(hold), Some(need), Some([low, high]), Some(suggested)) =
        (input.hold_c.or(input.thermostat_c), a.heater_needed_w, a.heater_needed_range_w, a.heater_suggested_w)
    {
        said.push(format!(
            "To hold {} at the coldest moment it needs about {} ({} to {}); with a quarter to spare, a heater of {}.",
            t(hold),
            watts(need),
            watts(low),
            watts(high),
            watts(suggested)
        ));
    }
    if let (Some(low), Some(need)) = (input.design_low_c, a.heater_for_design_low_w) {
        said.push(format!("For a night of {} it would need about {}.", t(low), watts(need)));
    }
    if let Some(s) = &a.season {
        let cost = s.cost.map_or_else(String::new, |c| format!(", cost {c:.0}"));
        let short = if s.days_short > 0 { format!(" On {} days the heater is not enough.", s.days_short) } else { String::new() };
        said.push(format!(
            "Holding {} through the {} days given: about {:.0} kWh ({:.0} to {:.0}){cost}. No sun is counted.{short}",
            t(s.hold_c),
            s.days,
            s.energy_kwh,
            s.energy_range_kwh[0],
            s.energy_range_kwh[1]
        ));
    }
    said
}

/// Plants, pots and the stop-gap after the power failed.
fn power_lines(p: &PowerFailure, time: &dyn Fn(f64) -> String) -> Vec<String> {
    let when = |hours: Option<f64>| match hours {
        Some(h) if h < 0.05 => "at once".to_owned(),
        Some(h) => format!("after about {}", time(h)),
        None => "not within two days".to_owned(),
    };
    let mut said = vec![format!(
        "Green leaves and shoots are hurt {}; a pot of {:.0} litres (2.6 US gallons) begins to freeze {}, and its young roots are at risk {}. A leafless fig’s wood stands the cold of its own winters.",
        when(p.hours_to_green),
        p.pot_litres,
        when(p.hours_to_pot_freezing),
        when(p.hours_to_roots)
    )];
    let buys = |then: Option<f64>, now: Option<f64>| match (then, now) {
        (Some(then), Some(now)) => Some(format!("{} more", time((then - now).max(0.0)))),
        (None, Some(_)) => Some("past two days".to_owned()),
        _ => None,
    };
    let gaps: Vec<String> =
        p.stop_gaps.iter().filter_map(|g| Some(format!("{} ({})", g.what, buys(g.hours_to_green, p.hours_to_green)?))).collect();
    if !gaps.is_empty() {
        said.push(format!("What buys most time for leaves, best first: {}. Wear gloves for hot water and share the lift; no camp stove, grill or other flame inside: carbon monoxide. A generator runs outside, away from openings, wired by a licensed electrician.", gaps.join("; ")));
    }
    said
}

fn more(a: &ShelterAnswer, frame: &Frame) -> Vec<String> {
    let mut said = Vec::new();
    let time = |h: f64| if h < 1.5 { format!("{:.0} minutes", 60.0 * h) } else { format!("{h:.0} hours") };
    if let Some(p) = &a.power_failure {
        let from = frame.temperature(Celsius::literal(p.from_inside_c));
        said.push(match p.hours_to_freezing {
            Some(0.0) => "It is at or below freezing already; a power failure changes only how far below.".to_owned(),
            Some(h) => format!(
                "If the power fails at the coldest hour, the air falls from {from} to freezing in about {} and settles near {}.",
                time(h),
                frame.temperature(Celsius::literal(p.settles_c))
            ),
            None => format!("If the power fails at the coldest hour, the air stays above freezing for two days and more, from {from}."),
        });
        said.extend(power_lines(p, &time));
    }
    if let Some(s) = &a.sun {
        let vent = s.midsummer_air_changes_per_hour.map_or_else(String::new, |n| {
            format!(" Midsummer takes about {n:.0} air changes an hour to stay within {} of outside.", crate::units::both_scales(5.0))
        });
        said.push(format!("{}{vent}", s.warning));
    }
    said
}
