//! Published ordinal examples. References: R 4.2.2 with ordinal 2022.11-16, MASS 7.3-58.2, VGAM 1.1-7, lme4 1.1-31 (`*.ref.json`, 1e-4 for
//! fits with random effects because those stop at gradients of 1e-5 to 5e-4) and an independent maximum of the same Laplace criterion
//! (`*.laplace_exact.json`, 1e-6).

use serde_json::Value;
use winterfig_core::science::hardiness::ordinal::{
    Combination, Diagnostic, FitOptions, Fitted, Free, Group, Observation, Problem, Role, Spec, fit,
};

use crate::cases::case;

/// One row of a table: outcome, weight, columns, level of the random intercept and of a second one.
#[derive(Default)]
struct Row {
    outcome: u8,
    weight: f64,
    columns: Vec<(u16, f64)>,
    crossed: u32,
    group: u32,
}

fn rows(file: &str, read: impl Fn(&dyn Fn(&str) -> String) -> Vec<Row>) -> Vec<Row> {
    let mut reader = csv::Reader::from_reader(file.as_bytes());
    let header = reader.headers().unwrap().clone();
    reader
        .records()
        .flat_map(|record| {
            let record = record.unwrap();
            let cell = |name: &str| record[header.iter().position(|h| h == name).unwrap()].to_owned();
            read(&cell)
        })
        .collect()
}

fn problem(rows: &[Row], spec: Spec) -> Problem {
    let mut builder = Problem::builder(spec).unwrap();
    for r in rows {
        let record = Observation {
            low: r.outcome,
            high: r.outcome,
            weight: r.weight,
            group: r.group,
            crossed: r.crossed,
            effects: &r.columns,
            ..Observation::default()
        };
        builder.push(&record).unwrap();
    }
    builder.finish().unwrap()
}

fn solve(problem: &Problem) -> Fitted {
    let fitted = fit(problem, &Free::new(problem), FitOptions { tolerance: 1e-16, ..FitOptions::default() });
    assert!(fitted.convergence.converged, "{:?}", fitted.convergence);
    fitted
}

fn fixed(levels: usize, columns: usize) -> Spec {
    Spec { levels, effects: vec![Role::Maximised; columns], ..Spec::default() }
}

fn json(name: &str) -> Option<Value> {
    case(&format!("statistics/{name}")).map(|t| serde_json::from_str(&t).unwrap())
}

fn dummy(columns: &[(&str, &str)], cell: &dyn Fn(&str) -> String) -> Vec<(u16, f64)> {
    columns.iter().enumerate().filter(|(_, (name, value))| cell(name) == *value).map(|(k, _)| (k as u16, 1.0)).collect()
}

#[track_caller]
fn near(name: &str, ours: f64, reference: f64, tolerance: f64) {
    assert!((ours - reference).abs() <= tolerance * (1.0 + reference.abs()), "{name}: {ours} against {reference}");
}

/// Thresholds, coefficients, standard errors and log-likelihood against one fit of the reference, whose coefficients come in that order.
#[track_caller]
fn agrees(fitted: &Fitted, reference: &Value, tolerance: f64, se_tolerance: f64) {
    near("log-likelihood", fitted.log_marginal, reference["logLik"].as_f64().unwrap(), tolerance);
    let covariance = fitted.natural_covariance();
    let estimates = fitted.natural.thresholds.iter().chain(&fitted.natural.coefficients);
    let coefficients = reference["coef"].as_object().unwrap();
    for (place, (ours, (name, value))) in estimates.zip(coefficients).enumerate() {
        near(name, *ours, value.as_f64().unwrap(), tolerance);
        let se = reference["se"][name].as_f64().unwrap();
        near(&format!("standard error of {name}"), covariance[(place, place)].sqrt(), se, se_tolerance);
    }
    assert_eq!(coefficients.len(), fitted.natural.thresholds.len() + fitted.natural.coefficients.len());
}

fn wine(cell: &dyn Fn(&str) -> String) -> Vec<Row> {
    vec![Row {
        outcome: cell("rating").parse::<u8>().unwrap() - 1,
        weight: 1.0,
        columns: dummy(&[("temp", "warm"), ("contact", "yes")], cell),
        crossed: cell("judge").parse::<u32>().unwrap() - 1,
        group: cell("bottle").parse::<u32>().unwrap() - 1,
    }]
}

/// Wine (Randall 1989), fixed effects: R ordinal::clm.
#[test]
fn the_wine_ratings_without_judges_agree_with_the_published_fit() {
    let (Some(file), Some(reference)) = (case("statistics/wine.csv"), json("wine.ref.json")) else { return };
    let fitted = solve(&problem(&rows(&file, wine), fixed(5, 2)));
    agrees(&fitted, &reference["clm_logit"], 1e-8, 1e-6);
}

