//! `winterfig spots`: what each spot of a garden is worth, as the API answers.

use std::io::Write;

use super::{CliError, json_file};
use crate::jobs::spots::answer::{PARAMETER, SpotsQuestion, answer};
use crate::jobs::spots::json::SpotsJson;
use crate::model::snapshot::Snapshot;

/// Arguments of `spots`.
#[derive(Debug, clap::Args)]
pub struct Spots {
    /// What holds of one spot, parted by commas: town,wall
    #[arg(long, value_name = "WORDS")]
    setting: Option<String>,
}

/// Answers as JSON.
pub fn run(arguments: &Spots, out: &mut dyn Write) -> Result<(), CliError> {
    let snapshot = Snapshot::from_seed().map_err(anyhow::Error::from)?;
    let pairs: Vec<(String, String)> = arguments.setting.iter().map(|words| (PARAMETER.to_owned(), words.clone())).collect();
    let question = SpotsQuestion::parse(&pairs).map_err(|errors| CliError::Input(errors.to_string()))?;
    json_file::write(&SpotsJson::of(&answer(question, &snapshot)), out)
}
