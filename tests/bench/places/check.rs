//! How far the estimates of towns lie from the long records near them.
//!
//! The README of the tables gives the error of leaving each station out: bias +0.13 K, root mean square 1.86 K. The stations' weights are not in the
//! tables, so that cannot be repeated; here each station still takes part in the estimate of its nearest town, and the error is smaller.

use std::collections::BTreeMap;
use std::path::Path;

use serde::Deserialize;
use winterfig_core::places::Gazetteer;

use super::tables;

/// Towns farther away say nothing of a station, km.
const FARTHEST_KM: f64 = 20.0;

#[derive(Deserialize)]
struct Station {
    country: String,
    lat: f64,
    lon: f64,
    elev_m: Option<f64>,
    kind: String,
    mean_annual_min_c: f64,
    sd_annual_min_c: Option<f64>,
    tmean_warmest_month_c: Option<f64>,
}

#[derive(Default)]
struct Errors {
    mean: Vec<f64>,
    spread: Vec<f64>,
    warmest: Vec<f64>,
    within_two: usize,
}

pub fn check(folder: &Path) {
    let (stations, _) = tables::read::<Station>(folder, "stations");
    let towns = Gazetteer::embedded().unwrap();
    let mut by_country: BTreeMap<String, Errors> = BTreeMap::new();
    for s in stations.iter().filter(|s| s.kind == "record") {
        let Some((town, km)) = towns.near((s.lat, s.lon), 1).into_iter().next().filter(|(_, km)| *km <= FARTHEST_KM) else { continue };
        let raised = s.elev_m.zip(town.elevation_m).map_or(0.0, |(station, town)| station - town);
        let estimate = town.estimate.raised(raised).away(km);
        let off = estimate.mean.value.degrees() - s.mean_annual_min_c;
        for key in [s.country.clone(), "all".to_owned()] {
            let errors = by_country.entry(key).or_default();
            errors.mean.push(off);
            errors.within_two += usize::from(off.abs() <= 2.0 * estimate.mean.error);
            errors.spread.extend(s.sd_annual_min_c.map(|sd| estimate.spread.value.kelvin() - sd));
            errors.warmest.extend(s.tmean_warmest_month_c.and_then(|w| Some(estimate.warmest_month?.value.degrees() - w)));
        }
    }
    println!("long records with a town within {FARTHEST_KM} km, town’s estimate at the station’s height less the record");
    println!("{:<8}{:>8}{:>8}{:>8}{:>12}{:>10}{:>14}", "country", "number", "bias", "rms", "within 2 e", "spread", "warmest month");
    for (country, e) in by_country {
        let bias = e.mean.iter().sum::<f64>() / e.mean.len() as f64;
        println!(
            "{country:<8}{:>8}{bias:>8.2}{:>8.2}{:>11.1}%{:>10.2}{:>14.2}",
            e.mean.len(),
            rms(&e.mean),
            100.0 * e.within_two as f64 / e.mean.len() as f64,
            rms(&e.spread),
            rms(&e.warmest)
        );
    }
}

fn rms(x: &[f64]) -> f64 {
    (x.iter().map(|e| e * e).sum::<f64>() / x.len().max(1) as f64).sqrt()
}
