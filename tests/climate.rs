//! The climate of a daily record, held against published values and other programs.
//!
//! Reference numbers: `climate/reference.json` and `climate/small_cases.json` of the cases, with conventions and tolerances in their
//! CONVENTIONS.md: fits checked against R ismev 1.43, evd 2.3-6.1, scipy and lmoments3 1.0.8; Port Pirie after Coles (2001); chill columns
//! from the published formulas; FAO night curve after Snyder & de Melo-Abreu (2005).
#![allow(clippy::disallowed_methods, clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::too_many_lines, missing_docs)]

mod common;

use std::collections::BTreeMap;
use std::fmt::Write;

use common::case;
use jiff::civil::Date;
use serde_json::Value;
use winterfig::jobs::station_record::words::{diagnostic_words, why_words};
use winterfig::science::climate::chill::{self, DynamicModel, is_chill_hour, utah_unit};
use winterfig::science::climate::degree_days::{DegreeDayRule, Method};
use winterfig::science::climate::extremes::Chosen;
use winterfig::science::climate::frost::Frost;
use winterfig::science::climate::gev::Gev;
use winterfig::science::climate::gev_likelihood::ShapePrior;
use winterfig::science::climate::hourly::{DayCurve, Daylight};
use winterfig::science::climate::lmoments::LMoments;
use winterfig::science::climate::night_curve::{ClearNight, MinimumForecast, NightCurve};
use winterfig::science::climate::periods::Period;
use winterfig::science::climate::profile;
use winterfig::science::climate::record::{DailyRecord, ReadOptions, RecordError, RejectReason};
use winterfig::science::climate::site_climate::{ClimateError, Question, SiteClimate};
use winterfig::science::climate::spells::{HeatedShelter, SpellQuestion};
use winterfig::science::climate::trend;
use winterfig::science::climate::winters::Hemisphere;
use winterfig::science::climate::zone::HalfZone;
use winterfig::units::Celsius;

const TODAY: Date = Date::constant(2026, 11, 25);
const STATIONS: [(&str, &str); 3] = [
    ("seattle_tacoma", "seattle_tacoma_1948_2017"),
    ("champion_ne", "champion_nebraska_1982_2018"),
    ("klein_altendorf", "klein_altendorf_1998_2010"),
];

fn text(name: &str) -> Option<String> {
    case(&format!("climate/{name}"))
}

fn reference() -> Option<Value> {
    Some(serde_json::from_str(&text("reference.json")?).unwrap())
}

fn small_cases() -> Option<Value> {
    Some(serde_json::from_str(&text("small_cases.json")?).unwrap())
}

fn read(source: &str) -> Result<DailyRecord, RecordError> {
    DailyRecord::read(source.as_bytes(), &ReadOptions::on(TODAY))
}

fn near(what: &str, got: f64, expected: &Value, tolerance: f64) {
    let expected = expected.as_f64().unwrap_or_else(|| panic!("{what}: no reference"));
    assert!((got - expected).abs() <= tolerance, "{what}: {got} against {expected} ± {tolerance}");
}

/// Rows of a CSV case as column → text.
fn rows(text: &str) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    reader.deserialize().map(Result::unwrap).collect()
}

fn number(row: &BTreeMap<String, String>, column: &str) -> f64 {
    row[column].parse().unwrap()
}

fn answering(record: &DailyRecord, question: &Question) -> Result<SiteClimate, ClimateError> {
    SiteClimate::of(record)?.answered(record, question)
}

fn minima(climate: &SiteClimate) -> Vec<(i16, f64)> {
    climate.winters.iter().filter(|w| w.used).map(|w| (w.winter, w.minimum_c.unwrap().degrees())).collect()
}

#[test]
fn port_pirie_is_fitted_as_published() {
    let (Some(reference), Some(text)) = (reference(), text("portpirie_annual_max.csv")) else { return };
    let reference = &reference["portpirie"];
    let points: Vec<(f64, f64)> = rows(&text).iter().map(|row| (number(row, "year"), number(row, "sea_level_m"))).collect();
    let sample: Vec<f64> = points.iter().map(|p| p.1).collect();
    check_gev(&sample, reference);
    let fit = Gev::fit(&sample).unwrap();
    let moving = trend::moving_location(&points, &fit).unwrap();
    let expected = &reference["trend_per_year_t=year-first"];
    near("nllh with trend", moving.nllh, &expected["nllh"], 1e-3);
    near("deviance", moving.deviance, &expected["deviance"], 2e-3);
    near("p", moving.p_value, &expected["p_value"], 5e-3);
    near("slope", moving.location_per_decade / 10.0, &expected["loc1"], 1e-4);
}

