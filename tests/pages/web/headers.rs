//! Headers: the same guard on every answer, whatever its status.

use std::collections::BTreeMap;
use std::sync::Arc;

use axum::body::Body;
use axum::http::header::{ALLOW, CONTENT_TYPE};
use axum::http::{HeaderMap, Method, Request, StatusCode};
use sqlx::{ConnectOptions, Connection};
use winterfig::jobs::accounts::limits::Allowances;

use super::{House, request};
use crate::support::client::{Answer, Client, GENEROUS, PASSPHRASE, service};

fn header<'a>(headers: &'a HeaderMap, name: &str) -> &'a str {
    headers.get(name).map_or("", |v| v.to_str().unwrap())
}

/// Holds an answer to what every answer carries.
#[track_caller]
fn guarded(what: &str, answer: &Answer) {
    let headers = &answer.headers;
    // HDR-01 [3.4.4], HDR-05 [3.4.5]
    assert_eq!(header(headers, "x-content-type-options"), "nosniff", "{what}");
    let referrer = header(headers, "referrer-policy");
    assert!(["same-origin", "strict-origin-when-cross-origin", "no-referrer"].contains(&referrer), "{what}: {referrer}");
    // HDR-06 [3.4.8, 3.5.8]
    assert_eq!(header(headers, "cross-origin-opener-policy"), "same-origin", "{what}");
    assert_eq!(header(headers, "cross-origin-resource-policy"), "same-origin", "{what}");
    for feature in ["camera=()", "microphone=()", "payment=()", "geolocation=()"] {
        assert!(header(headers, "permissions-policy").contains(feature), "{what}: {feature}");
    }
    // HDR-08 [13.4.6], HDR-10 [3.4.2]
    for absent in ["server", "x-powered-by", "access-control-allow-credentials"] {
        assert!(!headers.contains_key(absent), "{what}: {absent}");
    }
    // Public answers of the API may be read by pages of any site, and nothing else may.
    let open = if what.starts_with("GET /api/v1/") || what.starts_with("/api/v1/") { "*" } else { "" };
    assert_eq!(header(headers, "access-control-allow-origin"), open, "{what}");
    policy(what, header(headers, "content-security-policy"));
    assert!(!header(headers, "x-request-id").is_empty(), "{what}: no id of the request");
    // HDR-09 [4.1.1]
    let kind = header(headers, CONTENT_TYPE.as_str());
    if answer.body.is_empty() {
        return;
    }
    match answer.body.trim_start().as_bytes().first() {
        Some(b'{' | b'[') => assert!(kind.starts_with("application/json") || kind == "application/problem+json", "{what}: {kind}"),
        Some(b'<') if answer.body.starts_with("<!doctype html>") => assert_eq!(kind, "text/html; charset=utf-8", "{what}"),
        _ => assert!(kind.contains("charset=utf-8"), "{what}: {kind}"),
    }
}

/// HDR-02 [3.4.3, 3.4.6]: one policy, nothing from elsewhere, nothing inline.
#[track_caller]
fn policy(what: &str, text: &str) {
    let directives: BTreeMap<&str, &str> =
        text.split(';').filter_map(|directive| directive.trim().split_once(' ')).map(|(name, value)| (name, value.trim())).collect();
    for (name, value) in [
        ("default-src", "'none'"),
        ("script-src", "'self'"),
        ("style-src", "'self'"),
        ("img-src", "'self'"),
        ("form-action", "'self'"),
        ("base-uri", "'none'"),
        ("object-src", "'none'"),
        ("frame-ancestors", "'none'"),
    ] {
        assert_eq!(directives.get(name), Some(&value), "{what}: {name}");
    }
    for forbidden in ["unsafe-", "*", "http:", "https:", "data:", "blob:"] {
        assert!(!text.contains(forbidden), "{what}: {forbidden} in {text}");
    }
}

fn form(address: &str, body: impl Into<Body>) -> Request<Body> {
    let request = Request::post(address).header("sec-fetch-site", "same-origin").header(CONTENT_TYPE, "application/x-www-form-urlencoded");
    request.body(body.into()).unwrap()
}

