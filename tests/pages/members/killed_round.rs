//! [DUR] kill -9 in the middle of a round of warnings. The program itself, two processes on one database; a weather service on loopback that takes
//! its time (documents in the published form of api.weather.gov, made for this test: −6 °C each night), and a mail relay on loopback. One
//! process is killed while the round is half through its list, at moments drawn from a seed; another finishes it and is killed too; others send what
//! waits. At the end every member has one letter (by its Message-ID: a relay may be told twice what it took from a process that died before it could
//! note so), one entry of the calendar and one of the feed for each night. `tests/support/clock.c` sets each process's time of day. On PostgreSQL two
//! processes are there at each step; on SQLite one comes when the one before is dead, since a data file lets one in.

use std::collections::{BTreeMap, BTreeSet};
use std::net::SocketAddr;
use std::process::Command;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use jiff::{SignedDuration, Timestamp, ToSpan};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::json;
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{Connection, PgConnection, SqliteConnection};
use tempfile::TempDir;
use winterfig::records::words::TopKilled;
use winterfig::records::{HeldPoint, LetterKind, Plant, Role, WarningChoice, WarningMeasure};
use winterfig::science::cold_night::stage::Stage;
use winterfig::science::site::{Culture, PotVolume};
use winterfig::store::{LinkPurpose, MailLink, Store};

use super::medium::get;
use super::relay::Relay;
use crate::support::members::{joined, moment, plant, record, submission};
use crate::support::program::{Program, free_address};
use crate::support::{TestDatabase, on_both_engines};

/// Ten past three in the afternoon by the sun at 11° E, of the first night.
const FIRST: &str = "2026-12-01T14:10:00Z";
/// Members, each at a place of their own: more than twice as many as a round looks after together.
const MEMBERS: usize = 60;
/// What a document of the weather service takes.
const SLOW: Duration = Duration::from_millis(150);
/// How much later the next process begins, so that who held the round, or a letter, is taken for dead, minutes.
const LATER_MIN: i64 = 11;
/// Looks of a fiftieth of a second at most: some two minutes.
const LOOKS: usize = 6_000;

/// At what moment a process is killed: so far in its list.
#[derive(Debug, Clone, Copy)]
enum Cut {
    Fetched(usize),
    Told(usize),
    Sent(usize),
}

/// The weather service: its address, and how many forecasts it gave.
async fn weather() -> (String, Arc<AtomicUsize>) {
    let given = Arc::new(AtomicUsize::new(0));
    let counted = Arc::clone(&given);
    let start: Timestamp = "2026-12-01T00:00:00Z".parse().unwrap();
    let period = |hour: i64| {
        // From 6 °C at two in the afternoon to −6 °C at six in the morning, in the time of the place.
        let since_two = (hour + 1 + 10).rem_euclid(24) as f64;
        let degrees = if since_two <= 16.0 { 6.0 - 12.0 * since_two / 16.0 } else { -6.0 + 12.0 * (since_two - 16.0) / 8.0 };
        let local = jiff::tz::Offset::constant(1).to_datetime(start + SignedDuration::from_hours(hour));
        json!({"number": hour + 1, "startTime": format!("{local}+01:00"), "temperature": {"unitCode": "wmoUnit:degC", "value": degrees},
            "windSpeed": "3 mph", "shortForecast": "Clear"})
    };
    let periods: Vec<_> = (0..24 * 7).map(period).collect();
    let forecast = json!({"type": "Feature", "geometry": {"type": "Polygon", "coordinates": []},
        "properties": {"updateTime": "2026-12-01T13:00:00+00:00", "periods": periods}})
    .to_string();
    let router = axum::Router::new().fallback(move |request: axum::extract::Request| {
        let (counted, forecast, path) = (Arc::clone(&counted), forecast.clone(), request.uri().path().to_owned());
        async move {
            tokio::time::sleep(SLOW).await;
            if let Some(point) = path.strip_prefix("/points/") {
                return json!({"properties": {"forecastHourly": format!("https://api.weather.gov/hourly/{point}")}}).to_string();
            }
            counted.fetch_add(1, Ordering::SeqCst);
            forecast
        }
    });
    let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = format!("http://{}", listener.local_addr().unwrap());
    tokio::spawn(async move { axum::serve(listener, router).await });
    (address, given)
}

/// A relay that takes every letter.
async fn relay() -> (String, Arc<Mutex<Vec<String>>>) {
    let mut relay = Relay::open().await;
    let (address, letters) = (relay.address.clone(), Arc::new(Mutex::new(Vec::new())));
    let taken = Arc::clone(&letters);
    tokio::spawn(async move {
        while let Some(letter) = relay.next().await {
            taken.lock().unwrap().push(letter);
        }
    });
    (address, letters)
}

