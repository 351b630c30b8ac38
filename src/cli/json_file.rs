//! Commands that read one JSON file and write one JSON answer.

use std::io::{Read, Write};
use std::path::Path;

use serde::Serialize;

use super::CliError;
use crate::input::errors::FieldErrors;

/// Largest file read, bytes.
const LARGEST: u64 = 8 * 1024 * 1024;

/// The text of a file; `-` reads standard input.
pub(super) fn text(path: &Path) -> Result<String, CliError> {
    let refused = |reason: String| CliError::Input(format!("{}: {reason}", path.display()));
    let mut text = String::new();
    let read = if path.as_os_str() == "-" {
        std::io::stdin().take(LARGEST + 1).read_to_string(&mut text)
    } else {
        std::fs::File::open(path).and_then(|file| file.take(LARGEST + 1).read_to_string(&mut text))
    };
    read.map_err(|error| refused(error.to_string()))?;
    if text.len() as u64 > LARGEST {
        return Err(refused("larger than 8 MiB".to_owned()));
    }
    Ok(text)
}

/// Field errors of a file as a message.
pub(super) fn refused(path: &Path, errors: &FieldErrors) -> CliError {
    CliError::Input(format!("{} cannot be used:\n{errors}", path.display()))
}

/// An answer, readable.
pub(super) fn write(answer: &impl Serialize, out: &mut dyn Write) -> Result<(), CliError> {
    let text = serde_json::to_string_pretty(answer).map_err(anyhow::Error::from)?;
    writeln!(out, "{text}")?;
    Ok(())
}