/// L-moments, likelihood fit, levels and profile intervals of one sample.
fn check_gev(sample: &[f64], reference: &Value) {
    let moments = LMoments::of(sample).unwrap();
    let lmom = &reference["lmom"];
    for (name, got) in [("l1", moments.l1), ("l2", moments.l2), ("t3", moments.t3), ("t4", moments.t4)] {
        near(name, got, &lmom[name], 1e-5);
    }
    for (name, fit) in [("lmom", Gev::of_lmoments(&moments).unwrap()), ("approx_1985", Gev::of_lmoments_1985(&moments).unwrap())] {
        let expected = if name == "lmom" { lmom } else { &lmom[name] };
        near(name, fit.location, &expected["loc"], 1e-5);
        near(name, fit.scale, &expected["scale"], 1e-5);
        near(name, fit.shape, &expected["shape_xi"], 1e-5);
        if name == "lmom" && !expected["support"].is_null() {
            near("end point", fit.end_point().unwrap(), &expected["support"]["bound"], 2e-3);
            assert_eq!(fit.covers(sample), expected["support"]["all_data_inside"].as_bool().unwrap());
        }
    }
    let mle = &reference["mle"];
    let fit = Gev::fit(sample).unwrap();
    assert!(fit.converged);
    near("location", fit.gev.location, &mle["loc"], 2e-3);
    near("scale", fit.gev.scale, &mle["scale"], 2e-3);
    near("shape", fit.gev.shape, &mle["shape_xi"], 2e-3);
    near("nllh", fit.nllh, &mle["nllh"], 1e-3);
    for (i, se) in fit.se.unwrap().into_iter().enumerate() {
        near("standard error", se, &mle["se"][i], 2e-3);
    }
    for (years, expected) in mle["return_levels"].as_object().unwrap() {
        let years: f64 = years.parse().unwrap();
        near("level", fit.gev.quantile(1.0 - 1.0 / years), &expected["level"], 0.02);
        if let Some(ends) = expected["profile95"].as_array() {
            let interval = profile::return_level(&fit, sample, years);
            near("profile low", interval.low.unwrap(), &ends[0], 0.05);
            near("profile high", interval.high.unwrap(), &ends[1], 0.05);
        }
    }
    let shape = profile::shape(&fit, sample);
    // Champion: at the reference's lower end, −0.381, an exhaustive search over location and scale finds the deviance to be 2.72 and not 3.84;
    // the search puts the end between −0.400 (3.61) and −0.405 (3.86). The search stands in for that one number.
    let low = &mle["shape_profile95"][0];
    let searched = serde_json::json!(-0.4046);
    near("shape low", shape.low.unwrap(), if low == &serde_json::json!(-0.381_424) { &searched } else { low }, 5e-3);
    near("shape high", shape.high.unwrap(), &mle["shape_profile95"][1], 5e-3);
}

#[test]
fn winters_of_three_stations_are_those_of_the_reference() {
    for (_, file) in STATIONS {
        let (Some(source), Some(expected)) = (text(&format!("{file}.csv")), text(&format!("{file}.winters.csv"))) else { return };
        let climate = SiteClimate::of(&read(&source).unwrap()).unwrap();
        let used: Vec<_> = climate.winters.iter().filter(|w| w.used).collect();
        let expected = rows(&expected);
        assert_eq!(used.len(), expected.len(), "{file}");
        for (winter, row) in used.iter().zip(&expected) {
            assert_eq!(winter.winter.to_string(), row["winter"]);
            assert_eq!(winter.minimum_c.unwrap().degrees(), number(row, "min_c"), "{file} {}", winter.winter);
            assert_eq!(winter.date.unwrap().to_string(), row["date"]);
            assert_eq!(winter.cold_days_missing.to_string(), row["missing"]);
        }
    }
}

