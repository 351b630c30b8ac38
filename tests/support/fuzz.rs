//! Questions drawn from the service's own grammar and bent: every address of the site map, every field of every form it shows, JSON that
//! fits and JSON that does not, files, headers, methods. The draw is by a seed, so that what was found is found again.
#![allow(dead_code, missing_docs)]

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use axum::body::Body;
use axum::http::header::CONTENT_TYPE;
use axum::http::{HeaderName, HeaderValue, Method, Request};
use rand::seq::IndexedRandom;
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use scraper::{Html, Selector};
use serde_json::{Value, json};

use super::client::{Client, MULTIPART, PASSPHRASE, REPORT, encoded, multipart};

/// Pages looked at for forms.
const MOST_PAGES: usize = 120;
/// Addresses that hash a passphrase, which costs as much as a thousand others: asked the less often.
const COSTLY: [&str; 6] =
    ["/account/join", "/account/sign-in", "/account/passphrase", "/account/leave", "/account/address", "/account/end-session"];

/// Bits that have broken programs.
const BITS: [&str; 60] = [
    "",
    " ",
    "0",
    "-0",
    "-1",
    "1",
    "2",
    "5",
    "12",
    "-9.4",
    "-9,4",
    "−9.4",
    "1e400",
    "-1e-400",
    "NaN",
    "inf",
    "0x10",
    "٣",
    "１２",
    "99999999999999999999",
    "2147483648",
    "-9223372036854775809",
    "7a",
    "13b",
    "2025/26",
    "2025/27",
    "0000/01",
    "2026-02-29",
    "2024-02-29",
    "9999-12-31",
    "-0001-01-01",
    "02-29",
    "31",
    "32",
    "c",
    "f",
    "true",
    "null",
    "[]",
    "{}",
    "'",
    "\"",
    "' OR 1=1--",
    "'; DROP TABLE report;--",
    "\\",
    "%",
    "%00",
    "\0",
    "\r\nSet-Cookie: a=b",
    "\u{202e}",
    "\u{200b}",
    "\u{feff}",
    "e\u{301}",
    "ﬃ",
    "👩‍🌾",
    "<script>alert(1)</script>",
    "../../etc/passwd",
    "//evil.example",
    "=1+1",
    "celeste",
];

/// A field of a form with what the form offers for it.
#[derive(Debug, Clone)]
struct Field {
    name: String,
    offered: Vec<String>,
}

/// A form as a page shows it.
#[derive(Debug, Clone)]
struct Form {
    action: String,
    post: bool,
    file: bool,
    fields: Vec<Field>,
}

/// What can be asked.
#[derive(Debug)]
pub struct Grammar {
    addresses: Vec<String>,
    forms: Vec<Form>,
    documents: Vec<(&'static str, Value)>,
}

fn selector(css: &str) -> Selector {
    Selector::parse(css).unwrap()
}

fn forms(page: &Html, address: &str) -> Vec<Form> {
    let of_form = |form: scraper::ElementRef<'_>| {
        let attribute = |name: &str| form.value().attr(name);
        let mut fields: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for field in form.select(&selector("[name]")) {
            let offered = fields.entry(field.value().attr("name").unwrap().to_owned()).or_default();
            offered.extend(field.value().attr("value").map(str::to_owned));
            offered.extend(field.select(&selector("option")).filter_map(|o| o.value().attr("value")).map(str::to_owned));
        }
        Form {
            action: attribute("action").unwrap_or(address).to_owned(),
            post: attribute("method").is_some_and(|method| method.eq_ignore_ascii_case("post")),
            file: attribute("enctype").is_some(),
            fields: fields.into_iter().map(|(name, offered)| Field { name, offered }).collect(),
        }
    };
    page.select(&selector("form")).map(of_form).collect()
}

