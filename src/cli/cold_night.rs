//! `winterfig cold-night FILE`: the plan for a cold night, JSON in and out.

use std::io::Write;
use std::path::PathBuf;

use super::{CliError, json_file};
use crate::input::json;
use crate::jobs::cold_night::{self, ColdNightInput};
use crate::model::snapshot::Snapshot;

/// Arguments of `cold-night`.
#[derive(Debug, clap::Args)]
pub struct ColdNight {
    /// A night, plants, places and covers as JSON; `-` reads standard input
    file: PathBuf,
    /// Town or coordinates, in place of the file's: says how usual the night is there, and gives one where the file has none
    #[arg(long, value_name = "TOWN")]
    place: Option<String>,
}

/// Reads, plans, writes.
pub fn run(arguments: &ColdNight, out: &mut dyn Write) -> Result<(), CliError> {
    let text = json_file::text(&arguments.file)?;
    let snapshot = Snapshot::from_seed().map_err(anyhow::Error::from)?;
    let answer = json::read(&text)
        .and_then(|input: ColdNightInput| {
            let place = arguments.place.clone().or(input.place.clone());
            cold_night::calculate(&ColdNightInput { place, ..input }, &snapshot)
        })
        .map_err(|e| json_file::refused(&arguments.file, &e))?;
    json_file::write(&answer, out)
}
