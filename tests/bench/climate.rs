//! Days a second from a daily record to a site's climate, beside reading the same bytes and doing nothing.
//!
//! A simulated record of 150 years in the `.dly` and by-station layouts; the best of several runs, since the machine may be shared.
#![allow(clippy::disallowed_methods, clippy::unwrap_used, missing_docs)]

use std::fmt::Write;
use std::io::{BufRead, BufReader};
use std::time::{Duration, Instant};

use jiff::civil::Date;
use winterfig_core::science::climate::record::{DailyRecord, ReadOptions};
use winterfig_core::science::climate::site_climate::SiteClimate;

const YEARS: i16 = 150;
const RUNS: usize = 7;

fn main() {
    let days = simulated();
    let options = ReadOptions::on(Date::constant(2026, 1, 1));
    println!("{:<12}{:>10}{:>12}{:>14}{:>14}{:>12}{:>14}", "layout", "MB", "days", "bare read ms", "parse ms", "whole ms", "days/s whole");
    for (name, text) in [("dly", dly(&days)), ("by-station", by_station(&days)), ("plain", plain(&days))] {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(file.path(), &text).unwrap();
        let open = || BufReader::with_capacity(1 << 16, std::fs::File::open(file.path()).unwrap());
        let bare = best(|| {
            let (mut source, mut total) = (open(), 0);
            loop {
                let read = source.fill_buf().unwrap().len();
                if read == 0 {
                    break;
                }
                total += read;
                source.consume(read);
            }
            assert_eq!(total, text.len());
        });
        let parse = best(|| assert_eq!(DailyRecord::read(open(), &options).unwrap().as_slice().len(), days.len()));
        let whole = best(|| assert!(SiteClimate::of(&DailyRecord::read(open(), &options).unwrap()).unwrap().winter_minimum().is_some()));
        println!(
            "{name:<12}{:>10.2}{:>12}{:>14.2}{:>14.1}{:>12.1}{:>14.0}",
            text.len() as f64 / 1e6,
            days.len(),
            bare.as_secs_f64() * 1e3,
            parse.as_secs_f64() * 1e3,
            whole.as_secs_f64() * 1e3,
            days.len() as f64 / whole.as_secs_f64()
        );
    }
}

fn best(mut run: impl FnMut()) -> Duration {
    (0..RUNS)
        .map(|_| {
            let start = Instant::now();
            run();
            start.elapsed()
        })
        .min()
        .unwrap_or_default()
}

/// Date, minimum and maximum in tenths of °C: a cosine year with a slow wander.
fn simulated() -> Vec<(Date, i32, i32)> {
    let mut date = Date::constant(1870, 1, 1);
    let (mut state, mut wander) = (1_u64, 0.0_f64);
    let mut days = Vec::new();
    while date.year() < 1870 + YEARS {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let step = (state >> 40) as f64 / f64::from(1 << 24) - 0.5;
        wander = 0.8 * wander + 9.0 * step;
        let mean = 10.0 - 11.0 * (std::f64::consts::TAU * f64::from(date.day_of_year()) / 365.25).cos() + wander;
        days.push((date, ((mean - 4.5) * 10.0) as i32, ((mean + 5.5) * 10.0) as i32));
        date = date.tomorrow().unwrap();
    }
    days
}

fn dly(days: &[(Date, i32, i32)]) -> String {
    let mut text = String::new();
    for month in days.chunk_by(|a, b| a.0.month() == b.0.month()) {
        for (element, of) in [("TMAX", 1), ("TMIN", 0)] {
            let first = month[0].0;
            write!(text, "SIM00000001{:04}{:02}{element}", first.year(), first.month()).unwrap();
            for day in 0..31 {
                let value = month.get(day).map_or(-9999, |(_, low, high)| if of == 1 { *high } else { *low });
                write!(text, "{value:>5}  0").unwrap();
            }
            text.push('\n');
        }
    }
    text
}

fn by_station(days: &[(Date, i32, i32)]) -> String {
    let mut text = String::new();
    for (date, low, high) in days {
        let day = format!("{:04}{:02}{:02}", date.year(), date.month(), date.day());
        writeln!(text, "SIM00000001,{day},TMAX,{high},,,0,\nSIM00000001,{day},TMIN,{low},,,0,").unwrap();
    }
    text
}

fn plain(days: &[(Date, i32, i32)]) -> String {
    let mut text = String::from("date,tmin_c,tmax_c\n");
    for (date, low, high) in days {
        writeln!(text, "{date},{:.1},{:.1}", f64::from(*low) / 10.0, f64::from(*high) / 10.0).unwrap();
    }
    text
}
