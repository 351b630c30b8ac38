//! What a reader should know about a fit, in words: shown on the page of the model, by `winterfig fit`, and kept with the model.

use crate::science::hardiness::level::DamageLevel;
use crate::science::hardiness::ordinal::Diagnostic;
use crate::science::hardiness::posterior::Fitted;

/// A diagnostic of a fit, as a clause.
pub fn diagnostic_words(diagnostic: &Diagnostic) -> String {
    match diagnostic {
        Diagnostic::NotConverged { gain } => format!("the search stopped with about {gain:.1e} of log-likelihood left to gain"),
        Diagnostic::AtBound { parameter: Fitted::STEEPNESS, .. } => {
            "the steepness lies at the edge of its range: the reports separate perfectly, or say nothing of the cold".to_owned()
        }
        Diagnostic::AtBound { value, .. } => {
            format!(
                "a spread, gap or effect lies at the edge of its range ({value:.2} on the search scale): the reports do not tell it from none"
            )
        }
        Diagnostic::LevelNotSeen { level } => {
            let name = DamageLevel::from_index(*level).map_or_else(String::new, |l| l.label().to_owned());
            format!("no report has the level {level} ({name}), so its threshold rests on the prior alone")
        }
        Diagnostic::Unidentified => "some steepness, gap or spread is not told by the reports".to_owned(),
        Diagnostic::Singular => "some cultivar or effect has neither reports nor a prior".to_owned(),
        // The inner mode; and whatever the engine may come to find.
        _ => "the effects were not found to full precision".to_owned(),
    }
}
