//! The plan, JSON-shaped.

use serde::Serialize;
use utoipa::ToSchema;

use crate::jobs::cold_night::options::{Act, Options, PlantOptions, options};
use crate::jobs::cold_night::reading::Read;
use crate::jobs::shortlist::json::LevelsJson;
use crate::model::snapshot::Snapshot;
use crate::science::cold_night::plan::{Plan, Problem, solve};
use crate::science::cold_night::risk::Risk;
use crate::science::hardiness::chances::Levels;
use crate::science::shelter::cautions;

/// Solver time for the plan, s.
const SOLVER_TIME_S: f64 = 0.2;
/// Solver time for the short plan, s.
const SHORT_SOLVER_TIME_S: f64 = 0.1;
/// The short plan, minutes.
const IF_ONLY_MINUTES: f64 = 30.0;
/// A plant left with less than this share of its value at risk is not worth naming among those left out.
const WORTH_NAMING: f64 = 0.02;

/// One plant's line of the plan.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PlanRow {
    /// Its id.
    pub plant: String,
    /// Its cultivar, as the catalogue names it.
    pub cultivar: String,
    /// Carried to this place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    /// Covered with this.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cover: Option<String>,
    /// Left where it stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stay: Option<bool>,
    /// Where it stands now.
    pub at: String,
    /// Minutes it takes.
    pub minutes: f64,
    /// Expected loss if left, in units of the values.
    pub loss_if_left: f64,
    /// Expected loss as planned.
    pub loss_planned: f64,
    /// Chance of each level if left.
    #[schema(value_type = LevelsJson<f64>)]
    pub chance_if_left: Levels<f64>,
    /// Chance of each level as planned.
    #[schema(value_type = LevelsJson<f64>)]
    pub chance_planned: Levels<f64>,
    /// The pot's coldest temperatures if left.
    pub pot_if_left: Option<PotAnswer>,
}

/// A pot's night.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct PotAnswer {
    /// Against the wall, °C.
    pub wall_c: f64,
    /// Mean of the root zone, °C.
    pub mean_c: f64,
    /// In the middle, °C.
    pub centre_c: f64,
}

/// A plant that stays out with a risk.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LeftOut {
    /// Its id.
    pub plant: String,
    /// Expected loss.
    pub loss: f64,
    /// Chance of each level.
    #[schema(value_type = LevelsJson<f64>)]
    pub chance: Levels<f64>,
    /// Why it stays.
    pub why: String,
}

/// What to do with less time.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct IfOnly {
    /// Minutes.
    pub minutes: f64,
    /// Plants in order.
    pub order: Vec<String>,
    /// Expected loss then.
    pub loss_after: f64,
    /// Minutes it takes.
    pub minutes_used: f64,
}

/// A place tonight.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PlaceAnswer {
    /// Its id.
    pub id: String,
    /// Lowest inside, °C.
    pub minimum_c: f64,
    /// Its spread, K.
    pub sd_k: f64,
    /// Room, m².
    pub room_m2: Option<f64>,
    /// Room the plan takes, m².
    pub used_m2: f64,
    /// Readings it rests on.
    pub readings: usize,
}

/// The night as planned for.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct NightAnswer {
    /// Lowest, °C: forecast plus own offset.
    pub minimum_c: f64,
    /// Spread, K.
    pub sd_k: f64,
    /// Own offset in it, K.
    pub own_offset_k: Option<f64>,
    /// Two hours after sunset, °C.
    pub sunset_plus_2h_c: f64,
    /// h.
    pub night_hours: f64,
    /// Hours below 0, −2, −5 and −10 °C.
    pub hours_below_0: f64,
    /// Hours below −2 °C.
    pub hours_below_minus_2: f64,
    /// Hours below −5 °C.
    pub hours_below_minus_5: f64,
    /// Hours below −10 °C.
    pub hours_below_minus_10: f64,
    /// (hours after sunset, °C), every quarter of an hour from the second hour on.
    pub curve: Vec<[f64; 2]>,
}

