//! Daily records as people have them: read, screened, refused.

use std::fmt::Write;

use jiff::civil::Date;
use winterfig_core::science::climate::diagnostics::Diagnostic;
use winterfig_core::science::climate::extreme_fits::Grounds;
use winterfig_core::science::climate::record::{DailyRecord, ReadOptions, RecordError, RejectReason};
use winterfig_core::science::climate::site_climate::{ClimateError, SiteClimate};
use winterfig_core::science::climate::winters::Hemisphere;
use winterfig_core::units::Celsius;

use super::{STATIONS, TODAY, minima, number, read, rows, small_cases, text};

const LAYOUTS: [&str; 3] =
    ["USW00024233.reencoded_1988_1991.dly", "USW00024233.reencoded_1988_1991.by_station.csv", "USW00024233.reencoded_1988_1991.access.csv"];

#[test]
fn the_three_layouts_of_the_same_values_give_the_same_answer_to_the_last_digit() {
    let answers: Vec<String> = LAYOUTS
        .iter()
        .filter_map(|name| {
            // The access layout alone holds the latitude; it is given to the others.
            let options = ReadOptions { latitude_deg: Some(47.4444), ..ReadOptions::on(TODAY) };
            let record = DailyRecord::read(text(name)?.as_bytes(), &options).unwrap();
            let mut json = serde_json::to_value(SiteClimate::of(&record).unwrap()).unwrap();
            for key in ["format", "lines", "units_from"] {
                json["file"].as_object_mut().unwrap().remove(key);
            }
            Some(json.to_string())
        })
        .collect();
    assert!(answers.windows(2).all(|pair| pair[0] == pair[1]));
    let Some(by_station) = text(LAYOUTS[1]) else { return };
    let with_header = format!("ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME\n{by_station}");
    let (plain, headed) = (read(&by_station).unwrap(), read(&with_header).unwrap());
    assert!(plain.days().eq(headed.days()));
}

#[test]
fn planted_flags_and_gaps_are_found_in_every_layout() {
    let Some(cases) = small_cases() else { return };
    let expected = &cases["ghcn"];
    for name in LAYOUTS {
        let Some(source) = text(name) else { return };
        let record = read(&source).unwrap();
        assert_eq!(record.file.station.as_deref(), Some("USW00024233"));
        assert_eq!(record.file.first.to_string(), expected["first"].as_str().unwrap());
        assert_eq!(record.file.last.to_string(), expected["last"].as_str().unwrap());
        let count =
            |of: fn(&winterfig_core::science::climate::record::Day) -> bool| record.as_slice().iter().filter(|d| of(d)).count() as u64;
        assert_eq!(count(|d| d.minimum.is_some()), expected["valid_tmin"].as_u64().unwrap(), "{name}");
        assert_eq!(count(|d| d.maximum.is_some()), expected["valid_tmax"].as_u64().unwrap(), "{name}");
        assert_eq!(count(|d| d.minimum.is_some_and(|t| t.degrees() <= 0.0)), expected["days_tmin_le_0"].as_u64().unwrap());
        assert_eq!(record.rejected.len(), 1);
        let rejected = record.rejected[0];
        assert_eq!((rejected.date.to_string().as_str(), rejected.value_c), ("1989-07-15", -40.0));
        assert_eq!(rejected.reason, RejectReason::QualityFlag('O'));
        let climate = SiteClimate::of(&record).unwrap();
        for winter in &climate.winters {
            let [date, minimum, days] = [0, 1, 2].map(|i| expected[format!("winter_{}", winter.winter)][i].clone());
            assert_eq!(winter.date.unwrap().to_string(), date.as_str().unwrap());
            assert_eq!(winter.minimum_c.unwrap().degrees(), minimum.as_f64().unwrap());
            assert_eq!((365 - winter.days_missing) as u64, days.as_u64().unwrap());
        }
        let extremes = &climate.yearly_minimum;
        assert_eq!((extremes.winters_used, extremes.chosen), (3, None));
        assert!(extremes.why.grounds == Grounds::TooFew { winters: 3 } && climate.winter_minimum().is_none());
    }
}

#[test]
fn an_impossible_value_that_lost_its_flag_is_still_found() {
    let Some(source) = text(LAYOUTS[0]) else { return };
    let unflagged = source.replace("-400 O0", "-400  0");
    assert_ne!(source, unflagged);
    let record = read(&unflagged).unwrap();
    assert_eq!(record.rejected.len(), 1, "{:?}", record.rejected);
    assert_eq!(record.rejected[0].date.to_string(), "1989-07-15");
    assert!(matches!(record.rejected[0].reason, RejectReason::NeighbouringDays | RejectReason::OutOfSeason));
}

