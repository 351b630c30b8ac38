//! The one HTTP client of the tests: the router, a cookie jar of one, forms, pages read by selector.
#![allow(dead_code, missing_docs)]

use std::sync::Arc;

use axum::body::Body;
use axum::http::header::{ACCEPT_LANGUAGE, CONTENT_TYPE, COOKIE, LOCATION, SET_COOKIE};
use axum::http::{HeaderMap, Method, Request, StatusCode};
use http_body_util::BodyExt;
use scraper::{Html, Selector};
use serde_json::Value;
use tower::ServiceExt;
use winterfig::clock::FixedClock;
use winterfig::jobs::accounts::limits::Allowances;
use winterfig::model::snapshot::Snapshot;
use winterfig::store::Store;
use winterfig::web::AppState;

use super::TestDatabase;

pub const PASSPHRASE: &str = "seven wet winters in a row";

/// Allowances that no test runs into by accident.
pub const GENEROUS: Allowances =
    Allowances { joins_per_hour: 1000, sign_ins_per_minute: 1000, writes_burst: 1000, writes_per_minute: 1000 };

pub struct Client {
    pub router: axum::Router,
    pub cookie: Option<String>,
    /// Accept-Language of every request.
    pub language: Option<&'static str>,
    /// Kept as long as the service stands over it, where it is this client's own.
    database: Option<Arc<TestDatabase>>,
}

pub struct Answer {
    pub status: StatusCode,
    pub headers: HeaderMap,
    pub body: String,
    pub bytes: Vec<u8>,
}

impl Answer {
    pub fn location(&self) -> &str {
        self.headers.get(LOCATION).map_or("", |v| v.to_str().unwrap())
    }

    /// Status and document.
    pub fn read(self) -> (StatusCode, Html) {
        (self.status, Html::parse_document(&self.body))
    }

    #[track_caller]
    pub fn expect(self, status: StatusCode) -> Self {
        assert_eq!(self.status, status, "{}", self.body);
        self
    }
}

/// The service over a store, at a fixed time.
pub async fn service(store: &Arc<dyn Store>, now: &str, allow: Allowances) -> axum::Router {
    let snapshot = Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
    let clock = Arc::new(FixedClock(now.parse().unwrap()));
    winterfig::routes::router(AppState::new(snapshot, Arc::clone(store), clock).allowing(allow))
}

impl Client {
    pub async fn new(store: &Arc<dyn Store>) -> Self {
        Self::over(service(store, "2026-06-20T10:00:00Z", GENEROUS).await)
    }

    /// A visitor of a service that stands already.
    pub fn over(router: axum::Router) -> Self {
        Self { router, cookie: None, language: None, database: None }
    }

    /// A British visitor of a service over a database of its own, at a moment of RFC 3339.
    pub async fn at(moment: &str) -> Self {
        let database = TestDatabase::sqlite();
        let router = service(&database.open().await, moment, GENEROUS).await;
        Self { language: Some("en-GB"), database: Some(Arc::new(database)), ..Self::over(router) }
    }

    /// Another visitor of the same service.
    pub fn another(&self) -> Self {
        Self { router: self.router.clone(), cookie: None, language: self.language, database: self.database.clone() }
    }

    pub async fn send(&mut self, mut request: Request<Body>) -> Answer {
        if let Some(cookie) = &self.cookie {
            request.headers_mut().insert(COOKIE, cookie.parse().unwrap());
        }
        if let Some(language) = self.language {
            request.headers_mut().insert(ACCEPT_LANGUAGE, language.parse().unwrap());
        }
        let response = self.router.clone().oneshot(request).await.unwrap();
        let (parts, body) = response.into_parts();
        if let Some(set) = parts.headers.get(SET_COOKIE).and_then(|v| v.to_str().ok()) {
            let pair = set.split(';').next().unwrap().to_owned();
            self.cookie = (!pair.ends_with('=')).then_some(pair);
        }
        let bytes = body.collect().await.unwrap().to_bytes().to_vec();
        Answer { status: parts.status, headers: parts.headers, body: String::from_utf8_lossy(&bytes).into_owned(), bytes }
    }

    pub async fn get(&mut self, address: &str) -> Answer {
        self.send(Request::get(address).body(Body::empty()).unwrap()).await
    }

    pub async fn post(&mut self, address: &str, pairs: &[(&str, &str)]) -> Answer {
        let body: String = pairs.iter().map(|(k, v)| format!("{}={}", encoded(k), encoded(v))).collect::<Vec<_>>().join("&");
        let request = Request::builder()
            .method(Method::POST)
            .uri(address)
            .header(CONTENT_TYPE, "application/x-www-form-urlencoded")
            .header("sec-fetch-site", "same-origin")
            .body(Body::from(body))
            .unwrap();
        self.send(request).await
    }