/// The whole answer.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ColdNightAnswer {
    /// One line per plant, in the order given.
    pub plan: Vec<PlanRow>,
    /// What to do, most loss avoided per minute first.
    pub order: Vec<String>,
    /// Expected loss if nothing is done.
    pub loss_before: f64,
    /// Expected loss as planned.
    pub loss_after: f64,
    /// Proved that no plan loses less.
    pub optimal: bool,
    /// (loss_after − least possible)/loss_after at most.
    pub gap: f64,
    /// Minutes the plan takes.
    pub minutes_used: f64,
    /// Plants that stay out with a risk worth naming, greatest loss first.
    pub left_out: Vec<LeftOut>,
    /// With only thirty minutes, where the plan takes longer.
    pub if_only: Option<IfOnly>,
    /// The night.
    pub night: NightAnswer,
    /// The places.
    pub places: Vec<PlaceAnswer>,
    /// What was assumed.
    pub notes: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
}

pub(crate) fn answer(read: &Read, snapshot: &Snapshot) -> ColdNightAnswer {
    let options = options(read, snapshot);
    let plan = solve(&options.problem, SOLVER_TIME_S);
    let rows = rows(read, &options, &plan);
    let order = order(&rows);
    let loss_before = rows.iter().map(|r| r.loss_if_left).sum();
    let if_only = (plan.minutes > IF_ONLY_MINUTES).then(|| {
        let short = solve(&Problem { minutes: IF_ONLY_MINUTES, ..options.problem.clone() }, SHORT_SOLVER_TIME_S);
        let short_rows = self::rows(read, &options, &short);
        IfOnly { minutes: IF_ONLY_MINUTES, order: self::order(&short_rows), loss_after: short.loss, minutes_used: short.minutes }
    });
    let heated = read.places.iter().any(|p| p.heated);
    let mut notes = read.notes.clone();
    if read.plants.iter().any(|p| p.state.pot_litres.is_some()) {
        notes.push("Roots in pots: no measured limit for figs exists. The chances rest on −5 °C for young roots and −8 °C for the plant, from memory, with a wide spread; growers' reports run from −9 to −4 °C.".to_owned());
    }
    ColdNightAnswer {
        order,
        loss_before,
        loss_after: plan.loss,
        optimal: plan.is_optimal(),
        gap: plan.gap,
        minutes_used: plan.minutes,
        left_out: left_out(read, &options, &plan, &rows),
        if_only,
        night: night(read),
        places: places(read, &options, &plan),
        notes,
        cautions: cautions::night_work(heated, !read.covers.is_empty()),
        plan: rows,
    }
}

/// A plant's options, leaving it, and what the plan does with it.
struct Chosen<'a> {
    of: &'a PlantOptions,
    stay: &'a Risk,
    act: Act,
    then: &'a Risk,
}

fn chosen<'a>(options: &'a Options, plan: &Plan, plant: usize) -> Option<Chosen<'a>> {
    let of = options.plants.get(plant)?;
    let (act, then) = of.acts.get(*plan.chosen.get(plant)?)?;
    Some(Chosen { of, stay: &of.acts.first()?.1, act: *act, then })
}

fn rows(read: &Read, options: &Options, plan: &Plan) -> Vec<PlanRow> {
    let place_id = |index: usize| read.places.get(index).map(|p| p.id.clone());
    read.plants
        .iter()
        .enumerate()
        .filter_map(|(index, plant)| {
            let Chosen { stay, act, then, .. } = chosen(options, plan, index)?;
            let minutes = match act {
                Act::Stay => 0.0,
                Act::Place(_) => plant.minutes_to_move,
                Act::Cover(c) => read.covers.get(c).map_or(0.0, |c| c.minutes),
            };
            Some(PlanRow {
                plant: plant.id.clone(),
                cultivar: plant.cultivar.clone(),
                place: if let Act::Place(p) = act { place_id(p) } else { None },
                cover: if let Act::Cover(c) = act { read.covers.get(c).map(|c| c.kind.clone()) } else { None },
                stay: (act == Act::Stay).then_some(true),
                at: plant.at.and_then(place_id).unwrap_or_else(|| "open".to_owned()),
                minutes,
                loss_if_left: plant.value * stay.loss_share,
                loss_planned: plant.value * then.loss_share,
                chance_if_left: stay.chance,
                chance_planned: then.chance,
                pot_if_left: stay.pot.map(|p| PotAnswer { wall_c: p.wall_c, mean_c: p.mean_c, centre_c: p.centre_c }),
            })
        })
        .collect()
}

