//! Warnings of cold nights: told once by one of several processes, once more where it gets clearly worse, asked about in the morning; forecasts by
//! a document of the published form of MET Norway, made for these tests and served on loopback over TLS.

use std::sync::{Arc, Mutex};

use axum::http::StatusCode;
use jiff::{SignedDuration, Timestamp};
use serde_json::{Value, json};
use winterfig::clock::FixedClock;
use winterfig::ids::Ids;
use winterfig::jobs::cold_night::forecast::{Draw, Forecasts, Sources};
use winterfig::jobs::warnings::round::{Rounds, Tally};
use winterfig::jobs::warnings::watch::look;
use winterfig::model::snapshot::Snapshot;
use winterfig::outbound::Host;
use winterfig::records::words::TopKilled;
use winterfig::records::{HeldPoint, LetterKind, Member, Plant, QuietHours, Role, Warning, WarningChoice, WarningKind, WarningMeasure};
use winterfig::science::cold_night::stage::Stage;
use winterfig::science::site::{Culture, PotVolume};
use winterfig::store::Store;
use winterfig::web::AppState;

use crate::support::client::{Client, GENEROUS};
use crate::support::members::{joined, plant, record, submission};
use crate::support::on_both_engines;
use crate::web::tls_host::{Answer, host_that, tls};

/// So many minutes after ten past two in the afternoon UTC, which is past three by the sun at 11° E.
fn now(minutes: i64) -> Timestamp {
    "2026-11-28T14:10:00Z".parse::<Timestamp>().unwrap() + SignedDuration::from_mins(minutes)
}

/// Hours from one afternoon to the next, in minutes.
const DAY: i64 = 24 * 60;
/// From the afternoon to ten past ten of the next morning by the sun.
const MORNING: i64 = 19 * 60;

/// A service whose nights have these lows, the first that of 28 November, until five in the morning; 6 °C by day.
async fn weather(lows: &Arc<Mutex<Vec<f64>>>) -> (String, Arc<Mutex<Vec<String>>>) {
    let lows = Arc::clone(lows);
    host_that(move |path, _| {
        let lows = lows.lock().unwrap().clone();
        let step = |hour: usize| {
            let low = lows[(hour + 2) / 24 % lows.len()];
            let degrees = match (hour + 2) % 24 {
                of_day @ 0..=17 => 6.0 + (low - 6.0) * of_day as f64 / 17.0,
                of_day => low + (6.0 - low) * (of_day - 17) as f64 / 7.0,
            };
            let time = "2026-11-28T14:00:00Z".parse::<Timestamp>().unwrap() + SignedDuration::from_hours(i64::try_from(hour).unwrap());
            json!({"time": time.to_string(), "data": {"instant": {"details": {"air_temperature": degrees, "wind_speed": 1.0, "cloud_area_fraction": 5.0}}}})
        };
        let steps: Vec<Value> = (0..24 * 9).map(step).collect();
        let number = |name: &str| path.split(name).nth(1).unwrap().split('&').next().unwrap().parse::<f64>().unwrap();
        let document = json!({"type": "Feature", "geometry": {"type": "Point", "coordinates": [number("lon="), number("lat="), 54]},
            "properties": {"meta": {"units": {"air_temperature": "celsius", "wind_speed": "m/s", "cloud_area_fraction": "%"}}, "timeseries": steps}});
        Answer::new(200, "", document.to_string())
    })
    .await
}

async fn rounds(store: &Arc<dyn Store>, address: &str, seed: u64) -> Rounds {
    let host = Host::named_by_operator(address, Some(&tls("root.pem"))).unwrap();
    let sources = Sources { nws: None, met_norway: Some(host) };
    Rounds {
        store: Arc::clone(store),
        forecasts: Forecasts::new(sources, Arc::clone(store), Draw::new(|| 0.5)),
        snapshot: Arc::new(Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap()),
        ids: Ids::seeded(seed),
        public_address: Some("https://figs.example.org".to_owned()),
    }
}