#[test]
fn extremes_of_three_stations_agree_with_other_programs() {
    let Some(reference) = reference() else { return };
    for (name, file) in STATIONS {
        let Some(source) = text(&format!("{file}.csv")) else { return };
        let expected = &reference[name];
        let climate = SiteClimate::of(&read(&source).unwrap()).unwrap();
        let extremes = &climate.yearly_minimum;
        assert_eq!(extremes.winters_used as u64, expected["winters"].as_u64().unwrap());
        near("mean", extremes.mean_c, &expected["mean_min_c"], 1e-5);
        near("sd", extremes.sd_c.unwrap(), &expected["sd_min_c"], 1e-5);
        assert_eq!(extremes.half_zone.as_deref(), expected["half_zone_of_mean"].as_str());
        let observed = extremes.observed_quantiles_c;
        for (p, got) in [("p10", observed.p10), ("p50", observed.p50), ("p90", observed.p90)] {
            near(p, got, &expected["quantiles_type7"][p], 1e-4);
        }
        if expected["gev_of_negated_min"].is_null() {
            assert_eq!(extremes.chosen, Some(Chosen::Normal), "{name}: eleven winters are too few for a GEV");
            assert!(extremes.gev_mle.is_none() && extremes.why.contains("too few"));
            continue;
        }
        let reversed: Vec<f64> = minima(&climate).iter().map(|(_, t)| -t).collect();
        check_gev(&reversed, &expected["gev_of_negated_min"]);
        assert_eq!(extremes.chosen, Some(Chosen::GevPrior), "{name}: {}", extremes.why);
        let plain = extremes.gev_mle.as_ref().unwrap();
        let gev = Gev { location: -plain.location_c, scale: plain.scale_k, shape: plain.shape };
        for (p, got) in [("p10", gev.quantile(0.9)), ("p50", gev.quantile(0.5)), ("p90", gev.quantile(0.1))] {
            near(p, -got, &expected["min_quantiles_mle"][p], 0.02);
        }
        for (level, chance) in expected["prob_below_mle"].as_object().unwrap() {
            let level: f64 = level.trim_end_matches('C').parse().unwrap();
            near("chance below", 1.0 - gev.cdf(-level), chance, 1e-3);
        }
        for level in &plain.return_levels {
            let expected = &expected["gev_of_negated_min"]["mle"]["return_levels"][level.years.to_string()];
            near("plain level", -level.level_c, &expected["level"], 0.02);
            if let Some(ends) = expected["profile95"].as_array() {
                near("plain level, low", -level.high_c.unwrap(), &ends[0], 0.05);
                near("plain level, high", -level.low_c.unwrap(), &ends[1], 0.05);
            }
        }
        let (trend, expected) = (extremes.trend.as_ref().unwrap(), &expected["trend"]);
        near("slope", trend.least_squares.per_decade_k, &expected["ols_c_per_decade"], 1e-4);
        near("slope se", trend.least_squares.se_k, &expected["ols_se"], 1e-4);
        near("slope p", trend.least_squares.p_value, &expected["ols_p"], 1e-4);
        near("Theil-Sen", trend.theil_sen_per_decade_k.unwrap(), &expected["theil_sen_c_per_decade"], 1e-4);
        let kendall = trend.mann_kendall.unwrap();
        near("S", kendall.s, &expected["mann_kendall"]["S"], 0.0);
        near("var S", kendall.variance, &expected["mann_kendall"]["var"], 1e-5);
        near("z", kendall.z, &expected["mann_kendall"]["z"], 1e-5);
        near("Mann-Kendall p", kendall.p_value, &expected["mann_kendall"]["p"], 1e-5);
        let (moving, expected) = (trend.gev_location.unwrap(), &expected["gev_loc_trend_of_negated_min"]);
        near("moving location", moving.location_first, &expected["loc0"], 5e-3);
        near("per decade", moving.location_per_decade, &expected["loc1"], 2e-3);
        near("scale", moving.scale, &expected["scale"], 2e-3);
        near("shape", moving.shape, &expected["shape_xi"], 2e-3);
        near("nllh", moving.nllh, &expected["nllh"], 1e-3);
        near("deviance", moving.deviance, &expected["deviance"], 2e-3);
        near("p", moving.p_value, &expected["p_value"], 2e-3);
    }
}

