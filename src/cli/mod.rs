//! The command line: one file per command, each an argument struct and a `run` that writes to what it is given.
//!
//! Exit codes: 0 done, 2 bad usage or input (the message says which field or line and what would be accepted), 1 anything else.

mod backup;
mod climate;
mod cold_night;
mod compare;
mod covers;
mod data;
mod database;
mod fit;
mod fit_package;
mod json_file;
mod member;
mod office;
mod openapi;
mod orders;
mod place;
mod safe_dates;
mod serve;
mod shelter;
mod shortlist;
mod small_heat;
mod spare_memory;
mod spots;
mod spring;
mod sticks;
mod trials;
mod vents;

use std::io::Write;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::units::Celsius;

/// Why a command did not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum CliError {
    /// Bad usage or input, which the caller can correct: exit code 2. The message names the field or line, what was read and what is accepted.
    #[error("{0}")]
    Input(String),
    /// Anything else: exit code 1.
    #[error(transparent)]
    Other(#[from] anyhow::Error),
}

impl CliError {
    /// Whether the reader of the output went away.
    fn is_closed_pipe(&self) -> bool {
        let closed = |cause: &(dyn std::error::Error + 'static)| {
            let io = cause.downcast_ref::<std::io::Error>().map(std::io::Error::kind);
            let json = cause.downcast_ref::<serde_json::Error>().and_then(serde_json::Error::io_error_kind);
            io.or(json) == Some(std::io::ErrorKind::BrokenPipe)
        };
        matches!(self, Self::Other(error) if error.chain().any(closed))
    }
}

impl From<std::io::Error> for CliError {
    fn from(error: std::io::Error) -> Self {
        Self::Other(error.into())
    }
}

/// Local cold-hardiness matching of fig cultivars: from a place to a ranked shortlist with honest chances.
#[derive(Debug, Parser)]
#[command(name = "winterfig", version, max_term_width = 100)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Run the service
    Serve(Box<crate::settings::Settings>),
    /// Rank every fig for a place, without a server
    Shortlist(Box<shortlist::Args>),
    /// Compare two to four figs at one place, with each other
    Compare(Box<compare::Compare>),
    /// What is known of a town or point: its winters, summer, frosts, and the stations near it
    Place(place::Args),
    /// What a daily record says of a site: winters, extremes, frost, heat, chill
    Climate(Box<climate::Args>),
    /// Learn hardiness from a file of winter reports
    Fit(fit::Args),
    /// What a shelter holds through a night, and what changes to it gain
    Shelter(shelter::Shelter),
    /// What to carry in or cover tonight, and in which order
    ColdNight(cold_night::ColdNight),
    /// Dead or late, figs this year, when it is safe; JSON out
    Spring(Box<spring::Spring>),
    /// From when it is safe to uncover, move out, plant out and cut, by the chance accepted; JSON out
    SafeDates(Box<safe_dates::SafeDates>),
    /// What each cover buys on clear, windy and cloudy nights; JSON out
    Covers,
    /// What each spot of a garden is worth in degrees; JSON out
    Spots(spots::Spots),
    /// What bulbs, a cable or a mat under a cover gain, cautions first; JSON out
    SmallHeat(small_heat::SmallHeat),
    /// How many cuttings to stick to be sure of so many rooted; JSON out
    Sticks(sticks::Sticks),
    /// Which winter report would teach most at a place; JSON out
    Trials(trials::Trials),
    /// How large vents must be, and what shade saves, on a sunny day; JSON out
    Vents(vents::Vents),
    /// Take reports in from a data package or a plain table: all rows or none
    Import(data::Import),
    /// Write the data package into a folder
    Export(data::Export),
    /// Write a checked copy of the data file, also beside a running service
    Backup(backup::Backup),
    /// Check a data file or a copy of one
    Verify(backup::Verify),
    /// Put a copy back in the place of the data file, keeping what stood there
    Restore(backup::Restore),
    /// Members and their roles
    Member(member::Args),
    /// What stands at a glance, the society, and the log of what was done by hand
    Office(office::Args),
    /// Print the description of the API (OpenAPI 3.1)
    Openapi,
}

/// A temperature in both scales, °C with so many digits: `−12.3 °C / 10 °F`.
fn in_both_scales(t: Celsius, digits: usize) -> String {
    // Adding zero takes the sign off a rounded −0.
    format!("{t:.digits$} / {:.0} °F", t.fahrenheit().round() + 0.0).replace('-', "−")
}

