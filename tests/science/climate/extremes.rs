//! Winters, their extremes and their trend.

use serde_json::Value;
use winterfig_core::science::climate::extreme_fits::Grounds;
use winterfig_core::science::climate::extremes::Chosen;
use winterfig_core::science::climate::gev::Gev;
use winterfig_core::science::climate::gev_likelihood::ShapePrior;
use winterfig_core::science::climate::lmoments::LMoments;
use winterfig_core::science::climate::site_climate::SiteClimate;
use winterfig_core::science::climate::{profile, trend};

use super::{STATIONS, minima, near, number, read, reference, rows, text};

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
            assert!(extremes.gev_mle.is_none() && matches!(extremes.why.grounds, Grounds::TooFew { .. } | Grounds::TooFewForTail { .. }));
            continue;
        }
        let reversed: Vec<f64> = minima(&climate).iter().map(|(_, t)| -t).collect();
        check_gev(&reversed, &expected["gev_of_negated_min"]);
        assert_eq!(extremes.chosen, Some(Chosen::GevPrior), "{name}: {:?}", extremes.why);
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
    assert!(now.ten_year_level_c > climate.winter_minimum().unwrap().quantile(0.1).degrees());
    let Some(source) = text("champion_nebraska_1982_2018.csv") else { return };
    let climate = SiteClimate::of(&read(&source).unwrap()).unwrap();
    assert!(climate.yearly_minimum.trend.as_ref().is_none_or(|trend| trend.as_of_now.is_none()));
    assert!(climate.yearly_minimum.why.l_moments_rejected.is_some(), "{:?}", climate.yearly_minimum.why);
}