fn choice() -> WarningChoice {
    WarningChoice {
        measure: WarningMeasure::Wood,
        threshold: 0.1,
        quiet: None,
        paused_until: None,
        first_freeze: false,
        morning: true,
        stage: Some(Stage::InLeaf),
        left_out: Vec::new(),
    }
}

/// A grower who has joined.
async fn grower(store: &dyn Store, handle: &str, choice: &WarningChoice) -> Member {
    let grower = joined(store, handle, Role::Member).await;
    plants(store, &grower, choice).await;
    grower
}

/// A grower who is signed in.
async fn signed_in(store: &Arc<dyn Store>, choice: &WarningChoice, at: Timestamp) -> (Client, Member) {
    let snapshot = Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
    let state = AppState::new(snapshot, Arc::clone(store), Arc::new(FixedClock(at))).allowing(GENEROUS);
    let mut client = Client::over(winterfig::routes::router(state));
    client.join("fig grower").await;
    let grower = store.members().await.unwrap().pop().unwrap();
    plants(&**store, &grower, choice).await;
    (client, grower)
}

/// A young fig in a small pot and an old one in the ground, to be warned for by letters.
async fn plants(store: &dyn Store, grower: &Member, choice: &WarningChoice) {
    plants_at(store, grower, choice, "by the mill").await;
}

async fn plants_at(store: &dyn Store, grower: &Member, choice: &WarningChoice, words: &str) {
    let at = |plant: Plant| {
        let place =
            winterfig::records::Place { point: HeldPoint::new(44.17, 11.36).ok(), words: Some(words.to_owned()), ..plant.place.clone() };
        Plant { place, ..plant }
    };
    let pot = Plant { culture: Culture::Container(PotVolume::new(8.0).ok()), planted: Some(2024), ..plant(grower.id, "celeste") };
    let old = Plant { planted: Some(1998), ..plant(grower.id, "brown-turkey") };
    for (key, plant) in [("pot", pot), ("old", old)] {
        store.submit(&submission(grower, key, at(plant), record(-9.4, TopKilled::None))).await.unwrap();
    }
    store.wish_for_letters(grower.id, &[LetterKind::Warnings], &format!("stop {}", grower.id), now(-10)).await.unwrap();
    store.choose_warnings(grower.id, choice, now(-10)).await.unwrap();
}

async fn told(rounds: &Rounds, at: Timestamp) -> usize {
    look(rounds, &FixedClock(at)).await.unwrap().iter().map(|tally| tally.told).sum()
}

async fn warnings(store: &dyn Store, member: &Member) -> Vec<Warning> {
    store.warnings_of(member.id, now(-DAY)).await.unwrap()
}

fn kinds(warnings: &[Warning]) -> Vec<WarningKind> {
    warnings.iter().map(|warning| warning.kind).collect()
}

/// Words of every letter that is due.
async fn letters(store: &dyn Store, at: Timestamp) -> Vec<String> {
    let mut words = Vec::new();
    while let Some(taken) = store.take_letter(at, at + SignedDuration::from_hours(99)).await.unwrap() {
        words.push(taken.letter.words);
    }
    words
}

