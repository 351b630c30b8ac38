//! A season of warnings replayed, and one round over many subscribed places. `cargo bench --bench warnings -- 1000 10000 100000`
//!
//! The season: nights from October to April of a daily record of the reference cases (Champion, Nebraska, 1982–2018), each forecast with a miss
//! drawn from the histogram of lows at 12 h on freezing nights (`shelter/nws_low_error_winter.json`), once for every subscribed place; a plant is
//! harmed or not by its chance at the night as it was. The round: as many members at as many places, asked of a service on loopback in the
//! form of MET Norway, in a file of SQLite; of more than ten thousand places every forecast is kept already.
#![allow(
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    missing_docs,
    reason = "a benchmark fails by panicking"
)]

#[path = "../support/mod.rs"]
mod support;

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::json;
use winterfig::clock::FixedClock;
use winterfig::ids::Ids;
use winterfig::jobs::cold_night::ColdNightInput;
use winterfig::jobs::cold_night::calculate;
use winterfig::jobs::cold_night::forecast::{Draw, Forecasts, Sources};
use winterfig::jobs::warnings::round::Rounds;
use winterfig::jobs::warnings::season::of_garden;
use winterfig::jobs::warnings::tonight::Garden;
use winterfig::model::snapshot::Snapshot;
use winterfig::outbound::Host;
use winterfig::records::words::TopKilled;
use winterfig::records::{ForecastDocument, ForecastSource, HeldPoint, MemberId, Place, Plant, Role, WarningChoice, WarningMeasure};
use winterfig::science::cold_night::alarms::{self, HarmByLowest, SeasonAlarms, StageNights, Warns};
use winterfig::science::cold_night::forecast::sd_by_lead_k;
use winterfig::science::site::{Culture, PotVolume};
use winterfig::store::Store;

use support::cases::case;
use support::members::{joined, plant, record, submission};

/// Ten past three in the afternoon by the sun at 15° E.
const NOW: &str = "2026-11-28T14:10:00Z";
const THRESHOLDS: [f64; 5] = [0.05, 0.1, 0.2, 0.3, 0.5];
/// Chances are looked up on a grid of tenths of a degree between these, °C.
const COLDEST_C: f64 = -45.0;
const WARMEST_C: f64 = 20.0;
/// Most places whose forecasts are fetched: ten are asked for in a second, so that more take hours of waiting.
const MOST_FETCHED: usize = 10_000;
/// October to April.
const NIGHTS_OF_SEASON: usize = 212;

/// Chance that a plant loses wood or more at a night of so many degrees with a spread, on the grid.
fn chances(snapshot: &Snapshot, plant: &serde_json::Value, sd_k: f64) -> Vec<f64> {
    let steps = ((WARMEST_C - COLDEST_C) * 10.0) as usize;
    let at = |step: usize| {
        let minimum = COLDEST_C + step as f64 / 10.0;
        let night = json!({"night": {"minimum_c": minimum, "sd_k": sd_k}, "plants": [plant], "minutes_available": null});
        let input: ColdNightInput = serde_json::from_value(night).unwrap();
        calculate(&input, snapshot).unwrap().plan[0].chance_if_left.to_array()[2..].iter().sum()
    };
    (0..=steps).map(at).collect()
}

fn looked_up(grid: &[f64], c: f64) -> f64 {
    let step = ((c - COLDEST_C) * 10.0).round().clamp(0.0, grid.len() as f64 - 1.0);
    grid[step as usize]
}

/// Misses of forecasts, K, with the share of those at most so large.
fn misses() -> Option<Vec<(f64, f64)>> {
    let table: serde_json::Value = serde_json::from_str(&case("shelter/nws_low_error_winter.json")?).unwrap();
    let counted = table["recomputed"]["freezing"]["12h"]["histogram_actual_minus_forecast_F"].as_object().unwrap().clone();
    let mut read: Vec<(f64, f64)> = counted.iter().map(|(f, n)| (f.parse::<f64>().unwrap() / 1.8, n.as_f64().unwrap())).collect();
    read.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all: f64 = read.iter().map(|(_, n)| n).sum();
    let mut below = 0.0;
    for (_, n) in &mut read {
        below += *n / all;
        *n = below;
    }
    Some(read)
}

/// Nights of October to April: lowest, and whether the plant is still in leaf (to the end of November) or hard.
fn nights() -> Option<Vec<(f64, bool)>> {
    let text = case("climate/champion_nebraska_1982_2018.csv")?;
    let night = |line: &str| {
        let mut fields = line.split(',');
        let date: Date = fields.next()?.parse().ok()?;
        let low: f64 = fields.next()?.parse().ok()?;
        let in_leaf = (10..=11).contains(&date.month());
        (in_leaf || date.month() == 12 || date.month() <= 4).then_some((low, in_leaf))
    };
    Some(text.lines().skip(1).filter_map(night).collect())
}

