//! From a spell as read to its answer: the plan asked of science and put into lines, nights, places and covers.

use crate::jobs::cold_night::answer::{
    ColdNightAnswer, CoverAnswer, IfOnly, LeftOut, NightAnswer, NightPlan, PartsAnswer, PlaceAnswer, PlanRow, PotAnswer,
};
use crate::jobs::cold_night::heating::{Scenario, heat, must_hold_c, scenarios};
use crate::jobs::cold_night::reading::{Read, ReadPlant};
use crate::jobs::cold_night::words;
use crate::jobs::shelter::words_cautions::caution_words;
use crate::model::snapshot::Snapshot;
use crate::science::cold_night::plan::PROVED_GAP;
use crate::science::cold_night::spell::plan::{Does, Known, Planned, Ready, SpellPlan};
use crate::science::cold_night::spell::spots::Course;
use crate::science::numeric::Z_90;
use crate::science::shelter::cautions;

/// Solver time for a plan of one night and of several, s.
const SOLVER_TIME_S: f64 = 0.2;
const SPELL_SOLVER_TIME_S: f64 = 1.0;
/// Solver time for the short plan, s.
const SHORT_SOLVER_TIME_S: f64 = 0.1;
/// The short plan, minutes.
const IF_ONLY_MINUTES: f64 = 30.0;
/// A plant left with less than this share of its value at risk is not worth naming among those left out.
const WORTH_NAMING: f64 = 0.02;

pub(crate) fn answer(read: &Read, snapshot: &Snapshot) -> ColdNightAnswer {
    let ways_of_heating = scenarios(read);
    let budget_s = if read.spell.len() > 1 { SPELL_SOLVER_TIME_S } else { SOLVER_TIME_S } / ways_of_heating.len() as f64;
    let mut known = Known::default();
    let mut totals_of = |s: &Scenario<'_>| {
        let plan = Ready::new(&s.question, &s.cold, &mut known, snapshot.rules()).plan(budget_s);
        (plan.plan.loss + s.cost, plan.plan.bound + s.cost)
    };
    let totals: Vec<(f64, f64)> = if ways_of_heating.len() > 1 { ways_of_heating.iter().map(&mut totals_of).collect() } else { Vec::new() };
    let best = (0..totals.len()).min_by(|a, b| totals[*a].0.total_cmp(&totals[*b].0)).unwrap_or(0);
    let Some(scenario) = ways_of_heating.get(best) else { return ColdNightAnswer::default() };
    let question = &scenario.question;
    let ready = Ready::new(question, &scenario.cold, &mut known, snapshot.rules());
    let plan = ready.plan(budget_s);
    let rows = rows(read, &plan);
    let order = order(&rows);
    let priced = ways_of_heating.len() > 1;
    let loss_after = plan.plan.loss + scenario.cost;
    let bound = totals.iter().map(|t| t.1).fold(plan.plan.bound + scenario.cost, f64::min);
    let gap = if loss_after > 0.0 { ((loss_after - bound) / loss_after).max(0.0) } else { 0.0 };
    let loss_before = rows.iter().map(|r| r.loss_if_left).sum();
    let if_only = (plan.minutes.first().is_some_and(|m| *m > IF_ONLY_MINUTES)).then(|| {
        let short = ready.plan_with_first_minutes(IF_ONLY_MINUTES, SHORT_SOLVER_TIME_S);
        let tonight: Vec<PlanRow> = self::rows(read, &short).into_iter().filter(|r| r.first_night == Some(read.from + 1)).collect();
        let minutes_used = short.minutes.first().copied().unwrap_or(0.0);
        IfOnly { minutes: IF_ONLY_MINUTES, order: self::order(&tonight), loss_after: short.plan.loss + scenario.cost, minutes_used }
    });
    let heated = read.places.iter().any(|p| p.heated);
    let mut notes = read.notes.clone();
    if read.plants.iter().any(|p| p.part.state.pot_litres.is_some()) {
        notes.push(words::ROOTS_IN_POTS.to_owned());
    }
    if priced {
        notes.push(words::HEAT_AND_WORTH.to_owned());
    }
    ColdNightAnswer {
        order,
        loss_before,
        loss_after,
        heating_cost: priced.then_some(scenario.cost),
        optimal: gap <= PROVED_GAP,
        gap,
        minutes_used: plan.minutes.iter().sum(),
        left_out: left_out(read, &ready, &plan, &rows),
        if_only,
        night: night(read),
        nights: nights(read, &plan, &rows),
        course: course(read),
        places: places(read, scenario, &plan, snapshot),
        covers: covers(read, &ready, &plan),
        notes,
        cautions: cautions::night_work(heated, !read.covers.is_empty()).into_iter().map(caution_words).collect(),
        plan: rows,
    }
}

fn rows(read: &Read, plan: &SpellPlan) -> Vec<PlanRow> {
    read.plants.iter().zip(&plan.plants).map(|(plant, planned)| row(read, plant, planned)).collect()
}

