//! The nights on the page: what to do before each, what may come out, and all of them in one table.

use crate::jobs::cold_night::done::Done;
use crate::jobs::cold_night::form_night::FormNight;
use crate::jobs::cold_night::page_plan_lines::{counted, day_words, grouped, minutes, night_words, plant_words, task};
use crate::jobs::cold_night::page_plan_views::Task;
use crate::jobs::cold_night::{ColdNightAnswer, NightPlan};
use crate::units::Celsius;
use crate::web::frame::Frame;

/// One evening's work.
pub(crate) struct NightView {
    /// Which evening; empty where there is one alone.
    pub heading: String,
    /// Minutes it takes.
    pub minutes: String,
    pub tasks: Vec<Task>,
    pub out: Vec<ComingOut>,
    /// Covers that may come off.
    pub uncover: String,
}

/// Something that may come out at noon.
pub(crate) struct ComingOut {
    pub n: String,
    pub what: String,
    pub minutes: String,
    pub minutes_number: f64,
    pub done: Option<String>,
}

/// One night in the table.
pub(crate) struct NightLine {
    pub when: String,
    pub high: String,
    pub low: String,
    pub soil: String,
    pub minutes: String,
    pub carry_in: usize,
    pub cover: usize,
    pub come_out: usize,
    pub over: bool,
}

/// Every evening on which there is something to do; tasks are numbered through.
pub(crate) fn nights(night: &FormNight, answer: &ColdNightAnswer) -> Vec<NightView> {
    let spell = answer.nights.len() > 1;
    let mut n = 0;
    let mut views = Vec::new();
    for plan in answer.nights.iter().filter(|p| !p.over) {
        let index_of = |id: &String| answer.plan.iter().position(|r| r.plant == *id);
        let todo =
            answer.order.iter().filter_map(index_of).filter(|i| answer.plan.get(*i).is_some_and(|r| r.first_night == Some(plan.number)));
        let groups = grouped(night, answer, todo);
        let tasks: Vec<Task> = groups
            .iter()
            .filter_map(|g| {
                n += 1;
                task(night, answer, n, g)
            })
            .collect();
        let out = if spell { coming_out(night, answer, plan) } else { Vec::new() };
        let uncover = if spell { uncovering(night, answer, plan) } else { String::new() };
        if !spell || !tasks.is_empty() || !out.is_empty() || !uncover.is_empty() {
            let heading = if spell { heading(answer, plan) } else { String::new() };
            views.push(NightView { heading, minutes: minutes(plan.minutes), tasks, out, uncover });
        }
    }
    views
}

fn heading(answer: &ColdNightAnswer, plan: &NightPlan) -> String {
    let first = answer.nights.iter().find(|n| !n.over).is_some_and(|n| n.number == plan.number);
    let when = plan.date.map_or_else(|| format!("Night {}", plan.number), day_words);
    match (first, plan.number) {
        (true, 1) => format!("{when}, the first evening"),
        (true, _) => format!("{when}, this evening"),
        _ => when,
    }
}

/// Plants that may come out on a day and are not already on the list of its work.
fn coming_out(night: &FormNight, answer: &ColdNightAnswer, plan: &NightPlan) -> Vec<ComingOut> {
    let index_of = |id: &String| answer.plan.iter().position(|r| r.plant == *id);
    let free = plan.come_out.iter().filter_map(index_of).filter(|i| answer.plan.get(*i).is_some_and(|r| r.out.is_none()));
    let groups = grouped(night, answer, free);
    let line = |(i, g): (usize, &crate::jobs::cold_night::page_plan_lines::Group)| {
        let first = *g.members.first()?;
        let row = answer.plan.get(first)?;
        let from = row.place.as_ref().unwrap_or(&row.at);
        let total: f64 = g.members.iter().filter_map(|i| answer.plan.get(*i)).map(|r| r.minutes_out).sum();
        Some(ComingOut {
            n: format!("{}-{i}", plan.number),
            what: format!("{} out of the {from}", counted(g.members.len(), &plant_words(night, answer, first))),
            minutes: minutes(total),
            minutes_number: total,
            done: Some(Done { row: g.row, count: g.members.len(), place: None, night: plan.number }.written()),
        })
    };
    groups.iter().enumerate().filter_map(line).collect()
}

fn uncovering(night: &FormNight, answer: &ColdNightAnswer, plan: &NightPlan) -> String {
    let index_of = |id: &String| answer.plan.iter().position(|r| r.plant == *id);
    let groups = grouped(night, answer, plan.uncover.iter().filter_map(index_of));
    let words = groups.iter().filter_map(|g| g.members.first().map(|i| counted(g.members.len(), &plant_words(night, answer, *i))));
    words.collect::<Vec<_>>().join("; ")
}

/// The nights in a table; none where there is one alone.
pub(crate) fn table(answer: &ColdNightAnswer, frame: &Frame) -> Vec<NightLine> {
    if answer.nights.len() < 2 {
        return Vec::new();
    }
    let short = |c: f64| frame.short(Celsius::literal(c));
    let line = |n: &NightPlan| NightLine {
        when: night_words(answer, n.number),
        high: short(n.day_maximum_c),
        low: short(n.minimum_c),
        soil: short(n.soil_c),
        minutes: if n.over { String::new() } else { minutes(n.minutes + n.minutes_out) },
        carry_in: n.carry_in.len(),
        cover: n.cover.len(),
        come_out: n.come_out.len(),
        over: n.over,
    };
    answer.nights.iter().map(line).collect()
}
