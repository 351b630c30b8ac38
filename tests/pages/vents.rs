//! Vents and shade for a sunny day: page and API.

use axum::http::StatusCode;
use serde_json::Value;

use crate::support::client::{Client, text, texts};

async fn visitor() -> Client {
    Client::at("2026-02-20T12:00:00Z").await
}

/// The trade’s rule (ASABE as quoted by Bartok, Greenhouse Management 2015): 15 to 20 % of the floor at the sides and in the roof each.
#[tokio::test]
async fn openings_come_out_about_the_trades_rule_and_shade_and_february_ask_for_less() {
    let mut client = visitor().await;
    let mut ask = async |query: &str| -> Value {
        let answer = client.get(&format!("/api/v1/vents?{query}")).await.expect(StatusCode::OK);
        serde_json::from_str(&answer.body).unwrap()
    };
    let summer = ask("wind=light").await;
    let [low, high] = [0, 1].map(|end| summer["each"]["range_m2"][end].as_f64().unwrap());
    let [least, most] = [0, 1].map(|end| summer["rule_m2"][end].as_f64().unwrap());
    assert!(low < most && least < high, "{summer}");
    let each = summer["each"]["m2"].as_f64().unwrap();
    assert!(ask("wind=light&shade_percent=50").await["each"]["m2"].as_f64().unwrap() < each);
    assert!(ask("wind=light&sky=february").await["each"]["m2"].as_f64().unwrap() < each);
    let own = ask(&format!("wind=light&low_m2={each}&high_m2={each}")).await;
    assert!((own["with_given_openings_k"].as_f64().unwrap() - 5.0).abs() < 0.02, "{own}");
}

#[tokio::test]
async fn the_page_answers_before_it_is_asked_in_the_readers_units_and_keeps_what_was_typed() {
    let mut client = visitor().await;
    client.language = Some("en-US");
    let (status, page) = client.get("/vents").await.read();
    assert_eq!(status, StatusCode::OK);
    let said = text(&page, "#answer");
    assert!(said.contains("9.0 °F") && said.contains("sq ft") && said.contains("cubic feet a minute"), "{said}");
    assert!(!said.contains(" m²") && !said.contains(" K "), "{said}");
    assert_eq!(texts(&page, "#answer table tbody tr").len(), 4);
    let (status, page) = client.get("/vents?rise_f=500&length_ft=10").await.read();
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    let length = scraper::Selector::parse("input#length_ft").unwrap();
    assert_eq!(page.select(&length).next().unwrap().value().attr("value"), Some("10"));
}
