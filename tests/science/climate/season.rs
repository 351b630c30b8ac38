//! Frost dates, degree-days, chill, hours of a night and zones.

use jiff::civil::Date;
use serde_json::Value;
use winterfig_core::science::climate::chill::{self, DynamicModel, is_chill_hour, utah_unit};
use winterfig_core::science::climate::degree_days::{DegreeDayRule, Method};
use winterfig_core::science::climate::frost::Frost;
use winterfig_core::science::climate::hourly::{DayCurve, Daylight};
use winterfig_core::science::climate::night_curve::night_curve;
use winterfig_core::science::climate::winters::Hemisphere;
use winterfig_core::science::climate::zone::HalfZone;
use winterfig_core::units::Celsius;

use super::{STATIONS, near, number, read, reference, rows, small_cases, text};

#[test]
fn frost_dates_are_exact_at_every_threshold() {
    let Some(reference) = reference() else { return };
    for (name, file) in STATIONS {
        let Some(source) = text(&format!("{file}.csv")) else { return };
        let record = read(&source).unwrap();
        for (threshold, expected) in reference[name]["frost"].as_object().unwrap() {
            let threshold = Celsius::new(threshold.trim_end_matches('C').parse().unwrap()).unwrap();
            let frost = Frost::of(&record, Hemisphere::North, threshold);
            for (hemisphere, years, without, dates) in [
                ("last_spring", frost.springs, frost.springs_without, frost.last_spring.unwrap()),
                ("first_fall", frost.autumns, frost.autumns_without, frost.first_autumn.unwrap()),
            ] {
                let expected = &expected[hemisphere];
                assert_eq!(years as u64, expected["years"].as_u64().unwrap(), "{name} {hemisphere}");
                assert_eq!(without as u64, expected["years_without"].as_u64().unwrap(), "{name} {hemisphere}");
                for (p, got) in [("p10", dates.p10), ("p50", dates.p50), ("p90", dates.p90)] {
                    near(hemisphere, got.number(), &expected["quantiles_type7"][p], 1e-6);
                    assert_eq!(serde_json::to_value(got).unwrap(), expected["dates_type7"][p], "{name} {hemisphere} {p}");
                }
            }
            let (days, expected) = (frost.frost_free_days.unwrap(), &expected["frost_free_days"]);
            assert_eq!(frost.years_with_both as u64, expected["n"].as_u64().unwrap(), "{name}");
            for (p, got) in [("p10", days.p10), ("p50", days.p50), ("p90", days.p90)] {
                near("frost-free days", got, &expected[p], 1e-6);
            }
        }
    }
}

#[test]
fn degree_days_by_three_methods_agree_year_by_year() {
    let methods = [
        ("simple", Method::SimpleAverage, f64::INFINITY),
        ("clipped", Method::ClippedAverage, 30.0),
        ("single_sine", Method::SingleSine, f64::INFINITY),
    ];
    for (_, file) in STATIONS {
        let (Some(source), Some(expected)) = (text(&format!("{file}.csv")), text(&format!("{file}.gdd.csv"))) else { return };
        let record = read(&source).unwrap();
        for row in rows(&expected) {
            let year: i16 = row["year"].parse().unwrap();
            let (first, last) = (Date::new(year, 1, 1).unwrap(), Date::new(year, 12, 31).unwrap());
            let season = (Date::new(year, 4, 1).unwrap(), Date::new(year, 10, 31).unwrap());
            for (name, method, cap_c) in methods {
                let rule = DegreeDayRule { method, base_c: 10.0, cap_c };
                for (part, (from, to)) in [("annual", (first, last)), ("apr_oct", season)] {
                    let (sum, _) = rule.sum(record.span(from, to));
                    let expected = number(&row, &format!("{name}_{part}"));
                    assert!((sum - expected).abs() < 0.01, "{file} {year} {name} {part}: {sum} against {expected}");
                }
            }
        }
    }
}

#[test]
fn published_degree_days_of_single_days_are_reproduced() {
    let Some(cases) = small_cases() else { return };
    for case in cases["gdd_days"].as_array().unwrap() {
        let (low, high, base_c) = (case["tmin"].as_f64().unwrap(), case["tmax"].as_f64().unwrap(), case["base"].as_f64().unwrap());
        for (name, method) in [("simple", Method::SimpleAverage), ("single_sine", Method::SingleSine)] {
            near(name, DegreeDayRule { method, base_c, cap_c: f64::INFINITY }.day(low, high), &case[name], 1e-6);
        }
    }
}