#[test]
fn screening_takes_nothing_from_three_sound_records_but_the_one_inverted_day() {
    for (_, file) in STATIONS {
        let Some(source) = text(&format!("{file}.csv")) else { return };
        let record = read(&source).unwrap();
        let found: Vec<String> = record.rejected.iter().map(|r| format!("{} {} {}", r.date, r.element, r.reason)).collect();
        let expected: &[&str] = if file.starts_with("seattle") { &["1951-11-20 tmax minimum_above_maximum"] } else { &[] };
        assert_eq!(found, expected, "{file}");
    }
}

/// Conventions of the cases: three genuine outbreaks in March must survive screening.
#[test]
fn genuine_outbreaks_of_a_continental_station_are_kept_and_listed() {
    let Some(source) = text("fort_collins_co_1900_1999.csv") else { return };
    let record = read(&source).unwrap();
    assert_eq!(record.rejected, []);
    for (date, minimum) in [("1906-03-19", -31.6667), ("1943-03-06", -35.0), ("1948-03-11", -34.4444)] {
        let date: Date = date.parse().unwrap();
        assert_eq!(record.as_slice()[record.index_of(date).unwrap()].minimum, Some(Celsius::new(minimum).unwrap()));
        assert!(record.doubtful.iter().any(|d| d.date == date && d.value_c == minimum), "{:?}", record.doubtful);
    }
    let climate = SiteClimate::of(&record).unwrap();
    assert!(
        climate.doubtful.len() == record.doubtful.len()
            && climate.diagnostics.iter().any(|found| {
                matches!(found, Diagnostic::FarFromSeason { values } if values.iter().any(|d| d.date == Date::constant(1943, 3, 6)))
            })
    );
}

#[test]
fn whole_fahrenheit_is_recognised_and_gives_the_same_winters() {
    let Some(source) = text("seattle_tacoma_1948_2017.csv") else { return };
    let mut fahrenheit = String::from("\"STATION\",\"DATE\",\"TMAX\",\"TMIN\"\n");
    for row in rows(&source) {
        let f = |column: &str| (number(&row, column) * 1.8 + 32.0).round();
        writeln!(fahrenheit, "\"USW00024233\",\"{}\",\"{}\",\"{}\"", row["date"], f("tmax_c"), f("tmin_c")).unwrap();
    }
    let record = read(&fahrenheit).unwrap();
    assert_eq!((record.file.units_as_read.word(), record.file.units_from), ("f", "the values"));
    let (a, b) = (SiteClimate::of(&record).unwrap(), SiteClimate::of(&read(&source).unwrap()).unwrap());
    for ((year, got), (_, expected)) in minima(&a).iter().zip(minima(&b)) {
        assert!((got - expected).abs() < 1e-4, "{year}");
    }
}

/// The simulated plain record of `days` days from a date, a line each.
fn plain(first: Date, days: usize) -> Vec<String> {
    let mut date = first;
    let mut lines = vec!["date,tmin_c,tmax_c".to_owned()];
    for i in 0..days {
        let mean = 10.0 - 9.0 * (std::f64::consts::TAU * f64::from(date.day_of_year()) / 365.0).cos() + 2.0 * (i as f64 * 1.3).sin();
        lines.push(format!("{date},{:.1},{:.1}", mean - 4.0, mean + 5.0));
        date = date.tomorrow().unwrap();
    }
    lines
}

fn refused(lines: &[String]) -> String {
    read(&lines.join("\n")).unwrap_err().to_string()
}

#[test]
fn bad_lines_are_refused_with_their_number_and_what_is_accepted() {
    let first = Date::constant(2000, 7, 1);
    let sound = plain(first, 1200);
    assert!(read(&sound.join("\n")).is_ok());
    let spoil = |line: usize, text: &str| {
        let mut lines = sound.clone();
        lines[line - 1] = text.to_owned();
        refused(&lines)
    };
    assert_eq!(spoil(5, "2000-07-04,11"), "line 5 has 2 fields; 3 are expected");
    assert_eq!(spoil(5, "2000-07-04,12,x"), "line 5: tmax “x” is not a number; missing values are left empty");
    assert_eq!(spoil(5, "04/07/2000,12,20"), "line 5: “04/07/2000” is not a date; accepted are 1990-01-31 and 19900131");
    assert!(spoil(5, "2099-07-04,12,20").starts_with("line 5: 2099-07-04 lies outside 1700-01-01 to today"));
    assert!(spoil(5, "2000-07-03,12,20").contains("line 4 says"), "{}", spoil(5, "2000-07-03,12,20"));
    assert!(spoil(5, "2000-06-28,12,20").contains("days must run forward"));
    assert!(spoil(1, "date,tmin_c,tmax_f").contains("mix °C and °F"));
    assert!(spoil(1, "when;how;what").contains("date,tmin_c,tmax_c"));
    assert!(refused(&["date,tmin_c,tmax_c".to_owned()]).contains("no usable daily minimum"));
    assert_eq!(read("").unwrap_err(), RecordError::Empty);
}

