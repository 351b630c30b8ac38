//! The plan as a grower reads it: alike plants together, the first thing to do first.

use crate::jobs::cold_night::ColdNightAnswer;
use crate::jobs::cold_night::form_night::FormNight;
use crate::jobs::cold_night::page_nights::{NightLine, NightView, nights, table};
use crate::jobs::cold_night::page_plan_lines::{counted, cover_words, grouped, hours, lead, left, line, minutes, plant_words, worth};
use crate::jobs::cold_night::page_plan_places::{CoverNights, PlaceNight, cover_gains, place_nights, place_words};
use crate::jobs::cold_night::page_plan_views::{Left, Line};
use crate::records::words::TypedUnit;
use crate::science::numeric::Z_90;
use crate::units::{Celsius, TemperatureDelta};
use crate::web::cells::tied;
use crate::web::charts::night::NightChart;
use crate::web::frame::{Frame, day};

/// The plan.
pub(crate) struct PlanView {
    pub title: String,
    pub lead: String,
    pub proof: String,
    /// What to do, night by night.
    pub nights: Vec<NightView>,
    /// Whether there is anything to tick.
    pub has_tasks: bool,
    /// The nights in a table, where there are several.
    pub table: Vec<NightLine>,
    /// What lies unused, and why.
    pub unused: Vec<String>,
    /// Degrees each cover buys.
    pub covers: Vec<CoverNights>,
    /// The date it is for.
    pub date: Option<String>,
    /// The day it was worked out, in UTC.
    pub made: String,
    pub key: String,
    pub short: Option<Short>,
    pub left: Vec<Left>,
    pub places: Vec<PlaceLine>,
    pub chart: Option<NightChart>,
    pub hours: String,
    pub measured: Measured,
    pub all: Vec<Line>,
    pub notes: Vec<String>,
    pub cautions: Vec<String>,
}

/// What the thermometer said, on its way to a winter report.
pub(crate) struct Measured {
    /// The forecast minimum it stands beside, °C.
    pub forecast_c: String,
    pub unit: &'static str,
    pub degrees: &'static str,
}

impl Measured {
    fn new(forecast_c: f64, frame: &Frame) -> Self {
        let (unit, degrees) =
            if frame.fahrenheit_first() { (TypedUnit::Fahrenheit.word(), "°F") } else { (TypedUnit::Celsius.word(), "°C") };
        Self { forecast_c: format!("{forecast_c:.2}"), unit, degrees }
    }
}

/// What to do with less time.
pub(crate) struct Short {
    pub minutes: String,
    pub words: String,
    pub steps: Vec<String>,
}

/// A place tonight.
pub(crate) struct PlaceLine {
    pub name: String,
    pub temperature: String,
    pub room: String,
    /// What must be held, what heat costs, what a power failure would do.
    pub said: Vec<String>,
    pub nights: Vec<PlaceNight>,
}

impl PlanView {
    pub(crate) fn new(night: &FormNight, answer: &ColdNightAnswer, frame: &Frame, now: jiff::Timestamp) -> Self {
        let index_of = |id: &String| answer.plan.iter().position(|r| r.plant == *id);
        let everything = grouped(night, answer, 0..answer.plan.len());
        let nights = nights(night, answer);
        let outside = if answer.nights.len() > 1 { &answer.course } else { &answer.night.curve };
        Self {
            title: tied(&title(answer, frame)),
            date: answer.nights.iter().find(|n| !n.over).and_then(|n| n.date).map(|d| d.strftime("%A %-d %B %Y").to_string()),
            made: day(now),
            lead: tied(&lead(night, answer)),
            proof: if answer.optimal {
                "No other plan for this room, these covers and this time loses less.".to_owned()
            } else {
                format!("Within {:.1} % of the best plan there can be.", 100.0 * answer.gap)
            },
            key: format!("{}-{:.1}-{}-{}", answer.nights.len(), answer.night.minimum_c, answer.plan.len(), answer.order.join(",")),
            short: answer.if_only.as_ref().map(|s| Short {
                minutes: minutes(s.minutes),
                words: format!("That takes {} and leaves an expected loss of {}.", minutes(s.minutes_used), worth(night, s.loss_after)),
                steps: grouped(night, answer, s.order.iter().filter_map(index_of))
                    .iter()
                    .filter_map(|g| g.members.first().map(|i| counted(g.members.len(), &plant_words(night, answer, *i))))
                    .collect(),
            }),
            left: left(night, answer),
            places: answer
                .places
                .iter()
                .map(|p| PlaceLine {
                    said: place_words(night, answer, p, frame),
                    nights: place_nights(answer, p, frame),
                    name: p.id.clone(),
                    temperature: format!(
                        "{}, give or take {}",
                        frame.temperature(Celsius::literal(p.minimum_c)),
                        frame.difference(TemperatureDelta::literal(Z_90 * p.sd_k))
                    ),
                    room: match p.room_m2 {
                        Some(room) => format!("{} of {} used", frame.area(p.used_m2), frame.area(room)),
                        None => format!("{} used", frame.area(p.used_m2)),
                    },
                })
                .collect(),
            chart: NightChart::new(&[("c-site-line", "Outside", outside.iter().map(|[h, t]| (*h, *t)).collect())], frame),
            hours: tied(&hours(answer, frame)),
            measured: Measured::new(night.input.all_nights().first().map_or(answer.night.minimum_c, |n| n.minimum_c), frame),
            all: everything.iter().filter_map(|g| line(night, answer, g, frame)).collect(),
            notes: answer.notes.clone(),
            cautions: answer.cautions.clone(),
            has_tasks: nights.iter().any(|n| !n.tasks.is_empty() || !n.out.is_empty()),
            nights,
            table: table(answer, frame),
            unused: unused(answer),
            covers: cover_gains(answer, frame),
        }
    }
}

/// One night by its lowest; a spell by its length and the lowest of it.
fn title(answer: &ColdNightAnswer, frame: &Frame) -> String {
    let coming: Vec<f64> = answer.nights.iter().filter(|n| !n.over).map(|n| n.minimum_c).collect();
    let low = frame.temperature(Celsius::literal(coming.iter().copied().fold(f64::INFINITY, f64::min)));
    match coming.len() {
        1 => format!("Tonight, {low}"),
        n => format!("{n} nights of cold, down to {low}"),
    }
}

/// Covers that lie unused, and why.
fn unused(answer: &ColdNightAnswer) -> Vec<String> {
    let line = |c: &crate::jobs::cold_night::CoverAnswer| {
        c.why_unused.as_ref().map(|why| format!("{}: {why}.", counted(c.count as usize, &cover_words(&c.kind))))
    };
    answer.covers.iter().filter_map(line).collect()
}