/// Latitudes of the two stations: 47.4444 (station list) and 50.4 (the evidence's check of the day length).
/// Winter 1952 of Seattle holds a day whose maximum (−15.6 °C) lies below its minimum (3.9 °C): refused here and used in the reference, so
/// that season is held to one hour's worth of that day only.
#[test]
fn chill_of_every_season_agrees_with_the_published_formulas() {
    for (file, chill_file, latitude) in [
        ("seattle_tacoma_1948_2017", "seattle_tacoma.chill.csv", 47.4444),
        ("klein_altendorf_1998_2010", "klein_altendorf.chill.csv", 50.4),
    ] {
        let (Some(source), Some(expected)) = (text(&format!("{file}.csv")), text(chill_file)) else { return };
        let record = read(&source).unwrap();
        let seasons = chill::seasons(&record, Hemisphere::North, latitude);
        for row in rows(&expected) {
            let season =
                seasons.iter().find(|s| s.winter.to_string() == row["winter"]).unwrap_or_else(|| panic!("{file} {}", row["winter"]));
            let spoiled = file.starts_with("seattle") && season.winter == 1952;
            let (hours, portions) = if spoiled { (48.0, 1.5) } else { (0.5, 0.05) };
            for (name, got, tolerance) in [
                ("plain_ch_0_7.2", season.hours, hours),
                ("plain_ch_below_7.2", season.hours_below, hours),
                ("plain_utah", season.utah, hours),
                ("plain_portions", season.portions, portions),
            ] {
                let expected = number(&row, name);
                assert!((got - expected).abs() <= tolerance, "{file} {} {name}: {got} against {expected}", season.winter);
            }
            for (name, got) in [("chillR_ch_0_7.2", season.hours), ("chillR_portions", season.portions)] {
                let expected = number(&row, name);
                assert!(spoiled || (got / expected - 1.0).abs() < 0.02, "{file} {} {name}: {got} against {expected}", season.winter);
            }
        }
    }
}

#[test]
fn the_hours_of_the_coldest_days_are_those_of_the_reference() {
    for (file, name, latitude) in
        [("seattle_tacoma_1948_2017", "seattle_tacoma", 47.4444), ("klein_altendorf_1998_2010", "klein_altendorf", 50.4)]
    {
        let (Some(source), Some(expected)) = (text(&format!("{file}.csv")), text(&format!("{name}.hourly_coldest_day.csv"))) else {
            return;
        };
        let record = read(&source).unwrap();
        let curve = |date: Date| {
            let day = record.as_slice()[record.index_of(date).unwrap()];
            let light = Daylight::of(latitude, date.day_of_year());
            DayCurve { minimum_c: day.minimum.unwrap().degrees(), maximum_c: day.maximum.unwrap().degrees(), light }
        };
        for row in rows(&expected) {
            let date: Date = row["date"].parse().unwrap();
            let hours = curve(date).hours(Some(&curve(date.yesterday().unwrap())), Some(&curve(date.tomorrow().unwrap())));
            for (hour, got) in hours.into_iter().enumerate() {
                assert!((got - number(&row, &format!("h{hour}"))).abs() < 1e-3, "{name} {date} {hour} h: {got}");
            }
        }
    }
}

#[test]
fn chill_models_and_day_length_give_the_published_numbers() {
    let Some(cases) = small_cases() else { return };
    let vectors = &cases["chill_vectors"];
    let mut model = DynamicModel::default();
    let mut first = None;
    for hour in 1..=240 {
        model.pass(6.0);
        if first.is_none() && model.portions > 0.0 {
            first = Some((hour, model.portions));
        }
    }
    near("portions", model.portions, &vectors["six_c_240h_portions"], 1e-6);
    near("first hour", f64::from(first.unwrap().0), &vectors["six_c_first_portion_hour_1based"], 0.0);
    near("first portion", first.unwrap().1, &vectors["six_c_first_portion_value"], 1e-6);
    let blocks: Vec<f64> = [4.0, 8.0, 12.0, 2.0].into_iter().flat_map(|t| std::iter::repeat_n(t, 24)).collect();
    let mut model = DynamicModel::default();
    for t in &blocks {
        model.pass(*t);
    }
    let expected = &vectors["blocks_4_8_12_2_each_24h"];
    near("hours", blocks.iter().filter(|t| is_chill_hour(**t)).count() as f64, &expected["chill_hours_0_7_2"], 0.0);
    near("utah", blocks.iter().map(|t| utah_unit(*t)).sum(), &expected["utah"], 1e-9);
    near("portions", model.portions, &expected["portions"], 1e-6);
    let light = &cases["daylength"];
    let got = Daylight::of(light["lat"].as_f64().unwrap(), 15);
    near("sunrise", got.sunrise_h, &light["sunrise"], 1e-6);
    near("sunset", got.sunset_h, &light["sunset"], 1e-6);
    near("length", got.length_h(), &light["daylength"], 1e-6);
}

#[test]
fn the_fao_night_curve_is_reproduced() {
    let Some(cases) = small_cases() else { return };
    let c = |value: &Value| Celsius::new(value.as_f64().unwrap()).unwrap();
    let night = &cases["frost_night_curve"];
    let hours = night["hours_sunset_to_sunrise"].as_f64().unwrap();
    for (i, expected) in night["h3_to_15"].as_array().unwrap().iter().enumerate() {
        near("night", night_curve(c(&night["t2"]), c(&night["tmin"]), hours, i as f64 + 3.0).degrees(), expected, 1e-6);
    }
}

#[test]
fn the_published_zone_bands_hold_and_name_the_cases() {
    let Some(cases) = small_cases() else { return };
    for (zone, expected) in HalfZone::all().zip(cases["zone_table"].as_array().unwrap()) {
        assert_eq!(zone.to_string(), expected["zone"].as_str().unwrap());
        near("low", zone.band_f().low, &expected["low_f"], 0.0);
        near("high", zone.band_f().high, &expected["high_f"], 0.0);
        near("low °C", zone.band().low.degrees(), &expected["low_c"], 0.006);
        near("high °C", zone.band().high.degrees(), &expected["high_c"], 0.006);
    }
    for case in cases["zone_cases"].as_array().unwrap() {
        assert_eq!(HalfZone::of_mean_f(case["mean_min_f"].as_f64().unwrap()).unwrap().to_string(), case["zone"].as_str().unwrap());
    }
}
