//! A published shelter in words.

use crate::catalogue::materials::{find_cover, find_layer};
use crate::records::release::{PublishedShelter, ShelterChangeRow};
use crate::records::{ReviewState, ShelterChange};
use crate::units::TemperatureDelta;
use crate::units::customary::METRES_PER_FOOT;
use crate::web::cells::{tied, upper_first};
use crate::web::degrees::heat_loss;
use crate::web::frame::Frame;

/// A measured change.
pub(crate) struct ChangeLine {
    pub what: String,
    pub since: String,
    pub measured: String,
    pub interval: String,
    pub predicted: String,
    pub nights: String,
    pub cost: String,
}

/// A shelter.
pub(crate) struct ShelterView {
    pub id: String,
    pub title: String,
    pub facts: Vec<(&'static str, String)>,
    pub changes: Vec<ChangeLine>,
    pub priced: bool,
    pub words: Option<String>,
    pub by: String,
    pub sent: String,
    pub state: &'static str,
    pub withdrawn: bool,
    pub doubtful: bool,
    pub version: i64,
}

/// Several changes in words.
pub(crate) fn words_of(changes: &[ShelterChange]) -> String {
    changes.iter().map(|c| c.label()).collect::<Vec<_>>().join(", and ")
}

pub(crate) fn kelvins(k: f64, frame: &Frame) -> String {
    frame.difference(TemperatureDelta::literal(k))
}

/// From one difference to another.
pub(crate) fn between(low: f64, high: f64, frame: &Frame) -> String {
    if (high - low).abs() < 0.005 { kelvins(low, frame) } else { tied(&format!("{} to {}", kelvins(low, frame), kelvins(high, frame))) }
}

fn length(m: f64, frame: &Frame) -> String {
    if frame.fahrenheit_first() { format!("{:.1} ft", m / METRES_PER_FOOT) } else { format!("{m:.1} m") }
}

impl ChangeLine {
    fn new(row: &ShelterChangeRow, frame: &Frame) -> Self {
        let changes: Vec<ShelterChange> = row.changes.split_whitespace().filter_map(|word| word.parse().ok()).collect();
        Self {
            what: upper_first(&words_of(&changes)),
            since: row.since.strftime("%-d %B %Y").to_string(),
            measured: kelvins(row.difference_k, frame),
            interval: between(row.interval_low_k, row.interval_high_k, frame),
            predicted: kelvins(row.predicted_k, frame),
            nights: format!("{} and {}", row.nights_before, row.nights_after),
            cost: match (row.material_cost, &row.currency) {
                (Some(cost), Some(currency)) => format!("{cost:.2} {currency}"),
                _ => String::new(),
            },
        }
    }
}

impl ShelterView {
    pub(crate) fn new(published: &PublishedShelter, frame: &Frame) -> Self {
        let s = &published.shelter;
        let cover = |key: &str| find_cover(key).map_or_else(|| key.to_owned(), |c| c.name.to_owned());
        let layers: Vec<&str> = s.layers.split_whitespace().filter_map(|key| find_layer(key).map(|l| l.name)).collect();
        let title = format!("{}, {} × {}", upper_first(s.shape.label()), length(s.length_m, frame), length(s.width_m, frame));
        let mut facts = vec![("Walls and ends", cover(&s.walls)), ("Roof", cover(&s.roof))];
        if !layers.is_empty() {
            facts.push(("On it at first", layers.join(", ")));
        }
        let heights = s.wall_m.filter(|m| *m > 0.0).map_or_else(String::new, |m| format!("walls {}, ", length(m, frame)));
        facts.push(("Heights", format!("{heights}top {}", length(s.top_m, frame))));
        facts.push(("Leaks at first", format!("{:.2} air changes an hour", s.air_changes_per_hour)));
        let (loss, per_degree) = heat_loss(frame, s.described_w_k);
        facts.push(("Loss at first", format!("{loss} {per_degree} as described")));
        if let Some(watts) = s.heater_w {
            facts.push(("Heater", format!("{watts:.0} W")));
        }
        if s.shares_wall {
            facts.push(("Shares a wall", "with another shelter or a house".to_owned()));
        }
        if let (Some(latitude), Some(longitude), Some(side)) = (s.latitude, s.longitude, s.coordinate_precision) {
            facts.push(("Place", format!("within the {side}° square around {latitude:.2}, {longitude:.2}").replace('-', "−")));
        }
        Self {
            id: s.shelter_id.clone(),
            title,
            facts,
            priced: published.changes.iter().any(|c| c.material_cost.is_some()),
            changes: published.changes.iter().map(|row| ChangeLine::new(row, frame)).collect(),
            words: s.words.clone(),
            by: s.recorded_by.clone(),
            sent: s.sent_on.strftime("%-d %B %Y").to_string(),
            state: s.review.label(),
            withdrawn: s.review == ReviewState::Withdrawn,
            doubtful: s.review == ReviewState::AcceptedWithDoubt,
            version: s.version,
        }
    }
}
