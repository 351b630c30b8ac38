//! `winterfig shelter FILE`: the shelter calculation, JSON in and out.

use std::io::Write;
use std::path::PathBuf;

use super::{CliError, json_file};
use crate::input::json;
use crate::jobs::shelter;

/// Arguments of `shelter`.
#[derive(Debug, clap::Args)]
pub struct Shelter {
    /// A shelter as JSON; `-` reads standard input
    file: PathBuf,
}

/// Reads, calculates, writes.
pub fn run(arguments: &Shelter, out: &mut dyn Write) -> Result<(), CliError> {
    let text = json_file::text(&arguments.file)?;
    let answer = json::read(&text).and_then(|input| shelter::calculate(&input)).map_err(|e| json_file::refused(&arguments.file, &e))?;
    json_file::write(&answer, out)
}