    /// Sends a form with a file.
    pub async fn upload(&mut self, address: &str, file: &[u8], pairs: &[(&str, &str)]) -> Answer {
        let request = Request::post(address)
            .header(CONTENT_TYPE, MULTIPART)
            .header("sec-fetch-site", "same-origin")
            .body(Body::from(multipart(pairs, file)))
            .unwrap();
        self.send(request).await
    }

    /// Sends a body of a content type, as programs do.
    pub async fn post_body(&mut self, address: &str, content_type: &str, body: impl Into<Body>) -> Answer {
        self.send(Request::post(address).header(CONTENT_TYPE, content_type).body(body.into()).unwrap()).await
    }

    /// Calls the API with JSON.
    pub async fn call(&mut self, address: &str, body: &Value) -> (StatusCode, Value) {
        let answer = self.post_body(address, "application/json", body.to_string()).await;
        (answer.status, serde_json::from_str(&answer.body).unwrap())
    }

    pub async fn join(&mut self, handle: &str) {
        self.post("/account/join", &[("handle", handle), ("passphrase", PASSPHRASE)]).await.expect(StatusCode::SEE_OTHER);
    }
}

/// The words of each element that a selector finds.
pub fn texts(page: &Html, selector: &str) -> Vec<String> {
    let selector = Selector::parse(selector).unwrap();
    page.select(&selector).map(|e| e.text().collect::<String>().split_whitespace().collect::<Vec<_>>().join(" ")).collect()
}

/// The words of all elements that a selector finds.
pub fn text(page: &Html, selector: &str) -> String {
    texts(page, selector).join(" ")
}

/// What stands in a field, by its id.
pub fn value(page: &Html, id: &str) -> String {
    let selector = Selector::parse(&format!("#{id}")).unwrap();
    page.select(&selector).next().unwrap_or_else(|| panic!("no #{id}")).attr("value").unwrap_or_default().to_owned()
}

/// Where the masthead's choice of scale goes, and the fields it sends with it.
pub fn scale_switch(page: &Html) -> (String, Vec<(String, String)>) {
    let form = page.select(&Selector::parse("form.scale").unwrap()).next().unwrap();
    let hidden = Selector::parse("input[type=hidden]").unwrap();
    let attribute = |e: scraper::ElementRef<'_>, name: &str| e.value().attr(name).unwrap_or_default().to_owned();
    (attribute(form, "action"), form.select(&hidden).map(|e| (attribute(e, "name"), attribute(e, "value"))).collect())
}

/// Content type of what [`multipart`] makes.
pub const MULTIPART: &str = "multipart/form-data; boundary=edge";

/// A form with a file, as a browser sends it.
pub fn multipart<T: std::fmt::Display>(pairs: &[(T, T)], file: &[u8]) -> Vec<u8> {
    let mut body = Vec::new();
    for (name, value) in pairs {
        body.extend(format!("--edge\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n").bytes());
    }
    body.extend(b"--edge\r\nContent-Disposition: form-data; name=\"file\"; filename=\"r.csv\"\r\nContent-Type: text/csv\r\n\r\n");
    body.extend(file);
    body.extend(b"\r\n--edge--\r\n");
    body
}

pub fn encoded(text: &str) -> String {
    text.bytes()
        .map(|b| if b.is_ascii_alphanumeric() || b"-_.".contains(&b) { char::from(b).to_string() } else { format!("%{b:02X}") })
        .collect()
}

/// The least that a report needs, and its coldest temperature.
pub const REPORT: &[(&str, &str)] = &[
    ("name", "Celeste"),
    ("place", "by the mill"),
    ("latitude", "44.17"),
    ("longitude", "-12.23"),
    ("planted", "2018"),
    ("winter", "2025/26"),
    ("looked_day", "20"),
    ("looked_month", "5"),
    ("looked_year", "2026"),
    ("top", "tips"),
    ("vitality", "alive"),
    ("cover", "none"),
    ("coldest", "15"),
    ("coldest_unit", "f"),
    ("thermometer", "in_garden"),
    ("note", "behind the shed"),
];

/// [`REPORT`] with some answers changed or added.
pub fn report_with<'a>(more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let mut pairs: Vec<(&str, &str)> = REPORT.iter().filter(|(k, _)| !more.iter().any(|(m, _)| m == k)).copied().collect();
    pairs.extend(more);
    pairs
}