fn season(snapshot: &Snapshot, places: usize) {
    let (Some(misses), Some(nights)) = (misses(), nights()) else { return };
    let pot = |stage: &str| json!({"id": "p", "cultivar": "celeste", "container_l": 20.0, "years": 3, "stage": stage});
    let start = Instant::now();
    // What the service reckons with at 15 h, and the night as it was.
    let grids = ["in_leaf", "hard"].map(|stage| (chances(snapshot, &pot(stage), 1.57), chances(snapshot, &pot(stage), 0.01)));
    let mut rng = ChaCha8Rng::seed_from_u64(20_261_128);
    let mut counts = [[0_u64; 4]; THRESHOLDS.len()];
    let (mut told_of, mut harmed) = (0_u64, 0_u64);
    for place in 0..places {
        // A season of the record for each place.
        let from = (place * NIGHTS_OF_SEASON) % (nights.len() - NIGHTS_OF_SEASON);
        for (low, in_leaf) in &nights[from..from + NIGHTS_OF_SEASON] {
            let drawn: f64 = rng.random();
            let miss = misses.iter().find(|(_, share)| drawn <= *share).map_or(0.0, |(miss, _)| *miss);
            let (reckoned, as_it_was) = &grids[usize::from(!in_leaf)];
            let chance = looked_up(reckoned, low - miss);
            let is_harmed = rng.random::<f64>() < looked_up(as_it_was, *low);
            told_of += 1;
            harmed += u64::from(is_harmed);
            for (count, threshold) in counts.iter_mut().zip(THRESHOLDS) {
                let told = chance >= threshold;
                count[usize::from(told) * 2 + usize::from(is_harmed)] += 1;
            }
        }
    }
    let expected = expected(snapshot, &nights, &grids);
    println!("{places} places, {told_of} nights, {harmed} that harmed a pot of 20 l; replayed in {:.1} s", start.elapsed().as_secs_f64());
    for ((count, threshold), [over_record, over_year]) in counts.iter().zip(THRESHOLDS).zip(expected) {
        let [_, missed, vain, hit] = count.map(|n| n as f64);
        println!(
            "  from {:>2.0} %: {:>5.1} % of the nights that harmed were told, {:>5.1} % of the warnings were in vain, {:.1} warnings a place and season",
            100.0 * threshold,
            100.0 * hit / (hit + missed).max(1.0),
            100.0 * vain / (vain + hit).max(1.0),
            (vain + hit) / places as f64
        );
        for (what, alarms) in
            [("by the formula, over the same nights", over_record), ("as a member reads it, over a usual year", over_year)]
        {
            println!(
                "         {what}: {:>5.1} % told, {:>5.1} % in vain, {:.1} warnings",
                100.0 * (1.0 - alarms.missed()),
                100.0 * alarms.in_vain(),
                alarms.told
            );
        }
    }
}

/// The same by the formula of `science::cold_night::alarms`: over the nights of the record, and over those of a usual year at its place (Champion
/// lies at 40.40° N, 101.72° W), as the page of warnings does.
fn expected(snapshot: &Snapshot, nights: &[(f64, bool)], grids: &[(Vec<f64>, Vec<f64>); 2]) -> [[SeasonAlarms; 2]; THRESHOLDS.len()] {
    let share = NIGHTS_OF_SEASON as f64 / nights.len() as f64;
    let stage = |hard: bool| StageNights {
        harm: HarmByLowest::new(COLDEST_C, 0.1, grids[usize::from(hard)].1.clone()),
        nights: nights.iter().filter(|(_, in_leaf)| *in_leaf != hard).map(|(low, _)| (*low, share)).collect(),
    };
    let record = [stage(false), stage(true)];
    let at = HeldPoint::new(40.40, -101.72).unwrap();
    let mut pot = plant(MemberId(uuid::Uuid::nil()), "celeste");
    (pot.culture, pot.planted, pot.place.point) = (Culture::Container(PotVolume::new(20.0).ok()), Some(2023), Some(at));
    let garden = Garden { at, plants: vec![pot], setups: Vec::new() };
    let usual = of_garden(&garden, WarningMeasure::Wood, snapshot, NOW.parse().unwrap()).unwrap();
    let missed_sd_k = sd_by_lead_k(15.0, true);
    THRESHOLDS.map(|threshold| {
        let warns = Warns { threshold, reckoned_sd_k: 1.57, missed_sd_k, warmest_c: WARMEST_C };
        [alarms::season(&record, warns), usual.alarms(threshold)]
    })
}

