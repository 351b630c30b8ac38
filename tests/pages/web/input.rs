//! Hostile and impossible input: shown as text, refused with what is accepted, never a failure of ours.

use axum::http::StatusCode;
use scraper::{ElementRef, Html, Selector};
use serde_json::Value;
use winterfig::jobs::shortlist::question_form::PARAMETERS;

use super::House;
use crate::support::client::{Client, encoded};

/// Marks a payload that took effect or not: it must come back as text alone.
const PAYLOADS: [&str; 36] = [
    "<script>alert(1)</script>",
    "<ScRiPt>alert(1)</sCrIpT>",
    "</script><script>alert(1)</script>",
    "<script src=//evil.example/x.js></script>",
    "<img src=x onerror=alert(1)>",
    "<img src=`x`onerror=alert(1)>",
    "<svg onload=alert(1)>",
    "<svg/onload=alert(1)//",
    "<svg><script>alert&#40;1&#41;</script>",
    "<svg><a xlink:href=javascript:alert(1)><text>x</text></a>",
    "<math><mi xlink:href=javascript:alert(1)>x",
    "<iframe src=javascript:alert(1)>",
    "<iframe srcdoc='<script>alert(1)</script>'>",
    "<object data=javascript:alert(1)>",
    "<embed src=javascript:alert(1)>",
    "<base href=//evil.example/>",
    "<meta http-equiv=refresh content='0;url=//evil.example'>",
    "<link rel=stylesheet href=//evil.example/x.css>",
    "<style>@import '//evil.example/x.css'</style>",
    "<form action=//evil.example><button>x</button></form>",
    "<body onload=alert(1)>",
    "<details open ontoggle=alert(1)>",
    "<input autofocus onfocus=alert(1)>",
    "<video><source onerror=alert(1)></video>",
    "<a href=javascript:alert(1)>x</a>",
    "<a href=\"jav&#x09;ascript:alert(1)\">x</a>",
    "<!--<img src=--><img src=x onerror=alert(1)>",
    "<![CDATA[<script>alert(1)</script>]]>",
    "<?php echo 1 ?><% alert(1) %>",
    "{{7*7}}${7*7}#{7*7}{%raw%}",
    "javascript:alert(1)",
    "data:text/html,<script>alert(1)</script>",
    "x onmouseover=alert(1) y",
    "\u{202e}<script>alert(1)</script>\u{200b}",
    "＜script＞alert(1)＜/script＞",
    "&lt;script&gt;alert(1)&lt;/script&gt;",
];
/// What is put around each, to break out of an attribute, an element or a comment.
const AROUND: [(&str, &str); 4] = [("", ""), ("\">", ""), ("'>", "<x y='"), ("--></option></select></textarea></title>", "<!--")];

/// Every payload in every wrapping: 144 of them.
fn payloads() -> Vec<String> {
    PAYLOADS.iter().flat_map(|p| AROUND.map(|(before, after)| format!("{before}{p}{after}"))).collect()
}

/// What on a page could run, load or lead elsewhere.
fn active(page: &Html) -> Vec<String> {
    let suspicious = |e: &ElementRef<'_>| {
        let own_script = e.value().name() == "script" && e.value().attr("src").is_some_and(|s| s.starts_with("/static/"));
        let own_sheet = e.value().name() == "link" && e.value().attr("href").is_some_and(|s| s.starts_with("/static/"));
        let kind =
            ["script", "img", "iframe", "object", "embed", "base", "link", "style", "video", "math", "x"].contains(&e.value().name());
        let refresh = e.value().attr("http-equiv").is_some();
        // By local name: inside SVG and MathML the same attribute stands in a namespace of its own.
        let leads = e
            .value()
            .attrs()
            .filter(|(name, _)| ["href", "src", "action"].contains(name))
            .any(|(_, a)| (!a.starts_with('/') && !a.starts_with('#') && !a.starts_with("https://")) || a.starts_with("//"));
        let acts = e.value().attrs().any(|(name, _)| name.starts_with("on") || name == "style" || name == "srcdoc");
        (kind && !own_script && !own_sheet) || refresh || leads || acts
    };
    page.select(&Selector::parse("*").unwrap()).filter(suspicious).map(|e| e.html().chars().take(160).collect()).collect()
}

/// Names of the fields of the forms that a page asks with.
async fn fields_of(client: &mut Client, address: &str) -> Vec<String> {
    let page = Html::parse_document(&client.get(address).await.body);
    let named = Selector::parse("main form[method=get] [name]").unwrap();
    let mut names: Vec<String> = page.select(&named).filter_map(|e| e.value().attr("name")).map(str::to_owned).collect();
    names.dedup();
    names
}

