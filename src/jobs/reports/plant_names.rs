//! Which cultivars a plant may be whose name is not settled.

use crate::catalogue::{Catalogue, Cultivar, NameMatch};
use crate::model::snapshot::Snapshot;
use crate::records::Plant;

/// Most cultivars offered for a name.
const MOST_OFFERED: usize = 3;

/// What a plant may be whose name is not one of the catalogue's, or is several figs': the nearest first.
pub fn may_be<'a>(plant: &Plant, catalogue: &'a Catalogue) -> Vec<&'a Cultivar> {
    let known = plant.cultivar.as_ref().is_some_and(|slug| catalogue.get(slug.as_str()).is_some());
    match catalogue.identify(&plant.name_written) {
        NameMatch::Ambiguous(mut offers) | NameMatch::Unknown(mut offers) if !known => {
            offers.truncate(MOST_OFFERED);
            offers
        }
        _ => Vec::new(),
    }
}

/// What a plant may be, as offered to its owner: slug and name.
pub fn offered(plant: &Plant, snapshot: &Snapshot) -> Vec<(String, String)> {
    may_be(plant, &snapshot.catalogue).into_iter().map(|c| (c.slug.to_string(), c.name.clone())).collect()
}
