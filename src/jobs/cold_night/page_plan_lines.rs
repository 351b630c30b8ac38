//! Lines of the plan on the page: alike plants together, what to do with them, and their chances in words and strips.

use jiff::civil::Date;

use crate::jobs::cold_night::done::Done;
use crate::jobs::cold_night::form_night::FormNight;
use crate::jobs::cold_night::page_plan_views::{Bar, Left, Line, Part, Task};
use crate::jobs::cold_night::{ColdNightAnswer, PlanRow};
use crate::science::hardiness::chances::Levels;
use crate::science::hardiness::level::DamageLevel;
use crate::science::numeric::Z_90;
use crate::units::{Celsius, TemperatureDelta};
use crate::web::cells::tied;
use crate::web::charts::axis::percent;
use crate::web::frame::Frame;

/// Words of the levels on strips and in tables.
const LEVELS: [(&str, &str); 5] =
    [("unharmed", "unharmed"), ("tips", "tips lost"), ("wood", "wood lost"), ("to_ground", "killed to the ground"), ("dead", "dead")];

pub(crate) fn share(p: f64) -> String {
    match 100.0 * p {
        x if x < 1.0 => "under 1 %".to_owned(),
        x if x > 99.0 => "over 99 %".to_owned(),
        x => format!("{x:.0} %"),
    }
}

pub(crate) fn bar(chance: &Levels<f64>) -> Bar {
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
pub(crate) fn wood_or_worse(chance: &Levels<f64>) -> f64 {
    chance.wood + chance.to_ground + chance.dead
}

pub(crate) fn minutes(value: f64) -> String {
    let rounded = (value * 2.0).round() / 2.0;
    if rounded.fract() == 0.0 { format!("{rounded:.0} min") } else { format!("{rounded:.1} min") }
}

pub(crate) fn plant_words(night: &FormNight, answer: &ColdNightAnswer, index: usize) -> String {
    let cultivar = answer.plan.get(index).map_or("", |r| r.cultivar.as_str());
    // A name that is not in the catalogue stays with the fig, so that its row is found.
    let name = match cultivar.strip_prefix("unknown") {
        Some("") => "unknown fig".to_owned(),
        Some(typed) => format!("unknown fig{typed}"),
        None => cultivar.to_owned(),
    };
    match night.input.plants.get(index).and_then(|p| p.container_l) {
        Some(l) if l < 10.0 => format!("{name}, {l:.1} L pot").replace(".0 L", " L"),
        Some(l) => format!("{name}, {l:.0} L pot"),
        None => format!("{name}, in the ground"),
    }
}

/// A date as people say it.
pub(crate) fn day_words(date: Date) -> String {
    date.strftime("%A %-d %B").to_string()
}

/// A night by its date, or by its number.
pub(crate) fn night_words(answer: &ColdNightAnswer, number: usize) -> String {
    let date = answer.nights.iter().find(|n| n.number == number).and_then(|n| n.date);
    date.map_or_else(|| format!("night {number}"), day_words)
}

/// What is done with a plant; over several nights with when it begins to need it and how long.
fn does(answer: &ColdNightAnswer, row: &PlanRow) -> String {
    let spell = answer.nights.len() > 1;
    match (&row.place, &row.cover) {
        (Some(place), _) if spell => format!("to the {place}; stays in {}", until_words(answer, row)),
        (Some(place), _) => format!("to the {place}"),
        (_, Some(cover)) if spell => {
            let last = row.last_night.unwrap_or(answer.nights.len());
            let nights = if row.first_night == Some(last) {
                "that night".to_owned()
            } else {
                format!("through the night of {}", night_words(answer, last))
            };
            format!("cover {nights}: {}", cover_words(cover))
        }
        (_, Some(cover)) => format!("cover: {}", cover_words(cover)),
        _ if row.out == Some(true) => format!("comes out of the {}, to make room", row.at),
        _ if row.at != "open" && spell => format!("stays in the {} {}", row.at, until_words(answer, row)),
        _ if row.at != "open" => format!("stays in the {}", row.at),
        _ => "stays".to_owned(),
    }
}

/// Until when a plant stays in: noon of a day, or the end of what is known.
pub(crate) fn until_words(answer: &ColdNightAnswer, row: &PlanRow) -> String {
    let last = row.last_night.unwrap_or(answer.nights.len());
    let day = |date: Option<Date>| date.map_or_else(|| format!("the day after night {last}"), |d| format!("{}, noon", day_words(d)));
    if last >= answer.nights.len() {
        format!("until {}, the end of this forecast: look again then", day(row.until))
    } else {
        format!("until {}", day(row.until))
    }
}

pub(crate) fn cover_words(kind: &str) -> String {
    kind.parse::<crate::science::cold_night::stage::CoverKind>().map_or_else(|_| kind.to_owned(), |k| k.label().to_owned())
}

pub(crate) fn counted(count: usize, what: &str) -> String {
    if count > 1 { format!("{count} × {what}") } else { what.to_owned() }
}

/// Alike plants that go the same way.
pub(crate) struct Group {
    /// Row of the form.
    pub row: usize,
    /// What is done, in words.
    pub does: String,
    /// Their places in the plan.
    pub members: Vec<usize>,
}

/// Groups plan rows in the order of `indices`; alike plants have the same rate, so they stand together.
pub(crate) fn grouped(night: &FormNight, answer: &ColdNightAnswer, indices: impl Iterator<Item = usize>) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    for index in indices {
        let (Some(row), Some(planned)) = (night.row_of.get(index).copied(), answer.plan.get(index)) else { continue };
        let does = does(answer, planned);
        match groups.iter_mut().find(|g| g.row == row && g.does == does) {
            Some(group) => group.members.push(index),
            None => groups.push(Group { row, does, members: vec![index] }),
        }
    }
    groups
}

