//! `winterfig climate FILE`: what a daily record says of a site.

use std::io::Write;
use std::path::PathBuf;

use clap::Args as ClapArgs;

use super::{CliError, in_both_scales};
use crate::clock::{Clock, SystemClock};
use crate::jobs::station_record::json::climate_json;
use crate::jobs::station_record::read::Reading;
use crate::jobs::station_record::words::{diagnostic_words, not_used_words, why_words, winter_rule_words};
use crate::jobs::station_record::{asked, read};
use crate::science::climate::extremes::{Chosen, Extremes};
use crate::science::climate::frost::{Frost, Quantiles, SeasonDay};
use crate::science::climate::periods::PeriodClimate;
use crate::science::climate::record::{ReadOptions, ReadUnits};
use crate::science::climate::site_climate::{MOST_LISTED, Question, SiteClimate};
use crate::units::{Celsius, both_scales, change_in_both_scales};

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
    #[command(flatten)]
    beside: BesideArgs,
}

/// What is asked beside the climate; the parameters of the API by the same rules.
#[derive(Debug, Default, ClapArgs)]
struct BesideArgs {
    /// A threshold of your own for cold nights and spells, °C, beside 0, −2.2, −3.9 and −6.7
    #[arg(long, value_name = "C")]
    below: Option<String>,
    /// Pots are carried in when the night falls below this, °C
    #[arg(long, value_name = "C")]
    carry_below: Option<String>,
    /// Temperature held in a heated shelter, °C
    #[arg(long, value_name = "C")]
    hold: Option<String>,
    /// What the shelter loses, W/K
    #[arg(long, value_name = "W_PER_K")]
    heat_loss: Option<String>,
    /// Winters from and to, for example 1961-1990; twice to set two periods side by side
    #[arg(long, value_name = "FROM-TO")]
    period: Vec<String>,
}

impl BesideArgs {
    fn question(&self) -> Result<Question, CliError> {
        let periods = (!self.period.is_empty()).then(|| self.period.join(","));
        let given = [&self.below, &self.carry_below, &self.hold, &self.heat_loss, &periods];
        let pairs: Vec<(String, String)> =
            asked::PARAMETERS.iter().zip(given).filter_map(|(name, text)| Some(((*name).to_owned(), text.clone()?))).collect();
        asked::question(&pairs).map_err(|errors| CliError::Input(errors.to_string()))
    }
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
    let question = args.beside.question()?;
    let reading = asked::answered(args.reading.read(&args.file)?, &question).map_err(|error| CliError::Input(error.to_string()))?;
    if args.json {
        let json = climate_json(&reading.climate).map_err(anyhow::Error::from)?;
        serde_json::to_writer_pretty(&mut *out, &json).map_err(anyhow::Error::from)?;
        writeln!(out)?;
        return Ok(());
    }
    write_file(&reading.climate, out)?;
    write_winters(&reading.climate, out)?;
    write_extremes(&reading.climate, out)?;
    write_season(&reading.climate, out)?;
    write_spells(&reading.climate, out)?;
    for found in &reading.climate.diagnostics {
        writeln!(out, "Note: {}.", diagnostic_words(found))?;
    }
    Ok(())
}

fn both(celsius: f64) -> String {
    in_both_scales(Celsius::literal(celsius), 1)
}

fn write_file(climate: &SiteClimate, out: &mut dyn Write) -> Result<(), CliError> {
    let file = &climate.file;
    let station = file.station.as_ref().map_or_else(String::new, |id| format!(", station {id}"));
    writeln!(out, "{}{station}: {} to {}, {} days with readings", file.format, file.first, file.last, file.days)?;
    writeln!(out, "Values read as {} (told by {})", file.units_as_read, file.units_from)?;
    if climate.rejected_count == 0 {
        writeln!(out, "No value refused.")?;
    } else {
        writeln!(out, "{} value(s) refused:", climate.rejected_count)?;
        for refused in climate.rejected.iter().take(REJECTED_SHOWN) {
            writeln!(out, "  {} {} {:.1} °C: {}", refused.date, refused.element, refused.value_c, refused.reason)?;
        }
        if climate.rejected_count > REJECTED_SHOWN {
            writeln!(out, "  and {} more (--json lists the first {MOST_LISTED})", climate.rejected_count - REJECTED_SHOWN)?;
        }
    }
    Ok(())
}