on_both_engines! {
    async fn a_forecast_of_minus_six_is_told_once_in_the_plans_order_and_the_mornings_answer_moves_the_offset(database) {
        let store = database.open().await;
        // The night after it is mild, until the forecast changes.
        let lows = Arc::new(Mutex::new(vec![-6.0, 6.0]));
        let (address, asked) = weather(&lows).await;
        let (mut client, grower) = signed_in(&store, &choice(), now(MORNING + 5)).await;
        let rounds = rounds(&store, &address, 1).await;
        assert_eq!(told(&rounds, now(0)).await, 1);
        assert_eq!(told(&rounds, now(1)).await, 0, "the round is done");
        let heard = warnings(&*store, &grower).await;
        assert_eq!(kinds(&heard), [WarningKind::Tonight]);
        assert!((heard[0].night.to_string() == "2026-11-28") && heard[0].harm > 0.1 && (heard[0].minimum_c + 6.0).abs() < 0.1, "{heard:?}");
        let letters_now = letters(&*store, now(1)).await;
        assert_eq!(letters_now.len(), 1);
        for part in ["by the mill, night of 2026-11-28: about −6 °C (21 °F), nine times in ten between", "Most at risk: chance that a fig loses wood",
            "celeste (pot, 8 l)", "Data from MET Norway (CC BY 4.0)", "https://figs.example.org/cold-night?garden=1&looks=in_leaf"]
        {
            assert!(letters_now[0].contains(part), "{part} in {}", letters_now[0]);
        }
        let at = |name: &str| letters_now[0].find(name).unwrap_or(usize::MAX);
        assert!(at("celeste (pot, 8 l)") < at("brown-turkey"), "the tender one first: {}", letters_now[0]);
        // Its link opens the plan, worked out for the member's own garden.
        let plan = client.get(&heard[0].path).await.expect(StatusCode::OK);
        assert!(plan.body.contains("id=\"plan\"") && plan.body.contains("Celeste") && plan.body.contains("value=\"-6.0\""), "{}", plan.body);
        // The morning after: one question, whose form is the one that stands beside every plan.
        assert_eq!(told(&rounds, now(MORNING)).await, 1);
        assert_eq!(kinds(&warnings(&*store, &grower).await), [WarningKind::Tonight, WarningKind::Morning]);
        let page = client.get("/account/warnings").await.expect(StatusCode::OK).body;
        assert!(page.contains("id=\"night-2026-11-28\"") && page.contains("name=\"forecast_c\" value=\"-6.0\""), "{page}");
        let measured = [("forecast_c", "-6.0"), ("coldest_unit", "c"), ("coldest", "-9")];
        let to = client.post("/cold-night/measured", &measured).await.expect(StatusCode::SEE_OTHER).location().to_owned();
        assert!(to.starts_with("/reports/new?coldest=-9"), "{to}");
        *lows.lock().unwrap() = vec![-6.0];
        assert_eq!(told(&rounds, now(DAY)).await, 1);
        let heard = warnings(&*store, &grower).await;
        let (first, second) = (&heard[0], &heard[2]);
        assert!(second.words.contains("Your own thermometer is counted in") && second.harm > first.harm, "{second:?}");
        assert_eq!(asked.lock().unwrap().len(), 3, "one question to the service for each round");
    }

    async fn a_night_that_gets_clearly_worse_is_told_once_more_and_no_third_time(database) {
        let store = database.open().await;
        let lows = Arc::new(Mutex::new(vec![-7.0]));
        let (address, _) = weather(&lows).await;
        let grower = grower(&*store, "fig grower", &WarningChoice { threshold: 0.02, morning: false, stage: Some(Stage::Hard), ..choice() }).await;
        let rounds = rounds(&store, &address, 1).await;
        // In the morning, at noon no round, in the afternoon colder, in a made-up round colder still.
        assert_eq!(told(&rounds, now(-5 * 60)).await, 1);
        *lows.lock().unwrap() = vec![-7.1];
        assert_eq!(rounds.make(now(0), &FixedClock(now(0))).await.unwrap().told, 0, "as it was told");
        *lows.lock().unwrap() = vec![-12.0];
        assert_eq!(rounds.make(now(0), &FixedClock(now(30))).await.unwrap().told, 1);
        *lows.lock().unwrap() = vec![-18.0];
        assert_eq!(rounds.make(now(0), &FixedClock(now(60))).await.unwrap().told, 0);
        assert_eq!(kinds(&warnings(&*store, &grower).await), [WarningKind::Tonight, WarningKind::Worse]);
    }

    async fn a_round_whose_process_dies_is_finished_by_another_and_two_at_once_tell_nobody_twice(database) {
        let store = database.open().await;
        // A second process on PostgreSQL; SQLite lets one in.
        let other = if database.engine == "PostgreSQL" { database.open().await } else { Arc::clone(&store) };
        let (address, asked) = weather(&Arc::new(Mutex::new(vec![-6.0]))).await;
        let mut growers = vec![grower(&*store, "grower one", &choice()).await];
        let (one, two) = (rounds(&store, &address, 1).await, rounds(&other, &address, 2).await);
        // A process takes the round, tells one grower and dies; two more were still to come.
        let hour = now(-10);
        assert!(store.take_warning_round(hour, now(0), now(45)).await.unwrap());
        assert_eq!(rounds(&store, &address, 3).await.make(hour, &FixedClock(now(0))).await.unwrap().told, 1);
        for name in ["grower two", "grower three"] {
            growers.push(grower(&*store, name, &choice()).await);
        }
        assert_eq!(told(&two, now(9)).await, 0, "it belongs to the first, who gave a sign of life with the last few members");
        assert_eq!(told(&two, now(10)).await, 2, "who was not reached");
        assert_eq!(told(&one, now(47)).await, 0);
        for grower in &growers {
            assert_eq!(kinds(&warnings(&*store, grower).await), [WarningKind::Tonight]);
        }
        assert_eq!(letters(&*store, now(48)).await.len(), 3);
        // Both at once, the claim aside: the store keeps one of each.
        let clock = FixedClock(now(DAY));
        let (a, b) = tokio::join!(one.make(now(DAY - 10), &clock), two.make(now(DAY - 10), &clock));
        assert_eq!(a.unwrap().told + b.unwrap().told, 3);
        assert_eq!(letters(&*store, now(DAY + 1)).await.len(), 3);
        assert!(asked.lock().unwrap().len() <= 4, "three growers at one place are one question");
    }

    async fn quiet_hours_pauses_thresholds_and_the_first_freeze_are_kept_to(database) {
        let store = database.open().await;
        let lows = Arc::new(Mutex::new(vec![3.5, 3.5, 3.0, -1.5, 4.0, 4.0, 4.0, 4.0, 4.0]));
        let (address, _) = weather(&lows).await;
        let first = grower(&*store, "grower one", &WarningChoice { first_freeze: true, quiet: Some(QuietHours { from: 13, until: 17 }), ..choice() }).await;
        let paused = grower(&*store, "grower two", &WarningChoice { first_freeze: true, paused_until: Some(now(60)), ..choice() }).await;
        let rounds = rounds(&store, &address, 1).await;
        assert_eq!(rounds.make(now(-10), &FixedClock(now(0))).await.unwrap(), Tally { members: 1, places: 1, without: 0, failed: 0, told: 1 });
        let heard = warnings(&*store, &first).await;
        assert_eq!(kinds(&heard), [WarningKind::FirstFreeze]);
        assert!(heard[0].words.contains("in 3 days") && heard[0].night.to_string() == "2026-12-01", "{heard:?}");
        assert!(letters(&*store, now(60)).await.is_empty(), "it is quiet until five by the sun");
        assert_eq!(letters(&*store, now(121)).await.len(), 1);
        assert!(warnings(&*store, &paused).await.is_empty());
        // The next day it is nearer and not told again; a night of −2 °C does not reach the threshold of an old plant that is hard.
        let hard = WarningChoice { stage: Some(Stage::Hard), threshold: 0.3, ..choice() };
        store.choose_warnings(first.id, &WarningChoice { first_freeze: true, ..hard.clone() }, now(30)).await.unwrap();
        store.choose_warnings(paused.id, &hard, now(30)).await.unwrap();
        *lows.lock().unwrap() = vec![-2.0];
        assert_eq!(rounds.make(now(DAY - 10), &FixedClock(now(DAY))).await.unwrap().told, 0);
        // Where minutes count, a night without a place to carry to takes none.
        store.choose_warnings(paused.id, &WarningChoice { measure: WarningMeasure::Minutes, threshold: 1.0, ..choice() }, now(DAY)).await.unwrap();
        *lows.lock().unwrap() = vec![-9.0];
        assert_eq!(rounds.make(now(2 * DAY - 10), &FixedClock(now(2 * DAY))).await.unwrap().told, 1, "the other one");
    }
}

