//! Regions and countries: which a town lies in, and which are meant by a word.

use std::collections::HashMap;

use serde::Deserialize;

use super::error::PlacesError;
use super::file::{Part, PlacesFile, inflate};
use super::folding::fold;

/// Countries by their two letters of ISO 3166-1 (XK for Kosovo, as GeoNames and CLDR write it) with their names in English and other languages: CLDR as
/// carried by Babel 2.19.0, with common short forms of eight of them added (COMMON_PRACTICE).
const COUNTRIES: &str = include_str!("../../seed-data/countries.csv");
/// Fewest letters of a region's name that stand for it: “Ill”, “Calif”.
const FEWEST_LETTERS: usize = 3;

/// Postal abbreviations of provinces and states that GeoNames does not use as codes: Canada Post and Australia Post, COMMON_PRACTICE.
const ABBREVIATIONS: [(&str, &str, &str); 21] = [
    ("CA", "ab", "alberta"),
    ("CA", "bc", "british columbia"),
    ("CA", "mb", "manitoba"),
    ("CA", "nb", "new brunswick"),
    ("CA", "nl", "newfoundland and labrador"),
    ("CA", "ns", "nova scotia"),
    ("CA", "nt", "northwest territories"),
    ("CA", "nu", "nunavut"),
    ("CA", "on", "ontario"),
    ("CA", "pe", "prince edward island"),
    ("CA", "qc", "quebec"),
    ("CA", "sk", "saskatchewan"),
    ("CA", "yt", "yukon"),
    ("AU", "act", "australian capital territory"),
    ("AU", "nsw", "new south wales"),
    ("AU", "nt", "northern territory"),
    ("AU", "qld", "queensland"),
    ("AU", "sa", "south australia"),
    ("AU", "tas", "tasmania"),
    ("AU", "vic", "victoria"),
    ("AU", "wa", "western australia"),
];

/// A country.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Country {
    /// Two letters.
    pub code: String,
    /// Name in English.
    pub name: String,
}

/// A first-level region of a country.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Region {
    /// Its country, as an index.
    pub country: usize,
    /// Code within the country, as GeoNames has it.
    pub code: String,
    /// Name; empty where GeoNames has none.
    pub name: String,
    folded: String,
    first_slot: u32,
}

/// Regions in the order of slots, and countries.
pub struct Regions {
    countries: Vec<Country>,
    regions: Vec<Region>,
    /// Countries by code and by each of their names, folded.
    words: HashMap<String, Vec<usize>>,
    /// Regions by name, by a code of letters, and by abbreviation, folded.
    region_words: HashMap<String, Vec<usize>>,
    /// Regions in the order of their folded names.
    by_name: Vec<usize>,
}

/// What a word after a town's name means: a town fits when its country or region is among these.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Meaning {
    countries: Vec<usize>,
    regions: Vec<usize>,
    /// Whether the word is only the beginning of these regions' names.
    begun: bool,
}

impl Meaning {
    /// Whether the word is only the beginning of a region's name.
    pub const fn is_begun(&self) -> bool {
        self.begun
    }

    /// Whether the word means nothing.
    pub fn is_empty(&self) -> bool {
        self.countries.is_empty() && self.regions.is_empty()
    }
}

#[derive(Deserialize)]
struct CountryRow {
    code: String,
    name: String,
    other_names: String,
}

#[derive(Deserialize)]
struct RegionRow {
    cc: String,
    code: String,
    name: String,
    first_slot: u32,
}

