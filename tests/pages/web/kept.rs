//! Answers that are kept: sent again as they were written, to those alone whom they belong to, packed for those who take that.

use std::io::Read;
use std::sync::{Arc, Mutex};

use axum::body::Body;
use axum::http::Request;
use axum::http::header::{ACCEPT_ENCODING, ACCEPT_LANGUAGE, CONTENT_ENCODING, COOKIE, ETAG, HOST, HeaderName, VARY};
use winterfig::clock::{Clock, FixedClock};
use winterfig::model::snapshot::Snapshot;
use winterfig::store::Store;
use winterfig::web::AppState;

use crate::support::TestDatabase;
use crate::support::client::{Answer, Client};

const QUESTION: &str = "/shortlist?zone=7a&climate=inland";

async fn state(store: &Arc<dyn Store>, now: &str) -> AppState {
    let snapshot = Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
    AppState::new(snapshot, Arc::clone(store), Arc::new(FixedClock(now.parse().unwrap())))
}

async fn ask(client: &mut Client, address: &str, headers: &[(HeaderName, &str)]) -> Answer {
    let request = headers.iter().fold(Request::get(address), |request, (name, value)| request.header(name, *value));
    client.send(request.body(Body::empty()).unwrap()).await
}

fn unpacked(answer: &Answer) -> String {
    let mut text = String::new();
    flate2::read::GzDecoder::new(answer.bytes.as_slice()).read_to_string(&mut text).unwrap();
    text
}

#[tokio::test]
async fn an_answer_is_kept_beside_the_snapshot_and_goes_with_it() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let state = state(&store, "2026-06-20T10:00:00Z").await;
    let mut client = Client::over(winterfig::routes::router(state.clone()));
    for (address, more) in [
        (QUESTION, 1),
        ("/api/v1/shortlist?zone=7a", 1),
        ("/reports", 0),
        ("/account", 0),
        ("/compare?cultivar=celeste&cultivar=brown-turkey&zone=7a", 0),
    ] {
        let before = state.snapshot().kept.bytes();
        let first = ask(&mut client, address, &[]).await;
        let bytes = state.snapshot().kept.bytes();
        assert_eq!(bytes > before, more > 0, "{address}");
        let again = ask(&mut client, address, &[]).await;
        assert_eq!((again.status, &again.body), (first.status, &first.body), "{address}");
        assert_eq!(state.snapshot().kept.bytes(), bytes, "{address}");
    }
    state.publish(Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap());
    assert_eq!(state.snapshot().kept.bytes(), 0);
}

#[tokio::test]
async fn whatever_a_page_shows_of_who_asks_where_and_when_parts_what_is_kept() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let state = state(&store, "2026-06-20T10:00:00Z").await;
    let mut client = Client::over(winterfig::routes::router(state.clone()));
    let british = [(ACCEPT_LANGUAGE, "en-GB"), (HOST, "figs.example")];
    let plain = ask(&mut client, QUESTION, &british).await;
    for (other, headers) in [
        ("language", vec![(ACCEPT_LANGUAGE, "en-US"), (HOST, "figs.example")]),
        ("scale", vec![(ACCEPT_LANGUAGE, "en-GB"), (HOST, "figs.example"), (COOKIE, "temperature=f")]),
        ("host", vec![(ACCEPT_LANGUAGE, "en-GB"), (HOST, "other.example")]),
    ] {
        assert_ne!(ask(&mut client, QUESTION, &headers).await.body, plain.body, "{other}");
        assert_eq!(ask(&mut client, QUESTION, &british).await.body, plain.body, "{other}");
    }
    // A remembered place fills the form of the front page.
    let home = ask(&mut client, "/", &british).await;
    let placed = ask(&mut client, "/", &[british[0].clone(), british[1].clone(), (COOKIE, "place=Kyiv%2C+Ukraine")]).await;
    assert!(placed.body.contains("Kyiv") && !home.body.contains("Kyiv"));
    assert!(!ask(&mut client, "/", &british).await.body.contains("Kyiv"));
}

/// A clock that is set.
#[derive(Debug)]
struct SetClock(Mutex<jiff::Timestamp>);

impl Clock for SetClock {
    fn now(&self) -> jiff::Timestamp {
        *self.0.lock().unwrap()
    }
}

#[tokio::test]
async fn a_page_that_tells_the_season_is_not_kept_over_the_day() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let clock = Arc::new(SetClock(Mutex::new("2026-01-20T23:59:00Z".parse().unwrap())));
    let snapshot = Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
    let mut client = Client::over(winterfig::routes::router(AppState::new(snapshot, Arc::clone(&store), clock.clone())));
    let winter = client.get("/").await.body;
    *clock.0.lock().unwrap() = "2026-06-20T00:01:00Z".parse().unwrap();
    let summer = client.get("/").await.body;
    assert_ne!(winter, summer);
    *clock.0.lock().unwrap() = "2026-01-20T12:00:00Z".parse().unwrap();
    assert_eq!(client.get("/").await.body, winter);
}

#[tokio::test]
async fn who_is_signed_in_is_answered_anew_and_leaves_nothing_behind() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let state = state(&store, "2026-06-20T10:00:00Z").await;
    let mut client = Client::over(winterfig::routes::router(state.clone()));
    for cookie in ["__Host-winterfig=secret", "winterfig-plain=secret", "something=else", "temperature=c; something=else"] {
        ask(&mut client, QUESTION, &[(COOKIE, cookie)]).await;
        assert_eq!(state.snapshot().kept.bytes(), 0, "{cookie}");
    }
    // What is wrong with a question is said anew too.
    client.get("/shortlist?zone=99").await;
    assert_eq!(state.snapshot().kept.bytes(), 0);
}

#[tokio::test]
async fn a_kept_answer_goes_out_packed_to_those_who_take_it_and_reads_the_same() {
    let mut client = Client::at("2026-06-20T10:00:00Z").await;
    let plain = client.get(QUESTION).await;
    assert!(!plain.headers.contains_key(CONTENT_ENCODING));
    for said in ["gzip", "gzip, br", "*"] {
        let packed = ask(&mut client, QUESTION, &[(ACCEPT_ENCODING, said)]).await;
        assert_eq!(packed.headers[CONTENT_ENCODING], "gzip", "{said}");
        assert_eq!(packed.headers.get_all(VARY).iter().collect::<Vec<_>>(), ["accept-encoding"]);
        assert!(packed.bytes.len() < plain.bytes.len() / 3);
        assert_eq!(unpacked(&packed), plain.body);
    }
    let refused = ask(&mut client, QUESTION, &[(ACCEPT_ENCODING, "gzip;q=0")]).await;
    assert_eq!((refused.headers.contains_key(CONTENT_ENCODING), &refused.body), (false, &plain.body));
}

#[tokio::test]
async fn static_files_lie_packed_and_each_form_has_a_tag_of_its_own() {
    let mut client = Client::at("2026-06-20T10:00:00Z").await;
    let address = winterfig::web::assets::address("winterfig.css");
    let plain = ask(&mut client, &address, &[]).await;
    let packed = ask(&mut client, &address, &[(ACCEPT_ENCODING, "gzip")]).await;
    assert_eq!(packed.headers[CONTENT_ENCODING], "gzip");
    assert_eq!((unpacked(&packed), packed.bytes.len() < plain.bytes.len() / 2), (plain.body.clone(), true));
    assert_ne!(packed.headers[ETAG], plain.headers[ETAG]);
    for answer in [&plain, &packed] {
        assert_eq!(answer.headers.get_all(VARY).iter().collect::<Vec<_>>(), ["accept-encoding"]);
    }
}