/// With an interaction column: R ordinal::clm.
#[test]
fn the_wine_ratings_with_an_interaction_agree_with_the_published_fit() {
    let (Some(file), Some(reference)) = (case("statistics/wine.csv"), json("wine.ref.json")) else { return };
    let mut table = rows(&file, wine);
    for row in &mut table {
        if row.columns.len() == 2 {
            row.columns.push((2, 1.0));
        }
    }
    agrees(&solve(&problem(&table, fixed(5, 3))), &reference["clm_logit_int"], 1e-8, 1e-6);
}

/// Wine with a random judge: exact maximum of the Laplace criterion (1e-6), standard errors of R ordinal::clmm (1e-4).
#[test]
fn the_wine_ratings_with_random_judges_agree_with_the_exact_laplace_maximum() {
    let (Some(file), Some(exact), Some(r)) = (case("statistics/wine.csv"), json("wine.laplace_exact.json"), json("wine.ref.json")) else {
        return;
    };
    let table = rows(&file, wine);
    let fitted = solve(&problem(&table, Spec { crossed: Some(9), ..fixed(5, 2) }));
    near("Laplace log-likelihood", fitted.log_marginal, exact["logLik"].as_f64().unwrap(), 1e-9);
    for (k, ours) in fitted.natural.thresholds.iter().enumerate() {
        near("threshold", *ours, exact["theta"][k].as_f64().unwrap(), 1e-6);
    }
    for (k, ours) in fitted.natural.coefficients.iter().enumerate() {
        near("coefficient", *ours, exact["b"][k].as_f64().unwrap(), 1e-6);
    }
    near("judges' sd", fitted.natural.log_sd_crossed.exp(), exact["sd"].as_f64().unwrap(), 1e-6);
    for (judge, mode) in fitted.mode.crossed().iter().enumerate() {
        near("judge", *mode, exact["judge_mode"][judge].as_f64().unwrap(), 1e-6);
    }
    agrees(&fitted, &r["clmm_laplace_judge"], 1e-4, 1e-4);

    // The same intercept kept in the dense border instead of being eliminated.
    let swapped: Vec<Row> = table.iter().map(|r| Row { columns: r.columns.clone(), group: r.crossed, crossed: 0, ..*r }).collect();
    let dense =
        solve(&problem(&swapped, Spec { group: Some(Group { parents: vec![None; 9], own: Vec::new(), scaled: false }), ..fixed(5, 2) }));
    near("dense log-likelihood", dense.log_marginal, fitted.log_marginal, 1e-11);
    near("dense judges' sd", dense.natural.log_sd_group, fitted.natural.log_sd_crossed, 1e-7);
    let reference = &r["clmm_laplace_judge"]["ranef_condvar"]["judge"];
    for judge in 0..9 {
        let own = dense.border_covariance[(judge, judge)];
        near("conditional variance", own, reference[(judge + 1).to_string()].as_f64().unwrap(), 1e-4);
        let joint = dense.variance(&Combination { border: vec![(judge, 1.0)], natural: Vec::new() });
        assert!(joint > own, "outer uncertainty adds to the variance");
    }
}

/// Judges crossed with bottles, which do not vary: R finds their sd at 4e-6, we stop at the edge of the range and say so.
#[test]
fn an_intercept_that_does_not_vary_is_held_at_the_edge_and_said_to_be() {
    let (Some(file), Some(r)) = (case("statistics/wine.csv"), json("wine.ref.json")) else { return };
    let spec = Spec { crossed: Some(9), group: Some(Group { parents: vec![None; 8], own: Vec::new(), scaled: false }), ..fixed(5, 2) };
    let fitted = solve(&problem(&rows(&file, wine), spec));
    let held = fitted.layout.sd_group.unwrap();
    assert!(fitted.convergence.diagnostics.iter().any(|d| matches!(d, Diagnostic::AtBound { parameter, .. } if *parameter == held)));
    agrees(&fitted, &r["clmm_laplace_judge_bottle"], 1e-4, 1e-4);
}