// INP-01 [1.2.1 to 1.2.3, 3.2.2]
#[tokio::test]
async fn hostile_words_in_any_field_come_back_as_text_alone() {
    let House { mut client, database: _database, .. } = House::new().await;
    let payloads = payloads();
    assert!(payloads.len() >= 100);
    for (form, action) in [("/", "/"), ("/", "/shortlist"), ("/cultivars", "/cultivars"), ("/spring", "/spring")] {
        let names = fields_of(&mut client, form).await;
        assert!(!names.is_empty(), "{form} asks nothing");
        for payload in &payloads {
            let query: Vec<String> = names.iter().map(|name| format!("{name}={}", encoded(payload))).collect();
            let answer = client.get(&format!("{action}?{}", query.join("&"))).await;
            assert!(!answer.status.is_server_error(), "{action} {payload}");
            let found = active(&Html::parse_document(&answer.body));
            assert!(found.is_empty(), "{action} {payload}: {found:?}");
        }
    }
    // What was typed into a search is still in it, to the letter.
    for payload in &payloads {
        let page = Html::parse_document(&client.get(&format!("/cultivars?q={}", encoded(payload))).await.body);
        let field = Selector::parse("#q").unwrap();
        let kept = page.select(&field).next().unwrap().value().attr("value");
        assert_eq!(kept, Some(payload.as_str()));
    }
    // Paths, unknown names and the way back are text as well.
    for payload in &payloads {
        for address in [
            format!("/cultivars/{}", encoded(payload)),
            format!("/{}", encoded(payload)),
            format!("/shortlist?zone=7a&{}=1", encoded(payload)),
            format!("/api/v1/shortlist?{}=1", encoded(payload)),
        ] {
            let answer = client.get(&address).await;
            assert!(!answer.status.is_server_error(), "{address}");
            if address.starts_with("/api/") {
                assert_eq!(answer.headers["content-type"], "application/problem+json", "{address}");
                let _: Value = serde_json::from_slice(&answer.bytes).unwrap();
            } else {
                let found = active(&Html::parse_document(&answer.body));
                assert!(found.is_empty(), "{address}: {found:?}");
            }
        }
    }
}

// The check must be able to fail.
#[test]
fn a_payload_that_took_effect_is_found() {
    for bad in PAYLOADS.iter().take(27) {
        // One of them leaves its tag open.
        assert!(!active(&Html::parse_document(&format!("{bad}>"))).is_empty(), "{bad}");
    }
}

/// INP-05 [1.1.1, 1.4.2, 15.3.7]: as written in an address, percent-encoding included.
const IMPOSSIBLE: [&str; 26] = [
    "NaN",
    "nan",
    "inf",
    "-Infinity",
    "1e400",
    "-1e400",
    "1e-400",
    "0x10",
    "-0",
    "1,5",
    "1%2C5",
    "%EF%BC%91%EF%BC%92",
    "%D9%A1%D9%A2",
    "%00",
    "7%00a",
    "%FF%FE",
    "%ED%A0%80",
    "%zz",
    "%",
    "1%200",
    "--5",
    "+5",
    "99999999999999999999",
    "%E2%80%AE5",
    "%27%20OR%201%3D1--",
    "5%0D%0ASet-Cookie%3A%20x%3Dy",
];

#[tokio::test]
async fn impossible_values_are_refused_or_mean_one_thing_and_never_break_anything() {
    let House { mut client, database: _database, .. } = House::new().await;
    let digits = "9".repeat(400);
    for value in IMPOSSIBLE.into_iter().chain([digits.as_str()]) {
        for name in PARAMETERS {
            let rest = if name == "zone" || name.starts_with("yearly_minimum") { "" } else { "&yearly_minimum_c=-12" };
            let address = format!("/api/v1/shortlist?{name}={value}{rest}");
            let answer = client.get(&address).await;
            match answer.status {
                StatusCode::OK => {
                    let json: Value = serde_json::from_slice(&answer.bytes).unwrap();
                    for number in ["/site/yearly_minimum/mean_c", "/site/season/degree_days", "/cultivars/0/chance/dead"] {
                        assert!(json.pointer(number).is_some_and(Value::is_number), "{address}: {number}");
                    }
                }
                StatusCode::UNPROCESSABLE_ENTITY => {
                    let json: Value = serde_json::from_slice(&answer.bytes).unwrap();
                    assert!(!json["errors"].as_array().unwrap().is_empty(), "{address}");
                }
                other => panic!("{address}: {other} {}", answer.body),
            }
            let page = client.get(&format!("/shortlist?{name}={value}{rest}")).await;
            assert_eq!(page.status, answer.status, "page and API disagree about {address}");
        }
        for address in [format!("/cultivars?q={value}"), format!("/api/v1/cultivars?q={value}"), format!("/?zone={value}")] {
            client.get(&address).await.expect(StatusCode::OK);
        }
        assert!(!client.get(&format!("/spring?zone={value}&cultivar={value}")).await.status.is_server_error());
        assert!(client.get(&format!("/cultivars/{value}")).await.status.is_client_error());
    }
}

