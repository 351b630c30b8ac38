//! The plan as a grower reads it: alike plants together, the first thing to do first.

use crate::jobs::cold_night::form::FormNight;
use crate::jobs::cold_night::{ColdNightAnswer, PlanRow};
use crate::records::words::TypedUnit;
use crate::science::hardiness::chances::Levels;
use crate::science::hardiness::level::DamageLevel;
use crate::units::{Celsius, TemperatureDelta};
use crate::web::cells::tied;
use crate::web::charts::axis::percent;
use crate::web::charts::night::NightChart;
use crate::web::frame::Frame;

/// The plan.
pub(crate) struct PlanView {
    pub title: String,
    pub lead: String,
    pub proof: String,
    pub tasks: Vec<Task>,
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

/// One thing to do.
pub(crate) struct Task {
    pub n: usize,
    pub what: String,
    pub does: String,
    pub minutes: String,
    pub minutes_number: f64,
    pub before: Bar,
    pub after: Bar,
    pub words: String,
}

/// What to do with less time.
pub(crate) struct Short {
    pub minutes: String,
    pub words: String,
    pub steps: Vec<String>,
}

/// What stays out.
pub(crate) struct Left {
    pub what: String,
    pub risk: String,
    pub why: String,
    pub bar: Bar,
}

/// A place tonight.
pub(crate) struct PlaceLine {
    pub name: String,
    pub temperature: String,
    pub room: String,
}

/// One line of the table of everything.
pub(crate) struct Line {
    pub what: String,
    pub does: String,
    pub before: [String; 5],
    pub after: [String; 5],
    pub pot: String,
}

/// Chances of the five levels as one strip.
pub(crate) struct Bar {
    pub parts: Vec<Part>,
    pub words: String,
}

/// One level on the strip.
pub(crate) struct Part {
    pub class: &'static str,
    pub x: String,
    pub width: String,
}

/// Words of the levels on strips and in tables.
const LEVELS: [(&str, &str); 5] =
    [("unharmed", "unharmed"), ("tips", "tips lost"), ("wood", "wood lost"), ("to_ground", "killed to the ground"), ("dead", "dead")];

fn share(p: f64) -> String {
    match 100.0 * p {
        x if x < 1.0 => "under 1 %".to_owned(),
        x if x > 99.0 => "over 99 %".to_owned(),
        x => format!("{x:.0} %"),
    }
}

fn bar(chance: &Levels<f64>) -> Bar {
    let mut from = 0.0;
    let mut parts = Vec::new();
    let mut words = Vec::new();
    for (level, (class, name)) in DamageLevel::ALL.iter().zip(LEVELS) {
        let p = chance.of(*level).clamp(0.0, 1.0);
        if p >= 0.005 {
            parts.push(Part { class, x: percent(100.0 * from), width: percent(100.0 * p) });
            words.push(format!("{name} {}", share(p)));
        }
        from += p;
    }
    Bar { parts, words: words.join(", ") }
}

/// Chance of losing wood or more.
fn wood_or_worse(chance: &Levels<f64>) -> f64 {
    chance.wood + chance.to_ground + chance.dead
}

fn minutes(value: f64) -> String {
    let rounded = (value * 2.0).round() / 2.0;
    if rounded.fract() == 0.0 { format!("{rounded:.0} min") } else { format!("{rounded:.1} min") }
}

fn plant_words(night: &FormNight, answer: &ColdNightAnswer, index: usize) -> String {
    let cultivar = answer.plan.get(index).map_or("", |r| r.cultivar.as_str());
    let name = if cultivar == "unknown" { "unknown fig" } else { cultivar };
    match night.input.plants.get(index).and_then(|p| p.container_l) {
        Some(l) if l < 10.0 => format!("{name}, {l:.1} L pot").replace(".0 L", " L"),
        Some(l) => format!("{name}, {l:.0} L pot"),
        None => format!("{name}, in the ground"),
    }
}

fn does(row: &PlanRow) -> String {
    match (&row.place, &row.cover) {
        (Some(place), _) => format!("to the {place}"),
        (_, Some(cover)) => format!("cover: {}", cover_words(cover)),
        _ => "stays".to_owned(),
    }
}

fn cover_words(kind: &str) -> String {
    kind.parse::<crate::science::cold_night::stage::CoverKind>().map_or_else(|_| kind.to_owned(), |k| k.label().to_owned())
}

fn counted(count: usize, what: &str) -> String {
    if count > 1 { format!("{count} × {what}") } else { what.to_owned() }
}

/// Alike plants that go the same way.
struct Group {
    row: usize,
    does: String,
    members: Vec<usize>,
}

/// Groups plan rows in the order of `indices`; alike plants have the same rate, so they stand together.
fn grouped(night: &FormNight, answer: &ColdNightAnswer, indices: impl Iterator<Item = usize>) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for index in indices {
        let (Some(row), Some(planned)) = (night.row_of.get(index).copied(), answer.plan.get(index)) else { continue };
        let does = does(planned);
        match groups.iter_mut().find(|g| g.row == row && g.does == does) {
            Some(group) => group.members.push(index),
            None => groups.push(Group { row, does, members: vec![index] }),
        }
    }
    groups
}

