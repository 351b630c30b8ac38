//! Which names a town is found by.

use std::collections::{BTreeMap, HashMap};

use winterfig_core::places::folding::fold;

use super::tables::{OtherNames, Place};

/// Fewest people of a town whose other names in Latin letters are kept: most of those of villages are transliterations there and back.
const FEWEST_PEOPLE: u64 = 1000;
/// Longest other name kept, bytes: longer ones are descriptions.
const LONGEST_OTHER: usize = 48;

/// Slots by folded name, most people first.
pub fn by_name(places: &[Place], slot_of: &[u32], others: &[OtherNames]) -> BTreeMap<String, Vec<u32>> {
    let place_of: HashMap<u32, usize> = places.iter().enumerate().map(|(i, p)| (p.id, i)).collect();
    // By the place in the table, which is ordered by people, so that lists come out in that order.
    let mut names: BTreeMap<String, Vec<usize>> = BTreeMap::new();
    let mut other_names: Vec<&str> = vec![""; places.len()];
    for row in others {
        other_names[place_of[&row.id]] = &row.alt_names;
    }
    for (i, place) in places.iter().enumerate() {
        for name in names_of(place, other_names[i]) {
            names.entry(name).or_default().push(i);
        }
    }
    names.into_iter().map(|(name, towns)| (name, towns.into_iter().map(|i| slot_of[i]).collect())).collect()
}

/// The folded name, and the folded other names that look-up does not reach from those already held.
fn names_of(place: &Place, others: &str) -> Vec<String> {
    let own = fold(&place.name);
    let mut held = vec![own.clone()];
    for other in others.split('|') {
        let folded = fold(other);
        if folded.is_empty() || folded.len() > LONGEST_OTHER || is_transliteration(other, &place.name) || is_code(other) {
            continue;
        }
        if is_latin(&folded) && (place.pop < FEWEST_PEOPLE || format!(" {folded} ").contains(&format!(" {own} "))) {
            continue;
        }
        // One letter off is found with a slip allowed; a longer form of a name is found by nobody who stops typing at the name.
        if held.iter().any(|h| *h == folded || one_letter_off(h, &folded) || folded.starts_with(&format!("{h} "))) {
            continue;
        }
        held.push(folded);
    }
    held.retain(|h| !h.is_empty());
    held
}

/// Other scripts written in Latin letters by a machine begin with a small letter in GeoNames ("shanghhay") or have a soft sign that the
/// town's own name has not ("Ledevil'").
fn is_transliteration(other: &str, own: &str) -> bool {
    let marked = |name: &str| name.contains(['\'', '’']);
    is_latin(other) && (other.chars().next().is_some_and(char::is_lowercase) || (marked(other) && !marked(own)))
}

/// Whether a name begins in Latin letters.
fn is_latin(name: &str) -> bool {
    name.chars().next().is_some_and(|c| (c as u32) < 0x250)
}

/// Codes of airports.
fn is_code(name: &str) -> bool {
    name.len() <= 3 && name.chars().all(|c| c.is_ascii_uppercase())
}

/// Names of five letters or more with the same first letter that differ by one letter mistaken, added or left out.
fn one_letter_off(a: &str, b: &str) -> bool {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    if a.len().min(b.len()) < 5 || a[0] != b[0] || a.len().abs_diff(b.len()) > 1 {
        return false;
    }
    let same = a.iter().zip(&b).take_while(|(x, y)| x == y).count();
    let rest = |x: &[char], skip: usize| x.get(same + skip..).map(<[char]>::to_vec).unwrap_or_default();
    rest(&a, 1) == rest(&b, 1) || rest(&a, 0) == rest(&b, 1) || rest(&a, 1) == rest(&b, 0)
}