/// The same three simulated years in the ways people have them: every one gives the days of the plain table.
#[test]
fn tables_as_people_have_them_give_the_days_of_the_plain_one() {
    let lines = plain(Date::constant(2000, 7, 1), 1200);
    let expected = read(&lines.join("\n")).unwrap();
    let written = |header: &str, row: &dyn Fn(Date, f64, f64) -> String| {
        let mut text = format!("{header}\n");
        for line in &lines[1..] {
            let fields: Vec<&str> = line.split(',').collect();
            text += &row(fields[0].parse().unwrap(), fields[1].parse().unwrap(), fields[2].parse().unwrap());
            text.push('\n');
        }
        text
    };
    let comma = |t: f64| format!("{t:.1}").replace('.', ",");
    let f = |t: f64| t * 1.8 + 32.0;
    for (name, text) in [
        (
            "US dates",
            written("Date,Low,High", &|d, low, high| format!("{}/{}/{},{:.2},{:.2}", d.month(), d.day(), d.year(), f(low), f(high))),
        ),
        ("highest first", written("Date,High (°C),Low (°C)", &|d, low, high| format!("{d},{high:.1},{low:.1}"))),
        (
            "semicolons",
            written("Datum;Min;Max", &|d, low, high| {
                format!("{:02}.{:02}.{};{};{}", d.day(), d.month(), d.year(), comma(low), comma(high))
            }),
        ),
        (
            "day first",
            written("Date\tMin Temp (C)\tMax Temp (C)", &|d, low, high| {
                format!("{}/{}/{}\t{low:.1}\t{high:.1}", d.day(), d.month(), d.year())
            }),
        ),
        (
            "plain, US dates",
            written("date,tmin_c,tmax_c", &|d, low, high| format!("{}/{}/{},{low:.1},{high:.1}", d.month(), d.day(), d.year())),
        ),
    ] {
        let found = read(&text).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert_eq!((found.file.first, found.file.last), (expected.file.first, expected.file.last), "{name}");
        for ((date, a), (_, b)) in found.days().zip(expected.days()) {
            let near = |a: Option<Celsius>, b: Option<Celsius>| (a.unwrap() - b.unwrap()).abs().kelvin() < 0.01;
            assert!(near(a.minimum, b.minimum) && near(a.maximum, b.maximum), "{name} {date}: {a:?} {b:?}");
        }
    }
}

/// A logger's hourly readings: title lines, a header that begins with a number sign, °F; started at noon and read out at six in the morning.
#[test]
fn a_loggers_readings_give_the_lowest_and_highest_of_whole_days() {
    let mut text = String::from("\"Plot title: garden\"\n\"#\",\"Date Time, GMT-07:00\",\"Temp, °F\"\n");
    let (mut date, mut number) = (Date::constant(2023, 1, 1), 0);
    for day in 0..400 {
        for hour in if day == 0 {
            12..24
        } else if day == 399 {
            0..6
        } else {
            0..24
        } {
            number += 1;
            let t = 50.0 - 20.0 * (std::f64::consts::TAU * f64::from(date.day_of_year()) / 365.0).cos()
                + 9.0 * (f64::from(hour - 9) * 0.2618).sin();
            writeln!(text, "{number},{:02}/{:02}/{} {hour:02}:00:00,{t:.2}", date.month(), date.day(), date.year() % 100).unwrap();
        }
        date = date.tomorrow().unwrap();
    }
    let record = read(&text).unwrap();
    assert_eq!((record.file.first.to_string().as_str(), record.file.days), ("2023-01-02", 398));
    assert_eq!((record.file.units_as_read.word(), record.file.units_from), ("f", "the header"));
    // 2 January: 50 − 20 cos(2·2π/365) = 30.0119 °F ± 9 at 3 and 15 o'clock.
    let day = record.as_slice()[0];
    assert!(
        (day.minimum.unwrap().fahrenheit() - 21.01).abs() < 0.02 && (day.maximum.unwrap().fahrenheit() - 39.01).abs() < 0.02,
        "{day:?}"
    );
}