impl Grammar {
    /// Learned from the site map and from the pages as a visitor sees them who follows links.
    pub async fn learn(visitors: &mut [Client]) -> Self {
        let mut addresses: Vec<String> = Vec::new();
        for address in winterfig::routes::addresses() {
            if !addresses.contains(&address.path) {
                addresses.push(address.path);
            }
        }
        let mut forms_seen: BTreeMap<String, Form> = BTreeMap::new();
        let mut linked: BTreeSet<String> = BTreeSet::new();
        for visitor in visitors {
            let mut seen = BTreeSet::new();
            let mut waiting: VecDeque<String> =
                ["/", "/shortlist?zone=7a", "/reports/new", "/garden", "/account", "/review", "/office", "/office/members", "/data"]
                    .map(str::to_owned)
                    .into();
            while let Some(address) = waiting.pop_front().filter(|_| seen.len() < MOST_PAGES) {
                if !seen.insert(address.clone()) {
                    continue;
                }
                let body = visitor.get(&address).await.body;
                let page = Html::parse_document(&body);
                let links = selector("a[href]");
                for form in forms(&page, &address) {
                    forms_seen.insert(format!("{} {:?}", form.action, form.fields), form);
                }
                let hrefs = page.select(&links).filter_map(|a| a.value().attr("href"));
                let hrefs: Vec<String> =
                    hrefs.map(|href| href.split('#').next().unwrap().to_owned()).filter(|href| href.starts_with('/')).collect();
                linked.extend(hrefs.iter().cloned());
                waiting.extend(hrefs.into_iter().filter(|href| !href.starts_with("/cultivars/")));
            }
        }
        addresses.extend(linked);
        let mut forms: Vec<Form> = forms_seen.into_values().collect();
        // Plenty of the one form that matters most, from answers that stand.
        let report = REPORT.iter().map(|(name, value)| Field { name: (*name).to_owned(), offered: vec![(*value).to_owned()] }).collect();
        forms.push(Form { action: "/reports/new".to_owned(), post: true, file: false, fields: report });
        Self { addresses, forms, documents: documents() }
    }

    /// How many addresses and forms were found.
    pub fn size(&self) -> (usize, usize) {
        (self.addresses.len(), self.forms.len())
    }
}

fn documents() -> Vec<(&'static str, Value)> {
    vec![
        (
            "/api/v1/cold-night",
            json!({
                "night": {"minimum_c": -8.0, "lead_hours": 12.0, "kind": "clear_still"},
                "plants": [{"id": "1", "cultivar": "celeste", "years": 3, "container_l": 40, "value": 2},
                           {"id": "2", "cultivar": "unknown", "stage": "buds", "at": "garage"}],
                "places": [{"id": "garage", "room_m2": 2.0, "readings": [{"outside_c": -5.0, "inside_c": 2.0}]},
                           {"id": "house", "minimum_c": 5.0}],
                "covers": [{"kind": "fleece_heavy", "count": 2, "gain_k": 2.0, "minutes": 4.0}],
                "minutes_available": 40,
            }),
        ),
        (
            "/api/v1/shelter",
            json!({
                "parts": [{"name": "walls", "area_m2": 20.0, "u_w_m2k": 6.8}, {"name": "roof", "area_m2": 12.0, "layers": [{"r_m2k_w": 0.2}]}],
                "volume_m3": 20.0, "air_changes_per_hour": 1.0, "floor_m2": 9.0, "water_litres": 200.0, "heater_w": 1500.0,
                "thermostat_c": 4.0, "night": {"sunset_plus_2h_c": 0.0, "minimum_c": -8.0, "hours": 14.0}, "hold_c": 4.0,
                "changes": [{"name": "second skin", "layers": [{"r_m2k_w": 0.2}]}],
            }),
        ),
        ("/api/v1/reports", Value::Object(REPORT.iter().map(|(k, v)| ((*k).to_owned(), json!(v))).collect())),
        ("/api/v1/climate", json!({"date": "2020-01-01"})),
    ]
}

/// Draws questions.
pub struct Fuzz {
    rng: ChaCha8Rng,
}

impl Fuzz {
    pub fn new(seed: u64) -> Self {
        Self { rng: ChaCha8Rng::seed_from_u64(seed) }
    }

    fn one_in(&mut self, n: u32) -> bool {
        self.rng.random_ratio(1, n)
    }

