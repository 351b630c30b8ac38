//! A member's dates at a secret address: read by programs of other people, changed, ended, and nobody else's.

use std::io::Write;
use std::process::{Command, Stdio};
use std::sync::Arc;

use axum::body::Body;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, ETAG, IF_NONE_MATCH};
use axum::http::{Request, StatusCode};
use jiff::civil::date;
use serde_json::Value;
use uuid::Uuid;
use winterfig::records::words::TopKilled;
use winterfig::records::{FirstScale, Member, Plant, Role, Warning, WarningChoice, WarningKind, WarningMeasure};
use winterfig::science::site::{Culture, Setting};
use winterfig::store::{Leaving, Store, Submission};

use crate::support::client::{Client, GENEROUS, service, value};
use crate::support::members::{joined, moment, plant, record, submission};
use crate::support::{TestDatabase, on_both_engines};

/// The setting that names a Python with the packages icalendar, ics, feedparser and lxml.
const READERS: &str = "WINTERFIG_READERS";

/// What programs of other people read in a document; `None` where there are none, which the log says.
pub fn read_by_others(kind: &str, raw: &[u8]) -> Option<Value> {
    let Ok(python) = std::env::var(READERS) else {
        eprintln!("SKIPPED: {READERS} names no Python");
        return None;
    };
    let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/support/readers.py");
    let mut child =
        Command::new(python).args([script, kind]).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(raw).unwrap();
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{}\n{}", String::from_utf8_lossy(&output.stderr), String::from_utf8_lossy(raw));
    Some(serde_json::from_slice(&output.stdout).unwrap())
}

/// Plants of a member in a town, each with a winter told.
async fn planted(store: &dyn Store, member: &Member, town: &str) -> Vec<Plant> {
    let mut all = Vec::new();
    for (name, culture) in [
        ("Fennmere Lantern; early, “green”", Culture::Ground),
        ("Fennmere Lantern; early, “green”", Culture::Ground),
        ("Balcony fig", Culture::Container(None)),
    ] {
        let mut planted = plant(member.id, "olympian");
        (planted.name_written, planted.culture, planted.setting) = (name.to_owned(), culture, Some(Setting::Open));
        planted.place.words = Some(town.to_owned());
        let sent: Submission = submission(member, &Uuid::now_v7().to_string(), planted.clone(), record(-9.0, TopKilled::Tips));
        store.submit(&sent).await.unwrap();
        all.push(planted);
    }
    all
}

/// A member with a garden, and the paths of their calendar and feed.
async fn member(store: &Arc<dyn Store>, now: &str, town: &str) -> (Client, Member, String, String) {
    let mut client = Client::over(service(store, now, GENEROUS).await);
    client.language = Some("en-GB");
    client.join("date keeper").await;
    let member = store.sign_in_facts("date keeper").await.unwrap().unwrap().0;
    planted(&**store, &member, town).await;
    client.post("/account/reminders", &[("act", "make")]).await.expect(StatusCode::SEE_OTHER);
    let (calendar, feed) = addresses(&mut client).await;
    (client, member, calendar, feed)
}

/// The addresses as the account page shows them.
async fn addresses(client: &mut Client) -> (String, String) {
    let page = client.get("/account").await.expect(StatusCode::OK).read().1;
    (value(&page, "calendar-address"), value(&page, "feed-address"))
}

fn entry<'a>(read: &'a Value, list: &str, title: &str) -> Option<&'a Value> {
    read[list].as_array().unwrap().iter().find(|entry| entry["title"].as_str().unwrap().starts_with(title))
}

#[tokio::test]
async fn a_calendar_is_read_alike_by_two_programs_of_other_people_on_both_halves_of_the_earth() {
    for (town, now, uncovered) in
        [("Graz, Austria", "2026-11-28T12:00:00Z", "2027-0"), ("Canberra, Australia", "2026-07-28T12:00:00Z", "2026-")]
    {
        let database = TestDatabase::sqlite();
        let store = database.open().await;
        let (client, _, calendar, _) = member(&store, now, town).await;
        // A stranger without a session, who holds the address.
        let answer = client.another().get(&calendar).await.expect(StatusCode::OK);
        assert_eq!(answer.headers[CONTENT_TYPE], "text/calendar; charset=utf-8");
        assert_eq!(answer.headers[CACHE_CONTROL], "private, no-cache");
        let Some(read) = read_by_others("calendar", &answer.bytes) else { return };
        for title in [
            "Covers may come off: 2 figs",
            "Pots in leaf may stay out: 1 fig",
            "Give no silent fig up before today: 3 figs",
            "Tell how winter ",
            "Tell what your figs bore: 3 figs",
            "First hard frost is to be expected: 3 figs",
            "Cuttings of wood at rest can be stuck",
        ] {
            assert!(entry(&read, "events", title).is_some(), "{title} in {read}");
        }
        let event = entry(&read, "events", "Covers may come off").unwrap();
        assert!(event["from"].as_str().unwrap().starts_with(uncovered), "{event}");
        let words = event["words"].as_str().unwrap();
        // What people write goes through the escapes of the standard and comes out as it was.
        assert!(words.contains("2 × Fennmere Lantern; early, “green”") && words.contains(town) && words.contains("°C ("), "{words}");
        assert_eq!(event["stamp"].as_str().unwrap(), format!("{}T00:00:00+00:00", &now[..10]));
        let frost = entry(&read, "events", "First hard frost").unwrap();
        assert!(frost["after"].as_str() > frost["from"].as_str());
    }
}