fn row(read: &Read, plant: &ReadPlant, planned: &Planned) -> PlanRow {
    let place_id = |index: usize| read.places.get(index).map(|p| p.id.clone());
    let (nights, from) = (read.spell.len(), read.from);
    let until_night = planned.may_come_out;
    let (first_night, last_night) = match planned.does {
        Does::Stay if plant.part.at.is_some() => (Some(from + 1), until_night),
        Does::Stay => (None, None),
        Does::Place { first, .. } => (Some(first + 1), until_night),
        Does::Cover { first, last, .. } => (Some(first + 1), Some(last + 1)),
        Does::Out { first } => (Some(first + 1), None),
    };
    let until = until_night.and_then(|night| {
        if night < nights { read.spell.nights().get(night)?.date } else { read.spell.nights().last()?.date?.tomorrow().ok() }
    });
    PlanRow {
        plant: plant.id.clone(),
        cultivar: plant.cultivar.clone(),
        place: if let Does::Place { place, .. } = planned.does { place_id(place) } else { None },
        cover: if let Does::Cover { cover, .. } = planned.does { read.covers.get(cover).map(|c| c.kind.clone()) } else { None },
        stay: (planned.does == Does::Stay).then_some(true),
        out: matches!(planned.does, Does::Out { .. }).then_some(true),
        first_night,
        last_night,
        until,
        at: plant.part.at.and_then(place_id).unwrap_or_else(|| "open".to_owned()),
        minutes: if matches!(planned.does, Does::Place { .. }) { plant.part.minutes_to_move } else { planned.minutes },
        minutes_out: if comes_out(planned, until_night) { plant.part.minutes_to_move } else { 0.0 },
        loss_if_left: plant.part.value * planned.if_left.loss_share,
        loss_planned: plant.part.value * planned.then.loss_share,
        chance_if_left: planned.if_left.chance,
        chance_planned: planned.then.chance,
        parts_if_left: planned.parts_if_left.map(|p| PartsAnswer { tips: p.tips, trunk: p.trunk, roots: p.roots }),
        pot_if_left: planned.if_left.pot.map(|p| PotAnswer { wall_c: p.wall_c, mean_c: p.mean_c, centre_c: p.centre_c }),
    }
}

/// Plants to handle: the first night's first, then most loss avoided per minute; ties in the order given.
fn order(rows: &[PlanRow]) -> Vec<String> {
    let rate = |r: &PlanRow| (r.loss_if_left - r.loss_planned) / r.minutes.max(1e-6);
    let mut todo: Vec<&PlanRow> = rows.iter().filter(|r| r.stay.is_none()).collect();
    todo.sort_by(|a, b| a.first_night.cmp(&b.first_night).then(rate(b).total_cmp(&rate(a))));
    todo.into_iter().map(|r| r.plant.clone()).collect()
}

fn left_out(read: &Read, ready: &Ready<'_>, plan: &SpellPlan, rows: &[PlanRow]) -> Vec<LeftOut> {
    let outside = |row: &PlanRow| row.stay.is_some() && row.at == "open";
    let mut left: Vec<LeftOut> = rows
        .iter()
        .enumerate()
        .filter(|(_, row)| outside(row))
        .filter_map(|(index, row)| {
            let plant = &read.plants.get(index)?.part;
            (row.loss_planned > WORTH_NAMING * plant.value).then(|| LeftOut {
                plant: row.plant.clone(),
                loss: row.loss_planned,
                chance: row.chance_planned,
                why: words::why_it_stays(ready.binds(index, plan), plant.movable).to_owned(),
            })
        })
        .collect();
    left.sort_by(|a, b| b.loss.total_cmp(&a.loss));
    left
}

fn places(read: &Read, scenario: &Scenario<'_>, plan: &SpellPlan, snapshot: &Snapshot) -> Vec<PlaceAnswer> {
    let most = |used: &Vec<f64>| used.iter().copied().fold(0.0, f64::max);
    read.places
        .iter()
        .zip(&plan.room_m2)
        .enumerate()
        .filter_map(|(index, (place, used))| {
            let nights = &scenario.question.places.get(index)?.air.nights;
            let coldest = nights.iter().skip(read.from).min_by(|a, b| a.minimum_c.total_cmp(&b.minimum_c))?;
            Some(PlaceAnswer {
                id: place.id.clone(),
                minimum_c: coldest.minimum_c,
                sd_k: coldest.minimum(1.0).sd,
                room_m2: place.part.room_m2,
                used_m2: most(used),
                minima_c: nights.iter().map(|n| n.minimum_c).collect(),
                readings: place.readings,
                ranges_c: nights.iter().map(|n| n.minimum(1.0)).map(|m| [m.mean - Z_90 * m.sd, m.mean + Z_90 * m.sd]).collect(),
                must_hold_c: must_hold_c(read, plan, index),
                heat: heat(read, scenario, plan, index, snapshot),
            })
        })
        .collect()
}

