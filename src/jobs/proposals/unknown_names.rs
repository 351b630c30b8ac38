//! Names in members' gardens that no entry has: spellings that fold alike together, those written most often first, with the nearest entries.

use std::collections::HashMap;

use crate::catalogue::{Catalogue, Cultivar, NameMatch, names};
use crate::records::WrittenName;

/// One name, however it was written.
#[derive(Debug, Clone, PartialEq)]
pub struct UnknownName<'a> {
    /// The way that it is written most often.
    pub name: String,
    /// Other ways.
    pub also: Vec<String>,
    /// Plants.
    pub plants: i64,
    /// Their reports.
    pub reports: i64,
    /// Entries it may mean, nearest first.
    pub nearest: Vec<&'a Cultivar>,
    /// Whether several figs go by this very name, or are taken for each other under it.
    pub is_shared: bool,
}

/// The queue: names that a steward marked as dubious are left out.
pub fn queue<'a>(written: &[WrittenName], catalogue: &'a Catalogue) -> Vec<UnknownName<'a>> {
    let settled: Vec<String> = catalogue.dubious().iter().map(|dubious| names::fold(&dubious.name)).collect();
    let mut places: HashMap<String, usize> = HashMap::new();
    let mut all: Vec<UnknownName<'a>> = Vec::new();
    for name in written {
        let folded = names::fold(&name.written);
        if settled.contains(&folded) {
            continue;
        }
        if let Some(one) = places.get(&folded).and_then(|&at| all.get_mut(at)) {
            one.plants += name.plants;
            one.reports += name.reports;
            one.also.push(name.written.clone());
            continue;
        }
        places.insert(folded, all.len());
        let (nearest, is_shared) = match catalogue.identify(&name.written) {
            NameMatch::Accepted(fig) | NameMatch::Synonym(fig) => (vec![fig], false),
            NameMatch::Ambiguous(several) => (several, true),
            NameMatch::Unknown(offers) => (offers, false),
        };
        all.push(UnknownName {
            name: name.written.clone(),
            also: Vec::new(),
            plants: name.plants,
            reports: name.reports,
            nearest,
            is_shared,
        });
    }
    all.sort_by_key(|name| std::cmp::Reverse((name.reports, name.plants)));
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spellings_of_one_name_stand_together_and_a_shared_name_is_called_shared() {
        let catalogue = Catalogue::embedded().unwrap();
        let name = |written: &str, plants, reports| WrittenName { written: written.to_owned(), plants, reports };
        let all = queue(&[name("Violette", 1, 4), name("Östra Moss", 2, 3), name("ostra-moss", 1, 2), name("Brunswik", 1, 1)], &catalogue);
        let told: Vec<_> = all.iter().map(|n| (n.name.as_str(), n.plants, n.reports, n.is_shared)).collect();
        assert_eq!(told, [("Östra Moss", 3, 5, false), ("Violette", 1, 4, true), ("Brunswik", 1, 1, false)]);
        assert_eq!(all[2].nearest[0].slug.as_str(), "brunswick");
        assert_eq!(all[0].also, ["ostra-moss"]);
    }
}
