//! The town of a member's garden: where most of their plants stand, kept with the plants and nowhere else.

use std::collections::BTreeMap;

use crate::places::Gazetteer;
use crate::records::Member;
use crate::store::{Store, StoreError};

/// The town that most of a member's plants name, in their words; `None` where they name none that can be looked up.
pub async fn usual_place(store: &dyn Store, member: &Member) -> Result<Option<String>, StoreError> {
    let plants = store.plants_of(member.id).await?;
    let mut counted: BTreeMap<&str, usize> = BTreeMap::new();
    for words in plants.iter().filter_map(|plant| plant.place.words.as_deref()) {
        *counted.entry(words).or_default() += 1;
    }
    let Ok(towns) = Gazetteer::embedded() else { return Ok(None) };
    let known = counted.into_iter().filter(|(words, _)| towns.named(words).is_some());
    Ok(known.max_by_key(|(_, plants)| *plants).map(|(words, _)| words.to_owned()))
}
