//! `winterfig shelter FILE`: the shelter calculation, JSON in and out.

use std::io::Write;
use std::path::PathBuf;

use super::{CliError, json_file};
use crate::input::json;
use crate::jobs::shelter::{self, ShelterInput};

/// Arguments of `shelter`.
#[derive(Debug, clap::Args)]
pub struct Shelter {
    /// A shelter as JSON; `-` reads standard input
    file: PathBuf,
    /// Town or coordinates, in place of the file's: its winters stand in for a night, a design low and a season that the file does not give
    #[arg(long, value_name = "TOWN")]
    place: Option<String>,
}

/// Reads, calculates, writes.
pub fn run(arguments: &Shelter, out: &mut dyn Write) -> Result<(), CliError> {
    let text = json_file::text(&arguments.file)?;
    let answer = json::read(&text).and_then(|input: ShelterInput| {
        let place = arguments.place.clone().or(input.place.clone());
        shelter::calculate(&ShelterInput { place, ..input })
    });
    let answer = answer.map_err(|e| json_file::refused(&arguments.file, &e))?;
    json_file::write(&answer, out)
}