    /// The next question, and how to ask it again in a word or two.
    pub fn draw(&mut self, grammar: &Grammar) -> (Request<Body>, String) {
        let (method, address, kind, body) = match self.rng.random_range(0..10) {
            0..=1 => {
                let address = self.address(grammar);
                (Method::GET, address, None, Vec::new())
            }
            2..=6 => self.form(grammar),
            7..=8 => self.document(grammar),
            _ => self.file(),
        };
        let method = if self.one_in(40) {
            ["GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS", "PATCH", "TRACE", "BREW"].choose(&mut self.rng).unwrap().parse().unwrap()
        } else {
            method
        };
        let told = format!("{method} {address} {kind:?} {}", String::from_utf8_lossy(&body[..body.len().min(3000)]));
        let Ok(mut request) = Request::builder().method(method).uri(&address).body(Body::from(body)) else {
            // Not an address at all: the library below the router refuses it.
            return (Request::get("/").body(Body::empty()).unwrap(), told);
        };
        let headers = request.headers_mut();
        let mut add = |name: &'static str, value: &str| {
            if let Ok(value) = HeaderValue::from_bytes(value.as_bytes()) {
                headers.insert(HeaderName::from_static(name), value);
            }
        };
        if let Some(kind) = kind {
            add(CONTENT_TYPE.as_str(), kind);
        }
        add("sec-fetch-site", if self.one_in(30) { "cross-site" } else { "same-origin" });
        for name in [
            "accept",
            "accept-encoding",
            "if-none-match",
            "idempotency-key",
            "x-forwarded-for",
            "accept-language",
            "range",
            "authorization",
        ] {
            if self.one_in(20) {
                let value = self.text();
                add(name, &value);
            }
        }
        (request, told)
    }

    fn address(&mut self, grammar: &Grammar) -> String {
        let address = grammar.addresses.choose(&mut self.rng).unwrap().clone();
        let filled: Vec<String> = address
            .split('/')
            .map(|part| if part.starts_with('{') || self.one_in(60) { encoded(&self.text()) } else { part.to_owned() })
            .collect();
        let mut address = filled.join("/");
        if self.one_in(3) {
            let field = grammar.forms.choose(&mut self.rng).and_then(|form| form.fields.choose(&mut self.rng)).cloned();
            if let Some(field) = field {
                let mark = if address.contains('?') { '&' } else { '?' };
                address = format!("{address}{mark}{}={}", encoded(&field.name), encoded(&self.value(&field)));
            }
        }
        if address.starts_with('/') { address } else { format!("/{address}") }
    }

    fn form(&mut self, grammar: &Grammar) -> (Method, String, Option<&'static str>, Vec<u8>) {
        let form = grammar.forms.choose(&mut self.rng).unwrap();
        let costly = COSTLY.iter().any(|address| form.action.starts_with(address));
        if costly && !self.one_in(200) {
            return self.form(grammar);
        }
        let mut pairs: Vec<(String, String)> = Vec::new();
        // One answer or a few are bent; the rest is as the form offers it, so that what lies behind the first check is reached too.
        let bent = self.rng.random_range(0..4_usize) as f64 / form.fields.len().max(1) as f64;
        for field in &form.fields {
            if self.one_in(12) {
                continue;
            }
            let value = if self.rng.random_bool(bent.min(1.0)) { self.value(field) } else { self.offered(field) };
            pairs.push((field.name.clone(), value));
            if self.one_in(60) {
                let again = self.value(field);
                pairs.push((field.name.clone(), again));
            }
        }
        if self.one_in(30) {
            pairs.push((self.text(), self.text()));
        }
        let written = pairs.iter().map(|(name, value)| format!("{}={}", encoded(name), self.written(value))).collect::<Vec<_>>().join("&");
        if form.file {
            return (Method::POST, form.action.clone(), Some(MULTIPART), multipart(&pairs, &self.record()));
        }
        if form.post {
            return (Method::POST, form.action.clone(), Some("application/x-www-form-urlencoded"), written.into_bytes());
        }
        (Method::GET, format!("{}?{written}", form.action.split('?').next().unwrap()), None, Vec::new())
    }

    /// A value as a form sends it, now and then in bytes that no browser sends.
    fn written(&mut self, value: &str) -> String {
        if self.one_in(100) {
            return ["%", "%zz", "%ff%fe", "%ed%a0%80", "%c0%af", "+", "&", "="].choose(&mut self.rng).unwrap().to_string();
        }
        encoded(value)
    }

    fn offered(&mut self, field: &Field) -> String {
        if field.name.contains("passphrase") && self.one_in(2) {
            return PASSPHRASE.to_owned();
        }
        field.offered.choose(&mut self.rng).cloned().unwrap_or_default()
    }

    fn value(&mut self, field: &Field) -> String {
        if self.one_in(3) { self.offered(field) } else { self.text() }
    }

    fn text(&mut self) -> String {
        match self.rng.random_range(0..12) {
            0..=6 => (*BITS.choose(&mut self.rng).unwrap()).to_owned(),
            7 => format!("{}{}", BITS.choose(&mut self.rng).unwrap(), BITS.choose(&mut self.rng).unwrap()),
            8 => format!("{:.*}", self.rng.random_range(0..9), self.rng.random_range(-200.0..200.0)),
            9 => self.rng.random_range(-5000..5000).to_string(),
            10 => BITS.choose(&mut self.rng).unwrap().repeat(self.rng.random_range(1..300)),
            _ => (0..self.rng.random_range(0..40)).map(|_| self.rng.random::<char>()).collect(),
        }
    }

    fn document(&mut self, grammar: &Grammar) -> (Method, String, Option<&'static str>, Vec<u8>) {
        let (address, mut value) = grammar.documents.choose(&mut self.rng).unwrap().clone();
        for _ in 0..self.rng.random_range(0..4) {
            self.bend(&mut value);
        }
        let mut bytes = value.to_string().into_bytes();
        if self.one_in(25) && !bytes.is_empty() {
            let at = self.rng.random_range(0..bytes.len());
            bytes[at] = self.rng.random();
        }
        if self.one_in(50) {
            let depth = self.rng.random_range(1..20_000);
            bytes = [b"[".repeat(depth), b"]".repeat(depth)].concat();
        }
        let kind = if self.one_in(40) { "text/plain" } else { "application/json" };
        (Method::POST, address.to_owned(), Some(kind), bytes)
    }

    /// Changes one thing somewhere in a document.
    fn bend(&mut self, value: &mut Value) {
        match value {
            Value::Object(map) if !map.is_empty() && !self.one_in(6) => {
                let key = map.keys().nth(self.rng.random_range(0..map.len())).unwrap().clone();
                match self.rng.random_range(0..8) {
                    0 => drop(map.remove(&key)),
                    1 => drop(map.insert(self.text(), json!(self.text()))),
                    _ => self.bend(map.get_mut(&key).unwrap()),
                }
            }
            Value::Array(all) if !all.is_empty() && !self.one_in(6) => {
                let at = self.rng.random_range(0..all.len());
                match self.rng.random_range(0..6) {
                    0 => drop(all.remove(at)),
                    1 => all.extend(std::iter::repeat_n(all[at].clone(), 50)),
                    _ => self.bend(&mut all[at]),
                }
            }
            other => {
                *other = match self.rng.random_range(0..9) {
                    0 => Value::Null,
                    1 => json!(self.rng.random::<bool>()),
                    2 => json!(self.rng.random::<i64>()),
                    3..=4 => json!(self.rng.random_range(-100.0..100.0)),
                    5 => json!(*[0.0, -0.0, 1e-300, 1e300, f64::MAX, f64::MIN_POSITIVE, 1e-9].choose(&mut self.rng).unwrap()),
                    6 => json!([]),
                    7 => json!({}),
                    _ => json!(self.text()),
                };
            }
        }
    }

    fn file(&mut self) -> (Method, String, Option<&'static str>, Vec<u8>) {
        let record = self.record();
        if self.one_in(2) {
            return (Method::POST, "/api/v1/climate".to_owned(), Some("text/csv"), record);
        }
        let pairs = [("zone".to_owned(), self.text()), ("name".to_owned(), self.text()), ("latitude".to_owned(), self.text())];
        (Method::POST, "/record".to_owned(), Some(MULTIPART), multipart(&pairs, &record))
    }

    /// A daily record, a little wrong.
    fn record(&mut self) -> Vec<u8> {
        let mut text =
            (*["date,tmax,tmin\n", "DATE,TMAX,TMIN\n", "date;tmax;tmin\n", "", "tmin,date\n"].choose(&mut self.rng).unwrap()).to_owned();
        let mut day = jiff::civil::date(self.rng.random_range(1850..2030), 1, 1);
        for _ in 0..self.rng.random_range(0..900) {
            let minimum: f64 = self.rng.random_range(-25.0..25.0);
            text.push_str(&format!("{day},{:.1},{minimum:.1}\n", minimum + 8.0));
            if self.one_in(150) {
                text.push_str(&format!("{},{},{}\n", self.text(), self.text(), self.text()));
            }
            day = day.tomorrow().unwrap();
        }
        let mut bytes = text.into_bytes();
        for _ in 0..self.rng.random_range(0..3) {
            if !bytes.is_empty() {
                let at = self.rng.random_range(0..bytes.len());
                bytes[at] = self.rng.random();
            }
        }
        bytes
    }
}

