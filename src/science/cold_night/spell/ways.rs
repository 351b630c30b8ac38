//! The ways through a spell that a plan chooses among: a plant stays, goes to one place for some nights on end, gets one cover for some
//! nights on end, or comes out of where it stands.
//!
//! One journey a plant: a plan that carries a pot in, out and in again asks more than it saves. Longer stays and covers that gain nothing over
//! shorter ones are left out, so that what is left says by itself when a plant may come out.

use super::felt::Spots;
use crate::science::cold_night::risk::Risk;

/// Carrying that spares a plant less than this share of its worth is not worth a step in the dark. DESIGN.
pub const WORTH_CARRYING: f64 = 0.005;
/// A cover that gains less than one in a hundred is not advised. DESIGN.
pub const WORTH_COVERING: f64 = 0.01;

/// What is done with one plant. Nights are indices into the spell; a place or cover is named by its spot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Act {
    /// It stays where it is.
    Stay,
    /// It is in this place from night `first` to night `last`, and in the open after that.
    Place {
        /// Spot of the place.
        spot: u8,
        /// First night in it.
        first: usize,
        /// Last night in it.
        last: usize,
    },
    /// It has this cover from night `first` to night `last`.
    Cover {
        /// Spot of the cover.
        spot: u8,
        /// First night under it.
        first: usize,
        /// Last night under it.
        last: usize,
    },
    /// It comes out of where it stands before night `first`.
    Out {
        /// First night in the open.
        first: usize,
    },
}

/// A way with what it does.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// What is done.
    pub act: Act,
    /// Its chances.
    pub risk: Risk,
}

/// What a stay in a place costs by its last night, whether or not the plan may choose it.
#[derive(Debug, Clone, PartialEq)]
pub struct StayLosses {
    /// Spot of the place.
    pub spot: u8,
    /// First night in it.
    pub first: usize,
    /// Share of its worth lost if it comes out after night `first`, the one after it, and so on.
    pub by_last: Vec<f64>,
}

/// Every way worth considering, staying first, and the losses of all stays.
#[derive(Debug, Clone, PartialEq)]
pub struct Ways {
    /// What the plan chooses among.
    pub ways: Vec<Way>,
    /// All stays.
    pub stays: Vec<StayLosses>,
}

/// Where a plant may go.
#[derive(Debug, Clone, PartialEq)]
pub struct Allowed {
    /// Its spots on the nights that are over.
    pub past: Spots,
    /// Where it stands now; 0 is the open.
    pub now: u8,
    /// Spots of places it can be carried to.
    pub places: Vec<u8>,
    /// Spots of covers it can have where it stands.
    pub covers: Vec<u8>,
    /// Nights of the whole spell.
    pub nights: usize,
}

impl Allowed {
    /// First night that is planned.
    pub fn start(&self) -> usize {
        self.past.len()
    }

    /// The spot of every night of the spell.
    pub fn spots(&self, act: Act) -> Spots {
        let spot_on = |n: usize| match act {
            Act::Place { spot, first, last } | Act::Cover { spot, first, last } if (first..=last).contains(&n) => spot,
            Act::Place { first, .. } if n < first => self.now,
            Act::Out { first } if n < first => self.now,
            Act::Stay | Act::Cover { .. } => self.now,
            Act::Place { .. } | Act::Out { .. } => 0,
        };
        self.past.iter().copied().chain((self.start()..self.nights).map(spot_on)).collect()
    }
}

/// Every way worth considering, staying first.
pub fn ways(allowed: &Allowed, risk_along: &mut dyn FnMut(&[u8]) -> Risk) -> Ways {
    let mut at = |act: Act| Way { act, risk: risk_along(&allowed.spots(act)) };
    let stay = at(Act::Stay);
    let left = stay.risk.loss_share;
    let mut ways = vec![stay];
    let mut all_stays = Vec::new();
    let nights = allowed.start()..allowed.nights;
    if allowed.now != 0 {
        ways.extend(nights.clone().map(|first| at(Act::Out { first })));
    }
    for &spot in &allowed.places {
        for first in nights.clone() {
            let ends: Vec<Way> = (first..allowed.nights).map(|last| at(Act::Place { spot, first, last })).collect();
            all_stays.push(StayLosses { spot, first, by_last: ends.iter().map(|w| w.risk.loss_share).collect() });
            ways.extend(stays(ends, left));
        }
    }
    for &spot in &allowed.covers {
        for first in nights.clone() {
            let ends = (first..allowed.nights).map(|last| at(Act::Cover { spot, first, last })).collect();
            ways.extend(worth_their_length(ends, left, WORTH_COVERING));
        }
    }
    Ways { ways, stays: all_stays }
}

/// Stays in a place: those worth their length, and the one to the end of the spell, which asks no minutes for coming out.
fn stays(ends: Vec<Way>, left: f64) -> Vec<Way> {
    let whole = ends.last().cloned();
    let mut kept = worth_their_length(ends, left, WORTH_CARRYING);
    kept.extend(whole.filter(|w| left - w.risk.loss_share >= WORTH_CARRYING && kept.last().is_some_and(|k| k.act != w.act)));
    kept
}

/// Of ways that begin alike and end one night later each, those that spare enough, and only where a longer one spares more than a shorter.
fn worth_their_length(ends: Vec<Way>, left: f64, worth: f64) -> Vec<Way> {
    let mut kept: Vec<Way> = Vec::new();
    for way in ends {
        let loss = way.risk.loss_share;
        let better = kept.last().is_none_or(|k| k.risk.loss_share - loss >= worth);
        if left - loss >= worth && better {
            kept.push(way);
        }
    }
    kept
}