/// The likelihood times the prior of Martins & Stedinger (2000) on the shape, maximised with scipy 1.17.1 (`genextreme.logpdf` and
/// `beta.logpdf(ξ, 9, 6, loc=-0.5)`, Nelder–Mead to 1e-12, profile limits at χ²₁ by `brentq`): location, scale, shape and plain negative log
/// likelihood there; then level and 95 % limits of 10 and of 100 winters. Fitted to the sign-reversed minima of the reference winters.
#[test]
fn the_fit_under_the_published_prior_agrees_with_scipy() {
    let Some(port_pirie) = text("portpirie_annual_max.csv") else { return };
    let sea: Vec<f64> = rows(&port_pirie).iter().map(|row| number(row, "sea_level_m")).collect();
    let minima = |name: &str| text(name).map(|text| rows(&text).iter().map(|row| -number(row, "min_c")).collect::<Vec<f64>>());
    let (Some(seattle), Some(champion)) =
        (minima("seattle_tacoma_1948_2017.winters.csv"), minima("champion_nebraska_1982_2018.winters.csv"))
    else {
        return;
    };
    for (sample, [location, scale, shape, nllh], levels) in [
        (sea, [3.868_466, 0.194_459, 0.009_790, -4.167_843], [[4.310_93, 4.2085, 4.4704], [4.783_46, 4.5303, 5.3529]]),
        (seattle, [5.732_685, 2.939_297, 0.056_040, 185.289_421], [[12.782_36, 11.1212, 15.3488], [21.156_66, 16.4843, 31.2628]]),
        (champion, [25.663_308, 3.626_054, -0.145_000, 99.216_988], [[32.625_67, 30.7914, 35.9546], [37.835_98, 34.5879, 46.7955]]),
    ] {
        let fit = Gev::fit_with(&sample, Some(ShapePrior::MARTINS_STEDINGER)).unwrap();
        assert!(fit.converged);
        for (got, expected) in [(fit.gev.location, location), (fit.gev.scale, scale), (fit.gev.shape, shape), (fit.nllh, nllh)] {
            assert!((got - expected).abs() < 1e-5, "{fit:?} against {expected}");
        }
        for (years, [level, low, high]) in [10.0, 100.0].into_iter().zip(levels) {
            let interval = profile::return_level(&fit, &sample, years);
            for (got, expected) in
                [(fit.gev.quantile(1.0 - 1.0 / years), level), (interval.low.unwrap(), low), (interval.high.unwrap(), high)]
            {
                assert!((got - expected).abs() < 5e-4, "{years}: {got} against {expected}");
            }
        }
    }
}

/// Any 25 winters in a row of Seattle-Tacoma: under the prior the interval of "once in 100 winters" always has a cold end, within 45 K; the
/// plain fit leaves it open or lets it run beyond that for some.
#[test]
fn levels_of_short_records_stay_within_reason_under_the_prior() {
    let Some(winters) = text("seattle_tacoma_1948_2017.winters.csv") else { return };
    let all: Vec<f64> = rows(&winters).iter().map(|row| -number(row, "min_c")).collect();
    let mut without_bound = 0;
    for sample in all.windows(25).step_by(4) {
        let width = |prior| {
            let interval = profile::return_level(&Gev::fit_with(sample, prior).unwrap(), sample, 100.0);
            interval.high.zip(interval.low).map_or(f64::INFINITY, |(high, low)| high - low)
        };
        let held = width(Some(ShapePrior::MARTINS_STEDINGER));
        assert!(held < 45.0, "{held}: {sample:?}");
        without_bound += usize::from(width(None) > 45.0);
    }
    assert!(without_bound > 0);
}

/// Evidence on extremes: the same level is −12.6 °C stationary and about −9.7 °C at winter 2017 with the trend.
#[test]
fn seattle_as_of_now_is_milder_and_champion_claims_no_trend() {
    let Some(source) = text("seattle_tacoma_1948_2017.csv") else { return };
    let climate = SiteClimate::of(&read(&source).unwrap()).unwrap();
    let trend = climate.yearly_minimum.trend.as_ref().unwrap();
    let plain = trend.gev_location.unwrap().at(2017.0 - 1949.0).quantile(0.9);
    assert!((plain - 9.7).abs() < 0.1, "{plain}");
    let now = trend.as_of_now.unwrap();
    assert_eq!(now.winter, 2017);
    assert!((now.ten_year_level_c + plain).abs() < 0.5, "{}", now.ten_year_level_c);
    assert!(climate.winter_minimum_as_of_now().unwrap().quantile(0.1) > climate.winter_minimum().unwrap().quantile(0.1));
    let Some(source) = text("champion_nebraska_1982_2018.csv") else { return };
    let climate = SiteClimate::of(&read(&source).unwrap()).unwrap();
    assert!(climate.winter_minimum_as_of_now().is_none());
    assert!(why_words(&climate.yearly_minimum.why).contains("L-moment fit is set aside"), "{:?}", climate.yearly_minimum.why);
}

