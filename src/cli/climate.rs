//! `winterfig climate FILE`: what a daily record says of a site.

use std::io::Write;
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::CliError;
use crate::clock::{Clock, SystemClock};
use crate::jobs::station_record::read;
use crate::jobs::station_record::read::Reading;
use crate::science::climate::extremes::{Chosen, Extremes};
use crate::science::climate::frost::{Frost, Quantiles, SeasonDay};
use crate::science::climate::record::{ReadOptions, ReadUnits};
use crate::science::climate::site_climate::SiteClimate;
use crate::units::Celsius;

/// Refused values written out; all of them are in the JSON.
const REJECTED_SHOWN: usize = 20;

/// A daily record and what the file itself may not say.
#[derive(Debug, ClapArgs)]
#[command(allow_negative_numbers = true)]
pub struct Args {
    /// GHCN-Daily .dly, by-station CSV, access CSV, or plain `date,tmin_c,tmax_c`; .gz of each
    file: PathBuf,
    /// JSON
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    reading: ReadingArgs,
}

/// What a reader of a record can be told beside the file.
#[derive(Debug, Default, ClapArgs)]
pub struct ReadingArgs {
    /// Station to read, where the file holds several
    #[arg(long, value_name = "ID")]
    station: Option<String>,
    /// Units of the temperatures where the file leaves them open: c, f, `tenths_c`
    #[arg(long, value_parser = units)]
    units: Option<ReadUnits>,
    /// Latitude, degrees, north positive
    #[arg(long, value_name = "DEG", value_parser = latitude)]
    latitude: Option<f64>,
}

fn units(word: &str) -> Result<ReadUnits, String> {
    ReadUnits::of_word(word).ok_or_else(|| "c, f and tenths_c are accepted".to_owned())
}

fn latitude(text: &str) -> Result<f64, String> {
    text.parse::<f64>().ok().filter(|degrees| degrees.abs() <= 90.0).ok_or_else(|| "-90 to 90 is accepted".to_owned())
}

impl ReadingArgs {
    /// Reads a record as told.
    pub fn read(&self, file: &std::path::Path) -> Result<Reading, CliError> {
        let options = ReadOptions {
            station: self.station.clone(),
            units: self.units,
            latitude_deg: self.latitude,
            ..ReadOptions::on(read::latest_date(SystemClock.now()))
        };
        read::from_file(file, &options).map_err(|error| CliError::Input(error.to_string()))
    }
}

/// Answers on `out`.
pub fn run(args: &Args, out: &mut dyn Write) -> Result<(), CliError> {
    let reading = args.reading.read(&args.file)?;
    if args.json {
        serde_json::to_writer_pretty(&mut *out, &reading.climate).map_err(anyhow::Error::from)?;
        writeln!(out)?;
        return Ok(());
    }
    write_file(&reading.climate, out)?;
    write_winters(&reading.climate, out)?;
    write_extremes(&reading.climate, out)?;
    write_season(&reading.climate, out)?;
    for doubt in &reading.climate.doubts {
        writeln!(out, "Note: {doubt}.")?;
    }
    Ok(())
}

/// `−12.3 °C / 10 °F`.
fn both(celsius: f64) -> String {
    let t = Celsius::literal(celsius);
    // Adding zero takes the sign off a rounded −0.
    format!("{t:.1} / {:.0} °F", t.fahrenheit().round() + 0.0).replace('-', "−")
}

fn write_file(climate: &SiteClimate, out: &mut dyn Write) -> Result<(), CliError> {
    let file = &climate.file;
    let station = file.station.as_ref().map_or_else(String::new, |id| format!(", station {id}"));
    writeln!(out, "{}{station}: {} to {}, {} days with readings", file.format, file.first, file.last, file.days)?;
    writeln!(out, "Values read as {} (told by {})", file.units_as_read, file.units_from)?;
    if climate.rejected.is_empty() {
        writeln!(out, "No value refused.")?;
    } else {
        writeln!(out, "{} value(s) refused:", climate.rejected.len())?;
        for refused in climate.rejected.iter().take(REJECTED_SHOWN) {
            writeln!(out, "  {} {} {:.1} °C: {}", refused.date, refused.element, refused.value_c, refused.reason)?;
        }
        if climate.rejected.len() > REJECTED_SHOWN {
            writeln!(out, "  and {} more (--json lists all)", climate.rejected.len() - REJECTED_SHOWN)?;
        }
    }
    Ok(())
}

fn write_winters(climate: &SiteClimate, out: &mut dyn Write) -> Result<(), CliError> {
    writeln!(out, "\nWinters ({})", climate.winter_rule)?;
    writeln!(out, "{:>6}  {:<22}{:<12}{:>8}  equivalent midwinter minimum, and its night", "winter", "lowest", "on", "missing")?;
    for winter in &climate.winters {
        let lowest = winter.minimum_c.map_or_else(|| "none".to_owned(), |t| both(t.degrees()));
        let date = winter.date.map_or_else(String::new, |date| date.to_string());
        let equivalent = match (winter.reason, winter.equivalent_minimum_c, winter.equivalent_date) {
            (Some(reason), ..) => format!("not used: {reason}"),
            (None, Some(t), Some(date)) => format!("{} ({date})", both(t.degrees())),
            _ => String::new(),
        };
        writeln!(out, "{:>6}  {lowest:<22}{date:<12}{:>8}  {equivalent}", winter.winter, winter.days_missing)?;
    }
    Ok(())
}

