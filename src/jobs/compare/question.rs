//! Which figs, and where: read once into typed values.

use crate::catalogue::Catalogue;
use crate::input::errors::FieldErrors;
use crate::jobs::shortlist::named::identified;
use crate::jobs::shortlist::question::Question;
use crate::jobs::shortlist::wants::Wants;

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
        let place = FieldErrors::together(errors.into_result(), Question::parse(&rest, strict))?;
        let mut not_here = FieldErrors::default();
        for (name, word) in place.wants.pairs().into_iter().filter(|_| strict) {
            not_here.add(name, word, "a comparison is of the figs named; filters and wishes go with a shortlist");
        }
        not_here.into_result()?;
        Ok(Self { figs, place: Question { wants: Wants::default(), ..place } })
    }

    /// The address of this question without its path.
    pub fn to_query(&self, catalogue: &Catalogue) -> String {
        let figs = self.figs.iter().filter_map(|&fig| catalogue.cultivars().get(fig));
        let named = figs.map(|fig| format!("{CULTIVAR}={}", fig.slug));
        named.chain([self.place.to_query()]).collect::<Vec<_>>().join("&")
    }
}