/// Growers, each with a young fig in a pot at a place of their own, who wish to be warned by letter, in a calendar and in a feed.
async fn growers(store: &dyn Store) {
    let choice = WarningChoice {
        measure: WarningMeasure::Wood,
        threshold: 0.1,
        quiet: None,
        paused_until: None,
        first_freeze: false,
        morning: false,
        stage: Some(Stage::InLeaf),
        left_out: Vec::new(),
    };
    for number in 0..MEMBERS {
        let grower = joined(store, &format!("grower {number}"), Role::Member).await;
        let email = email(number);
        store.set_mail_address(grower.id, Some(&email)).await.unwrap();
        let link = MailLink {
            secret_hash: email.clone(),
            member: grower.id,
            purpose: LinkPurpose::Confirm,
            email: email.clone(),
            ends: moment(600),
        };
        store.keep_link(&link).await.unwrap();
        assert!(store.confirm_address(&email, moment(0)).await.unwrap());
        let mut pot = plant(grower.id, "celeste");
        let point = HeldPoint::from_hundredths(4_400 + 5 * i64::try_from(number).unwrap(), 1_136).unwrap();
        (pot.culture, pot.planted, pot.place.point) = (Culture::Container(PotVolume::new(8.0).ok()), Some(2024), Some(point));
        let pot = Plant { place: pot.place.clone(), ..pot };
        store.submit(&submission(&grower, "pot", pot, record(-9.4, TopKilled::None))).await.unwrap();
        store.wish_for_letters(grower.id, &[LetterKind::Warnings], &format!("stop {number}"), moment(0)).await.unwrap();
        store.choose_warnings(grower.id, &choice, moment(0)).await.unwrap();
        store.set_reminder_address(grower.id, &secret(number), moment(0)).await.unwrap();
    }
}

fn email(number: usize) -> String {
    format!("grower.{number}@example.org")
}

fn secret(number: usize) -> String {
    format!("secret-of-grower-{number}")
}

/// The house: database, services, and what was counted.
struct House {
    database: TestDatabase,
    folder: TempDir,
    weather: String,
    given: Arc<AtomicUsize>,
    relay: String,
    letters: Arc<Mutex<Vec<String>>>,
}