/// Memory that this process holds, MB.
pub fn memory_mb() -> f64 {
    let pages: f64 = std::fs::read_to_string("/proc/self/statm").unwrap().split(' ').nth(1).unwrap().parse().unwrap();
    pages * 4096.0 / 1e6
}

/// What was seen of a run.
#[derive(Debug, Default)]
pub struct Seen {
    pub asked: usize,
    /// Answers by status.
    pub statuses: BTreeMap<u16, usize>,
    /// Questions that were answered with a failure of ours.
    pub failures: Vec<String>,
}

/// Asks `questions`, by visitors in turn.
pub async fn ask(visitors: &mut [Client], grammar: &Grammar, fuzz: &mut Fuzz, questions: usize, seen: &mut Seen) {
    for n in 0..questions {
        let (request, told) = fuzz.draw(grammar);
        let at = n % visitors.len();
        let visitor = &mut visitors[at];
        let cookie = visitor.cookie.clone();
        let answer = visitor.send(request).await;
        // Whoever signed out or in by chance is put back.
        visitor.cookie = cookie;
        seen.asked += 1;
        *seen.statuses.entry(answer.status.as_u16()).or_default() += 1;
        if answer.status.is_server_error() && answer.status.as_u16() != 501 {
            seen.failures.push(format!("{} {told}", answer.status));
        }
    }
}
