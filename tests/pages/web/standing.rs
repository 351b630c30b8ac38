//! What one visitor can make of the service for the others: bounds on what is answered, kept in the log, counted and cached.

use std::fmt::Write as _;
use std::sync::Arc;

use axum::body::{Body, Bytes};
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, HOST, ORIGIN};
use axum::http::{Request, StatusCode};
use http_body_util::channel::Channel;
use serde_json::Value;
use winterfig::clock::FixedClock;
use winterfig::jobs::accounts::limits::Allowances;
use winterfig::model::snapshot::Snapshot;
use winterfig::web::AppState;

use super::House;
use crate::support::client::{Client, MULTIPART, PASSPHRASE, service};
use crate::support::{TestDatabase, on_both_engines};

/// Four simulated winters, a line a day, the last line again so many times.
fn record(repeated: usize) -> String {
    let mut date = jiff::civil::date(2015, 7, 1);
    let mut text = String::from("date,tmin_c,tmax_c\n");
    let mut line = String::new();
    for day in 0..1500 {
        let mean = 11.0 - 9.0 * (f64::from(date.day_of_year()) / 58.1).cos() + f64::from(day % 7);
        line = format!("{date},{:.1},{:.1}\n", mean - 5.0, mean + 5.0);
        text.push_str(&line);
        date = date.tomorrow().unwrap();
    }
    for _ in 0..repeated {
        text.push_str(&line);
    }
    text
}

#[tokio::test]
async fn a_record_that_repeats_a_line_a_hundred_thousand_times_is_answered_in_short() {
    let House { mut client, database: _database, .. } = House::new().await;
    let ask = |text: String| {
        Request::post("/api/v1/climate")
            .header(CONTENT_TYPE, "text/csv")
            .header("sec-fetch-site", "same-origin")
            .body(Body::from(text))
            .unwrap()
    };
    let plain = client.send(ask(record(0))).await.expect(StatusCode::OK);
    let long = client.send(ask(record(100_000))).await.expect(StatusCode::OK);
    let json: Value = serde_json::from_slice(&long.bytes).unwrap();
    assert_eq!(json["rejected"].as_array().unwrap().len(), 200);
    assert_eq!(json["rejected_count"], 200_000, "a minimum and a maximum of each line");
    assert_eq!(json["rejected_by_reason"]["duplicate"], 200_000);
    assert!(long.bytes.len() < plain.bytes.len() + 20_000, "{} and {} bytes", long.bytes.len(), plain.bytes.len());
}

#[tokio::test]
async fn an_id_that_came_with_a_request_is_cut_to_what_an_id_may_be() {
    let House { mut client, database: _database, .. } = House::new().await;
    for (given, kept) in [
        ("0199f0c4-trace:1.2_x", Some("0199f0c4-trace:1.2_x".to_owned())),
        (&"a".repeat(20_000), Some("a".repeat(64))),
        ("1\"><script>alert(1)</script>", Some("1scriptalert1script".to_owned())),
        ("«»", None),
    ] {
        let request = Request::get("/no-such-page").header("x-request-id", given).body(Body::empty()).unwrap();
        let answer = client.send(request).await.expect(StatusCode::NOT_FOUND);
        let told = answer.headers["x-request-id"].to_str().unwrap();
        assert!(kept.as_deref().map_or(told.len() == 36, |kept| told == kept), "{told}");
        assert!(answer.body.contains(told));
    }
}

/// A body of which a part comes before the line breaks.
fn broken_off(part: &'static [u8]) -> Body {
    let (mut sender, body) = Channel::<Bytes, std::io::Error>::new(2);
    sender.try_send(hyper::body::Frame::data(Bytes::from_static(part))).unwrap();
    sender.abort(std::io::ErrorKind::ConnectionReset.into());
    Body::new(body)
}

