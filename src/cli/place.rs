//! `winterfig place`: what is known of a town or point without a server.

use std::io::Write;

use clap::Args as ClapArgs;

use super::{CliError, in_both_scales};
use crate::jobs::places::json::{PlaceJson, PlacesJson, attribution};
use crate::jobs::places::words;
use crate::places::{Gazetteer, Spot, Town};
use crate::units::both_scales;

/// Towns listed.
const LISTED: usize = 8;

/// A town in any language with its country or region, or coordinates.
#[derive(Debug, ClapArgs)]
#[command(allow_negative_numbers = true)]
pub struct Args {
    /// A town, with country or region after it (Vienna, AT · Asheville NC), or coordinates (47.07, 15.44)
    #[arg(required = true, num_args = 1.., value_name = "WORDS")]
    words: Vec<String>,
    /// Height of the garden, m, where it differs from the town's
    #[arg(long, value_name = "M")]
    elevation_m: Option<f64>,
    /// JSON: every town that fits
    #[arg(long)]
    json: bool,
}

/// Answers on `out`.
pub fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let typed = args.words.join(" ");
    let towns = Gazetteer::embedded().map_err(anyhow::Error::from)?;
    let refused = |error: crate::places::PlaceError| CliError::Input(error.to_string());
    let spot = towns.spot(&typed, args.elevation_m).map_err(refused)?;
    let found = towns.find(&typed, LISTED).map_err(refused)?;
    if args.json {
        let mut json = PlacesJson::of(towns, &found);
        // The first is the one that the words mean, with the height given and the stations near it.
        json.places.retain(|p| p.id != spot.town.id.0);
        json.places.insert(0, PlaceJson::of_spot(towns, &spot));
        serde_json::to_writer_pretty(&mut *out, &json).map_err(anyhow::Error::from)?;
        writeln!(out)?;
        return Ok(());
    }
    write_spot(towns, &spot, out)?;
    let others: Vec<&Town> = found.iter().filter(|t| t.id != spot.town.id).collect();
    if !others.is_empty() {
        writeln!(out, "\nNot that one? These fit too:")?;
        for town in others {
            writeln!(out, "  {}", towns.words_for(town))?;
        }
    }
    writeln!(out, "\n{}", attribution().join("\n"))?;
    Ok(())
}

fn write_spot(towns: &Gazetteer, spot: &Spot, out: &mut dyn Write) -> Result<(), CliError> {
    let (town, estimate) = (&spot.town, &spot.estimate);
    let (latitude, longitude) = spot.at();
    write!(out, "{}: {latitude:.2}, {longitude:.2}", town.label())?;
    match spot.elevation_m.or(town.elevation_m) {
        Some(metres) => writeln!(out, ", {metres:.0} m")?,
        None => writeln!(out)?,
    }
    let mean = estimate.mean.value;
    writeln!(
        out,
        "Coldest night of a winter: {} on average, give or take {}; winters differ by {}",
        in_both_scales(mean, 0),
        both_scales(estimate.mean.error),
        both_scales(estimate.spread.value.kelvin())
    )?;
    let winter = estimate.winter();
    writeln!(
        out,
        "So one winter in ten goes to {} or lower; {:.0} % of what is not sure of a winter is not knowing the place",
        in_both_scales(winter.quantile(0.1), 0),
        100.0 * estimate.share_not_known()
    )?;
    if let Some(warmest) = estimate.warmest_month {
        writeln!(out, "Warmest month: {}, give or take {}", in_both_scales(warmest.value, 1), both_scales(warmest.error))?;
    }
    match estimate.frost {
        Some(frost) => writeln!(
            out,
            "Last frost about {}, first about {}, give or take {:.0} days each",
            words::day(frost.last.value),
            words::day(frost.first.value),
            frost.last.error
        )?,
        None => writeln!(out, "Frost is no yearly event here, or its dates are not known")?,
    }
    writeln!(out, "{}", words::grounds(towns, town))?;
    for doubt in words::doubts(spot).into_iter().chain(words::namesakes(spot)) {
        writeln!(out, "{doubt}")?;
    }
    let records = towns.long_records(spot.at(), words::RECORDS_WITHIN_KM, words::RECORDS_SHOWN);
    if records.is_empty() {
        writeln!(
            out,
            "No station of the public archive with twenty years of daily minima lies within {:.0} km.",
            words::RECORDS_WITHIN_KM
        )?;
    } else {
        writeln!(out, "\nSurer: a daily record (winterfig shortlist --record FILE). The archive GHCN-Daily lists near here")?;
        for r in records {
            let higher = r.elevation_m.zip(spot.elevation_m.or(town.elevation_m)).map(|(there, here)| format!(", {:+.0} m", there - here));
            writeln!(
                out,
                "  {} {:<28} {}, {:.0} km{}",
                r.id,
                words::capitalised(&r.name),
                words::years(&r),
                r.km,
                higher.unwrap_or_default()
            )?;
        }
    }
    Ok(())
}