#[tokio::test]
async fn a_comma_and_a_true_minus_are_read_as_people_write_them_and_digits_of_other_scripts_are_refused() {
    let House { mut client, database: _database, .. } = House::new().await;
    let mut mean = async |value: &str| {
        let answer = client.get(&format!("/api/v1/shortlist?yearly_minimum_c={value}")).await;
        serde_json::from_slice::<Value>(&answer.bytes).unwrap().pointer("/site/yearly_minimum/mean_c").and_then(Value::as_f64)
    };
    assert_eq!(mean("-9,4").await, Some(-9.4));
    assert_eq!(mean("%E2%88%929.4").await, Some(-9.4));
    assert_eq!(mean("%EF%BC%8D%EF%BC%99").await, None);
}

fn problem(body: &[u8]) -> Vec<(String, String, String)> {
    let json: Value = serde_json::from_slice(body).unwrap();
    let text = |e: &Value, key: &str| e[key].as_str().unwrap().to_owned();
    json["errors"].as_array().unwrap().iter().map(|e| (text(e, "field"), text(e, "value"), text(e, "message"))).collect()
}

#[tokio::test]
async fn the_api_names_the_field_the_value_and_what_is_accepted() {
    let House { mut client, database: _database, .. } = House::new().await;
    for (query, field, value, accepted) in [
        ("zone=17q", "zone", "17q", "1a to 13b"),
        ("zone=7a&setting=roof", "setting", "roof", "open, wall, courtyard, hollow, slope, town, water, trees"),
        ("zone=7a&climate=mild", "climate", "mild", "coast, inland, continental"),
        ("zone=7a&culture=raft", "culture", "raft", "ground, container"),
        ("zone=7a&protection=prayer", "protection", "prayer", "none, mulch, wrap"),
        ("zone=7a&rank_by=taste", "rank_by", "taste", "fruit, wood, alive"),
        ("zone=7a&years=-1", "years", "-1", "0 to 200"),
        ("zone=7a&years=2.5", "years", "2.5", "whole years"),
        ("zone=7a&limit=0", "limit", "0", "1 to 500"),
        ("zone=7a&limit=501", "limit", "501", "1 to 500"),
        ("yearly_minimum_c=warm", "yearly_minimum_c", "warm", "−9.4"),
        ("yearly_minimum_c=-12&yearly_spread_k=40", "yearly_spread_k", "40", "0.3 to 12 °C"),
        ("zone=7a&last_frost=04-31&first_frost=10-20", "last_frost", "04-31", "month and day"),
        ("zone=7a&colour=blue", "colour", "blue", "rank_by"),
        // Given twice [15.3.7]: refused, not one of the two taken.
        ("zone=7a&zone=7b", "zone", "7b", "give it once"),
        ("zone=7a&limit=5&limit=6", "limit", "6", "give it once"),
    ] {
        let answer = client.get(&format!("/api/v1/shortlist?{query}")).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        assert_eq!(answer.headers["content-type"], "application/problem+json");
        let found = problem(&answer.bytes);
        let one = found.iter().find(|(f, ..)| f == field).unwrap_or_else(|| panic!("{query}: {found:?}"));
        assert_eq!(one.1, value, "{query}");
        assert!(one.2.contains(accepted), "{query}: {}", one.2);
    }
    // Every fault at once, not the first alone.
    let answer = client.get("/api/v1/shortlist?zone=17q&setting=roof&limit=0&colour=blue").await;
    assert_eq!(problem(&answer.bytes).len(), 4);
    let answer = client.get("/api/v1/cultivars?q=a&q=b&sort=name").await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    let mut named: Vec<_> = problem(&answer.bytes).into_iter().map(|(field, ..)| field).collect();
    named.sort();
    assert_eq!(named, ["q", "sort"]);
}

