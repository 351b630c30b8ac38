//! `winterfig openapi`: the description of the API, as `/openapi.json` serves it.

use std::io::Write;

use super::CliError;

/// Writes it to `out`.
pub fn run(out: &mut dyn Write) -> Result<(), CliError> {
    writeln!(out, "{}", crate::routes::api::description().to_pretty_json().map_err(anyhow::Error::from)?)?;
    Ok(())
}
