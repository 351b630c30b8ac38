//! The plan over a spell: every plant gets one way, under room and covers on each night and minutes on each day.
//!
//! The integer program is that of one night ([`plan`](crate::science::cold_night::plan)) with a limit for every place and night, every cover
//! and night, and every day's minutes. Carrying in and covering cost their minutes on the evening they are done; coming out before the spell
//! ends to make room costs minutes on that day; where the room is not needed it can wait, and costs none of the days planned.

use std::collections::HashMap;

use super::days::Spell;
use super::felt::{Follower, Spots};
use super::spots::Course;
use super::tenant::{self, Tenant};
use super::ways::{Act, Allowed, StayLosses, WORTH_CARRYING, Way, Ways, ways};
use crate::science::cold_night::plan::{Choice, Plan, Problem, solve};
use crate::science::cold_night::risk::{PlantTonight, Risk, Rules};
use crate::science::exposure::Parts;

/// Room of a place whose room is not given, m².
const ENOUGH_M2: f64 = 1e9;
/// Minutes of a day whose minutes are not given.
const ENOUGH_MINUTES: f64 = 1e9;

/// A place.
#[derive(Debug, Clone, PartialEq)]
pub struct SpellPlace {
    /// Room, m²; `None`: enough.
    pub room_m2: Option<f64>,
    /// Its air.
    pub air: Course,
}

/// Covers of one kind.
#[derive(Debug, Clone, PartialEq)]
pub struct SpellCover {
    /// How many.
    pub count: u32,
    /// Ground one covers, m²; `None`: one plant each.
    pub area_m2: Option<f64>,
    /// Minutes to put one on.
    pub minutes: f64,
    /// Air under it over soil.
    pub over_soil: Course,
    /// Air under it over a pot.
    pub over_pot: Course,
}

/// A plant.
#[derive(Debug, Clone, PartialEq)]
pub struct SpellPlant {
    /// Its state at dusk of the first night.
    pub state: PlantTonight,
    /// Another plant than a fig, known by two temperatures; of its state only the pot then counts.
    pub tenant: Option<Tenant>,
    /// What it is worth.
    pub value: f64,
    /// Room it takes, m².
    pub footprint_m2: f64,
    /// Minutes to carry it.
    pub minutes_to_move: f64,
    /// It can be carried.
    pub movable: bool,
    /// The place it stands in now, as an index; `None`: the open.
    pub at: Option<usize>,
    /// How many of the nights that are over it has stood there; before that it stood in the open.
    pub nights_there: usize,
}

/// A spell to be planned.
#[derive(Debug, Clone, PartialEq)]
pub struct Question<'a> {
    /// The nights.
    pub spell: &'a Spell,
    /// First night that is planned; those before it are over.
    pub from: usize,
    /// The open.
    pub open: Course,
    /// Places.
    pub places: Vec<SpellPlace>,
    /// Covers.
    pub covers: Vec<SpellCover>,
    /// Plants.
    pub plants: Vec<SpellPlant>,
    /// Minutes before each night of the spell; `None`: as many as it takes.
    pub minutes: Vec<Option<f64>>,
}

/// What is done with one plant, in terms of places and covers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Does {
    /// It stays.
    Stay,
    /// It is in a place from one night to another.
    Place {
        /// Index of the place.
        place: usize,
        /// First night.
        first: usize,
        /// Last night.
        last: usize,
    },
    /// It is covered from one night to another.
    Cover {
        /// Index of the cover.
        cover: usize,
        /// First night.
        first: usize,
        /// Last night.
        last: usize,
    },
    /// It comes out before a night.
    Out {
        /// First night in the open.
        first: usize,
    },
}

/// One plant's part of the plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Planned {
    /// What is done.
    pub does: Does,
    /// Chances if it is left where it is.
    pub if_left: Risk,
    /// The same of its parts, each by itself; of a fig alone.
    pub parts_if_left: Option<Parts>,
    /// Chances as planned.
    pub then: Risk,
    /// Least loss that any way has.
    pub least_loss: f64,
    /// First night it may spend in the open after its stay in a place without losing by it; the number of nights of the spell: only after its
    /// last. `None`: it is in no place.
    pub may_come_out: Option<usize>,
    /// Minutes it takes in all.
    pub minutes: f64,
    /// Ways it could have gone, staying among them.
    pub ways: usize,
}

/// Why a plant that stays stays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Binds {
    /// No way at hand spares it enough.
    NothingHelps,
    /// Room or covers.
    Room,
    /// Minutes.
    Minutes,
}

/// Why some covers of a kind lie unused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unused {
    /// No plant gains one in a hundred by it.
    GainsTooLittle,
    /// There are no minutes left to put it on.
    NoMinutes,
    /// Those it would help are better off otherwise.
    BetterOtherwise,
}

