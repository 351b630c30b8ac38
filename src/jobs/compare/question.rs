//! Which figs, and where: read once into typed values.

use crate::catalogue::{Catalogue, Cultivar, NameMatch};
use crate::input::errors::FieldErrors;
use crate::jobs::shortlist::question::Question;

/// Fewest and most figs that are compared.
pub const FIGS: (usize, usize) = (2, 4);
/// Parameter that names a fig; given once for each.
pub const CULTIVAR: &str = "cultivar";

/// A whole question.
#[derive(Debug, Clone, PartialEq)]
pub struct CompareQuestion {
    /// Places of the figs in the catalogue, as asked, no two the same.
    pub figs: Vec<usize>,
    /// Where they would stand.
    pub place: Question,
}

impl CompareQuestion {
    /// Reads a question. With `strict`, parameters that it does not take are errors too.
    pub fn parse(pairs: &[(String, String)], strict: bool, catalogue: &Catalogue) -> Result<Self, FieldErrors> {
        let mut errors = FieldErrors::default();
        let (named, rest): (Vec<_>, Vec<_>) = pairs.iter().cloned().partition(|(name, _)| name == CULTIVAR);
        let mut figs = Vec::new();
        for (_, written) in named.iter().filter(|(_, value)| !value.trim().is_empty()) {
            match identified(catalogue, written) {
                Ok(place) if figs.contains(&place) => {
                    errors.add(CULTIVAR, written, "this fig is named twice (perhaps by another of its names); give each once");
                }
                Ok(place) => figs.push(place),
                Err(message) => errors.add(CULTIVAR, written, message),
            }
        }
        let (fewest, most) = FIGS;
        if errors.of(CULTIVAR).is_none() && !(fewest..=most).contains(&figs.len()) {
            let read = figs.len().to_string();
            errors.add(CULTIVAR, &read, format!("{fewest} to {most} figs are compared; name that many"));
        }
        match (Question::parse(&rest, strict), errors.into_result()) {
            (Ok(place), Ok(())) => Ok(Self { figs, place }),
            (Ok(_), Err(errors)) => Err(errors),
            (Err(wrong), errors) => {
                let mut all = errors.err().unwrap_or_default();
                wrong.into_vec().into_iter().for_each(|e| all.add(e.field, &e.value, e.message));
                Err(all)
            }
        }
    }

    /// The address of this question without its path.
    pub fn to_query(&self, catalogue: &Catalogue) -> String {
        let figs = self.figs.iter().filter_map(|&fig| catalogue.cultivars().get(fig));
        let named = figs.map(|fig| format!("{CULTIVAR}={}", fig.slug));
        named.chain([self.place.to_query()]).collect::<Vec<_>>().join("&")
    }
}

/// The place in the catalogue of a fig by slug or any name.
fn identified(catalogue: &Catalogue, written: &str) -> Result<usize, String> {
    let written = written.trim();
    let names = |several: &[&Cultivar]| several.iter().map(|c| c.name.as_str()).collect::<Vec<_>>().join(" or ");
    let found = match (catalogue.get(written), catalogue.identify(written)) {
        (Some(fig), _) | (None, NameMatch::Accepted(fig) | NameMatch::Synonym(fig)) => fig,
        (None, NameMatch::Ambiguous(several)) => return Err(format!("this is a name of {}; choose one", names(&several))),
        (None, NameMatch::Unknown(offers)) if offers.is_empty() => return Err("no fig of the catalogue goes by this name".to_owned()),
        (None, NameMatch::Unknown(offers)) => {
            return Err(format!("no fig of the catalogue goes by this name; did you mean {}?", names(&offers)));
        }
    };
    catalogue.cultivars().iter().position(|c| c.slug == found.slug).ok_or_else(|| "no fig of the catalogue goes by this name".to_owned())
}
