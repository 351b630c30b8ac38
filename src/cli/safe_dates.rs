//! `winterfig safe-dates`: from when it is safe to uncover, move out, plant out and cut, as the API answers.

use std::io::Write;

use jiff::tz::TimeZone;

use super::{CliError, json_file, spring};
use crate::clock::{Clock, SystemClock};
use crate::input::errors::FieldErrors;
use crate::jobs::shortlist::question_form;
use crate::jobs::spring::json_dates::SafeDatesJson;
use crate::jobs::spring::question::SITE;
use crate::jobs::spring::safe_dates::{PARAMETERS, SafeDatesQuestion};
use crate::model::snapshot::Snapshot;

/// Arguments of `safe-dates`.
#[derive(Debug, clap::Args)]
pub struct SafeDates {
    /// Town or coordinates: "Graz, AT", "47.07, 15.44"
    #[arg(long, value_name = "TOWN")]
    place: Option<String>,
    /// Half-zone, in place of a town
    #[arg(long, value_name = "ZONE")]
    zone: Option<String>,
    /// A day in mind, MM-DD: the chance of a harmful night after it
    #[arg(long, value_name = "MM-DD")]
    on: Option<String>,
    /// Day of the question, YYYY-MM-DD; today when left out
    #[arg(long, value_name = "DATE")]
    today: Option<String>,
    /// Another parameter of the question as the API names it, for example setting=wall; may be repeated
    #[arg(long = "with", value_name = "NAME=VALUE")]
    with: Vec<String>,
}

/// Answers as JSON.
pub fn run(arguments: &SafeDates, out: &mut dyn Write) -> Result<(), CliError> {
    let snapshot = Snapshot::from_seed().map_err(anyhow::Error::from)?;
    let named = [("place", &arguments.place), ("zone", &arguments.zone), ("on", &arguments.on), ("today", &arguments.today)];
    let pairs = spring::pairs(named, &arguments.with)?;
    let today = TimeZone::UTC.to_datetime(SystemClock.now()).date();
    let known = |name: &str| name != SITE && (PARAMETERS.contains(&name) || question_form::PARAMETERS.contains(&name));
    let unknown = FieldErrors::refuse_unknown(&pairs, known, spring::IN_THE_API);
    let question = FieldErrors::together(unknown, SafeDatesQuestion::parse(&pairs, &snapshot, today, None))
        .map_err(|errors| CliError::Input(errors.to_string()))?;
    json_file::write(&SafeDatesJson::of(&question, &snapshot.safe_dates(&question)), out)
}
