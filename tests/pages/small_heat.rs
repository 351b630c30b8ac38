//! Small heat under a cover: page and API.

use axum::http::StatusCode;
use serde_json::Value;

use crate::support::client::{Client, text, texts};

async fn visitor() -> Client {
    Client::at("2026-11-28T18:00:00Z").await
}

/// What burns is said before anything is asked, and before every number.
#[tokio::test]
async fn fire_and_electricity_stand_before_the_form_and_before_the_answer() {
    let mut client = visitor().await;
    for address in ["/small-heat", "/small-heat?heat=bulb_old&count=20"] {
        let answer = client.get(address).await.expect(StatusCode::OK);
        let at = |words: &str| answer.body.find(words).unwrap_or_else(|| panic!("{address}: “{words}” is missing"));
        let first = at("Fire and electricity first");
        assert!(first < at("<form class=\"sheet\""), "{address}");
        for caution in ["made and marked for outdoors", "RCD or GFCI", "Nothing hot may touch", "Local codes"] {
            assert!(at(caution) < at("<form class=\"sheet\""), "{address}: {caution}");
        }
        if address.contains('?') {
            assert!(first < at("id=\"answer\""));
        }
    }
}

/// By hand with the starting values: a bush under one cloth, 1 m across and 1 m high, closed foot: π·1.25 m²·7.0 + 0.335·2·π/4 = 28.01 W/K, so that
/// 140 W gain 5.0 K and a wish of 5 K takes 140 W.
#[tokio::test]
async fn watts_and_degrees_answer_each_other_at_both_doors() {
    let mut client = visitor().await;
    let place = "skin=cloth&foot=sealed&across_m=1&height_m=1&heat=bulb_old";
    let answer = client.get(&format!("/api/v1/small-heat?{place}&count=20&wanted_k=5")).await.expect(StatusCode::OK);
    let json: Value = serde_json::from_str(&answer.body).unwrap();
    assert!((json["gain"]["gain_k"].as_f64().unwrap() - 5.0).abs() < 0.02, "{json}");
    assert!((json["wish"]["watts"].as_f64().unwrap() - 140.0).abs() < 0.5, "{json}");
    let [low, high] = [0, 1].map(|end| json["gain"]["range_k"][end].as_f64().unwrap());
    assert!(low < 4.0 && high > 6.0, "a quarter either way and more: {low} to {high}");
    assert!(json["cautions"].as_array().unwrap().len() >= 7);
    let mut american = client.another();
    american.language = Some("en-US");
    let (_, page) = american.get("/small-heat?skin=cloth&across_ft=3.28&height_ft=3.28&heat=bulb_old&count=20").await.read();
    let said = text(&page, "#answer");
    assert!(said.contains("9.0 °F") && !said.contains("°C") && !said.contains(" K"), "{said}");
    assert_eq!(texts(&page, "table.stack tbody tr").len(), 4 + 12, "four covers, and twelve starting values");
}

#[tokio::test]
async fn what_burns_is_refused_and_what_was_typed_stays() {
    let mut client = visitor().await;
    let (status, page) = client.get("/small-heat?skin=quilt&heat=lamp&count=1&watts=60").await.read();
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&page, ".error-summary").contains("sets it on fire"));
    let watts = scraper::Selector::parse("input#watts").unwrap();
    assert_eq!(page.select(&watts).next().unwrap().value().attr("value"), Some("60"));
    let refused = client.get("/api/v1/small-heat?heat=lamp&count=90&colour=red").await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.body.contains("\"colour\""), "{}", refused.body);
}