/// Coal miners' pneumoconiosis (Ashford 1959; McCullagh & Nelder 1989) as weighted counts: R ordinal::clm; and expanded, one row a man.
#[test]
fn the_pneumoconiosis_counts_agree_with_the_published_fit_weighted_and_expanded() {
    let (Some(file), Some(reference)) = (case("statistics/pneumo_long.csv"), json("pneumo.ref.json")) else { return };
    let level = |cell: &dyn Fn(&str) -> String| ["normal", "mild", "severe"].iter().position(|s| *s == cell("sev")).unwrap() as u8;
    let read = |cell: &dyn Fn(&str) -> String| Row {
        outcome: level(cell),
        weight: cell("n").parse().unwrap(),
        columns: vec![(0, cell("let").parse().unwrap())],
        ..Row::default()
    };
    let weighted = solve(&problem(&rows(&file, |cell| vec![read(cell)]), fixed(3, 1)));
    agrees(&weighted, &reference["clm_logit_let"], 1e-8, 1e-6);
    let expanded = rows(&file, |cell| {
        let count = cell("n").parse::<usize>().unwrap();
        (0..count).map(|_| Row { weight: 1.0, ..read(cell) }).collect()
    });
    assert_eq!(expanded.len(), 371);
    let expanded = solve(&problem(&expanded, fixed(3, 1)));
    near("log-likelihood", expanded.log_marginal, weighted.log_marginal, 1e-12);
    near("slope", expanded.natural.coefficients[0], weighted.natural.coefficients[0], 1e-9);
}

/// Copenhagen housing (Madsen 1976; Venables & Ripley): R ordinal::clm and MASS::polr.
#[test]
fn the_housing_counts_agree_with_the_published_fit() {
    let (Some(file), Some(reference)) = (case("statistics/housing.csv"), json("housing.ref.json")) else { return };
    let columns = [("Infl", "Medium"), ("Infl", "High"), ("Type", "Apartment"), ("Type", "Atrium"), ("Type", "Terrace"), ("Cont", "High")];
    let table = rows(&file, |cell| {
        vec![Row {
            outcome: ["Low", "Medium", "High"].iter().position(|s| *s == cell("Sat")).unwrap() as u8,
            weight: cell("Freq").parse().unwrap(),
            columns: dummy(&columns, cell),
            ..Row::default()
        }]
    });
    let fitted = solve(&problem(&table, fixed(3, 6)));
    agrees(&fitted, &reference["clm_logit"], 1e-8, 1e-6);
    near("deviance", -2.0 * fitted.log_marginal, reference["polr"]["deviance"].as_f64().unwrap(), 1e-9);
}

/// Income by year (McCullagh 1980), percentages as weights: R ordinal::clm.
#[test]
fn the_income_percentages_agree_with_the_published_fit() {
    let (Some(file), Some(reference)) = (case("statistics/income.csv"), json("income.ref.json")) else { return };
    let classes = ["0-3", "3-5", "5-7", "7-10", "10-12", "12-15", "15+"];
    let table = rows(&file, |cell| {
        vec![Row {
            outcome: classes.iter().position(|s| *s == cell("income")).unwrap() as u8,
            weight: cell("pct").parse().unwrap(),
            columns: dummy(&[("year", "1970")], cell),
            ..Row::default()
        }]
    });
    agrees(&solve(&problem(&table, fixed(7, 1))), &reference["clm_logit"], 1e-8, 1e-6);
}

/// Contagious bovine pleuropneumonia (Lesnoff et al. 2004), two levels, random herd: exact Laplace maximum and lme4::glmer.
#[test]
fn the_cattle_herds_agree_with_the_exact_laplace_maximum() {
    let (Some(file), Some(exact), Some(r)) = (case("statistics/cbpp.csv"), json("cbpp.laplace_exact.json"), json("cbpp.ref.json")) else {
        return;
    };
    let table = rows(&file, |cell| {
        let (ill, size): (f64, f64) = (cell("incidence").parse().unwrap(), cell("size").parse().unwrap());
        let row = |outcome, weight| Row {
            outcome,
            weight,
            columns: dummy(&[("period", "2"), ("period", "3"), ("period", "4")], cell),
            crossed: cell("herd").parse::<u32>().unwrap() - 1,
            ..Row::default()
        };
        vec![row(0, size - ill), row(1, ill)]
    });
    let fitted = solve(&problem(&table, Spec { crossed: Some(15), ..fixed(2, 3) }));
    near("intercept", -fitted.natural.thresholds[0], exact["intercept"].as_f64().unwrap(), 1e-6);
    near("herds' sd", fitted.natural.log_sd_crossed.exp(), exact["herd_sd"].as_f64().unwrap(), 1e-6);
    near("Laplace log-likelihood", fitted.log_marginal, exact["logLik"].as_f64().unwrap(), 1e-9);
    let covariance = fitted.natural_covariance();
    for (k, name) in ["period2", "period3", "period4"].iter().enumerate() {
        near(name, fitted.natural.coefficients[k], exact["period"][k].as_f64().unwrap(), 1e-6);
        // glmer takes standard errors at fixed variance, so only roughly the same.
        near(name, covariance[(k + 1, k + 1)].sqrt(), r["glmer_laplace"]["se"][name].as_f64().unwrap(), 5e-3);
    }
}
