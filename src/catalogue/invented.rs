//! The invented cultivars of the demonstration: `seed-data/invented-cultivars.csv`. Simulated reports and gardens are about these alone, so that
//! no real cultivar is said to have lived or died where it did not.

use serde::Deserialize;

use super::cultivar::Cultivar;
use super::provenance::{Grade, Source, SourceKey};
use super::seed::{CatalogueRecords, CultivarRecord, FactRecord};
use super::{Catalogue, CatalogueError};

const TEXT: &str = include_str!("../../seed-data/invented-cultivars.csv");
/// Key of the source that every invented fact names.
const KEY: &str = "INVENTED";

#[derive(Debug, Deserialize)]
struct Row {
    slug: String,
    name: String,
    class: String,
    fruit_kind: String,
    crop_habit: String,
    ripening: String,
    fruits_on_regrowth: String,
}

impl Row {
    fn facts(&self) -> impl Iterator<Item = FactRecord> + '_ {
        let traits = [
            ("fruit_kind", &self.fruit_kind),
            ("crop_habit", &self.crop_habit),
            ("hardiness_class", &self.class),
            ("ripening", &self.ripening),
            ("fruits_on_regrowth", &self.fruits_on_regrowth),
        ];
        traits.into_iter().filter(|(_, value)| !value.is_empty()).map(|(trait_name, value)| FactRecord {
            cultivar: self.slug.clone(),
            trait_name: trait_name.to_owned(),
            value: value.clone(),
            remark: "invented".to_owned(),
            provenance: "READ".to_owned(),
            sources: KEY.to_owned(),
        })
    }
}

impl CatalogueRecords {
    /// The shipped records and the invented cultivars after them.
    ///
    /// # Errors
    /// A shipped table that does not read.
    pub fn with_invented() -> Result<Self, CatalogueError> {
        let mut records = Self::embedded()?;
        records.sources.push(Source {
            key: SourceKey::new(KEY),
            title: "Invented for the demonstration; there is no such fig".to_owned(),
            author: None,
            year: None,
            address: None,
            grade: Grade::C,
        });
        for row in csv::Reader::from_reader(TEXT.as_bytes()).deserialize::<Row>() {
            let row = row.map_err(|error| CatalogueError::Csv { file: "invented-cultivars.csv", reason: error.to_string() })?;
            records.cultivars.push(CultivarRecord {
                slug: row.slug.clone(),
                name: row.name.clone(),
                sources: KEY.to_owned(),
                note: "Invented for the demonstration: there is no such fig, and nothing said of it is true of any.".to_owned(),
            });
            records.facts.extend(row.facts());
        }
        Ok(records)
    }

    /// Version of the shipped records with the invented ones.
    pub fn version_with_invented() -> String {
        format!("{}+invented", Self::embedded_version())
    }
}

impl Cultivar {
    /// Whether it is one of the demonstration's.
    pub fn is_invented(&self) -> bool {
        self.sources.iter().any(|key| key.as_str() == KEY)
    }
}

impl Catalogue {
    /// Whether it holds invented cultivars: reports are simulated then, and about those alone.
    pub fn has_invented(&self) -> bool {
        self.cultivars().iter().any(Cultivar::is_invented)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn invented_cultivars_say_so_in_their_names_and_stand_after_every_real_one() {
        let (real, all) = (Catalogue::embedded().unwrap(), CatalogueRecords::with_invented().unwrap().assemble().unwrap());
        assert!(!real.has_invented() && all.has_invented());
        let (shipped, invented) = all.cultivars().split_at(real.cultivars().len());
        assert_eq!(shipped, real.cultivars());
        assert!(invented.len() >= 10);
        for cultivar in invented {
            assert!(cultivar.is_invented() && cultivar.name.ends_with(" (invented)") && cultivar.slug.as_str().starts_with("invented-"));
            let plain = cultivar.name.trim_end_matches(" (invented)");
            assert!(matches!(real.identify(plain), super::super::NameMatch::Unknown(_)), "{plain} is a name of a real fig");
        }
        assert_ne!(CatalogueRecords::version_with_invented(), CatalogueRecords::embedded_version());
    }
}