/// Plants to handle, most loss avoided per minute first; ties in the order given.
fn order(rows: &[PlanRow]) -> Vec<String> {
    let rate = |r: &PlanRow| (r.loss_if_left - r.loss_planned) / r.minutes.max(1e-6);
    let mut todo: Vec<&PlanRow> = rows.iter().filter(|r| r.stay.is_none()).collect();
    todo.sort_by(|a, b| rate(b).total_cmp(&rate(a)));
    todo.into_iter().map(|r| r.plant.clone()).collect()
}

fn left_out(read: &Read, options: &Options, plan: &Plan, rows: &[PlanRow]) -> Vec<LeftOut> {
    let mut left: Vec<LeftOut> = rows
        .iter()
        .enumerate()
        .filter(|(index, row)| row.stay.is_some() && read.plants.get(*index).is_some_and(|p| row.loss_planned > WORTH_NAMING * p.value))
        .filter_map(|(index, row)| {
            let Chosen { of, stay, .. } = chosen(options, plan, index)?;
            Some(LeftOut {
                plant: row.plant.clone(),
                loss: row.loss_planned,
                chance: row.chance_planned,
                why: why(read, options, plan, index, of, stay),
            })
        })
        .collect();
    left.sort_by(|a, b| b.loss.total_cmp(&a.loss));
    left
}

/// Why a plant stays: nothing would help, no room or cover left, no minutes left, or others gain more from what there is.
fn why(read: &Read, options: &Options, plan: &Plan, index: usize, of: &PlantOptions, stay: &Risk) -> String {
    let choices = options.problem.plants.get(index).map(Vec::as_slice).unwrap_or_default();
    let helps = |i: &usize| of.acts.get(*i).is_some_and(|(_, r)| r.loss_share < stay.loss_share - 1e-9);
    let helpful: Vec<usize> = (0..choices.len()).filter(helps).collect();
    if helpful.is_empty() {
        let movable = read.plants.get(index).is_some_and(|p| p.movable);
        return if movable {
            "nothing at hand would help it enough to matter".to_owned()
        } else {
            "in the ground, and no cover at hand would help it enough to matter".to_owned()
        };
    }
    let minutes_left = options.problem.minutes - plan.minutes;
    let quick = helpful.iter().any(|i| choices.get(*i).is_some_and(|c| c.minutes <= minutes_left + 1e-9));
    if quick {
        "no room or cover is left that others do not need more".to_owned()
    } else {
        "no minutes are left that others do not need more".to_owned()
    }
}

fn places(read: &Read, options: &Options, plan: &Plan) -> Vec<PlaceAnswer> {
    let used = |place: usize| -> f64 {
        let uses = options.problem.plants.iter().zip(&plan.chosen).filter_map(|(c, i)| c.get(*i)).flat_map(|c| &c.uses);
        uses.filter(|(limit, _)| *limit == place).map(|(_, amount)| amount).sum()
    };
    read.places
        .iter()
        .enumerate()
        .map(|(i, p)| PlaceAnswer {
            id: p.id.clone(),
            minimum_c: p.minimum_c.mean,
            sd_k: p.minimum_c.sd,
            room_m2: p.room_m2,
            used_m2: used(i),
            readings: p.readings,
        })
        .collect()
}

fn night(read: &Read) -> NightAnswer {
    let t = &read.tonight;
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