#[tokio::test]
async fn every_kind_of_answer_carries_the_same_guard() {
    let House { mut client, database: _database, .. } = House::new().await;
    let too_long = format!("/shortlist?zone={}", "7".repeat(8 * 1024));
    let cross_site = Request::post("/preferences").header("sec-fetch-site", "cross-site").body(Body::empty()).unwrap();
    let json = Request::post("/preferences").header("sec-fetch-site", "same-origin").header(CONTENT_TYPE, "application/json");
    let wanted: Vec<(StatusCode, Request<Body>)> = vec![
        (StatusCode::OK, request(Method::GET, "/")),
        (StatusCode::OK, request(Method::GET, "/shortlist?zone=7a")),
        (StatusCode::OK, request(Method::GET, "/api/v1/cultivars")),
        (StatusCode::OK, request(Method::GET, "/openapi.json")),
        (StatusCode::OK, request(Method::GET, "/static/winterfig.css")),
        (StatusCode::OK, request(Method::GET, "/static/fig.svg")),
        (StatusCode::OK, request(Method::GET, "/health/live")),
        (StatusCode::OK, request(Method::GET, "/health/ready")),
        (StatusCode::SEE_OTHER, form("/preferences", "temperature=c")),
        (StatusCode::BAD_REQUEST, request(Method::GET, "/cultivars/%FF%FE")),
        (StatusCode::FORBIDDEN, cross_site),
        (StatusCode::NOT_FOUND, request(Method::GET, "/no-such-page")),
        (StatusCode::NOT_FOUND, request(Method::GET, "/cultivars/no-such-fig")),
        (StatusCode::NOT_FOUND, request(Method::GET, "/api/v1/no-such-call")),
        (StatusCode::NOT_FOUND, request(Method::GET, "/static/no-such-file.css")),
        (StatusCode::METHOD_NOT_ALLOWED, request(Method::DELETE, "/")),
        (StatusCode::METHOD_NOT_ALLOWED, request(Method::TRACE, "/")),
        (StatusCode::METHOD_NOT_ALLOWED, request(Method::DELETE, "/api/v1/shortlist")),
        (StatusCode::PAYLOAD_TOO_LARGE, form("/preferences", "x".repeat(64 * 1024 + 1))),
        (StatusCode::URI_TOO_LONG, request(Method::GET, &too_long)),
        (StatusCode::UNSUPPORTED_MEDIA_TYPE, json.body(Body::from("{}")).unwrap()),
        (StatusCode::UNPROCESSABLE_ENTITY, request(Method::GET, "/shortlist?zone=17q")),
        (StatusCode::UNPROCESSABLE_ENTITY, request(Method::GET, "/api/v1/shortlist?zone=17q")),
        (StatusCode::UNPROCESSABLE_ENTITY, form("/preferences", "temperature=k")),
    ];
    for (status, request) in wanted {
        let what = format!("{} {} {status}", request.method(), request.uri().path());
        let answer = client.send(request).await;
        assert_eq!(answer.status, status, "{what}: {}", answer.body.chars().take(300).collect::<String>());
        guarded(&what, &answer);
    }
}

#[tokio::test]
async fn too_many_tries_and_a_broken_store_are_answered_under_the_same_guard_and_without_internals() {
    let House { mut client, store, database } = House::new().await;
    let strict = Allowances { sign_ins_per_minute: 1, ..GENEROUS };
    let mut hurried = Client::over(service(&store, "2026-06-20T10:00:00Z", strict).await);
    let tries = [("handle", "nobody"), ("passphrase", PASSPHRASE)];
    hurried.post("/account/sign-in", &tries).await;
    let refused = hurried.post("/account/sign-in", &tries).await.expect(StatusCode::TOO_MANY_REQUESTS);
    guarded("429", &refused);
    assert!(!header(&refused.headers, "retry-after").is_empty());

    client.join("fern").await;
    client.get("/account").await.expect(StatusCode::OK);
    let options: sqlx::sqlite::SqliteConnectOptions = database.address.parse().unwrap();
    let mut beneath = options.connect().await.unwrap();
    sqlx::raw_sql("ALTER TABLE session RENAME TO gone").execute(&mut beneath).await.unwrap();
    beneath.close().await.unwrap();
    // ERR-01 [16.5.1]: an id to quote, and no path, query or name of a table.
    let broken = client.get("/account").await.expect(StatusCode::INTERNAL_SERVER_ERROR);
    guarded("500", &broken);
    assert!(broken.body.contains(header(&broken.headers, "x-request-id")));
    for internal in ["SELECT", "no such table", "sqlx", ".rs", database.address.as_str()] {
        assert!(!broken.body.contains(internal), "{internal}");
    }

    store.close().await;
    let down = client.get("/health/ready").await.expect(StatusCode::SERVICE_UNAVAILABLE);
    guarded("503", &down);
    // The main job needs no database.
    client.get("/shortlist?zone=7a").await.expect(StatusCode::OK);
}