/// A forecast in the form of MET Norway, so cold that everybody is told: the most work that a round can be.
fn forecast(latitude: f64, longitude: f64) -> String {
    let steps: Vec<_> = (0..60_i32)
        .map(|hour| {
            let degrees = 6.0 - 24.0 * f64::from((hour + 2) % 24) / 24.0;
            let time = NOW.parse::<Timestamp>().unwrap() + SignedDuration::from_hours(i64::from(hour)) - SignedDuration::from_mins(10);
            json!({"time": time.to_string(), "data": {"instant": {"details": {"air_temperature": degrees, "wind_speed": 1.0, "cloud_area_fraction": 5.0}}}})
        })
        .collect();
    json!({"type": "Feature", "geometry": {"type": "Point", "coordinates": [longitude, latitude, 50]},
        "properties": {"meta": {"units": {"air_temperature": "celsius"}}, "timeseries": steps}})
    .to_string()
}

/// The service on loopback; counts what it is asked.
async fn weather() -> (String, Arc<AtomicUsize>) {
    let asked = Arc::new(AtomicUsize::new(0));
    let seen = Arc::clone(&asked);
    let router = axum::Router::new().fallback(move |request: axum::extract::Request| async move {
        seen.fetch_add(1, Ordering::SeqCst);
        let query = request.uri().query().unwrap_or_default().to_owned();
        let number = |name: &str| query.split(name).nth(1).unwrap().split('&').next().unwrap().parse::<f64>().unwrap();
        forecast(number("lat="), number("lon="))
    });
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = format!("http://{}", listener.local_addr().unwrap());
    tokio::spawn(async move { axum::serve(listener, router).await });
    (address, asked)
}

fn place(number: usize) -> HeldPoint {
    HeldPoint::from_hundredths(4_700 + i64::try_from(number / 1_400).unwrap(), 800 + i64::try_from(number % 1_400).unwrap()).unwrap()
}

/// Keeps the forecast of a place as if it had just been fetched.
async fn kept(store: &dyn Store, place: HeldPoint, now: Timestamp) {
    let (latitude, longitude) = place.hundredths();
    let bytes = forecast(latitude as f64 / 100.0, longitude as f64 / 100.0).into_bytes();
    let document = ForecastDocument {
        source: ForecastSource::MetNorway,
        place,
        link: None,
        fetched: now,
        ask_after: now + SignedDuration::from_hours(6),
        modified: None,
        failures: 0,
        trouble: None,
        bytes: Some(bytes),
    };
    store.keep_forecast_document(&document).await.unwrap();
}

async fn subscribe(store: &dyn Store, number: usize) {
    let grower = joined(store, &format!("grower {number}"), Role::Member).await;
    let at = place(number);
    let mut pot = plant(grower.id, "celeste");
    (pot.culture, pot.planted) = (Culture::Container(PotVolume::new(20.0).ok()), Some(2023));
    let pot = Plant { place: Place { point: Some(at), ..pot.place.clone() }, ..pot };
    store.submit(&submission(&grower, "pot", pot, record(-9.4, TopKilled::None))).await.unwrap();
    let choice = WarningChoice {
        measure: WarningMeasure::Wood,
        threshold: 0.1,
        quiet: None,
        paused_until: None,
        first_freeze: true,
        morning: true,
        stage: None,
        left_out: Vec::new(),
    };
    store.choose_warnings(grower.id, &choice, NOW.parse().unwrap()).await.unwrap();
}

async fn round(snapshot: &Arc<Snapshot>, places: usize) {
    let folder = tempfile::tempdir().unwrap();
    let store = winterfig::store::open(&format!("sqlite:{}", folder.path().join("fig.db").display())).await.unwrap();
    for number in 0..places {
        subscribe(&*store, number).await;
    }
    let (address, asked) = weather().await;
    let sources = Sources { nws: None, met_norway: Some(Host::named_by_operator(&address, None).unwrap()) };
    let rounds = Rounds {
        store: Arc::clone(&store),
        forecasts: Forecasts::new(sources, Arc::clone(&store), Draw::new(|| 0.5)),
        snapshot: Arc::clone(snapshot),
        ids: Ids::seeded(1),
        public_address: Some("https://figs.example.org".to_owned()),
    };
    let now: Timestamp = NOW.parse().unwrap();
    let mut kinds = vec!["with every forecast to be fetched", "with every forecast kept"];
    if places > MOST_FETCHED {
        for number in 0..places {
            kept(&*store, place(number), now).await;
        }
        kinds.remove(0);
    }
    for what in kinds {
        let start = Instant::now();
        let tally = rounds.make(now, &FixedClock(now)).await.unwrap();
        println!("  a round {what}: {:.1} s, {} requests so far, {tally:?}", start.elapsed().as_secs_f64(), asked.load(Ordering::SeqCst));
    }
}

#[tokio::main]
async fn main() {
    let sizes: Vec<usize> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    let sizes = if sizes.is_empty() { vec![1_000] } else { sizes };
    let snapshot = Arc::new(Snapshot::from_seed().unwrap());
    for places in sizes {
        season(&snapshot, places);
        round(&snapshot, places).await;
    }
}