impl House {
    async fn new(database: TestDatabase) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let source = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/support/clock.c");
        let shim = folder.path().join("clock.so");
        assert!(Command::new("cc").args(["-shared", "-fPIC", "-O1", "-o"]).arg(&shim).args([source, "-ldl"]).status().unwrap().success());
        let store = database.open().await;
        growers(&*store).await;
        store.close().await;
        let ((weather, given), (relay, letters)) = (weather().await, relay().await);
        Self { database, folder, weather, given, relay, letters }
    }

    /// One more process, by whose clock it is so late.
    fn process(&self, now: Timestamp) -> (Program, SocketAddr) {
        let listen = free_address();
        let program = Program::serving(env!("CARGO_BIN_EXE_winterfig"), listen, &self.database.address)
            .with("LD_PRELOAD", self.folder.path().join("clock.so"))
            .with("CLOCK_AHEAD", now.duration_since(Timestamp::now()).as_secs().to_string())
            .with("WINTERFIG_FORECAST_RELAY", &self.weather)
            .with("WINTERFIG_MAIL_RELAY", &self.relay)
            .with("WINTERFIG_MAIL_FROM", "figs@example.org")
            .with("WINTERFIG_PUBLIC_ADDRESS", "https://figs.example.org")
            .with("WINTERFIG_ERASED_LIST", self.folder.path().join("erased"))
            .start();
        (program, listen)
    }

    /// A second one beside it, where the database lets two in.
    fn beside(&self, now: Timestamp) -> Option<Program> {
        (self.database.engine == "PostgreSQL").then(|| self.process(now).0)
    }

    /// Rows of a table, past the lock of the data file.
    async fn rows(&self, table: &str) -> usize {
        let text = sqlx::AssertSqlSafe(format!("SELECT COUNT(*) FROM {table}"));
        let rows: i64 = if let Some(file) = self.database.address.strip_prefix("sqlite:") {
            let mut one = SqliteConnection::connect_with(&SqliteConnectOptions::new().filename(file).read_only(true)).await.unwrap();
            sqlx::query_scalar(text).fetch_one(&mut one).await.unwrap()
        } else {
            let mut one = PgConnection::connect(&self.database.address).await.unwrap();
            sqlx::query_scalar(text).fetch_one(&mut one).await.unwrap()
        };
        usize::try_from(rows).unwrap()
    }

    fn given(&self) -> usize {
        self.given.load(Ordering::SeqCst)
    }

    fn sent(&self) -> usize {
        self.letters.lock().unwrap().len()
    }

    /// Waits until it is so.
    async fn until(&self, what: &str, so: impl AsyncFn() -> bool) {
        for _ in 0..LOOKS {
            if so().await {
                return;
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        panic!("not in time: {what}; {} forecasts, {} warnings, {} letters", self.given(), self.rows("warning").await, self.sent());
    }

    /// One night: a process begins the round and is killed at the cut, another finishes it, others send what is left.
    async fn night(&self, nth: usize, cut: Cut) {
        let at = |minutes: i64| {
            let hours = 24 * i64::try_from(nth).unwrap();
            FIRST.parse::<Timestamp>().unwrap() + SignedDuration::from_hours(hours) + SignedDuration::from_mins(minutes)
        };
        let (forecasts, told, sent) = (self.given(), self.rows("warning").await, self.sent());
        assert_eq!((told, self.rows("letter").await), (nth * MEMBERS, 0));
        let (mut first, _) = self.process(at(0));
        self.until("a round begins", async || self.given() > forecasts).await;
        let beside = self.beside(at(0));
        match cut {
            Cut::Fetched(places) => self.until("places are fetched", async || self.given() >= forecasts + places).await,
            Cut::Told(members) => self.until("members are told", async || self.rows("warning").await >= told + members).await,
            Cut::Sent(letters) => {
                self.until("everybody is told", async || self.rows("warning").await == told + MEMBERS).await;
                first.kill();
                (first, _) = self.process(at(LATER_MIN));
                self.until("letters go out", async || self.sent() >= sent + letters).await;
            }
        }
        first.kill();
        let (waiting, mid_told) = (self.rows("letter").await, self.rows("warning").await - told);
        let (fetched, gone) = (self.given() - forecasts, self.sent() - sent);
        println!("{cut:?}: {fetched} of {MEMBERS} forecasts, {mid_told} told, {waiting} letters wait, {gone} sent");
        match cut {
            Cut::Sent(_) => assert!(waiting > 0 && gone > 0, "some letters sent, some not"),
            _ => assert!(mid_told > 0 && mid_told < MEMBERS && waiting > 0, "some members told, some not: {mid_told}"),
        }
        let (mut second, _) = self.process(at(2 * LATER_MIN));
        self.until("everybody is told in the end", async || self.rows("warning").await == told + MEMBERS).await;
        second.kill();
        drop(beside);
        let ((mut third, listen), beside) = (self.process(at(3 * LATER_MIN)), self.beside(at(3 * LATER_MIN)));
        self.until("every letter is sent", async || self.rows("letter").await == 0).await;
        self.read(listen, nth).await;
        third.kill();
        drop(beside);
    }

    /// What each member reads of every night so far.
    async fn read(&self, listen: SocketAddr, nth: usize) {
        let mut nights = BTreeSet::new();
        for night in 0..=nth {
            let date = FIRST[..10].parse::<jiff::civil::Date>().unwrap() + i64::try_from(night).unwrap().days();
            nights.insert(date);
        }
        let mut letters: BTreeMap<(String, String), BTreeSet<String>> = BTreeMap::new();
        for letter in self.letters.lock().unwrap().iter() {
            let line =
                |name: &str| letter.lines().find_map(|line| line.strip_prefix(name)).unwrap_or_else(|| panic!("{letter}")).to_owned();
            let night = letter.split("night of ").nth(1).unwrap_or_else(|| panic!("{letter}"))[..10].to_owned();
            letters.entry((line("To: "), night)).or_default().insert(line("Message-ID: "));
        }
        assert_eq!(letters.len(), MEMBERS * nights.len(), "every member has a letter for every night");
        for ((to, night), ids) in &letters {
            assert_eq!(ids.len(), 1, "{to} was told twice of {night}");
        }
        for number in 0..MEMBERS {
            let calendar = get(listen, &format!("/calendar/{}.ics", secret(number))).await.replace("\r\n ", "");
            let feed = get(listen, &format!("/feed/{}.atom", secret(number))).await;
            for night in &nights {
                let day = night.strftime("%Y%m%d").to_string();
                let event = |event: &&str| event.contains("SUMMARY:A cold night") && event.contains(&format!("DTSTART;VALUE=DATE:{day}"));
                assert_eq!(calendar.split("BEGIN:VEVENT").filter(event).count(), 1, "{number}, {night}: {calendar}");
                assert_eq!(feed.matches(&format!("night of {night}: about")).count(), 1, "{number}, {night}: {feed}");
            }
        }
    }
}

on_both_engines! {
    async fn a_process_killed_in_the_middle_of_a_round_tells_nobody_twice_and_forgets_nobody(database) {
        let house = House::new(database).await;
        let mut rng = ChaCha8Rng::seed_from_u64(20_261_129);
        // Past the first members that are looked after together, and before the last.
        let mut drawn = |least: usize, most: usize| rng.random_range(least..=most);
        let cuts = [Cut::Fetched(drawn(35, 48)), Cut::Told(drawn(3, 22)), Cut::Told(drawn(28, 48)), Cut::Sent(drawn(5, 40))];
        for (nth, cut) in cuts.into_iter().enumerate() {
            house.night(nth, cut).await;
        }
    }
}