#[tokio::test]
async fn a_feed_tells_what_is_to_be_reported_and_is_valid_with_and_without_entries() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    // The winter before is told; that of 2026/27 can be from some day of April or May on.
    let (client, _, calendar, feed) = member(&store, "2027-05-28T09:00:00Z", "Graz, Austria").await;
    let answer = client.another().get(&feed).await.expect(StatusCode::OK);
    assert_eq!(answer.headers[CONTENT_TYPE], "application/atom+xml; charset=utf-8");
    let Some(read) = read_by_others("feed", &answer.bytes) else { return };
    let told = entry(&read, "entries", "Tell how winter 2026/27 went: 3 figs").unwrap_or_else(|| panic!("{read}"));
    assert!(told["url"].as_str().unwrap().ends_with("/garden/winter"));
    assert!(told["words"].as_str().unwrap().contains("Fennmere Lantern; early, “green”"));
    // The calendar's event has the same id.
    let events = read_by_others("calendar", &client.another().get(&calendar).await.bytes).unwrap();
    assert_eq!(told["id"], format!("urn:uuid:{}", entry(&events, "events", "Tell how winter 2026/27").unwrap()["uid"].as_str().unwrap()));
    // In winter nothing is asked.
    let quiet = Client::over(service(&store, "2027-02-01T09:00:00Z", GENEROUS).await).get(&feed).await.expect(StatusCode::OK);
    assert_eq!(read_by_others("feed", &quiet.bytes).unwrap()["entries"], serde_json::json!([]));
}

fn warning(member: &Member, kind: WarningKind, made: &str, subject: &str) -> Warning {
    Warning {
        id: Uuid::now_v7(),
        member: member.id,
        made: made.parse().unwrap(),
        night: date(2026, 11, 28),
        kind,
        about: "2026-11-28".to_owned(),
        harm: 0.3,
        minimum_c: -6.0,
        subject: subject.to_owned(),
        words: "−6 °C (21 °F); carry in the balcony fig, then cover the others".to_owned(),
        path: "/cold-night?minimum=-6".to_owned(),
    }
}

#[tokio::test]
async fn a_warning_and_the_question_of_the_morning_stand_in_calendar_and_feed() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let (client, member, calendar, feed) = member(&store, "2026-11-29T12:00:00Z", "Graz, Austria").await;
    let choice = WarningChoice {
        measure: WarningMeasure::Tips,
        threshold: 0.1,
        quiet: None,
        paused_until: None,
        first_freeze: true,
        morning: true,
        stage: None,
        left_out: Vec::new(),
    };
    store.choose_warnings(member.id, &choice, moment(0)).await.unwrap();
    let cold = warning(&member, WarningKind::Tonight, "2026-11-28T06:30:00Z", "A cold night for your figs");
    let asked = warning(&member, WarningKind::Morning, "2026-11-29T06:30:00Z", "What did it read?");
    let old = warning(&member, WarningKind::FirstFreeze, "2026-09-28T06:30:00Z", "The first freeze");
    for warning in [&cold, &asked, &old] {
        assert!(store.keep_warning(warning, None).await.unwrap());
    }
    let Some(read) = read_by_others("calendar", &client.another().get(&calendar).await.bytes) else { return };
    for (warning, day) in [(&cold, "2026-11-28"), (&asked, "2026-11-29")] {
        let event = entry(&read, "events", &warning.subject).unwrap();
        assert_eq!((event["from"].as_str().unwrap(), event["words"].as_str().unwrap()), (day, warning.words.as_str()));
        assert_eq!(event["uid"].as_str().unwrap(), warning.id.to_string());
        assert!(event["url"].as_str().unwrap().ends_with("/cold-night?minimum=-6"));
    }
    assert!(entry(&read, "events", "The first freeze").is_none(), "one of two months ago is over");
    let told = read_by_others("feed", &client.another().get(&feed).await.bytes).unwrap();
    let titles: Vec<&str> = told["entries"].as_array().unwrap().iter().map(|entry| entry["title"].as_str().unwrap()).collect();
    assert_eq!(titles[..2], ["What did it read?", "A cold night for your figs"], "newest first");
    assert_eq!(told["updated"], "2026-11-29T12:00:00+00:00", "not before the address was made");
}