// INP-03 [2.2.1, 2.2.2]
#[tokio::test]
async fn a_page_that_refuses_keeps_what_was_typed_and_says_the_same_at_the_top_and_at_the_field() {
    let House { mut client, database: _database, .. } = House::new().await;
    let typed = [("years", "many"), ("container_l", "a bucket"), ("last_frost", "mid May"), ("frost_free_days", "-3")];
    let query: Vec<String> = typed.iter().map(|(name, value)| format!("{name}={}", encoded(value))).collect();
    let address = format!("/shortlist?zone=17q&setting=wall&culture=container&protection=wrap&{}", query.join("&"));
    let answer = client.get(&address).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    let page = Html::parse_document(&answer.body);
    let one = |css: &str| page.select(&Selector::parse(css).unwrap()).next();
    let text = |css: &str| one(css).map(|e| e.text().collect::<String>()).unwrap_or_default();
    for (name, value) in typed {
        assert_eq!(one(&format!("#{name}")).unwrap().value().attr("value"), Some(value));
        let at_field = text(&format!("#{name}-wrong"));
        let at_top = text(&format!(".error-summary a[href=\"#{name}\"]"));
        assert!(!at_field.is_empty() && at_field == at_top, "{name}: {at_field:?} and {at_top:?}");
        assert_eq!(one(&format!("#{name}")).unwrap().value().attr("aria-invalid"), Some("true"));
    }
    for chosen in [
        "#setting option[value=wall][selected]",
        "input[name=culture][value=container][checked]",
        "#protection option[value=wrap][selected]",
    ] {
        assert!(one(chosen).is_some(), "{chosen}");
    }
    assert!(text("#zone-wrong").contains("17q"));
    // A field that is wrong is never folded away.
    for closed in page.select(&Selector::parse("details:not([open])").unwrap()) {
        assert!(closed.select(&Selector::parse("[aria-invalid]").unwrap()).next().is_none(), "{}", closed.html());
    }
}

#[tokio::test]
async fn a_place_box_answers_or_says_what_is_wrong_and_keeps_what_was_typed() {
    let House { mut client, database: _database, .. } = House::new().await;
    for (query, word) in [
        ("place=Graz%2C+Austria", "Figs for Graz"),
        ("place=47.07%2C+15.44", "near Graz"),
        ("place=Graz%2C+AT&elevation_m=900", "above the town"),
        ("place=Springfield", "Meant another?"),
        ("place=Melbuorne", "Melbourne"),
        ("coldest_c=-18&coldest_winters=10", "coldest night in 10 winters"),
    ] {
        let page = client.get(&format!("/shortlist?{query}")).await.expect(StatusCode::OK);
        assert!(page.body.contains(word), "{query}: {word}");
    }
    for (query, word) in [
        ("place=xqzvkw", "no town"),
        ("place=-122.33%2C+47.61", "47.61, -122.33"),
        ("place=0%2C+-140", "at sea"),
        ("place=Graz%2C+Narnia", "Narnia"),
        ("place=Graz%2C+AT&elevation_m=3500", "above Graz"),
        ("place=Graz&zone=7a", "not both"),
        ("coldest_c=-18", "how many winters"),
    ] {
        let page = client.get(&format!("/shortlist?{query}")).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        assert!(page.body.contains(word), "{query}: {word}");
        let typed = query.split('&').next().unwrap().split('=').nth(1).unwrap().replace("%2C", ",").replace('+', " ");
        assert!(page.body.contains(&format!("value=\"{typed}\"")), "{query}: what was typed is gone");
    }
}

#[tokio::test]
async fn towns_are_listed_for_programs_and_a_place_is_remembered_only_when_asked() {
    let House { mut client, database: _database, .. } = House::new().await;
    let answer = client.get("/api/v1/places?q=Graz&limit=3").await.expect(StatusCode::OK);
    let json: Value = serde_json::from_slice(&answer.bytes).unwrap();
    let first = &json["places"][0];
    assert_eq!((first["name"].as_str(), first["country"].as_str()), (Some("Graz"), Some("AT")));
    assert!(first["yearly_minimum"]["err_c"].as_f64().unwrap() > 0.5 && first["nearest_station_km"].is_number());
    assert!(json["attribution"].as_array().unwrap().iter().any(|line| line.as_str().unwrap().contains("CC BY 4.0")));
    let none = client.get("/api/v1/places?q=xqzvkw").await.expect(StatusCode::OK);
    assert!(none.body.contains("\"places\":[]"));
    for bad in ["", "q=Graz&limit=0", "q=-122.33%2C47.61"] {
        client.get(&format!("/api/v1/places?{bad}")).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    }
    let before = client.get("/").await.expect(StatusCode::OK);
    assert!(!before.body.contains("Graz, Styria"));
    client.post("/preferences/place", &[("place", "Graz, Styria, Austria"), ("back", "/")]).await.expect(StatusCode::SEE_OTHER);
    let after = client.get("/").await.expect(StatusCode::OK);
    assert!(after.body.contains("value=\"Graz, Styria, Austria\""));
    client.post("/preferences/place", &[("place", ""), ("back", "/")]).await.expect(StatusCode::SEE_OTHER);
    let forgotten = client.get("/").await.expect(StatusCode::OK);
    assert!(!forgotten.body.contains("Graz, Styria"));
}
