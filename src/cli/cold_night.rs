//! `winterfig cold-night FILE`: the plan for a cold night, JSON in and out.

use std::io::Write;
use std::path::PathBuf;

use super::{CliError, json_file};
use crate::input::json;
use crate::jobs::cold_night;
use crate::model::snapshot::Snapshot;

/// Arguments of `cold-night`.
#[derive(Debug, clap::Args)]
pub struct ColdNight {
    /// A night, plants, places and covers as JSON; `-` reads standard input
    file: PathBuf,
}

/// Reads, plans, writes.
pub fn run(arguments: &ColdNight, out: &mut dyn Write) -> Result<(), CliError> {
    let text = json_file::text(&arguments.file)?;
    let snapshot = Snapshot::from_seed().map_err(anyhow::Error::from)?;
    let answer = json::read(&text)
        .and_then(|input| cold_night::calculate(&input, &snapshot))
        .map_err(|e| json_file::refused(&arguments.file, &e))?;
    json_file::write(&answer, out)
}
