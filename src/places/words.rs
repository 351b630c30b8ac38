//! What was typed into a place box, taken apart: coordinates, or a name with words for country and region.

use super::coordinates::{self, CoordinateError, Point};
use super::folding::fold;
use super::regions::{Meaning, Regions};
use super::town::TownId;

/// Longest text that is taken apart, letters: the rest is not looked at.
pub const LONGEST: usize = 120;
/// Most words at the end of a text without commas that are tried as country or region: “North Carolina”, “Papua New Guinea”.
const MOST_TAIL_WORDS: usize = 4;

/// One way to read a text as a town: its folded name, and what the words after it mean.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    /// Folded name.
    pub name: String,
    /// Meanings that the town must fit, all of them.
    pub within: Vec<Meaning>,
}

/// A text taken apart.
#[derive(Debug, Clone, PartialEq)]
pub enum Asked {
    /// Coordinates.
    Point(Point),
    /// A town by its number, which our own addresses add where a name is not enough: “Rampur, India (1258599)”.
    Town(TownId),
    /// A name, the likelier reading first.
    Name(Vec<Reading>),
    /// A name with a word behind it that is no country or region.
    UnknownRegion {
        /// The word.
        word: String,
    },
    /// Nothing to look up.
    Nothing,
}

/// Takes a text apart.
pub fn read(text: &str, regions: &Regions) -> Result<Asked, CoordinateError> {
    let text: String = text.trim().chars().take(LONGEST).collect();
    if let Some(point) = coordinates::read(&text) {
        return point.map(Asked::Point);
    }
    if let Some(id) = numbered(&text) {
        return Ok(Asked::Town(id));
    }
    let mut parts = text.split([',', ';', '，', '、', '(', ')']).map(str::trim).filter(|p| !p.is_empty());
    let Some(name) = parts.next().map(fold).filter(|n| !n.is_empty()) else { return Ok(Asked::Nothing) };
    let mut within = Vec::new();
    for word in parts {
        let meaning = regions.meaning(word);
        if meaning.is_empty() {
            return Ok(Asked::UnknownRegion { word: word.to_owned() });
        }
        within.push(meaning);
    }
    if !within.is_empty() {
        // “Asheville NC, USA”: a region may stand before the first comma too.
        let mut readings = vec![Reading { name: name.clone(), within: within.clone() }];
        readings.extend(with_tail(&name, regions).into_iter().map(|mut reading| {
            reading.within.extend(within.iter().cloned());
            reading
        }));
        return Ok(Asked::Name(readings));
    }
    let mut readings = vec![Reading { name: name.clone(), within: Vec::new() }];
    readings.extend(with_tail(&name, regions));
    Ok(Asked::Name(readings))
}

/// Readings of a folded text whose last words name a country or region.
fn with_tail(text: &str, regions: &Regions) -> Vec<Reading> {
    let words: Vec<&str> = text.split(' ').collect();
    let tails = 1..=MOST_TAIL_WORDS.min(words.len().saturating_sub(1));
    tails
        .filter_map(|tail| {
            let (name, word) = words.split_at(words.len() - tail);
            let meaning = regions.meaning(&word.join(" "));
            (!meaning.is_empty()).then(|| Reading { name: name.join(" "), within: vec![meaning] })
        })
        .collect()
}

/// The number in brackets at the end.
fn numbered(text: &str) -> Option<TownId> {
    let (_, rest) = text.rsplit_once('(')?;
    rest.strip_suffix(')')?.trim().parse().ok().map(TownId)
}

/// Other ways to write a folded name, tried where it was not found: saints and mounts short and long, umlauts written with an e.
pub fn other_spellings(name: &str) -> Vec<String> {
    const FIRST_WORDS: [(&str, &str); 8] = [
        ("st", "saint"),
        ("st", "sankt"),
        ("st", "sint"),
        ("ste", "sainte"),
        ("mt", "mount"),
        ("ft", "fort"),
        ("pt", "port"),
        ("sto", "santo"),
    ];
    let mut others = Vec::new();
    if let Some((first, rest)) = name.split_once(' ') {
        for (short, long) in FIRST_WORDS {
            if first == short {
                others.push(format!("{long} {rest}"));
            } else if first == long {
                others.push(format!("{short} {rest}"));
            }
        }
    }
    let plain = name.replace("ae", "a").replace("oe", "o").replace("ue", "u");
    if plain != name {
        others.push(plain);
    }
    let joined = name.replace(' ', "");
    if joined != name {
        others.push(joined);
    }
    others
}