#[tokio::test]
async fn a_reader_who_asks_again_learns_that_nothing_is_new() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let (client, member, calendar, feed) = member(&store, "2026-11-28T12:00:00Z", "Graz, Austria").await;
    let mut later = Client::over(service(&store, "2026-11-28T18:30:00Z", GENEROUS).await);
    for path in [&calendar, &feed] {
        let tag = client.another().get(path).await.expect(StatusCode::OK).headers[ETAG].clone();
        let again = |tag: &str| Request::get(path.as_str()).header(IF_NONE_MATCH, tag.to_owned()).body(Body::empty()).unwrap();
        let answer = later.send(again(&format!("\"other\", W/{}", tag.to_str().unwrap()))).await;
        assert_eq!((answer.status, answer.bytes.len()), (StatusCode::NOT_MODIFIED, 0));
        assert_eq!(later.send(again("\"other\"")).await.status, StatusCode::OK);
    }
    // A scale of one's own is another document.
    let before = client.another().get(&calendar).await;
    store.set_first_scale(member.id, FirstScale::Fahrenheit).await.unwrap();
    let after = client.another().get(&calendar).await;
    assert_ne!(before.headers[ETAG], after.headers[ETAG]);
    assert!(before.body.contains("−1 °C (30 °F)") && after.body.contains("30 °F (−1 °C)"), "{}", after.body);
}

#[tokio::test]
async fn an_address_that_was_changed_or_ended_leads_nowhere() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let (mut client, _, calendar, feed) = member(&store, "2026-11-28T12:00:00Z", "Graz, Austria").await;
    client.post("/account/reminders", &[("act", "make"), ("scale", "f")]).await.expect(StatusCode::SEE_OTHER);
    let (other, _) = addresses(&mut client).await;
    assert_ne!(other, calendar);
    for old in [&calendar, &feed] {
        client.another().get(old).await.expect(StatusCode::GONE);
    }
    client.another().get(&other).await.expect(StatusCode::OK);
    // Each document has its own ending, and a secret that was cut short opens nothing.
    for wrong in [other.replace(".ics", ".atom"), other.replace(".ics", ""), other.replace(".ics", "x.ics"), "/feed/.atom".to_owned()] {
        client.another().get(&wrong).await.expect(StatusCode::GONE);
    }
    assert_eq!(client.post("/account/reminders", &[("act", "burn"), ("scale", "k")]).await.status, StatusCode::UNPROCESSABLE_ENTITY);
    client.post("/account/reminders", &[("act", "end")]).await.expect(StatusCode::SEE_OTHER);
    client.another().get(&other).await.expect(StatusCode::GONE);
    assert!(client.get("/account").await.body.contains("There is no address yet"));
}

#[tokio::test]
async fn a_garden_without_a_plant_or_a_town_has_a_calendar_that_says_so() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::over(service(&store, "2026-11-28T12:00:00Z", GENEROUS).await);
    client.join("new grower").await;
    client.post("/account/reminders", &[("act", "make")]).await.expect(StatusCode::SEE_OTHER);
    let (calendar, _) = addresses(&mut client).await;
    let empty = client.another().get(&calendar).await.expect(StatusCode::OK);
    assert!(empty.body.contains("your garden has no plant"), "{}", empty.body);
    let member = store.sign_in_facts("new grower").await.unwrap().unwrap().0;
    planted(&*store, &member, "the lane behind the mill").await;
    let lost = client.another().get(&calendar).await.expect(StatusCode::OK);
    assert!(lost.body.contains("where do your figs stand?"), "{}", lost.body);
    for document in [empty, lost] {
        if let Some(read) = read_by_others("calendar", &document.bytes) {
            assert_eq!(read["events"].as_array().unwrap().len(), 1);
        }
    }
}

on_both_engines! {
    async fn an_address_is_one_members_and_goes_with_them(database) {
        let store = database.open().await;
        let (one, other) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "grower two", Role::Member).await);
        store.set_reminder_address(one.id, "first", moment(1)).await.unwrap();
        store.set_reminder_address(other.id, "second", moment(2)).await.unwrap();
        assert!(store.set_reminder_address(other.id, "first", moment(3)).await.is_err(), "a secret is one member's");
        store.set_first_scale(one.id, FirstScale::Fahrenheit).await.unwrap();
        let reader = store.reminder_reader("first").await.unwrap().unwrap();
        assert_eq!((reader.member.id, reader.made, reader.scale), (one.id, moment(1), Some(FirstScale::Fahrenheit)));
        store.set_reminder_address(one.id, "third", moment(4)).await.unwrap();
        assert_eq!(store.reminder_reader("first").await.unwrap(), None);
        store.forget_member(one.id, Leaving::RemoveRecords, Uuid::from_u128(5), moment(6)).await.unwrap();
        assert_eq!((store.reminder_reader("third").await.unwrap(), store.first_scale(one.id).await.unwrap()), (None, None));
        assert!(store.reminder_reader("second").await.unwrap().is_some());
    }
}