/// A loss as a share of everything that is out there.
pub(crate) fn worth(night: &FormNight, loss: f64) -> String {
    let all: f64 = night.input.plants.iter().map(|p| p.value.unwrap_or(1.0)).sum();
    if all > 0.0 { format!("{} of their worth", share(loss / all)) } else { "nothing".to_owned() }
}

pub(crate) fn lead(night: &FormNight, answer: &ColdNightAnswer) -> String {
    let carried = answer.plan.iter().filter(|r| r.place.is_some()).count();
    let covered = answer.plan.iter().filter(|r| r.cover.is_some()).count();
    let spell = answer.nights.len() > 1;
    let act = match (carried, covered) {
        (0, 0) => {
            let when = if spell { "in these nights" } else { "tonight" };
            let inside = answer.plan.iter().filter(|r| r.at != "open").count();
            let stays = if inside > 0 { format!("{inside} of them inside") } else { "left where they are".to_owned() };
            return format!(
                "Nothing more at hand would lessen the loss: {stays}, your figs lose about {} {when}.",
                worth(night, answer.loss_after)
            );
        }
        (n, 0) => format!("Carry in {n}"),
        (0, n) => format!("Cover {n}"),
        (a, b) => format!("Carry in {a} and cover {b}"),
    };
    let tonight = answer.nights.iter().find(|n| !n.over).map_or(0.0, |n| n.minutes);
    let time = match night.input.minutes_available {
        Some(there_are) if spell => format!("{tonight:.0} of your {there_are:.0} minutes before the first night"),
        None if spell => format!("{tonight:.0} minutes before the first night, {:.0} in all", answer.minutes_used),
        Some(there_are) => format!("{:.0} of your {there_are:.0} minutes", answer.minutes_used),
        None => format!("{:.0} minutes", answer.minutes_used),
    };
    format!(
        "{act}, in this order: {time}. Left where they are, your figs would lose about {}; this way about {}.",
        worth(night, answer.loss_before),
        worth(night, answer.loss_after)
    )
}