fn write_winters(climate: &SiteClimate, out: &mut dyn Write) -> Result<(), CliError> {
    writeln!(out, "\nWinters ({})", winter_rule_words(climate.winter_rule))?;
    writeln!(out, "{:>6}  {:<22}{:<12}{:>8}  equivalent midwinter minimum, and its night", "winter", "lowest", "on", "missing")?;
    for winter in &climate.winters {
        let lowest = winter.minimum_c.map_or_else(|| "none".to_owned(), |t| both(t.degrees()));
        let date = winter.date.map_or_else(String::new, |date| date.to_string());
        let equivalent = match (winter.reason, winter.equivalent_minimum_c, winter.equivalent_date) {
            (Some(reason), ..) => format!("not used: {}", not_used_words(reason)),
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
    let spread = sd_c.map_or_else(String::new, |sd| format!(", spread between winters {}", both_scales(sd)));
    let zone = half_zone.as_ref().map_or_else(String::new, |zone| format!(", half-zone {zone}"));
    writeln!(out, "  mean {}{spread}{zone}", both(*mean_c))?;
    let name = match chosen {
        Some(Chosen::Normal) => "normal",
        Some(Chosen::GevLmoments) => "GEV by L-moments",
        Some(Chosen::GevMle) => "GEV by maximum likelihood",
        Some(Chosen::GevPrior) => "GEV by maximum likelihood, weak prior on its shape",
        None => "no distribution",
    };
    writeln!(out, "  {name}: {}", why_words(why))?;
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
        // Never as if it were nothing.
        let p = if trend.p_value < 0.001 { "p < 0.001".to_owned() } else { format!("p = {:.3}", trend.p_value) };
        writeln!(out, "  trend {} a decade, {p} ({}): {verdict}", change_in_both_scales(trend.per_decade_k), trend.method)?;
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
                "  class {}: mean {}, {} below the thermometer; {} winters set by another night than the coldest",
                class.class,
                both(class.mean_c),
                both_scales(-class.mean_shift_k),
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

/// `22 (11 to 43)`: the middle winter, and nine in ten winters between.
fn range(q: &Quantiles<f64>) -> String {
    format!("{:.0} ({:.0} to {:.0})", q.p50, q.p10, q.p90)
}

fn write_spells(climate: &SiteClimate, out: &mut dyn Write) -> Result<(), CliError> {
    if let Some(spells) = &climate.spells {
        writeln!(out, "\nCold nights, {} winters: the middle winter (one winter in ten fewer, one in ten more)", spells.winters)?;
        writeln!(out, "  {:<20}{:<20}{:<20}longest run of all", "below", "nights a winter", "longest run")?;
        for below in &spells.by_threshold {
            let longest = below.longest.map_or_else(|| "none".to_owned(), |run| format!("{} nights from {}", run.nights, run.first));
            let threshold = both(below.threshold.degrees());
            writeln!(out, "  {threshold:<20}{:<20}{:<20}{longest}", range(&below.nights), range(&below.longest_run))?;
        }
        if let Some(carrying) = &spells.carrying {
            let (nights, trips) = (range(&carrying.nights), range(&carrying.trips));
            writeln!(
                out,
                "  Pots carried in below {}: {nights} nights inside, {trips} times in and out",
                both(carrying.below_c.degrees())
            )?;
        }
        if let Some(heating) = &spells.heating {
            writeln!(
                out,
                "  A shelter of {:.0} W/K held at {}: {} nights of heating and {} kWh a winter, {} W on its coldest night; costliest {} days {} kWh, {:.0} kWh from {}. Sun and the warmth of the ground are left out.",
                heating.conductance_w_k,
                both(heating.hold_c.degrees()),
                range(&heating.nights),
                range(&heating.energy_kwh),
                range(&heating.power_w),
                heating.design_spell.days,
                range(&heating.design_spell.energy_kwh),
                heating.design_spell.worst_energy_kwh,
                heating.design_spell.worst_first
            )?;
        }
    }
    let Some(periods) = &climate.periods else { return Ok(()) };
    for PeriodClimate { period, yearly_minimum, spells } in &periods.periods {
        let zone = yearly_minimum.half_zone.as_ref().map_or_else(String::new, |zone| format!(", half-zone {zone}"));
        writeln!(out, "\nWinters {period}: {} used, mean {}{zone}", yearly_minimum.winters_used, both(yearly_minimum.mean_c))?;
        for level in yearly_minimum.return_levels.iter().filter(|level| [10, 30].contains(&level.years)) {
            writeln!(out, "  once in {} years below {}", level.years, both(level.level_c))?;
        }
        for below in &spells.by_threshold {
            writeln!(out, "  below {}: {} nights a winter", both(below.threshold.degrees()), range(&below.nights))?;
        }
    }
    if let Some(change) = periods.difference {
        writeln!(
            out,
            "  The second is {} from the first (95 % interval {} to {})",
            change_in_both_scales(change.mean_k),
            change_in_both_scales(change.low_k),
            change_in_both_scales(change.high_k)
        )?;
    }
    Ok(())
}
