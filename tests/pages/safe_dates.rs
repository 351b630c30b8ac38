//! From when it is safe to uncover, move out, plant out and cut: page and API.

use axum::http::StatusCode;
use serde_json::Value;

use crate::support::client::{Client, text, texts};

async fn visitor() -> Client {
    Client::at("2026-11-28T18:00:00Z").await
}

const PLACE: &str = "zone=6b&climate=inland";

/// The same dates at two doors: the spring answer’s “1 in 10” and this page’s.
#[tokio::test]
async fn dates_are_those_of_the_spring_answer_and_less_risk_is_later() {
    let mut client = visitor().await;
    let read = |body: String| serde_json::from_str::<Value>(&body).unwrap();
    let dates = read(client.get(&format!("/api/v1/safe-dates?{PLACE}&on=04-10")).await.expect(StatusCode::OK).body);
    let spring = read(client.get(&format!("/api/v1/spring?{PLACE}&seen=nothing")).await.expect(StatusCode::OK).body);
    let of = |act: &str, chance: usize| {
        let row = dates["acts"].as_array().unwrap().iter().find(|row| row["act"] == act).unwrap();
        row["dates"][chance]["from"].as_str().unwrap().to_owned()
    };
    for (act, stage) in [("move_out_in_leaf", 0), ("uncover", 1), ("plant_out_asleep", 2)] {
        assert_eq!(of(act, 2), spring["safe"][stage]["safe_from"].as_str().unwrap(), "{act}");
        let all: Vec<String> = (0..4).map(|chance| of(act, chance)).collect();
        assert!(all.windows(2).all(|w| w[0] < w[1]), "{act}: {all:?}");
    }
    // In spring of the next year: asked in November.
    assert!(of("uncover", 2).starts_with("2027-0"));
    let after =
        |act: &str| dates["acts"].as_array().unwrap().iter().find(|row| row["act"] == act).unwrap()["chance_after"].as_f64().unwrap();
    assert!(after("move_out_in_leaf") > after("uncover") && after("uncover") > after("plant_out_asleep"));
    let refused = client.get("/api/v1/safe-dates?zone=6b&on=soon&colour=blue").await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.body.contains("\"on\"") && refused.body.contains("\"colour\""), "{}", refused.body);
}

#[tokio::test]
async fn the_page_gives_a_date_for_each_chance_and_keeps_what_was_typed() {
    let mut client = visitor().await;
    let (status, page) = client.get("/safe-dates").await.read();
    assert_eq!(status, StatusCode::OK);
    assert!(text(&page, "main").contains("Give a town or a zone"));
    let (status, page) = client.get(&format!("/safe-dates?{PLACE}&on=04-10")).await.read();
    assert_eq!(status, StatusCode::OK);
    assert_eq!(texts(&page, "table.dates tbody tr").len(), 6);
    assert!(text(&page, "table.dates").contains("Chance after 10 April"), "{}", text(&page, "table.dates"));
    let (status, page) = client.get(&format!("/safe-dates?{PLACE}&on=soon")).await.read();
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&page, ".error-summary").contains("04-20"));
    let typed = scraper::Selector::parse("input#on").unwrap();
    assert_eq!(page.select(&typed).next().unwrap().value().attr("value"), Some("soon"));
}
