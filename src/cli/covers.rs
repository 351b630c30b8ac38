//! `winterfig covers`: what each cover buys by the kind of night, as the API answers.

use std::io::Write;

use super::{CliError, json_file};
use crate::jobs::covers::answer::answer;
use crate::jobs::covers::json::CoversJson;
use crate::model::snapshot::Snapshot;

/// Answers as JSON.
pub fn run(out: &mut dyn Write) -> Result<(), CliError> {
    let snapshot = Snapshot::from_seed().map_err(anyhow::Error::from)?;
    json_file::write(&CoversJson::of(&answer(&snapshot)), out)
}