/// A plan over a spell.
#[derive(Debug, Clone, PartialEq)]
pub struct SpellPlan {
    /// The program's answer.
    pub plan: Plan,
    /// One per plant.
    pub plants: Vec<Planned>,
    /// Room taken in each place on each planned night, m².
    pub room_m2: Vec<Vec<f64>>,
    /// Covers (or ground, m²) in use on each planned night.
    pub covers: Vec<Vec<f64>>,
    /// Minutes before each planned night.
    pub minutes: Vec<f64>,
}

/// Plants alike, with their ways.
struct Kind {
    plant: usize,
    allowed: Allowed,
    ways: Vec<Way>,
    stays: Vec<StayLosses>,
    parts: Option<Parts>,
}

/// Chances found so far by kind of plant and way, for questions that differ in the air of some places alone.
#[derive(Debug, Default)]
pub struct Known(HashMap<(usize, Spots), Risk>);

/// Marks the spot of a place whose air is its other one.
const OTHER_AIR: u8 = 0x80;

/// A way by its spots and their air.
fn named(way: &[u8], other_air: &[bool]) -> Spots {
    let is_other = |spot: u8| usize::from(spot).checked_sub(1).and_then(|place| other_air.get(place)).is_some_and(|other| *other);
    way.iter().map(|&spot| if is_other(spot) { spot | OTHER_AIR } else { spot }).collect()
}

/// A spell with every plant's ways worked out: what plans are made from.
pub struct Ready<'a> {
    question: &'a Question<'a>,
    kinds: Vec<Kind>,
    kind_of: Vec<usize>,
    problem: Problem,
}

impl<'a> Ready<'a> {
    /// Works out every way of every kind of plant. Questions about the same plants may be asked one after the other, each place having one of two
    /// airs: ways through air that is `known` already are not followed again. `other_air` says for each place whether this question has its other
    /// one; of one question alone it may be empty.
    pub fn new(question: &'a Question<'a>, other_air: &[bool], known: &mut Known, rules: Rules<'_>) -> Self {
        let mut kinds: Vec<Kind> = Vec::new();
        let mut kind_of = Vec::with_capacity(question.plants.len());
        for (index, plant) in question.plants.iter().enumerate() {
            let found = kinds.iter().position(|k| question.plants.get(k.plant).is_some_and(|other| alike(plant, other)));
            kind_of.push(found.unwrap_or_else(|| {
                let kind = kinds.len();
                let allowed = allowed(question, plant);
                let courses = courses(question, plant);
                let (Ways { ways, stays }, parts) = if let Some(tenant) = plant.tenant {
                    (ways(&allowed, &mut |way| tenant::risk(tenant, &courses, way)), None)
                } else {
                    let mut follower = Follower::new(&plant.state, &courses, rules);
                    let mut risk_along =
                        |way: &[u8]| *known.0.entry((kind, named(way, other_air))).or_insert_with(|| follower.felt(way).risk);
                    let found = ways(&allowed, &mut risk_along);
                    (found, Some(follower.parts(&allowed.spots(Act::Stay))))
                };
                kinds.push(Kind { plant: index, allowed, ways, stays, parts });
                kind
            }));
        }
        let plants = question.plants.iter().zip(&kind_of).map(|(plant, kind)| columns(question, plant, kinds.get(*kind))).collect();
        let problem = Problem { plants, capacities: capacities(question), minutes: f64::INFINITY };
        Self { question, kinds, kind_of, problem }
    }

    /// The program.
    pub fn problem(&self) -> &Problem {
        &self.problem
    }

    /// The plan that loses least, within about `budget_s` seconds of solver time.
    pub fn plan(&self, budget_s: f64) -> SpellPlan {
        self.read(solve(&self.problem, budget_s))
    }

    /// The same with so many minutes before the first planned night and none less on the others.
    pub fn plan_with_first_minutes(&self, minutes: f64, budget_s: f64) -> SpellPlan {
        let mut problem = self.problem.clone();
        if let Some(capacity) = problem.capacities.get_mut(self.minutes_limit(self.question.from)) {
            *capacity = minutes;
        }
        self.read(solve(&problem, budget_s))
    }

    /// Why a plant that stays stays.
    pub fn binds(&self, index: usize, plan: &SpellPlan) -> Binds {
        let Some(choices) = self.problem.plants.get(index) else { return Binds::NothingHelps };
        let left = choices.first().map_or(0.0, |c| c.loss);
        let helpful: Vec<&Choice> = choices.iter().filter(|c| c.loss < left - 1e-9).collect();
        if helpful.is_empty() {
            return Binds::NothingHelps;
        }
        if helpful.iter().any(|c| self.has_minutes(c, plan)) { Binds::Room } else { Binds::Minutes }
    }