#[test]
fn frost_dates_are_exact_at_every_threshold() {
    let Some(reference) = reference() else { return };
    for (name, file) in STATIONS {
        let Some(source) = text(&format!("{file}.csv")) else { return };
        let record = read(&source).unwrap();
        for (threshold, expected) in reference[name]["frost"].as_object().unwrap() {
            let threshold = Celsius::new(threshold.trim_end_matches('C').parse().unwrap()).unwrap();
            let frost = Frost::of(&record, Hemisphere::North, threshold);
            for (half, years, without, dates) in [
                ("last_spring", frost.springs, frost.springs_without, frost.last_spring.unwrap()),
                ("first_fall", frost.autumns, frost.autumns_without, frost.first_autumn.unwrap()),
            ] {
                let expected = &expected[half];
                assert_eq!(years as u64, expected["years"].as_u64().unwrap(), "{name} {half}");
                assert_eq!(without as u64, expected["years_without"].as_u64().unwrap(), "{name} {half}");
                for (p, got) in [("p10", dates.p10), ("p50", dates.p50), ("p90", dates.p90)] {
                    near(half, got.number(), &expected["quantiles_type7"][p], 1e-6);
                    assert_eq!(serde_json::to_value(got).unwrap(), expected["dates_type7"][p], "{name} {half} {p}");
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
fn the_fao_night_curve_and_forecast_are_reproduced() {
    let Some(cases) = small_cases() else { return };
    let c = |value: &Value| Celsius::new(value.as_f64().unwrap()).unwrap();
    let fao = &cases["frost_night_fao"];
    let nights: Vec<ClearNight> =
        (0..10).map(|i| ClearNight { temperature: c(&fao["t0"][i]), dew_point: c(&fao["td"][i]), minimum: c(&fao["tn"][i]) }).collect();
    let forecast = MinimumForecast::fit(&nights).unwrap();
    for (name, got) in [("a", forecast.a), ("b", forecast.b), ("c", forecast.c)] {
        near(name, got, &fao[name], 1e-6);
    }
    let predict = &fao["predict"];
    near("minimum", forecast.predict(c(&predict["t0"]), c(&predict["td"])).degrees(), &predict["tmin"], 1e-6);
    let night = &cases["frost_night_curve"];
    let curve = NightCurve::new(c(&night["t2"]), c(&night["tmin"]), night["hours_sunset_to_sunrise"].as_f64().unwrap()).unwrap();
    for (i, expected) in night["h3_to_15"].as_array().unwrap().iter().enumerate() {
        near("night", curve.at(i as f64 + 3.0).degrees(), expected, 1e-6);
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
        let count = |of: fn(&winterfig::science::climate::record::Day) -> bool| record.as_slice().iter().filter(|d| of(d)).count() as u64;
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
        assert!(extremes.why.contains("3 usable winters are too few") && climate.winter_minimum().is_none());
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
            && climate.diagnostics.iter().any(|found| diagnostic_words(found).contains("1943-03-06"))
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

/// Counted anew by a short program in Python 3 (standard library) from the same files and the winters of the reference: a loop over the days of
/// each winter, `t < threshold`, a counter that any other night sets back to 0, quantiles by linear interpolation. By threshold: nights a winter
/// and longest run of a winter (10, 50, 90 %), runs of a week or more in all winters, the longest run of all and its first night, median first
/// and last night, winters without. The medians 12, 4 and 0 below 28, 25 and 20 °F at Seattle-Tacoma are also those of an independent trial.
#[test]
fn spells_of_three_stations_are_those_counted_independently() {
    type Counted = (f64, [f64; 3], [f64; 3], usize, (usize, &'static str), (&'static str, &'static str), usize);
    let expected: [[Counted; 4]; 3] = [
        [
            (0.0, [11.0, 22.0, 43.0], [4.0, 6.0, 12.2], 43, (21, "1949-01-18"), ("11-19", "03-05"), 0),
            (-2.2, [4.0, 12.0, 22.0], [2.0, 4.0, 8.0], 21, (12, "1949-01-19"), ("12-04", "02-15"), 2),
            (-3.9, [0.0, 4.0, 12.0], [0.0, 3.0, 7.0], 9, (11, "1950-01-24"), ("12-19", "01-30"), 16),
            (-6.7, [0.0, 0.0, 6.0], [0.0, 0.0, 4.2], 2, (8, "1950-01-27"), ("12-23", "01-12"), 36),
        ],
        [
            (0.0, [166.0, 172.5, 187.5], [60.5, 100.0, 130.0], 147, (142, "1995-11-18"), ("09-28", "05-06"), 0),
            (-2.2, [138.0, 147.5, 162.5], [37.0, 57.0, 89.5], 169, (101, "2002-11-30"), ("10-09", "04-28"), 0),
            (-3.9, [108.5, 125.0, 142.5], [21.5, 34.0, 58.0], 180, (85, "2007-12-06"), ("10-17", "04-17"), 0),
            (-6.7, [67.0, 92.0, 102.5], [11.5, 18.5, 26.0], 139, (31, "2006-01-27"), ("10-26", "04-06"), 0),
        ],
        [
            (0.0, [43.0, 68.0, 83.0], [6.0, 13.0, 19.0], 32, (22, "2005-02-14"), ("11-02", "04-17"), 0),
            (-2.2, [16.0, 38.0, 53.0], [6.0, 8.0, 14.0], 12, (18, "2008-12-26"), ("11-10", "03-23"), 0),
            (-3.9, [7.0, 21.0, 36.0], [4.0, 7.0, 12.0], 7, (13, "2003-02-10"), ("11-22", "02-25"), 0),
            (-6.7, [1.0, 8.0, 13.0], [1.0, 3.0, 7.0], 4, (11, "2006-01-23"), ("12-17", "02-19"), 1),
        ],
    ];
    for ((_, file), expected) in STATIONS.iter().zip(expected) {
        let Some(source) = text(&format!("{file}.csv")) else { return };
        let spells = SiteClimate::of(&read(&source).unwrap()).unwrap().spells.unwrap();
        for (found, (threshold, nights, longest_run, weeks, (longest, since), (first, last), without)) in
            spells.by_threshold.iter().zip(expected)
        {
            assert_eq!(found.threshold.degrees(), threshold);
            for (quantiles, expected) in [(found.nights, nights), (found.longest_run, longest_run)] {
                for (got, expected) in [quantiles.p10, quantiles.p50, quantiles.p90].into_iter().zip(expected) {
                    assert!((got - expected).abs() < 1e-9, "{file} {threshold}: {got} against {expected}");
                }
            }
            assert_eq!(
                spells.weeks_or_more.iter().filter(|spell| spell.threshold_c == found.threshold).count(),
                weeks,
                "{file} {threshold}"
            );
            let run = found.longest.unwrap();
            assert_eq!((run.nights, run.first.to_string().as_str()), (longest, since), "{file} {threshold}");
            let date = |day| serde_json::to_value(day).unwrap();
            assert_eq!(date(found.first_night.unwrap().p50), first, "{file} {threshold}");
            assert_eq!(date(found.last_night.unwrap().p50), last, "{file} {threshold}");
            assert_eq!(found.winters_without, without);
        }
    }
}

/// A shelter of 120 W/K held at 2 °C at Klein-Altendorf: the same in Python, the day's sine below 2 °C summed at 1,000 points.
#[test]
fn heating_a_shelter_costs_what_a_numerical_integration_finds() {
    let Some(source) = text("klein_altendorf_1998_2010.csv") else { return };
    let shelter = HeatedShelter::new(Celsius::new(2.0).unwrap(), 120.0).unwrap();
    let spells = SpellQuestion { shelter: Some(shelter), ..SpellQuestion::default() };
    let climate = answering(&read(&source).unwrap(), &Question { spells, periods: Vec::new() }).unwrap();
    let heating = climate.spells.unwrap().heating.unwrap();
    for (quantiles, expected, tolerance) in [
        (heating.energy_kwh, [222.38, 498.25, 708.73], 0.1),
        (heating.nights, [80.0, 94.0, 115.0], 1e-9),
        (heating.power_w, [1080.0, 1680.0, 2280.0], 1e-6),
        (heating.design_spell.energy_kwh, [60.823, 113.594, 188.383], 0.01),
    ] {
        for (got, expected) in [quantiles.p10, quantiles.p50, quantiles.p90].into_iter().zip(expected) {
            assert!((got - expected).abs() < tolerance, "{got} against {expected}");
        }
    }
    assert_eq!(heating.design_spell.worst_first.to_string(), "2009-01-05");
    assert!((heating.design_spell.worst_energy_kwh - 209.866).abs() < 0.01);
}

/// Two periods of one record against the record cut by hand.
#[test]
fn a_period_of_a_record_is_the_record_cut_to_it() {
    let Some(source) = text("seattle_tacoma_1948_2017.csv") else { return };
    let periods: Vec<Period> = ["1951-1980", "1988-2017"].map(|text| text.parse().unwrap()).into();
    let whole = read(&source).unwrap();
    let climate = answering(&whole, &Question { periods, ..Question::default() }).unwrap();
    let found = climate.periods.unwrap();
    for (period, (from, to)) in found.periods.iter().zip([("1950-07-01", "1980-06-30"), ("1987-07-01", "2017-06-30")]) {
        let header = source.lines().next().unwrap();
        let is_within = |line: &&str| (from..=to).contains(&&line.trim_matches('"')[..10]);
        let cut: Vec<&str> = std::iter::once(header).chain(source.lines().skip(1).filter(is_within)).collect();
        let cut = SiteClimate::of(&read(&cut.join("\n")).unwrap()).unwrap();
        assert_eq!(period.yearly_minimum.return_levels, cut.yearly_minimum.return_levels);
        assert_eq!((&period.yearly_minimum.half_zone, &period.spells), (&cut.yearly_minimum.half_zone, &cut.spells.unwrap()));
    }
    // Reference: the last 30 winters have a mean of −6.351853 °C, half-zone 9a.
    assert!((found.periods[1].yearly_minimum.mean_c + 6.351_853).abs() < 1e-5);
    assert_eq!(found.periods[1].yearly_minimum.half_zone.as_deref(), Some("9a"));
    assert!(found.difference.unwrap().mean_k > 0.0);
    let none = Question { periods: vec!["1901-1920".parse().unwrap()], ..Question::default() };
    let error = answering(&whole, &none).unwrap_err();
    assert!(error.to_string().contains("1901–1920") && error.to_string().contains("1949 to 2017"), "{error}");
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
    let told = ReadOptions { units: winterfig::science::climate::record::ReadUnits::of_word("f"), ..ReadOptions::on(TODAY) };
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
fn a_record_without_a_whole_winter_says_what_a_winter_is() {
    let record = read(&plain(Date::constant(2001, 1, 1), 400).join("\n")).unwrap();
    let error = SiteClimate::of(&record).unwrap_err();
    assert!(matches!(error, ClimateError::NoWinter { .. }) && error.to_string().contains("July to June"), "{error}");
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

/// What `winterfig climate` prints and its exit code (as a debug text: the type does not compare).
fn command(arguments: &[&str]) -> (String, String, String) {
    let all = ["winterfig", "climate"].iter().chain(arguments).map(std::ffi::OsString::from);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = winterfig::cli::run(all, &mut out, &mut err);
    (format!("{code:?}"), String::from_utf8(out).unwrap(), String::from_utf8(err).unwrap())
}

fn case_path(name: &str) -> Option<String> {
    text(name)?;
    let folder = std::env::var("WINTERFIG_CASES").unwrap_or_else(|_| format!("{}/../shared/cases", env!("CARGO_MANIFEST_DIR")));
    Some(format!("{folder}/climate/{name}"))
}

#[test]
fn the_command_gives_the_keys_of_the_contract_for_every_record() {
    let files = STATIONS.iter().map(|(_, file)| format!("{file}.csv")).chain(LAYOUTS.map(str::to_owned));
    for file in files {
        let Some(path) = case_path(&file) else { return };
        let (code, out, err) = command(&[&path, "--json"]);
        assert_eq!((code, err.as_str()), (format!("{:?}", std::process::ExitCode::SUCCESS), ""), "{file}");
        let json: Value = serde_json::from_str(&out).unwrap();
        for pointer in [
            "/file/format",
            "/file/station",
            "/file/first",
            "/file/last",
            "/file/days",
            "/file/units_as_read",
            "/rejected",
            "/winters/0/winter",
            "/winters/0/minimum_c",
            "/winters/0/date",
            "/winters/0/days_missing",
            "/winters/0/used",
            "/winters/0/equivalent_minimum_c",
            "/yearly_minimum/winters_used",
            "/yearly_minimum/mean_c",
            "/yearly_minimum/sd_c",
            "/yearly_minimum/half_zone",
            "/yearly_minimum/gev_lmoments",
            "/yearly_minimum/gev_mle",
            "/yearly_minimum/chosen",
            "/yearly_minimum/why",
            "/yearly_minimum/quantiles_c",
            "/yearly_minimum/return_levels",
            "/yearly_minimum/trend",
            "/frost/threshold_c",
            "/frost/last_spring/p10",
            "/frost/first_autumn/p50",
            "/frost/frost_free_days/p90",
            "/degree_days/method",
            "/degree_days/base_c",
            "/degree_days/cap_c",
            "/degree_days/per_year_p10",
            "/degree_days/per_year_p90",
            "/chill/hours",
            "/chill/portions",
            "/doubtful",
            "/yearly_minimum/gev_prior",
            "/spells/thresholds_c/3",
            "/spells/nights_per_winter/-2.2/p50",
            "/spells/longest_run/-6.7/p90",
            "/spells/first_night/0",
            "/spells/weeks_or_more",
        ] {
            assert!(json.pointer(pointer).is_some(), "{file}: {pointer}");
        }
        assert!(!out.contains("NaN") && !out.contains("inf"));
        if file.starts_with("seattle") {
            for pointer in [
                "/yearly_minimum/gev_lmoments/location_c",
                "/yearly_minimum/gev_lmoments/covers_data",
                "/yearly_minimum/gev_mle/se/2",
                "/yearly_minimum/gev_mle/converged",
                "/yearly_minimum/quantiles_c/p10",
                "/yearly_minimum/return_levels/0/years",
                "/yearly_minimum/return_levels/2/low_c",
                "/yearly_minimum/trend/per_decade_k",
                "/yearly_minimum/trend/p_value",
            ] {
                assert!(json.pointer(pointer).is_some_and(|v| !v.is_null()), "{pointer}");
            }
        }
        let (_, words, _) = command(&[&path]);
        assert!(words.contains("Lowest temperature of a winter") && words.contains("last of spring"), "{file}");
    }
}

#[test]
fn the_command_answers_what_is_asked_beside_the_climate() {
    let Some(path) = case_path("seattle_tacoma_1948_2017.csv") else { return };
    let asked =
        ["--below", "-9", "--carry-below", "-4", "--hold", "2", "--heat-loss", "120", "--period", "1951-1980", "--period", "1988-2017"];
    let (_, out, err) = command(&[&[path.as_str(), "--json"], &asked[..]].concat());
    let json: Value = serde_json::from_str(&out).unwrap_or_else(|_| panic!("{err}"));
    assert_eq!(json["spells"]["thresholds_c"].as_array().unwrap().len(), 5);
    assert_eq!(json["periods"]["periods"][1]["yearly_minimum"]["half_zone"], "9a");
    assert!(json["spells"]["heating"]["design_spell"]["energy_kwh"]["p90"].as_f64().unwrap() > 0.0);
    assert!(json["spells"]["carrying"]["trips"]["p50"].as_f64().unwrap() > 0.0);
    let (_, words, _) = command(&[&[path.as_str()], &asked[..]].concat());
    for says in ["Cold nights, 69 winters", "Pots carried in below", "A shelter of 120 W/K", "Winters 1988–2017", "The second is +"] {
        assert!(words.contains(says), "{says}: {words}");
    }
}

#[test]
fn bad_input_ends_with_code_two_a_line_and_nothing_on_the_output() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bad.csv");
    std::fs::write(&path, "date,tmin_c,tmax_c\n2000-01-01,1,5\n2000-01-02,one,5\n").unwrap();
    for (arguments, says) in [
        (vec![path.to_str().unwrap(), "--json"], "line 3: tmin “one” is not a number"),
        (vec!["no-such-file.dly"], "no-such-file.dly"),
        (vec![path.to_str().unwrap(), "--units", "kelvin"], "c, f and tenths_c"),
        (vec![path.to_str().unwrap(), "--latitude", "91"], "-90 to 90"),
        (vec![path.to_str().unwrap(), "--hold", "2"], "W/K"),
        (vec![path.to_str().unwrap(), "--period", "nineties"], "1961-1990"),
    ] {
        let (code, out, err) = command(&arguments);
        assert_eq!((code, out.as_str()), (format!("{:?}", std::process::ExitCode::from(2)), ""));
        assert!(err.contains(says), "{err}");
    }
}
