//! `winterfig compare`: a few figs at one place, with each other.

use std::io::Write;

use clap::Args as ClapArgs;

use super::{CliError, shortlist};
use crate::input::errors::FieldErrors;
use crate::jobs::compare::json::CompareJson;
use crate::jobs::compare::question::{CULTIVAR, CompareQuestion};
use crate::jobs::compare::words::{again_words, crop_words, dies_of, grown_words, pair_sentence};
use crate::model::snapshot::Snapshot;
use crate::records::Register;
use crate::science::climate::winters::Hemisphere;

/// The figs, and the place in the words of `shortlist`.
#[derive(Debug, ClapArgs)]
pub struct Compare {
    /// A fig by any of its names; two to four times
    #[arg(long, value_name = "NAME", required = true)]
    cultivar: Vec<String>,
    #[command(flatten)]
    place: shortlist::Args,
}

/// Answers on `out`.
pub fn run(args: &Compare, out: &mut dyn Write) -> Result<(), CliError> {
    let refused = |errors: FieldErrors| CliError::Input(errors.to_string());
    if args.place.record.is_some() {
        return Err(CliError::Input("--record goes with shortlist; compare takes a place, a zone or a yearly minimum".to_owned()));
    }
    if args.place.have.is_some() {
        return Err(CliError::Input(
            "--have goes with shortlist: it changes the three to plant together, which a comparison does not choose".to_owned(),
        ));
    }
    let snapshot = Snapshot::from_seed().map_err(anyhow::Error::from)?;
    let figs = args.cultivar.iter().map(|name| (CULTIVAR.to_owned(), name.clone()));
    let pairs: Vec<_> = figs.chain(args.place.pairs()).collect();
    let question = CompareQuestion::parse(&pairs, true, &snapshot.catalogue).map_err(refused)?;
    // The command has no database: it knows of no reports.
    let answer = snapshot.compare(&question, &Register::default());
    if args.place.json {
        serde_json::to_writer_pretty(&mut *out, &CompareJson::of(&answer, &snapshot)).map_err(anyhow::Error::from)?;
        writeln!(out)?;
        return Ok(());
    }
    for pair in &answer.pairs {
        if let Some(sentence) = pair_sentence(&answer, pair) {
            writeln!(out, "{sentence}")?;
        }
    }
    writeln!(out)?;
    shortlist::write_text(&answer.rows, out)?;
    let hemisphere = answer.rows.question.hemisphere().unwrap_or(Hemisphere::North);
    for (place, row) in answer.rows.rows.iter().enumerate() {
        if let Some(cause) = dies_of(&answer, place) {
            writeln!(out, "{}: {cause}", row.cultivar.name)?;
        }
        let Some(beside) = answer.beside.get(place) else { continue };
        for (what, crop) in
            [("early crop", beside.early), ("main crop", beside.main), ("main crop on shoots from the roots", beside.regrown)]
        {
            writeln!(out, "  {what}, first figs in half of its years: {}", crop_words(crop, hemisphere))?;
        }
        writeln!(out, "  half bear fully again after dying to the ground by: {}", again_words(beside.full_crop_again))?;
        for grown in &beside.grown {
            writeln!(out, "  {}: {}", grown.way.label(), grown_words(grown))?;
        }
    }
    Ok(())
}