/// Runs the command line `arguments` (program name first), writing results to `out` and messages to `err`.
pub fn run(arguments: impl IntoIterator<Item = std::ffi::OsString>, out: &mut dyn Write, err: &mut dyn Write) -> ExitCode {
    let parsed = match Arguments::try_parse_from(arguments) {
        Ok(parsed) => parsed,
        Err(refusal) => {
            // Help and version are answers, not refusals.
            let to: &mut dyn Write = if refusal.use_stderr() { err } else { out };
            let _ = write!(to, "{}", refusal.render());
            return ExitCode::from(if refusal.use_stderr() { 2 } else { 0 });
        }
    };
    let result: Result<(), CliError> = match parsed.command {
        Command::Serve(settings) => serve::run(*settings, out),
        Command::Shortlist(args) => shortlist::run(&args, out),
        Command::Compare(args) => compare::run(&args, out),
        Command::Place(args) => place::run(&args, out),
        Command::Climate(args) => climate::run(&args, out),
        Command::Fit(args) => fit::run(&args, out),
        Command::Import(args) => data::import(&args, out),
        Command::Export(args) => data::export(&args, out),
        Command::Backup(args) => backup::backup(&args, out),
        Command::Verify(args) => backup::verify(&args, out),
        Command::Restore(args) => backup::restore(&args, out),
        Command::Member(args) => member::run(&args, out),
        Command::Office(args) => office::run(&args, out),
        Command::Openapi => openapi::run(out),
        Command::ColdNight(arguments) => cold_night::run(&arguments, out),
        Command::Spring(arguments) => spring::run(&arguments, out),
        Command::SafeDates(arguments) => safe_dates::run(&arguments, out),
        Command::Covers => covers::run(out),
        Command::Spots(arguments) => spots::run(&arguments, out),
        Command::SmallHeat(arguments) => small_heat::run(&arguments, out),
        Command::Trials(arguments) => trials::run(&arguments, out),
        Command::Sticks(arguments) => sticks::run(&arguments, out),
        Command::Vents(arguments) => vents::run(&arguments, out),
        Command::Shelter(arguments) => shelter::run(&arguments, out),
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        // Whoever reads has had enough, as `head` has.
        Err(error) if error.is_closed_pipe() => ExitCode::SUCCESS,
        Err(error) => {
            let code = match &error {
                CliError::Input(_) => 2,
                CliError::Other(_) => 1,
            };
            // The chain of causes, each once.
            let _ = match &error {
                CliError::Input(words) => writeln!(err, "winterfig: {words}"),
                CliError::Other(cause) => writeln!(err, "winterfig: {cause:#}"),
            };
            ExitCode::from(code)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A reader that went away, as the end of a pipe after `head`.
    struct Gone;

    impl Write for Gone {
        fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
            Err(std::io::ErrorKind::BrokenPipe.into())
        }

        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }

    #[test]
    fn a_reader_that_has_had_enough_is_no_error() {
        for json in [&[][..], &["--json"]] {
            let mut told = Vec::new();
            let words = ["winterfig", "shortlist", "--zone", "7a"].iter().chain(json);
            assert_eq!(run(words.map(std::ffi::OsString::from), &mut Gone, &mut told), ExitCode::SUCCESS);
            assert_eq!(String::from_utf8_lossy(&told), "");
        }
    }

    fn ran(words: &[&str]) -> (ExitCode, String, String) {
        let (mut out, mut told) = (Vec::new(), Vec::new());
        let words = std::iter::once("winterfig").chain(words.iter().copied()).map(std::ffi::OsString::from);
        let code = run(words, &mut out, &mut told);
        (code, String::from_utf8(out).unwrap(), String::from_utf8(told).unwrap())
    }

    #[test]
    fn what_pages_answer_without_a_plant_is_printed_as_json() {
        for (words, pointer) in [
            (&["covers"][..], "/covers/0/over_pot/windy/range_k/1"),
            (&["spots", "--setting", "town,wall"], "/together/clear_still/gain_k"),
            (&["safe-dates", "--zone", "6b", "--on", "04-10"], "/acts/5/dates/3/from"),
            (&["small-heat", "--heat", "bulb_old", "--count", "20"], "/cautions/0"),
            (&["sticks", "--wanted", "20", "--batch", "30:24"], "/sticks_range/0"),
            (&["trials", "--zone", "7a", "--limit", "2"], "/trials/1/of_own_doubt"),
            (&["vents", "--sky", "february", "--with", "length_m=6"], "/by_shade/3/still/m2"),
        ] {
            let (code, out, told) = ran(words);
            assert_eq!((code, told.as_str()), (ExitCode::SUCCESS, ""), "{words:?}");
            let json: serde_json::Value = serde_json::from_str(&out).unwrap();
            assert!(json.pointer(pointer).is_some_and(|value| !value.is_null()), "{words:?}: {pointer}");
        }
    }

    #[test]
    fn what_they_do_not_know_is_bad_input_by_name() {
        for (words, field) in [
            (&["spots", "--setting", "hollow,slope"][..], "setting"),
            (&["safe-dates", "--zone", "6b", "--with", "colour=blue"], "colour"),
            (&["small-heat", "--heat", "lamp", "--with", "skin=quilt", "--count", "1"], "heat"),
            (&["small-heat", "--heat", "bulb_old", "--count", "-3"], "count"),
            (&["vents", "--with", "length_m"], "NAME=VALUE"),
            (&["sticks", "--wanted", "20", "--batch", "30:31"], "batch"),
            (&["trials", "--zone", "7a", "--limit", "0"], "limit"),
            (&["spring", "--seen", "nothing", "--zone", "6b", "--with", "colour=blue"], "colour"),
            (&["compare", "--cultivar", "celeste", "--cultivar", "alma", "--zone", "6b", "--wish", "early"], "wish"),
        ] {
            let (code, out, told) = ran(words);
            assert_eq!((code, out.as_str()), (ExitCode::from(2), ""), "{words:?}");
            assert!(told.contains(field), "{words:?}: {told}");
        }
    }
}
