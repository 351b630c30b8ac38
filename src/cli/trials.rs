//! `winterfig trials`: which trial next at a place, as the API answers where no question has been counted.

use std::io::Write;

use super::{CliError, json_file};
use crate::input::errors::FieldErrors;
use crate::jobs::shortlist::question::Question;
use crate::jobs::trials::answer::limit;
use crate::jobs::trials::json::TrialsJson;
use crate::model::snapshot::Snapshot;

/// Arguments of `trials`.
#[derive(Debug, clap::Args)]
pub struct Trials {
    /// A town with its country
    #[arg(long, value_name = "WORDS")]
    place: Option<String>,
    /// Half-zone, for example 7a
    #[arg(long, value_name = "ZONE")]
    zone: Option<String>,
    /// How many, 1 to 100
    #[arg(long, value_name = "N")]
    limit: Option<String>,
}

/// Answers as JSON.
pub fn run(args: &Trials, out: &mut dyn Write) -> Result<(), CliError> {
    let said = |name: &str, value: &Option<String>| value.clone().map(|value| (name.to_owned(), value));
    let input = |errors: FieldErrors| CliError::Input(errors.to_string());
    let most = limit(&said("limit", &args.limit).into_iter().collect::<Vec<_>>()).map_err(input)?;
    let pairs: Vec<(String, String)> = said("place", &args.place).into_iter().chain(said("zone", &args.zone)).collect();
    let question = Question::parse(&pairs, true).map_err(input)?;
    let snapshot = Snapshot::from_seed().map_err(anyhow::Error::from)?;
    json_file::write(&TrialsJson::of(&snapshot.trials(&question, &[], &[], most)), out)
}