impl PlanView {
    pub(crate) fn new(night: &FormNight, answer: &ColdNightAnswer, frame: &Frame) -> Self {
        let index_of = |id: &String| answer.plan.iter().position(|r| r.plant == *id);
        let todo = grouped(night, answer, answer.order.iter().filter_map(index_of));
        let tasks: Vec<Task> = todo.iter().enumerate().filter_map(|(n, g)| task(night, answer, n + 1, g)).collect();
        let everything = grouped(night, answer, 0..answer.plan.len());
        let minimum = Celsius::literal(answer.night.minimum_c);
        Self {
            title: tied(&format!("Tonight, {}", frame.temperature(minimum))),
            lead: tied(&lead(night, answer)),
            proof: if answer.optimal {
                "No other plan for this room, these covers and this time loses less.".to_owned()
            } else {
                format!("Within {:.1} % of the best plan there can be.", 100.0 * answer.gap)
            },
            key: format!("{:.1}-{}-{}", answer.night.minimum_c, answer.plan.len(), answer.order.join(",")),
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
                    name: p.id.clone(),
                    temperature: format!(
                        "{}, give or take {}",
                        frame.temperature(Celsius::literal(p.minimum_c)),
                        frame.difference(TemperatureDelta::literal(1.645 * p.sd_k))
                    ),
                    room: match p.room_m2 {
                        Some(room) => format!("{} of {} used", frame.area(p.used_m2), frame.area(room)),
                        None => format!("{} used", frame.area(p.used_m2)),
                    },
                })
                .collect(),
            chart: NightChart::new(&[("c-site-line", "Outside", answer.night.curve.iter().map(|[h, t]| (*h, *t)).collect())], frame),
            hours: tied(&hours(answer, frame)),
            measured: Measured::new(night.input.night.minimum_c, frame),
            all: everything.iter().filter_map(|g| line(night, answer, g, frame)).collect(),
            notes: answer.notes.clone(),
            cautions: answer.cautions.clone(),
            tasks,
        }
    }
}

/// A loss as a share of everything that is out there.
fn worth(night: &FormNight, loss: f64) -> String {
    let all: f64 = night.input.plants.iter().map(|p| p.value.unwrap_or(1.0)).sum();
    if all > 0.0 { format!("{} of their worth", share(loss / all)) } else { "nothing".to_owned() }
}

