//! From a folded name to towns: exact, by prefix and with one slip of the finger, those with most people first.
//!
//! The transducer gives each name the offset of its list of towns, and lists are laid by the most people in them, so that a smaller offset
//! is a larger town. Its builder pushes outputs towards the root as far as they go; the sum of outputs on the way to a node is therefore the
//! least offset of all names below it, and walking the node with the least sum first meets names in the order of their largest towns
//! without looking at the others.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use fst::Automaton;
use fst::automaton::Str;
use fst::raw::{CompiledAddr, Fst, Output};

use super::error::PlacesError;
use super::file::{LAST_OF_LIST, u24_at};
use super::one_slip::{MOST_LETTERS, OneSlip};

/// Fewest letters for which a slip is allowed: with three, every short name is a neighbour.
const FEWEST_LETTERS: usize = 4;

/// Names of towns.
pub struct Index {
    names: Fst<&'static [u8]>,
    postings: &'static [u8],
}

/// A node, or the end of a name, that waits to be looked at.
struct Waiting<S> {
    least: u64,
    /// Order of arrival, so that equal sums keep one order.
    arrival: usize,
    /// `None` at the end of a name.
    node: Option<(CompiledAddr, S)>,
}

impl<S> PartialEq for Waiting<S> {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}
impl<S> Eq for Waiting<S> {}
impl<S> PartialOrd for Waiting<S> {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl<S> Ord for Waiting<S> {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        Reverse((self.least, self.arrival)).cmp(&Reverse((other.least, other.arrival)))
    }
}

impl Index {
    /// Opens the transducer over its bytes.
    pub fn open(names: &'static [u8], postings: &'static [u8]) -> Result<Self, PlacesError> {
        Ok(Self { names: Fst::new(names).map_err(|_| PlacesError { part: "names" })?, postings })
    }

    /// Names held.
    pub fn len(&self) -> usize {
        self.names.len()
    }

    /// Whether no name is held.
    pub fn is_empty(&self) -> bool {
        self.names.is_empty()
    }

    /// Slots of the towns of exactly this folded name, most people first.
    pub fn exact(&self, name: &str) -> Vec<u32> {
        self.names.get(name).map_or_else(Vec::new, |at| self.list(at.value()).collect())
    }

    /// Towns with a name that begins so, by their people; ends when `wanted` says that it has enough, or when `nodes` have been opened:
    /// what is left of them is for the next walk.
    pub fn beginning(&self, prefix: &str, nodes: &mut usize, wanted: impl FnMut(u32) -> bool) {
        self.walk(&Str::new(prefix).starts_with(), nodes, wanted);
    }

    /// Towns with a name within one letter added, left out or mistaken of `name`; names that only begin so too where `prefix` is set.
    /// Letters beyond the 16th are not compared. Ends as [`Index::beginning`] does.
    pub fn slipped(&self, name: &str, prefix: bool, nodes: &mut usize, wanted: impl FnMut(u32) -> bool) {
        let letters = name.chars().count();
        if letters < FEWEST_LETTERS {
            return;
        }
        let automaton = OneSlip::new(name);
        if prefix || letters > MOST_LETTERS {
            self.walk(&automaton.starts_with(), nodes, wanted);
        } else {
            self.walk(&automaton, nodes, wanted);
        }
    }

    /// `name` with each pair of neighbouring letters exchanged in turn: the slip that the automaton counts as two.
    pub fn exchanged(name: &str) -> Vec<String> {
        let letters: Vec<char> = name.chars().collect();
        if letters.len() < FEWEST_LETTERS {
            return Vec::new();
        }
        let pairs = (0..letters.len() - 1).filter(|&i| letters[i] != letters[i + 1]);
        pairs
            .map(|i| {
                let mut other = letters.clone();
                other.swap(i, i + 1);
                other.into_iter().collect()
            })
            .collect()
    }

    /// The slots of the list at an offset.
    fn list(&self, at: u64) -> impl Iterator<Item = u32> + '_ {
        let mut next = usize::try_from(at).ok();
        std::iter::from_fn(move || {
            let entry = u24_at(self.postings, 3 * next?)?;
            next = (entry & LAST_OF_LIST == 0).then(|| next.map(|n| n + 1)).flatten();
            Some(entry & !LAST_OF_LIST)
        })
    }

    fn walk<A: Automaton>(&self, automaton: &A, nodes: &mut usize, mut wanted: impl FnMut(u32) -> bool) {
        let mut waiting = BinaryHeap::new();
        let mut arrival = 0;
        waiting.push(Waiting { least: 0, arrival, node: Some((self.names.root().addr(), automaton.start())) });
        while let Some(Waiting { least, node, .. }) = waiting.pop() {
            let Some((address, state)) = node else {
                for slot in self.list(least) {
                    if !wanted(slot) {
                        return;
                    }
                }
                continue;
            };
            let Some(left) = nodes.checked_sub(1) else { return };
            *nodes = left;
            let so_far = Output::new(least);
            let node = self.names.node(address);
            if node.is_final() && automaton.is_match(&state) {
                arrival += 1;
                waiting.push(Waiting { least: so_far.cat(node.final_output()).value(), arrival, node: None });
            }
            for step in node.transitions() {
                let next = automaton.accept(&state, step.inp);
                if automaton.can_match(&next) {
                    arrival += 1;
                    waiting.push(Waiting { least: so_far.cat(step.out).value(), arrival, node: Some((step.addr, next)) });
                }
            }
        }
    }
}