pub(crate) fn task(night: &FormNight, answer: &ColdNightAnswer, n: usize, group: &Group) -> Option<Task> {
    let first = *group.members.first()?;
    let row = answer.plan.get(first)?;
    let total = row.minutes * group.members.len() as f64;
    let (before, after) = (wood_or_worse(&row.chance_if_left), wood_or_worse(&row.chance_planned));
    let is_tenant = night.input.plants.get(first).is_some_and(|p| p.other.is_some());
    Some(Task {
        n,
        what: counted(group.members.len(), &plant_words(night, answer, first)),
        does: group.does.clone(),
        minutes: minutes(total),
        minutes_number: total,
        done: done_field(night, answer, group, row),
        before: bar(&row.chance_if_left),
        after: bar(&row.chance_planned),
        words: tied(&if is_tenant {
            format!("Hurt or worse: {} if left, {} this way.", share(before), share(after))
        } else {
            format!("Loses wood or more: {} if left, {} this way. {}", share(before), share(after), parts(row, in_pot(night, first)))
        }),
    })
}

fn in_pot(night: &FormNight, index: usize) -> bool {
    night.input.plants.get(index).is_some_and(|p| p.container_l.is_some())
}

/// Roots, trunk and tips apart, if left, the part to think of first at the front: a death weighs more than a top, a top more than its tips.
fn parts(row: &PlanRow, pot: bool) -> String {
    let Some(p) = row.parts_if_left else { return String::new() };
    let mut parts = [
        (if pot { "roots" } else { "crown and roots" }, p.roots, p.roots),
        ("trunk", p.trunk, 0.6 * p.trunk),
        ("tips", p.tips, 0.1 * p.tips),
    ];
    parts.sort_by(|a, b| b.2.total_cmp(&a.2));
    let said: Vec<String> = parts.iter().map(|(what, chance, _)| format!("{what} {}", share(*chance))).collect();
    format!("If left, lost by themselves: {}.", said.join(", "))
}

/// What the form holds when this is ticked; a cover is no place and is asked again.
fn done_field(night: &FormNight, answer: &ColdNightAnswer, group: &Group, row: &PlanRow) -> Option<String> {
    let place = match (&row.place, row.out) {
        (Some(id), _) => Some(night.row_of_place(id)?),
        (None, Some(true)) => None,
        _ => return None,
    };
    let night = row.first_night.filter(|_| answer.nights.len() > 1)?;
    Some(Done { row: group.row, count: group.members.len(), place, night }.written())
}

pub(crate) fn left(night: &FormNight, answer: &ColdNightAnswer) -> Vec<Left> {
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
                parts: parts(row, in_pot(night, first)),
                why,
                bar: bar(&row.chance_planned),
            })
        })
        .collect()
}

pub(crate) fn hours(answer: &ColdNightAnswer, frame: &Frame) -> String {
    let n = &answer.night;
    let below = [(0.0, n.hours_below_0), (-2.0, n.hours_below_minus_2), (-5.0, n.hours_below_minus_5), (-10.0, n.hours_below_minus_10)];
    let said: Vec<String> = below
        .iter()
        .filter(|(_, h)| *h >= 0.25)
        .map(|(t, h)| format!("below {} for {h:.0} h", frame.short(Celsius::literal(*t))))
        .collect();
    let spread = frame.difference(TemperatureDelta::literal(Z_90 * n.sd_k));
    let offset = n
        .own_offset_k
        .map_or_else(String::new, |o| format!(" Your own log moves the forecast by {}.", frame.difference(TemperatureDelta::literal(o))));
    if said.is_empty() {
        format!("No frost is forecast; nine nights in ten end within {spread} of it.{offset}")
    } else {
        format!("As forecast: {}. Nine nights in ten end within {spread} of that minimum.{offset}", said.join(", "))
    }
}

pub(crate) fn line(night: &FormNight, answer: &ColdNightAnswer, group: &Group, frame: &Frame) -> Option<Line> {
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