fn lead(night: &FormNight, answer: &ColdNightAnswer) -> String {
    let carried = answer.plan.iter().filter(|r| r.place.is_some()).count();
    let covered = answer.plan.iter().filter(|r| r.cover.is_some()).count();
    let act = match (carried, covered) {
        (0, 0) => {
            return format!(
                "Nothing at hand would lessen the loss: left where they are, your figs lose about {} tonight.",
                worth(night, answer.loss_before)
            );
        }
        (n, 0) => format!("Carry in {n}"),
        (0, n) => format!("Cover {n}"),
        (a, b) => format!("Carry in {a} and cover {b}"),
    };
    let time = match night.input.minutes_available {
        Some(there_are) => format!("{:.0} of your {there_are:.0} minutes", answer.minutes_used),
        None => format!("{:.0} minutes", answer.minutes_used),
    };
    format!(
        "{act}, in this order: {time}. Left where they are, your figs would lose about {}; this way about {}.",
        worth(night, answer.loss_before),
        worth(night, answer.loss_after)
    )
}

fn task(night: &FormNight, answer: &ColdNightAnswer, n: usize, group: &Group) -> Option<Task> {
    let first = *group.members.first()?;
    let row = answer.plan.get(first)?;
    let total = row.minutes * group.members.len() as f64;
    let (before, after) = (wood_or_worse(&row.chance_if_left), wood_or_worse(&row.chance_planned));
    Some(Task {
        n,
        what: counted(group.members.len(), &plant_words(night, answer, first)),
        does: group.does.clone(),
        minutes: minutes(total),
        minutes_number: total,
        before: bar(&row.chance_if_left),
        after: bar(&row.chance_planned),
        words: tied(&format!("Loses wood or more: {} if left, {} this way.", share(before), share(after))),
    })
}

fn left(night: &FormNight, answer: &ColdNightAnswer) -> Vec<Left> {
    let index_of = |id: &String| answer.plan.iter().position(|r| r.plant == *id);
    let groups = grouped(night, answer, answer.left_out.iter().filter_map(|l| index_of(&l.plant)));
    groups
        .iter()
        .filter_map(|g| {
            let first = *g.members.first()?;
            let row = answer.plan.get(first)?;
            let why = answer.left_out.iter().find(|l| l.plant == row.plant)?.why.clone();
            Some(Left {
                what: counted(g.members.len(), &plant_words(night, answer, first)),
                risk: share(wood_or_worse(&row.chance_planned)),
                why,
                bar: bar(&row.chance_planned),
            })
        })
        .collect()
}

fn hours(answer: &ColdNightAnswer, frame: &Frame) -> String {
    let n = &answer.night;
    let below = [(0.0, n.hours_below_0), (-2.0, n.hours_below_minus_2), (-5.0, n.hours_below_minus_5), (-10.0, n.hours_below_minus_10)];
    let said: Vec<String> = below
        .iter()
        .filter(|(_, h)| *h >= 0.25)
        .map(|(t, h)| format!("below {} for {h:.0} h", frame.short(Celsius::literal(*t))))
        .collect();
    let spread = frame.difference(TemperatureDelta::literal(1.645 * n.sd_k));
    let offset = n
        .own_offset_k
        .map_or_else(String::new, |o| format!(" Your own log moves the forecast by {}.", frame.difference(TemperatureDelta::literal(o))));
    if said.is_empty() {
        format!("No frost is forecast; nine nights in ten end within {spread} of it.{offset}")
    } else {
        format!("As forecast: {}. Nine nights in ten end within {spread} of that minimum.{offset}", said.join(", "))
    }
}

fn line(night: &FormNight, answer: &ColdNightAnswer, group: &Group, frame: &Frame) -> Option<Line> {
    let first = *group.members.first()?;
    let row = answer.plan.get(first)?;
    Some(Line {
        what: counted(group.members.len(), &plant_words(night, answer, first)),
        does: group.does.clone(),
        before: DamageLevel::ALL.map(|l| share(row.chance_if_left.of(l))),
        after: DamageLevel::ALL.map(|l| share(row.chance_planned.of(l))),
        pot: row.pot_if_left.map_or_else(String::new, |p| {
            let of = |c: f64| frame.short(Celsius::literal(c));
            format!("{} at the wall, {} within", of(p.wall_c), of(p.mean_c))
        }),
    })
}
