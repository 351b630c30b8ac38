//! `winterfig small-heat`: what bulbs, a cable or a mat under a cover gain, as the API answers; its cautions first.

use std::io::Write;

use super::{CliError, json_file, spring};
use crate::input::errors::FieldErrors;
use crate::jobs::covers::heat::{HeatQuestion, PARAMETERS};
use crate::jobs::covers::json::SmallHeatJson;
use crate::model::snapshot::Snapshot;

/// Arguments of `small-heat`.
#[derive(Debug, clap::Args)]
pub struct SmallHeat {
    /// What gives the heat: cable, mat, bulb_old, bulb_led, lamp
    #[arg(long, value_name = "WORD")]
    heat: Option<String>,
    /// How many bulbs, mats, lamps or metres of cable
    #[arg(long, value_name = "N", allow_hyphen_values = true)]
    count: Option<String>,
    /// Degrees wanted from the heat, K: answered in watts
    #[arg(long, value_name = "K", allow_hyphen_values = true)]
    wanted_k: Option<String>,
    /// Another parameter as the API names it, for example skin=film; may be repeated
    #[arg(long = "with", value_name = "NAME=VALUE")]
    with: Vec<String>,
}

/// Answers as JSON.
pub fn run(arguments: &SmallHeat, out: &mut dyn Write) -> Result<(), CliError> {
    let snapshot = Snapshot::from_seed().map_err(anyhow::Error::from)?;
    let named = [("heat", &arguments.heat), ("count", &arguments.count), ("wanted_k", &arguments.wanted_k)];
    let pairs = spring::pairs(named, &arguments.with)?;
    let refused = |errors: FieldErrors| CliError::Input(errors.to_string());
    let unknown = FieldErrors::refuse_unknown(&pairs, |name| PARAMETERS.contains(&name), spring::IN_THE_API);
    let question = FieldErrors::together(unknown, HeatQuestion::parse(&pairs)).map_err(refused)?;
    json_file::write(&SmallHeatJson::of(&snapshot.small_heat(&question).map_err(refused)?), out)
}