    /// Why covers of a kind lie unused on every night.
    pub fn unused(&self, cover: usize, plan: &SpellPlan) -> Unused {
        let spot = self.question.places.len() + cover + 1;
        let is_it = |act: Act| matches!(act, Act::Cover { spot: s, .. } if usize::from(s) == spot);
        let mut helps = self.kinds.iter().flat_map(|k| &k.ways).filter(|w| is_it(w.act)).peekable();
        if helps.peek().is_none() {
            return Unused::GainsTooLittle;
        }
        let minutes = self.question.covers.get(cover).map_or(0.0, |c| c.minutes);
        let quick = |n: &usize| {
            let used = plan.minutes.get(*n - self.question.from).copied().unwrap_or(0.0);
            self.question.minutes.get(*n).copied().flatten().is_none_or(|there_are| used + minutes <= there_are + 1e-9)
        };
        let start = self.question.from..self.question.spell.len();
        if start.clone().any(|n| quick(&n)) { Unused::BetterOtherwise } else { Unused::NoMinutes }
    }

    fn has_minutes(&self, choice: &Choice, plan: &SpellPlan) -> bool {
        let first = self.minutes_limit(self.question.from);
        choice.uses.iter().filter(|(limit, _)| *limit >= first).all(|(limit, amount)| {
            let used = plan.minutes.get(limit - first).copied().unwrap_or(0.0);
            used + amount <= self.problem.capacities.get(*limit).copied().unwrap_or(0.0) + 1e-9
        })
    }

    fn minutes_limit(&self, night: usize) -> usize {
        minutes_limit(self.question, night)
    }

    fn read(&self, plan: Plan) -> SpellPlan {
        let q = self.question;
        let planned = q.from..q.spell.len();
        let used = |limit: usize| -> f64 {
            let choices = self.problem.plants.iter().zip(&plan.chosen).filter_map(|(c, i)| c.get(*i));
            choices.flat_map(|c| &c.uses).filter(|(l, _)| *l == limit).fold(0.0, |sum, (_, amount)| sum + amount)
        };
        let per_night = |limit_of: &dyn Fn(usize) -> usize| planned.clone().map(|n| used(limit_of(n))).collect::<Vec<f64>>();
        SpellPlan {
            plants: (0..q.plants.len()).filter_map(|index| self.planned(index, &plan)).collect(),
            room_m2: (0..q.places.len()).map(|p| per_night(&|n| family_limit(q, n, p))).collect(),
            covers: (0..q.covers.len()).map(|c| per_night(&|n| family_limit(q, n, q.places.len() + c))).collect(),
            minutes: per_night(&|n| minutes_limit(q, n)),
            plan,
        }
    }

    fn planned(&self, index: usize, plan: &Plan) -> Option<Planned> {
        let q = self.question;
        let kind = self.kinds.get(*self.kind_of.get(index)?)?;
        let chosen = *plan.chosen.get(index)?;
        let way = kind.ways.get(chosen)?;
        let least_loss = kind.ways.iter().map(|w| w.risk.loss_share).fold(f64::INFINITY, f64::min);
        Some(Planned {
            does: does(q, way.act),
            if_left: kind.ways.first()?.risk,
            parts_if_left: kind.parts,
            then: way.risk,
            least_loss,
            may_come_out: may_come_out(kind, way),
            minutes: self.problem.plants.get(index)?.get(chosen)?.minutes,
            ways: kind.ways.len(),
        })
    }
}

/// First night in the open that costs the plant nothing worth a step, after a stay in a place.
fn may_come_out(kind: &Kind, way: &Way) -> Option<usize> {
    let nights = kind.allowed.nights;
    match way.act {
        Act::Place { spot, first, last } => {
            let stays = kind.stays.iter().find(|s| s.spot == spot && s.first == first);
            let enough = |loss: &f64| loss - way.risk.loss_share < WORTH_CARRYING;
            let last = stays.and_then(|s| s.by_last.iter().position(enough)).map_or(last, |n| (first + n).min(last));
            Some((last + 1).min(nights))
        }
        Act::Stay if kind.allowed.now != 0 => {
            let early = |w: &Way| match w.act {
                Act::Out { first } if w.risk.loss_share - way.risk.loss_share < WORTH_CARRYING => Some(first),
                _ => None,
            };
            Some(kind.ways.iter().filter_map(early).min().unwrap_or(nights))
        }
        Act::Out { first } => Some(first),
        Act::Stay | Act::Cover { .. } => None,
    }
}

/// Whether two plants have the same ways.
pub fn alike(a: &SpellPlant, b: &SpellPlant) -> bool {
    a.movable == b.movable && a.at == b.at && a.nights_there == b.nights_there && a.tenant == b.tenant && a.state == b.state
}

