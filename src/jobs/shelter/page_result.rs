//! A shelter's answer as a grower reads it.

use crate::jobs::shelter::{ShelterAnswer, ShelterInput};
use crate::units::{Celsius, Interval, TemperatureDelta};
use crate::web::cells::tied;
use crate::web::charts::axis::percent;
use crate::web::charts::night::NightChart;
use crate::web::frame::Frame;

/// The answer.
pub(crate) struct ResultView {
    pub title: String,
    pub lead: String,
    pub range: String,
    pub chart: Option<NightChart>,
    pub learned: Option<String>,
    pub remark: Option<String>,
    pub heat: Vec<String>,
    pub parts: Vec<PartLine>,
    pub changes: Vec<ChangeLine>,
    pub more: Vec<String>,
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
}

fn watts(w: f64) -> String {
    // Two figures are as many as the range allows.
    let step = 10f64.powf((w.abs().max(1.0).log10().floor() - 1.0).max(0.0));
    format!("{:.0} W", (w / step).round() * step)
}

/// A difference in the reader's scale alone.
fn short_difference(kelvin: f64, frame: &Frame) -> String {
    if frame.fahrenheit_first() { format!("{:.1} °F", kelvin * 1.8) } else { format!("{kelvin:.1} K") }
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
            chart: NightChart::new(&curves, frame),
            learned: a.from_readings.as_ref().map(|r| {
                let nights = if r.readings == 1 { "reading".to_owned() } else { format!("{} readings", r.readings) };
                format!(
                    "From your {nights} it loses {:.0} W for each K ({:.0} to {:.0}); by its description alone {:.0}. Everything here uses what your readings say.",
                    r.conductance_w_k, r.interval[0], r.interval[1], r.described_conductance_w_k
                )
            }),
            remark: a.from_readings.as_ref().and_then(|r| r.remark.clone()),
            heat: heat(input, a, frame).iter().map(|said| tied(said)).collect(),
            parts: a
                .by_part
                .iter()
                .map(|p| PartLine {
                    name: p.name.clone(),
                    u: p.u_w_m2k.map_or_else(String::new, |u| format!("{u:.1}")),
                    loss: format!("{:.0}", p.conductance_w_k),
                    share: format!("{:.0} %", 100.0 * p.share),
                    width: percent(100.0 * p.share),
                })
                .collect(),
            changes: a
                .changes
                .iter()
                .map(|c| ChangeLine {
                    name: c.name.clone(),
                    minimum: frame.short(Celsius::literal(c.inside_minimum_c)),
                    gain: if c.gain_k < 0.05 { "—".to_owned() } else { short_difference(c.gain_k, frame) },
                    need: c.heater_needed_w.map_or_else(String::new, watts),
                })
                .collect(),
            more: more(a, frame).iter().map(|said| tied(said)).collect(),
            notes: a.notes.clone(),
            cautions: a.cautions.clone(),
        }
    }
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
    if input.heater_w.is_some_and(|w| w > 0.0) {
        let cost = a.cost.map_or_else(String::new, |c| format!(", cost {c:.2}"));
        said.push(format!("This night: {:.1} kWh{cost}; {:.1} hours at full output.", a.energy_kwh, a.hours_at_full));
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

fn more(a: &ShelterAnswer, frame: &Frame) -> Vec<String> {
    let mut said = Vec::new();
    let time = |h: f64| if h < 1.5 { format!("{:.0} minutes", 60.0 * h) } else { format!("{h:.0} hours") };
    if let Some(p) = &a.power_failure {
        let from = frame.temperature(Celsius::literal(p.from_inside_c));
        said.push(match p.hours_to_freezing {
            Some(0.0) => "It is at or below freezing already; a power failure changes only how far below.".to_owned(),
            Some(h) => format!(
                "If the power fails at the coldest hour, the air falls from {from} to freezing in about {} and settles near {}. Pots and soil follow hours later.",
                time(h),
                frame.temperature(Celsius::literal(p.settles_c))
            ),
            None => format!("If the power fails at the coldest hour, the air stays above freezing for two days and more, from {from}."),
        });
    }
    if let Some(s) = &a.sun {
        let vent = s
            .midsummer_air_changes_per_hour
            .map_or_else(String::new, |n| format!(" Midsummer takes about {n:.0} air changes an hour to stay within 5 K of outside."));
        said.push(format!("{}{vent}", s.warning));
    }
    said
}
