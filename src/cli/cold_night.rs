//! `winterfig cold-night FILE`: the plan for a cold night or a spell, JSON in and out.

use std::io::Write;
use std::path::PathBuf;

use jiff::civil::Date;

use super::{CliError, json_file};
use crate::input::json;
use crate::jobs::cold_night::followed::{EarlierPlan, followed};
use crate::jobs::cold_night::{self, ColdNightInput};
use crate::model::snapshot::Snapshot;

/// Arguments of `cold-night`.
#[derive(Debug, clap::Args)]
pub struct ColdNight {
    /// A night or several, plants, places and covers as JSON; `-` reads standard input
    file: PathBuf,
    /// Town or coordinates, in place of the file's: says how usual the night is there, and gives one where the file has none
    #[arg(long, value_name = "TOWN")]
    place: Option<String>,
    /// Date of the first night to plan, in place of the file's `from`; those before it are over
    #[arg(long, value_name = "DATE")]
    from: Option<Date>,
    /// An earlier answer of this command for the same plants, followed so far: they stand where it has them by the evening of `--from`
    #[arg(long, value_name = "PLAN")]
    followed: Option<PathBuf>,
}

/// Reads, plans, writes.
pub fn run(arguments: &ColdNight, out: &mut dyn Write) -> Result<(), CliError> {
    let refused = |errors| json_file::refused(&arguments.file, &errors);
    let text = json_file::text(&arguments.file)?;
    let input: ColdNightInput = json::read(&text).map_err(refused)?;
    let mut input = ColdNightInput { place: arguments.place.clone().or(input.place.clone()), from: arguments.from.or(input.from), ..input };
    if let Some(path) = &arguments.followed {
        let earlier: EarlierPlan = json::read(&json_file::text(path)?).map_err(|errors| json_file::refused(path, &errors))?;
        input = followed(input, &earlier).map_err(refused)?;
    }
    let snapshot = Snapshot::from_seed().map_err(anyhow::Error::from)?;
    json_file::write(&cold_night::calculate(&input, &snapshot).map_err(refused)?, out)
}
