//! `winterfig sticks`: how many to stick to be sure of so many rooted, as the API answers.

use std::io::Write;

use super::{CliError, json_file};
use crate::jobs::propagation::json::SticksJson;
use crate::jobs::propagation::sticks::SticksQuestion;
use crate::model::snapshot::Snapshot;

/// Arguments of `sticks`.
#[derive(Debug, clap::Args)]
pub struct Sticks {
    /// Rooted plants wanted
    #[arg(long, value_name = "N")]
    wanted: String,
    /// Method, for example hardwood_soil or layering
    #[arg(long, value_name = "WORD")]
    method: Option<String>,
    /// On bottom heat
    #[arg(long)]
    bottom_heat: bool,
    /// How sure, in percent
    #[arg(long, value_name = "PERCENT")]
    confidence: Option<String>,
    /// Sticks and rooted of an own batch of this kind, for example 30:24; may be repeated
    #[arg(long = "batch", value_name = "STUCK:ROOTED")]
    batches: Vec<String>,
}

/// Answers as JSON.
pub fn run(args: &Sticks, out: &mut dyn Write) -> Result<(), CliError> {
    let said = [("wanted", Some(&args.wanted)), ("method", args.method.as_ref()), ("confidence", args.confidence.as_ref())];
    let mut pairs: Vec<(String, String)> = said.into_iter().filter_map(|(name, value)| Some((name.to_owned(), value?.clone()))).collect();
    if args.bottom_heat {
        pairs.push(("bottom_heat".to_owned(), "yes".to_owned()));
    }
    let input = |errors: crate::input::errors::FieldErrors| CliError::Input(errors.to_string());
    let question = SticksQuestion::parse(&pairs).map_err(input)?;
    let given: Vec<&str> = args.batches.iter().map(String::as_str).collect();
    let own = question.batches(&given).map_err(input)?;
    let snapshot = Snapshot::from_seed().map_err(anyhow::Error::from)?;
    json_file::write(&SticksJson::of(&snapshot.sticks(question, &own), &snapshot), out)
}
