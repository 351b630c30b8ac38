//! `winterfig spring`: dead or late, figs this year, when it is safe, as the API answers.

use std::io::Write;

use jiff::tz::TimeZone;

use super::{CliError, json_file};
use crate::clock::{Clock, SystemClock};
use crate::input::errors::FieldErrors;
use crate::jobs::shortlist::question_form;
use crate::jobs::spring::json::SpringJson;
use crate::jobs::spring::question::{PARAMETERS, SITE, SpringQuestion};
use crate::model::snapshot::Snapshot;

/// Arguments of `spring`.
#[derive(Debug, clap::Args)]
pub struct Spring {
    /// What is seen on the plant: whole, tips, wood, base, green, brown, nothing
    #[arg(long, value_name = "WORD")]
    seen: String,
    /// Town or coordinates: "Graz, AT", "47.07, 15.44"
    #[arg(long, value_name = "TOWN")]
    place: Option<String>,
    /// Half-zone, in place of a town
    #[arg(long, value_name = "ZONE")]
    zone: Option<String>,
    /// Cultivar, as its name stands in addresses
    #[arg(long, value_name = "NAME")]
    cultivar: Option<String>,
    /// Whole years since planting
    #[arg(long, value_name = "N")]
    years: Option<String>,
    /// Day of the question, YYYY-MM-DD; today when left out
    #[arg(long, value_name = "DATE")]
    today: Option<String>,
    /// Lowest temperature of the winter in the open, °C
    #[arg(long, value_name = "C", allow_hyphen_values = true)]
    lowest_c: Option<String>,
    /// Another parameter of the question as the API names it, for example setting=wall; may be repeated
    #[arg(long = "with", value_name = "NAME=VALUE")]
    with: Vec<String>,
}

/// Where the parameters of `--with` stand.
pub(super) const IN_THE_API: &str = "“winterfig openapi” lists those there are";

/// Named arguments and those of `--with` as the pairs of a question.
pub(super) fn pairs<'a>(
    named: impl IntoIterator<Item = (&'static str, &'a Option<String>)>,
    with: &[String],
) -> Result<Vec<(String, String)>, CliError> {
    let mut pairs: Vec<(String, String)> = named.into_iter().filter_map(|(name, value)| Some((name.to_owned(), value.clone()?))).collect();
    for text in with {
        let (name, value) = text
            .split_once('=')
            .ok_or_else(|| CliError::Input(format!("--with “{text}”: accepted is NAME=VALUE, for example setting=wall")))?;
        pairs.push((name.to_owned(), value.to_owned()));
    }
    Ok(pairs)
}

/// Reads, answers, writes JSON.
pub fn run(arguments: &Spring, out: &mut dyn Write) -> Result<(), CliError> {
    let snapshot = Snapshot::from_seed().map_err(anyhow::Error::from)?;
    let named = [
        ("seen", &Some(arguments.seen.clone())),
        ("place", &arguments.place),
        ("zone", &arguments.zone),
        ("cultivar", &arguments.cultivar),
        ("years", &arguments.years),
        ("today", &arguments.today),
        ("lowest_c", &arguments.lowest_c),
    ];
    let pairs = pairs(named, &arguments.with)?;
    let today = TimeZone::UTC.to_datetime(SystemClock.now()).date();
    let known = |name: &str| name != SITE && (PARAMETERS.contains(&name) || question_form::PARAMETERS.contains(&name));
    let unknown = FieldErrors::refuse_unknown(&pairs, known, IN_THE_API);
    let question = FieldErrors::together(unknown, SpringQuestion::parse(&pairs, &snapshot, today, None))
        .map_err(|errors| CliError::Input(errors.to_string()))?;
    json_file::write(&SpringJson::of(&question, &snapshot.spring(&question), &snapshot), out)
}
