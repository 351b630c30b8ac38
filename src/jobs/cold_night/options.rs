//! What can be done with each plant, what it risks then, and the program the plan solves.

use std::collections::HashMap;

use crate::jobs::cold_night::reading::{Read, ReadPlant};
use crate::model::snapshot::Snapshot;
use crate::science::cold_night::plan::{Choice, Problem};
use crate::science::cold_night::risk::{AirTonight, Risk, risk};
use crate::science::cold_night::stage::NightKind;
use crate::science::numeric::Gaussian;

/// Room of a place whose room is not given, m².
const ENOUGH_M2: f64 = 1e9;

/// An act that spares a plant less than this share of its worth is not worth a step in the dark. DESIGN.
const WORTH_DOING: f64 = 0.005;

/// Something to do with a plant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Act {
    /// Leave it where it stands.
    Stay,
    /// Carry it to a place.
    Place(usize),
    /// Put a cover on it.
    Cover(usize),
}

/// A plant's choices: acts, risks and the program's columns run side by side; the first is to leave it.
pub(crate) struct PlantOptions {
    pub acts: Vec<(Act, Risk)>,
}

/// Every plant's options and the program over them.
pub(crate) struct Options {
    pub plants: Vec<PlantOptions>,
    pub problem: Problem,
}

/// What makes two plants alike in one place: the same risk is computed once.
#[derive(PartialEq, Eq, Hash)]
struct Alike(Vec<u64>);

fn alike(plant: &ReadPlant, act: Act) -> Alike {
    let s = &plant.state;
    let (kind, index) = match act {
        Act::Stay => (0, plant.at.map_or(0, |p| p as u64 + 1)),
        Act::Place(p) => (1, p as u64),
        Act::Cover(c) => (2, c as u64),
    };
    let number = |x: Option<f64>| x.map_or(u64::MAX, f64::to_bits);
    let mut key = vec![kind, index, s.stage as u64, u64::from(s.young), number(s.pot_litres), number(s.pot_start_c)];
    key.extend([number(s.deficit_k.map(|d| d.mean)), number(s.deficit_k.map(|d| d.sd))]);
    key.extend(s.belief.components().iter().flat_map(|c| [c.weight.to_bits(), c.h.mean.to_bits(), c.h.sd.to_bits()]));
    Alike(key)
}

/// Builds every option. Limits: one per place (room), then one per cover (count, or ground).
pub(crate) fn options(read: &Read, snapshot: &Snapshot) -> Options {
    let mut known: HashMap<Alike, Risk> = HashMap::new();
    let mut plants = Vec::with_capacity(read.plants.len());
    let mut columns = Vec::with_capacity(read.plants.len());
    for plant in &read.plants {
        let mut acts = vec![Act::Stay];
        if plant.movable {
            acts.extend((0..read.places.len()).filter(|p| plant.at != Some(*p)).map(Act::Place));
        }
        // A cover under a roof gains nothing that is known.
        if plant.at.is_none() {
            acts.extend((0..read.covers.len()).map(Act::Cover));
        }
        let acts: Vec<(Act, Risk)> = acts
            .into_iter()
            .map(|act| {
                let risk = *known.entry(alike(plant, act)).or_insert_with(|| {
                    let air = air_of(read, plant, act);
                    risk(&plant.state, &air, &read.tonight, &snapshot.scale, &snapshot.night_priors)
                });
                (act, risk)
            })
            .collect();
        let left = acts.first().map_or(0.0, |(_, r)| r.loss_share);
        let acts: Vec<(Act, Risk)> = acts.into_iter().filter(|(act, r)| *act == Act::Stay || left - r.loss_share >= WORTH_DOING).collect();
        columns.push(acts.iter().map(|(act, risk)| column(read, plant, *act, risk)).collect());
        plants.push(PlantOptions { acts });
    }
    // What already stands in a place has room there, whatever was measured.
    let standing = |place: usize| read.plants.iter().filter(|p| p.at == Some(place)).map(|p| p.footprint_m2).sum::<f64>();
    let rooms = read.places.iter().enumerate().map(|(i, p)| p.room_m2.unwrap_or(ENOUGH_M2).max(standing(i)));
    let covers = read.covers.iter().map(|c| c.area_m2.map_or(f64::from(c.count), |a| a * f64::from(c.count)));
    let capacities = rooms.chain(covers).collect();
    let unbounded: f64 = read.plants.iter().map(|p| p.minutes_to_move).sum::<f64>() + 1e6;
    Options { plants, problem: Problem { plants: columns, capacities, minutes: read.minutes.unwrap_or(unbounded) } }
}

fn column(read: &Read, plant: &ReadPlant, act: Act, risk: &Risk) -> Choice {
    let loss = plant.value * risk.loss_share;
    match act {
        Act::Stay => Choice { loss, minutes: 0.0, uses: plant.at.map(|p| (p, plant.footprint_m2)).into_iter().collect() },
        Act::Place(p) => Choice { loss, minutes: plant.minutes_to_move, uses: vec![(p, plant.footprint_m2)] },
        Act::Cover(c) => {
            let cover = read.covers.get(c);
            let amount = if cover.is_some_and(|c| c.area_m2.is_some()) { plant.footprint_m2 } else { 1.0 };
            Choice { loss, minutes: cover.map_or(0.0, |c| c.minutes), uses: vec![(read.places.len() + c, amount)] }
        }
    }
}

fn air_of(read: &Read, plant: &ReadPlant, act: Act) -> AirTonight {
    let tonight = &read.tonight;
    let open = AirTonight { minimum_c: tonight.minimum_c, evening_c: tonight.evening_c, windy: tonight.kind == NightKind::Windy };
    let inside =
        |index: usize| read.places.get(index).map_or(open, |p| AirTonight { minimum_c: p.minimum_c, evening_c: p.evening_c, windy: false });
    match act {
        Act::Stay => plant.at.map_or(open, inside),
        Act::Place(index) => inside(index),
        Act::Cover(index) => read.covers.get(index).map_or(open, |c| {
            let share = if plant.state.pot_litres.is_some() { c.pot_share } else { 1.0 };
            let gain = Gaussian::new(c.gain.mean * share, c.gain.sd);
            AirTonight { minimum_c: open.minimum_c.plus(gain), evening_c: open.evening_c, windy: false }
        }),
    }
}