// HDR-08 [13.4.1 to 13.4.6]
#[tokio::test]
async fn nothing_of_the_works_is_served() {
    let House { mut client, database: _database, .. } = House::new().await;
    for address in [
        "/.git/HEAD",
        "/Cargo.toml",
        "/.env",
        "/winterfig.db",
        "/static/",
        "/static/..%2fCargo.toml",
        "/static/%2e%2e/Cargo.toml",
        "/backup",
        "/migrations/sqlite/0001_catalogue.sql",
    ] {
        client.get(address).await.expect(StatusCode::NOT_FOUND);
    }
}

#[tokio::test]
async fn head_is_answered_as_get_without_a_body_and_a_wrong_method_names_the_right_ones() {
    let House { mut client, database: _database, .. } = House::new().await;
    for address in ["/", "/shortlist?zone=7a", "/api/v1/shortlist?zone=7a", "/cultivars/celeste"] {
        let (get, head) = (client.get(address).await, client.send(request(Method::HEAD, address)).await);
        assert_eq!((head.status, head.body.as_str()), (get.status, ""), "{address}");
        assert_eq!(header(&head.headers, "content-type"), header(&get.headers, "content-type"));
        guarded(address, &head);
    }
    let refused = client.send(request(Method::PUT, "/shortlist")).await;
    assert_eq!(header(&refused.headers, ALLOW.as_str()), "GET,HEAD");
}

// PRV-05, SES-01: no cookie until something is chosen, and that one closed to scripts.
#[tokio::test]
async fn reading_sets_no_cookie_and_a_chosen_scale_sets_one_that_scripts_cannot_read() {
    let House { mut client, database: _database, .. } = House::new().await;
    for address in ["/", "/shortlist?zone=7a", "/cultivars", "/method", "/account", "/reports/new"] {
        assert!(!client.get(address).await.headers.contains_key("set-cookie"), "{address}");
    }
    let chosen = client.post("/preferences", &[("temperature", "f")]).await;
    let cookie = header(&chosen.headers, "set-cookie");
    for part in ["temperature=f", "HttpOnly", "SameSite=Lax", "Path=/"] {
        assert!(cookie.contains(part), "{part} in {cookie}");
    }
}

// A process that is told to stop says so first, in JSON, while it still answers everything else: a proxy turns elsewhere before the door closes.
#[tokio::test]
async fn a_process_that_is_about_to_stop_is_not_ready_and_still_answers() {
    let House { store, database: _database, .. } = House::new().await;
    let snapshot = winterfig::model::snapshot::Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
    let state = winterfig::web::AppState::new(snapshot, Arc::clone(&store), Arc::new(winterfig::clock::SystemClock));
    let mut client = Client::over(winterfig::routes::router(state.clone()));
    let says = |answer: &crate::support::client::Answer| serde_json::from_slice::<serde_json::Value>(&answer.bytes).unwrap();
    let ready = client.get("/health/ready").await.expect(StatusCode::OK);
    assert_eq!((&says(&ready)["ready"], &says(&ready)["model"]), (&true.into(), &"priors".into()));
    state.drain();
    let draining = client.get("/health/ready").await.expect(StatusCode::SERVICE_UNAVAILABLE);
    assert_eq!(header(&draining.headers, "connection"), "close", "who keeps a connection open goes elsewhere, too");
    assert_eq!((&says(&draining)["draining"], &says(&draining)["database"]), (&true.into(), &"answers".into()));
    assert_eq!(says(&client.get("/health/live").await.expect(StatusCode::OK))["alive"], true);
    client.get("/shortlist?zone=7a").await.expect(StatusCode::OK);
}