#[tokio::test]
async fn what_broke_off_on_its_way_is_no_mistake_of_ours() {
    let House { mut client, database: _database, .. } = House::new().await;
    let part = b"--edge\r\nContent-Disposition: form-data; name=\"file\"; filename=\"r.csv\"\r\nContent-Type: text/csv\r\n\r\ndate,tm";
    for (address, kind) in [
        ("/record", MULTIPART),
        ("/api/v1/climate", "text/csv"),
        ("/cold-night", "application/x-www-form-urlencoded"),
        ("/account/sign-in", "application/x-www-form-urlencoded"),
        ("/garden/winter", "application/x-www-form-urlencoded"),
        ("/api/v1/shelter", "application/json"),
    ] {
        let request =
            Request::post(address).header(CONTENT_TYPE, kind).header("sec-fetch-site", "same-origin").body(broken_off(part)).unwrap();
        let answer = client.send(request).await;
        assert_eq!(answer.status, StatusCode::BAD_REQUEST, "{address}: {}", answer.body);
    }
}

#[tokio::test]
async fn a_page_that_holds_what_was_typed_is_stored_by_nobody() {
    let House { mut client, database: _database, .. } = House::new().await;
    client.join("fern").await;
    client.cookie = None;
    // Without a cookie: the session is over and the browser has forgotten it.
    let asked = client.post("/garden/winter", &[("note", "behind the shed")]).await.expect(StatusCode::UNAUTHORIZED);
    assert!(asked.body.contains("behind the shed"));
    assert_eq!(asked.headers[CACHE_CONTROL], "no-store");
    let fields = [("to", "/garden/winter"), ("kept.note", "behind the shed"), ("handle", "fern")];
    let wrong = client.post("/account/go-on", &[&fields[..], &[("passphrase", "not the passphrase")]].concat()).await;
    assert_eq!((wrong.status, &wrong.headers[CACHE_CONTROL]), (StatusCode::UNAUTHORIZED, &"no-store".parse().unwrap()));
    let right = client.post("/account/go-on", &[&fields[..], &[("passphrase", PASSPHRASE)]].concat()).await.expect(StatusCode::OK);
    assert!(right.body.contains("behind the shed"));
    assert_eq!(right.headers[CACHE_CONTROL], "no-store");
}

#[tokio::test]
async fn a_page_of_the_same_host_without_encryption_is_another_site() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let snapshot = Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
    let clock = Arc::new(FixedClock("2026-06-20T10:00:00Z".parse().unwrap()));
    let state = AppState::new(snapshot, store, clock).with_public_address(Some("https://figs.example/".to_owned()));
    let mut client = Client::over(winterfig::routes::router(state));
    let mut status = async |host: &str, origin: &str| {
        let request = Request::post("/preferences").header(HOST, host).header(ORIGIN, origin);
        let request = request.header(CONTENT_TYPE, "application/x-www-form-urlencoded").body(Body::from("temperature=c")).unwrap();
        client.send(request).await.status
    };
    assert_eq!(status("figs.example", "https://figs.example").await, StatusCode::SEE_OTHER);
    assert_eq!(status("figs.example", "http://figs.example").await, StatusCode::FORBIDDEN);
    assert_eq!(status("127.0.0.1:8080", "http://127.0.0.1:8080").await, StatusCode::SEE_OTHER, "from the machine itself");
}

on_both_engines! {
    async fn changes_of_how_a_member_is_named_are_counted_and_the_same_choice_is_none(database) {
        let store = database.open().await;
        let mut client = Client::over(service(&store, "2026-06-20T10:00:00Z", Allowances::default()).await);
        client.join("fern").await;
        let before = store.reports_version().await.unwrap();
        for _ in 0..40 {
            client.post("/account/credit", &[("credit", "unnamed")]).await.expect(StatusCode::SEE_OTHER);
        }
        assert_eq!(store.reports_version().await.unwrap(), before);
        let mut answers = String::new();
        for nth in 0..32 {
            let answer = client.post("/account/credit", &[("credit", ["handle", "unnamed"][nth % 2])]).await;
            write!(answers, "{} ", answer.status.as_u16()).unwrap();
        }
        // The last asks for what stands already.
        assert_eq!(answers, "303 ".repeat(30) + "429 303 ");
        assert_eq!(store.reports_version().await.unwrap(), before + 30);
    }
}