#[test]
fn what_a_table_leaves_open_is_asked_with_what_is_accepted() {
    let short: Vec<String> =
        std::iter::once("Date,Low,High".to_owned()).chain((1..=28).map(|day| format!("2/{day}/2020,{},{}", 20 + day % 5, 40))).collect();
    let error = refused(&short);
    assert!(error.contains("units cannot be told") && error.contains("c, f or tenths_c"), "{error}");
    let told = ReadOptions { units: winterfig_core::science::climate::record::ReadUnits::of_word("f"), ..ReadOptions::on(TODAY) };
    assert_eq!(DailyRecord::read(short.join("\n").as_bytes(), &told).unwrap().file.days, 28);
    let either = ["Date,Low,High", "3/3/2020,20,40", "5/5/2020,21,41"].map(str::to_owned);
    assert!(refused(&either).contains("month first or day first"));
    let once = ["Time;Temperature", "2020-01-01 07:00;3,5", "2020-01-02 07:00;2,5"].map(str::to_owned);
    assert!(refused(&once).contains("too few for a daily minimum"));
    let words = ["Date,Low,High", "1/31/2020,cold,40"].map(str::to_owned);
    assert_eq!(refused(&words), "line 2: tmin “cold” is not a number; missing values are left empty");
}

#[test]
fn mixed_units_truncated_months_and_second_stations_are_refused() {
    let mut lines = plain(Date::constant(2000, 1, 1), 1461);
    for line in &mut lines[1 + 731..] {
        let fields: Vec<String> = line.split(',').map(str::to_owned).collect();
        let f = |i: usize| fields[i].parse::<f64>().unwrap() * 1.8 + 32.0;
        *line = format!("{},{:.0},{:.0}", fields[0], f(1), f(2));
    }
    let message = refused(&lines);
    assert!(message.contains("change scale") || message.contains("cannot be told") || message.contains("look like"), "{message}");
    let Some(dly) = text(LAYOUTS[0]) else { return };
    let cut: String = dly.lines().enumerate().map(|(i, l)| if i == 6 { format!("{}\n", &l[..200]) } else { format!("{l}\n") }).collect();
    assert_eq!(read(&cut).unwrap_err().to_string(), "line 7 has 200 characters; a line of this layout has 269");
    for name in LAYOUTS {
        let Some(source) = text(name) else { return };
        let last = source.lines().last().unwrap().replace("USW00024233", "USW00099999");
        let both = format!("{source}{last}\n");
        let error = read(&both).unwrap_err();
        assert!(matches!(&error, RecordError::SecondStation { line, .. } if *line == both.lines().count() as u64), "{name}: {error}");
        let one = ReadOptions { station: Some("USW00024233".to_owned()), ..ReadOptions::on(TODAY) };
        assert!(DailyRecord::read(both.as_bytes(), &one).unwrap().days().eq(read(&source).unwrap().days()));
        let none = ReadOptions { station: Some("USW00000000".to_owned()), ..ReadOptions::on(TODAY) };
        assert!(matches!(DailyRecord::read(both.as_bytes(), &none), Err(RecordError::StationMissing { .. })));
    }
}

#[test]
fn a_record_without_a_whole_winter_says_how_many_days_may_be_missing() {
    let record = read(&plain(Date::constant(2001, 1, 1), 400).join("\n")).unwrap();
    let error = SiteClimate::of(&record).unwrap_err();
    assert!(matches!(error, ClimateError::NoWinter { .. }) && error.to_string().contains("cold-month minima may be missing"), "{error}");
}

#[test]
fn the_same_days_half_a_year_later_have_southern_winters() {
    let mut lines = vec!["date,tmin_c,tmax_c".to_owned()];
    let mut date = Date::constant(1990, 1, 1);
    for _ in 0..3653 {
        let mean = 11.0 + 7.0 * (std::f64::consts::TAU * f64::from(date.day_of_year()) / 365.25).cos();
        lines.push(format!("{date},{:.2},{:.2}", mean - 6.0, mean + 6.0));
        date = date.tomorrow().unwrap();
    }
    let climate = SiteClimate::of(&read(&lines.join("\n")).unwrap()).unwrap();
    assert_eq!((climate.hemisphere, climate.hemisphere_from), (Hemisphere::South, "the values"));
    assert_eq!(climate.winters.iter().filter(|w| w.used).count(), 10);
    assert!(climate.winters.iter().filter(|w| w.used).filter_map(|w| w.date).all(|d| (6..=8).contains(&d.month())));
    let (month, _) = climate.frost.last_spring.unwrap().p50.month_day();
    assert!((7..=9).contains(&month), "{month}");
}