fn covers(read: &Read, ready: &Ready<'_>, plan: &SpellPlan) -> Vec<CoverAnswer> {
    let cover = |(index, cover): (usize, &crate::jobs::cold_night::reading::ReadCover)| {
        let used = plan.covers.get(index).map_or(0.0, |used| used.iter().copied().fold(0.0, f64::max));
        let unused = used <= 0.0 && cover.part.count > 0;
        let buys = |course: &Course| course.nights.iter().zip(&read.open.nights).map(|(c, o)| c.minimum_c - o.minimum_c).collect();
        CoverAnswer {
            kind: cover.kind.clone(),
            count: cover.part.count,
            used,
            gains_k: buys(&cover.part.over_soil),
            gains_over_pot_k: buys(&cover.part.over_pot),
            why_unused: unused.then(|| words::why_unused(ready.unused(index, plan)).to_owned()),
        }
    };
    read.covers.iter().enumerate().map(cover).collect()
}

fn night(read: &Read) -> NightAnswer {
    let first = read.spell.nights().get(read.from).or_else(|| read.spell.nights().first());
    let Some(t) = first.map(|n| n.air) else { return NightAnswer::default() };
    NightAnswer {
        minimum_c: t.minimum_c.mean,
        sd_k: t.minimum_c.sd,
        own_offset_k: read.offset.map(|o| o.mean),
        sunset_plus_2h_c: t.evening_c,
        night_hours: t.hours,
        hours_below_0: t.hours_below(0.0),
        hours_below_minus_2: t.hours_below(-2.0),
        hours_below_minus_5: t.hours_below(-5.0),
        hours_below_minus_10: t.hours_below(-10.0),
        curve: (8..=(4.0 * t.hours).floor() as usize).map(|q| q as f64 / 4.0).map(|h| [h, t.at(h)]).collect(),
    }
}

fn nights(read: &Read, plan: &SpellPlan, rows: &[PlanRow]) -> Vec<NightPlan> {
    let ids = |wanted: &dyn Fn(&PlanRow, &Planned) -> bool| -> Vec<String> {
        rows.iter().zip(&plan.plants).filter(|(r, p)| wanted(r, p)).map(|(r, _)| r.plant.clone()).collect()
    };
    let one = |(n, night): (usize, &crate::science::cold_night::spell::days::SpellNight)| {
        let planned = n.checked_sub(read.from);
        let carried = |wanted: &dyn Fn(&Planned) -> bool| -> f64 {
            let plants = read.plants.iter().zip(&plan.plants).filter(|(_, p)| wanted(p));
            plants.fold(0.0, |sum, (r, _)| sum + r.part.minutes_to_move)
        };
        let minutes_out = carried(&|p| comes_out(p, Some(n)) && p.may_come_out == Some(n));
        // What makes room for others is among the day’s work in the program, and is told with the rest that comes out.
        let making_room = carried(&|p| matches!(p.does, Does::Place { last, .. } if last + 1 == n));
        NightPlan {
            number: n + 1,
            date: night.date,
            over: planned.is_none(),
            day_maximum_c: night.day_maximum_c,
            minimum_c: night.air.minimum_c.mean,
            sd_k: night.air.minimum_c.sd,
            hours_below_0: night.air.hours_below(0.0),
            soil_c: read.soil_c.get(n).copied().unwrap_or_default(),
            minutes: (planned.and_then(|i| plan.minutes.get(i)).copied().unwrap_or(0.0) - making_room).max(0.0),
            minutes_out,
            carry_in: ids(&|_, p| matches!(p.does, Does::Place { first, .. } if first == n)),
            come_out: ids(&|_, p| p.may_come_out == Some(n) && comes_out(p, Some(n))),
            cover: ids(&|_, p| matches!(p.does, Does::Cover { first, .. } if first == n)),
            uncover: ids(&|_, p| matches!(p.does, Does::Cover { last, .. } if last + 1 == n)),
        }
    };
    read.spell.nights().iter().enumerate().map(one).collect()
}

/// Whether a plant comes out of a place once it may, and not as a task of its own.
fn comes_out(planned: &Planned, night: Option<usize>) -> bool {
    night.is_some() && !matches!(planned.does, Does::Out { .. })
}

/// Outside air at every whole hour from the first dusk, straight between the steps.
fn course(read: &Read) -> Vec<[f64; 2]> {
    let mut fine: Vec<(f64, f64)> = Vec::new();
    let mut hour = 0.0;
    for (n, night) in read.open.nights.iter().enumerate() {
        let halves = read.open.days.get(n).into_iter().flatten().map(|h| (&h.steps, h.step_s));
        for (steps, step_s) in std::iter::once((&night.steps, night.step_s)).chain(halves) {
            for air in steps {
                fine.push((hour + step_s / 7_200.0, *air));
                hour += step_s / 3_600.0;
            }
        }
    }
    let at = |h: f64| {
        let after = fine.iter().position(|p| p.0 >= h)?;
        let (later, earlier) = (fine.get(after)?, fine.get(after.saturating_sub(1))?);
        let share = if later.0 > earlier.0 { (h - earlier.0) / (later.0 - earlier.0) } else { 0.0 };
        Some([h, earlier.1 + share.max(0.0) * (later.1 - earlier.1)])
    };
    (0..=hour.floor() as usize).filter_map(|h| at(h as f64)).collect()
}