#[tokio::test]
async fn the_front_page_tells_of_my_figs_by_the_forecast_that_is_kept_and_else_by_the_usual_year() {
    let database = crate::support::TestDatabase::sqlite();
    let store = database.open().await;
    let lows = Arc::new(Mutex::new(vec![1.0, -6.0, 3.0, 4.0, 4.0, 4.0, 4.0]));
    let (address, asked) = weather(&lows).await;
    let rounds = rounds(&store, &address, 1).await;
    let snapshot = Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
    let state = AppState::new(snapshot, Arc::clone(&store), Arc::new(FixedClock(now(20)))).allowing(GENEROUS);
    let mut client = Client::over(winterfig::routes::router(state.with_forecasts(Some(rounds.forecasts.clone()))));
    client.join("fig grower").await;
    let grower = store.members().await.unwrap().pop().unwrap();
    plants_at(&*store, &grower, &choice(), "Imola, Italy").await;
    let page = client.get("/").await.expect(StatusCode::OK).body;
    assert!(page.contains("My figs now, at Imola, Italy") && page.contains("In a usual year here, since no forecast is at hand"), "{page}");
    assert!(asked.lock().unwrap().is_empty(), "nobody is asked for this page");
    rounds.make(now(-10), &FixedClock(now(0))).await.unwrap();
    let page = client.get("/").await.expect(StatusCode::OK).body;
    for words in [
        "By the forecast: the likeliest of the coming nights",
        "The coldest of the coming nights is that of Sunday, 29 November: about −6",
        "Most at risk if nothing is done: celeste (pot, 8 l)",
        "Data from MET Norway (CC BY 4.0)</a>, less than an hour old",
        "/cold-night?garden=1&#38;looks=in_leaf",
    ] {
        assert!(page.contains(words), "{words}: {page}");
    }
    assert_eq!(asked.lock().unwrap().len(), 1, "by the round alone");
}

