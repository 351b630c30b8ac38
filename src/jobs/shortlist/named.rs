//! Figs by any of their names, as people write them in a question.

use crate::catalogue::{Catalogue, Cultivar, NameMatch};
use crate::input::errors::FieldErrors;
use crate::jobs::shortlist::question::Question;
use crate::jobs::shortlist::stands::written_out;

/// Parameter with the figs that are there already, parted by commas.
pub const HAVE: &str = "have";
/// Most figs that are taken as there already. DESIGN: beyond it another changes nothing that could be seen.
const MOST_HAD: usize = 12;

/// The place in the catalogue of a fig by slug or any name.
pub fn identified(catalogue: &Catalogue, written: &str) -> Result<usize, String> {
    let written = written.trim();
    let none = || format!("no fig of the catalogue is called “{}”", written.chars().take(40).collect::<String>());
    let names = |several: &[&Cultivar]| several.iter().map(|c| c.name.as_str()).collect::<Vec<_>>().join(" or ");
    let found = match (catalogue.get(written), catalogue.identify(written)) {
        (Some(fig), _) | (None, NameMatch::Accepted(fig) | NameMatch::Synonym(fig)) => fig,
        (None, NameMatch::Ambiguous(several)) => return Err(format!("“{written}” is a name of {}; choose one", names(&several))),
        (None, NameMatch::Unknown(offers)) if offers.is_empty() => return Err(none()),
        (None, NameMatch::Unknown(offers)) => {
            return Err(format!("{}; did you mean {}?", none(), names(&offers)));
        }
    };
    catalogue.cultivars().iter().position(|c| c.slug == found.slug).ok_or_else(none)
}

impl Question {
    /// Reads a question with the figs that are there already, by any of their names.
    pub fn parse_for(pairs: &[(String, String)], strict: bool, catalogue: &Catalogue) -> Result<Self, FieldErrors> {
        let (had, rest): (Vec<_>, Vec<_>) = written_out(pairs).into_iter().partition(|(name, _)| name == HAVE);
        let mut errors = FieldErrors::default();
        let have = Self::read_have(&had, catalogue, &mut errors);
        let question = FieldErrors::together(errors.into_result(), Self::parse(&rest, strict))?;
        Ok(Self { have, ..question })
    }

    /// Slugs of the figs named, each once, in the order of naming.
    pub fn read_have(pairs: &[(String, String)], catalogue: &Catalogue, errors: &mut FieldErrors) -> Vec<String> {
        let mut have: Vec<String> = Vec::new();
        for written in pairs.iter().flat_map(|(_, value)| value.split(',')).map(str::trim).filter(|name| !name.is_empty()) {
            match identified(catalogue, written) {
                Ok(place) => have.extend(catalogue.cultivars().get(place).map(|fig| fig.slug.to_string())),
                Err(message) => errors.add(HAVE, written, message),
            }
        }
        let mut seen = std::collections::BTreeSet::new();
        have.retain(|slug| seen.insert(slug.clone()));
        if have.len() > MOST_HAD {
            errors.add(HAVE, &have.len().to_string(), format!("at most {MOST_HAD} figs are taken as there already"));
        }
        have
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::snapshot::Snapshot;

    #[test]
    fn figs_that_are_there_are_read_by_any_name_once_each_and_a_wrong_one_is_named() {
        let snapshot = Snapshot::from_seed().unwrap();
        let read = |have: &str| {
            let pairs = [("zone", "7a"), ("have", have)].map(|(k, v)| (k.to_owned(), v.to_owned()));
            Question::parse_for(&pairs, true, &snapshot.catalogue)
        };
        let question = read("Celeste, brown turkey, celeste").unwrap();
        assert_eq!(question.have, ["celeste", "brown-turkey"]);
        assert!(question.to_query().ends_with("&have=celeste,brown-turkey"), "{}", question.to_query());
        let wrong = read("Celeste, no such fig at all").unwrap_err();
        assert!(wrong.iter().any(|e| e.field == HAVE && e.value.contains("no such fig")), "{wrong}");
    }
}