fn write_extremes(climate: &SiteClimate, out: &mut dyn Write) -> Result<(), CliError> {
    let Extremes { winters_used, mean_c, sd_c, half_zone, chosen, why, quantiles_c, return_levels, trend, .. } = &climate.yearly_minimum;
    writeln!(out, "\nLowest temperature of a winter, {winters_used} winters")?;
    let spread = sd_c.map_or_else(String::new, |sd| format!(", spread between winters {sd:.1} K"));
    let zone = half_zone.as_ref().map_or_else(String::new, |zone| format!(", half-zone {zone}"));
    writeln!(out, "  mean {}{spread}{zone}", both(*mean_c))?;
    let name = match chosen {
        Some(Chosen::Normal) => "normal",
        Some(Chosen::GevLmoments) => "GEV by L-moments",
        Some(Chosen::GevMle) => "GEV by maximum likelihood",
        Some(Chosen::GevPrior) => "GEV by maximum likelihood, weak prior on its shape",
        None => "no distribution",
    };
    writeln!(out, "  {name}: {why}")?;
    if let Some(q) = quantiles_c {
        writeln!(out, "  one winter in ten below {}; every other below {}; nine in ten below {}", both(q.p10), both(q.p50), both(q.p90))?;
    }
    for level in return_levels {
        let range = match (level.low_c, level.high_c) {
            (Some(low), Some(high)) => format!("95 % interval {} to {}", both(low), both(high)),
            (None, Some(high)) => format!("above {} ruled out at 95 %; the records do not bound the cold side", both(high)),
            _ => "no interval".to_owned(),
        };
        writeln!(out, "  once in {:>3} years below {:<20} {range}", level.years, both(level.level_c))?;
    }
    if let Some(trend) = trend {
        let verdict = if trend.counts { "winters are changing" } else { "no trend claimed" };
        writeln!(out, "  trend {:+.2} K a decade, p = {:.3} ({}): {verdict}", trend.per_decade_k, trend.p_value, trend.method)?;
        if let Some(now) = trend.as_of_now {
            writeln!(out, "  as of winter {} one in ten falls below {}", now.winter, both(now.ten_year_level_c))?;
        }
    }
    if let Some(equivalent) = &climate.equivalent_minimum {
        writeln!(out, "\nEquivalent midwinter minimum (early and late freezes counted at what they do), plant of class 3")?;
        writeln!(out, "  mean {}", both(equivalent.mean_c))?;
        if let Some(q) = equivalent.quantiles_c {
            writeln!(out, "  one winter in ten below {}; every other below {}", both(q.p10), both(q.p50))?;
        }
        for class in &climate.equivalent_by_class {
            writeln!(
                out,
                "  class {}: mean {}, {:.1} K below the thermometer; {} winters set by another night than the coldest",
                class.class,
                both(class.mean_c),
                -class.mean_shift_k,
                class.winters_set_by_another_night
            )?;
        }
    }
    Ok(())
}

fn write_season(climate: &SiteClimate, out: &mut dyn Write) -> Result<(), CliError> {
    writeln!(out, "\nFrost at 0 °C")?;
    let Frost { last_spring, first_autumn, frost_free_days, springs, springs_without, autumns, autumns_without, .. } = &climate.frost;
    let dates = |q: &Quantiles<SeasonDay>| [q.p10, q.p50, q.p90].map(SeasonDay::words);
    if let Some([early, middle, late]) = last_spring.as_ref().map(dates) {
        writeln!(
            out,
            "  last of spring: {middle} in the middle; before {early} one year in ten; after {late} one year in ten ({springs} springs, {springs_without} without)"
        )?;
    }
    if let Some([early, middle, late]) = first_autumn.as_ref().map(dates) {
        writeln!(
            out,
            "  first of autumn: {middle} in the middle; before {early} one year in ten; after {late} one year in ten ({autumns} autumns, {autumns_without} without)"
        )?;
    }
    if let Some(q) = frost_free_days {
        writeln!(out, "  frost-free days: {:.0}; fewer than {:.0} one year in ten; more than {:.0} one year in ten", q.p50, q.p10, q.p90)?;
    }
    if let Some(heat) = &climate.degree_days {
        writeln!(
            out,
            "Degree-days above {} °C, cut off at {} °C, by the single sine: {:.0} a year; less than {:.0} one year in ten, more than {:.0} one year in ten",
            heat.base_c, heat.cap_c, heat.per_year_p50, heat.per_year_p10, heat.per_year_p90
        )?;
    }
    if let Some(chill) = &climate.chill {
        let assumed = if chill.latitude_assumed { ", assumed" } else { "" };
        writeln!(
            out,
            "Chill: {:.0} hours of {}, {:.1} portions of the Dynamic model (mean of {} seasons; day length of latitude {:.1}°{assumed})",
            chill.hours, chill.hours_method, chill.portions, chill.seasons, chill.latitude_deg
        )?;
    }
    Ok(())
}