impl Regions {
    /// Reads both tables.
    pub fn open(file: &PlacesFile) -> Result<Self, PlacesError> {
        let mut countries = Vec::new();
        let mut words: HashMap<String, Vec<usize>> = HashMap::new();
        for row in csv::Reader::from_reader(COUNTRIES.as_bytes()).deserialize() {
            let row: CountryRow = row.map_err(|_| PlacesError { part: "countries" })?;
            for word in [&row.code, &row.name].into_iter().map(String::as_str).chain(row.other_names.split('|')) {
                let meant = words.entry(fold(word)).or_default();
                if !meant.contains(&countries.len()) {
                    meant.push(countries.len());
                }
            }
            countries.push(Country { code: row.code, name: row.name });
        }
        let text = inflate(file.part(Part::Regions)).ok_or(PlacesError { part: "regions" })?;
        let regions = csv::Reader::from_reader(text.as_slice())
            .deserialize()
            .map(|row| {
                let row: RegionRow = row.map_err(|_| PlacesError { part: "regions" })?;
                let country = countries.iter().position(|c| c.code == row.cc).ok_or(PlacesError { part: "countries of regions" })?;
                Ok(Region { country, folded: fold(&row.name), code: row.code, name: row.name, first_slot: row.first_slot })
            })
            .collect::<Result<Vec<Region>, PlacesError>>()?;
        let mut by_name: Vec<usize> = (0..regions.len()).collect();
        by_name.sort_by(|a, b| regions[*a].folded.cmp(&regions[*b].folded));
        let mut region_words: HashMap<String, Vec<usize>> = HashMap::new();
        for (index, region) in regions.iter().enumerate() {
            for word in words_of(region, &countries) {
                let meant = region_words.entry(word).or_default();
                if meant.last() != Some(&index) {
                    meant.push(index);
                }
            }
        }
        Ok(Self { countries, regions, words, region_words, by_name })
    }

    /// The region that holds a slot, as an index.
    pub fn index_of(&self, slot: u32) -> Option<usize> {
        self.regions.partition_point(|r| r.first_slot <= slot).checked_sub(1)
    }

    /// The region that holds a slot, and its country.
    pub fn of(&self, slot: u32) -> Option<(&Region, &Country)> {
        let region = self.regions.get(self.index_of(slot)?)?;
        Some((region, self.countries.get(region.country)?))
    }

    /// Whether the town at a slot lies where each of the words says.
    pub fn fits(&self, slot: u32, meanings: &[Meaning]) -> bool {
        let Some(index) = self.index_of(slot) else { return false };
        meanings.iter().all(|m| m.regions.contains(&index) || self.regions.get(index).is_some_and(|r| m.countries.contains(&r.country)))
    }

    /// What a word means: a country by code or name, a region by code, abbreviation, name or the beginning of its name.
    pub fn meaning(&self, word: &str) -> Meaning {
        let word = fold(word);
        let word = word.strip_prefix("the ").unwrap_or(&word);
        if word.is_empty() {
            return Meaning::default();
        }
        let countries = self.words.get(word).cloned().unwrap_or_default();
        let letters = word.chars().count();
        let mut regions = self.region_words.get(word).cloned().unwrap_or_default();
        let begun = countries.is_empty() && regions.is_empty();
        if begun && letters >= FEWEST_LETTERS {
            let first = self.by_name.partition_point(|&i| self.regions[i].folded.as_str() < word);
            regions = self.by_name[first..].iter().copied().take_while(|&i| self.regions[i].folded.starts_with(word)).collect();
            regions.sort_unstable();
        }
        Meaning { countries, regions, begun }
    }
}

/// Everything that a region is called, folded: its name, its code where that is of letters (a number means nothing to a reader), and the
/// abbreviations in use.
fn words_of(region: &Region, countries: &[Country]) -> impl Iterator<Item = String> {
    let country = countries.get(region.country).map_or("", |c| c.code.as_str());
    let code = region.code.chars().all(char::is_alphabetic).then(|| region.code.to_lowercase());
    let short =
        ABBREVIATIONS.iter().filter(|(cc, _, name)| *cc == country && *name == region.folded).map(|(_, short, _)| (*short).to_owned());
    std::iter::once(region.folded.clone()).chain(code).chain(short).collect::<Vec<_>>().into_iter()
}
