//! `winterfig vents`: openings and shade for a sunny day, as the API answers.

use std::io::Write;

use super::{CliError, json_file, spring};
use crate::input::errors::FieldErrors;
use crate::jobs::shelter::json_vents::VentsJson;
use crate::jobs::shelter::vents::{PARAMETERS, VentsQuestion};
use crate::model::snapshot::Snapshot;

/// Arguments of `vents`.
#[derive(Debug, clap::Args)]
pub struct Vents {
    /// The sunny day: summer, february
    #[arg(long, value_name = "WORD")]
    sky: Option<String>,
    /// Warmer than outside by no more than this, K
    #[arg(long, value_name = "K", allow_hyphen_values = true)]
    rise_k: Option<String>,
    /// Light that shade cloth stops, per cent
    #[arg(long, value_name = "PERCENT", allow_hyphen_values = true)]
    shade_percent: Option<String>,
    /// Another parameter as the API names it, for example length_m=6; may be repeated
    #[arg(long = "with", value_name = "NAME=VALUE")]
    with: Vec<String>,
}

/// Answers as JSON.
pub fn run(arguments: &Vents, out: &mut dyn Write) -> Result<(), CliError> {
    let snapshot = Snapshot::from_seed().map_err(anyhow::Error::from)?;
    let named = [("sky", &arguments.sky), ("rise_k", &arguments.rise_k), ("shade_percent", &arguments.shade_percent)];
    let pairs = spring::pairs(named, &arguments.with)?;
    let unknown = FieldErrors::refuse_unknown(&pairs, |name| PARAMETERS.contains(&name), spring::IN_THE_API);
    let question = FieldErrors::together(unknown, VentsQuestion::parse(&pairs)).map_err(|errors| CliError::Input(errors.to_string()))?;
    json_file::write(&VentsJson::of(&question, &snapshot.vents(&question)), out)
}