/// Spots: the open, the places, the covers.
pub(super) fn courses<'q>(question: &'q Question<'_>, plant: &SpellPlant) -> Vec<&'q Course> {
    let over_pot = plant.state.pot_litres.is_some();
    std::iter::once(&question.open)
        .chain(question.places.iter().map(|p| &p.air))
        .chain(question.covers.iter().map(|c| if over_pot { &c.over_pot } else { &c.over_soil }))
        .collect()
}

/// Where a plant may go.
pub(super) fn allowed(question: &Question<'_>, plant: &SpellPlant) -> Allowed {
    let now = plant.at.map_or(0, |p| p as u8 + 1);
    let there = plant.nights_there.min(question.from);
    let past = std::iter::repeat_n(0, question.from - there).chain(std::iter::repeat_n(now, there)).collect();
    let (places, covers) = (question.places.len(), question.covers.len());
    let spots = |range: std::ops::Range<usize>| range.map(|s| s as u8 + 1);
    Allowed {
        past,
        now,
        places: if plant.movable { spots(0..places).filter(|s| *s != now).collect() } else { Vec::new() },
        // A cover under a roof gains nothing that is known.
        covers: if now == 0 { spots(places..places + covers).collect() } else { Vec::new() },
        nights: question.spell.len(),
    }
}

fn does(question: &Question<'_>, act: Act) -> Does {
    let places = question.places.len();
    match act {
        Act::Stay => Does::Stay,
        Act::Place { spot, first, last } => Does::Place { place: usize::from(spot) - 1, first, last },
        Act::Cover { spot, first, last } => Does::Cover { cover: usize::from(spot) - 1 - places, first, last },
        Act::Out { first } => Does::Out { first },
    }
}

/// Limits: for each planned night every place and every cover, then each planned night's minutes.
fn family_limit(question: &Question<'_>, night: usize, family: usize) -> usize {
    (night - question.from) * (question.places.len() + question.covers.len()) + family
}

fn minutes_limit(question: &Question<'_>, night: usize) -> usize {
    family_limit(question, question.spell.len(), 0) + night - question.from
}

fn capacities(question: &Question<'_>) -> Vec<f64> {
    // What already stands in a place has room there, whatever was measured.
    let standing = |place: usize| question.plants.iter().filter(|p| p.at == Some(place)).map(|p| p.footprint_m2).sum::<f64>();
    let rooms: Vec<f64> = question.places.iter().enumerate().map(|(i, p)| p.room_m2.unwrap_or(ENOUGH_M2).max(standing(i))).collect();
    let covers: Vec<f64> = question.covers.iter().map(|c| c.area_m2.map_or(f64::from(c.count), |a| a * f64::from(c.count))).collect();
    let night = rooms.iter().chain(&covers).copied();
    let nights = question.spell.len() - question.from;
    let minutes = (question.from..question.spell.len()).map(|n| question.minutes.get(n).copied().flatten().unwrap_or(ENOUGH_MINUTES));
    std::iter::repeat_n(night, nights).flatten().chain(minutes).collect()
}

fn columns(question: &Question<'_>, plant: &SpellPlant, kind: Option<&Kind>) -> Vec<Choice> {
    kind.map_or_else(Vec::new, |kind| kind.ways.iter().map(|way| column(question, plant, &kind.allowed, way)).collect())
}

fn column(question: &Question<'_>, plant: &SpellPlant, allowed: &Allowed, way: &Way) -> Choice {
    let places = question.places.len();
    let mut uses: Vec<(usize, f64)> = Vec::new();
    for (night, spot) in allowed.spots(way.act).into_iter().enumerate().skip(question.from) {
        let Some(family) = usize::from(spot).checked_sub(1) else { continue };
        let by_ground = family.checked_sub(places).and_then(|c| question.covers.get(c)).is_some_and(|c| c.area_m2.is_none());
        uses.push((family_limit(question, night, family), if by_ground { 1.0 } else { plant.footprint_m2 }));
    }
    let mut minutes = 0.0;
    let mut spend = |night: usize, amount: f64| {
        if night < question.spell.len() && amount > 0.0 {
            uses.push((minutes_limit(question, night), amount));
            minutes += amount;
        }
    };
    match does(question, way.act) {
        Does::Stay => {}
        Does::Place { first, last, .. } => {
            spend(first, plant.minutes_to_move);
            spend(last + 1, plant.minutes_to_move);
        }
        Does::Cover { cover, first, .. } => spend(first, question.covers.get(cover).map_or(0.0, |c| c.minutes)),
        Does::Out { first } => spend(first, plant.minutes_to_move),
    }
    Choice { loss: plant.value * way.risk.loss_share, minutes, uses }
}