#[tokio::test]
async fn a_member_chooses_reads_what_each_chance_brings_and_stops() {
    let database = crate::support::TestDatabase::sqlite();
    let store = database.open().await;
    let (mut client, member) = signed_in(&store, &choice(), now(0)).await;
    store.stop_warnings(member.id).await.unwrap();
    let page = client.get("/account/warnings").await.expect(StatusCode::OK).body;
    for words in [
        "What each chance brings your plants at by the mill in a usual year",
        "In vain",
        "fetches no forecasts at present",
        "by the season",
        "celeste",
    ] {
        assert!(page.contains(words), "{words}: {page}");
    }
    let plants = store.plants_of(member.id).await.unwrap();
    let one = plants[0].id.to_string();
    let sent = [("measure", "to_ground"), ("chance", "5"), ("minutes", "20"), ("plant", one.as_str()), ("morning", "yes"), ("pause", "7")];
    client.post("/account/warnings", &sent).await.expect(StatusCode::SEE_OTHER);
    let kept = store.warning_choice(member.id).await.unwrap().unwrap();
    assert_eq!((kept.measure, kept.threshold, kept.left_out.len()), (WarningMeasure::ToGround, 0.05, 1));
    let page = client.get("/account/warnings").await.expect(StatusCode::OK).body;
    assert!(page.contains("Paused until") && page.contains("Stop all warnings"));
    let refused =
        client.post("/account/warnings", &[("measure", "gossip"), ("chance", "99")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    for words in ["is not a measure of a warning", "choose at least one plant", "chance"] {
        assert!(refused.contains(words), "{words}: {refused}");
    }
    client.post("/account/warnings/stop", &[]).await.expect(StatusCode::SEE_OTHER);
    assert_eq!(store.warning_choice(member.id).await.unwrap(), None);
}
