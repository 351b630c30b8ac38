//! What a spot is worth: page and API.

use axum::http::StatusCode;
use serde_json::Value;

use crate::support::client::{Client, text, texts};

async fn visitor() -> Client {
    Client::at("2026-11-28T18:00:00Z").await
}

/// By hand from the starting values: town 1.5 ± 1.0 and wall 1.5 ± 1.0, of which the second may be in the first by half: ± √(1 + 1 + 0.75²).
#[tokio::test]
async fn settings_together_are_the_sum_with_the_doubt_of_how_far_they_overlap() {
    let mut client = visitor().await;
    let answer = client.get("/api/v1/spots?setting=town,wall").await.expect(StatusCode::OK);
    let json: Value = serde_json::from_str(&answer.body).unwrap();
    assert_eq!(json["spots"].as_array().unwrap().len(), 8);
    let own = &json["together"]["clear_still"];
    assert_eq!(own["gain_k"].as_f64(), Some(3.0));
    assert!((own["sd_k"].as_f64().unwrap() - (2.0_f64 + 0.5625).sqrt()).abs() < 1e-4, "{own}");
    for (query, field) in [("setting=hollow,slope", "setting"), ("spot=wall", "spot")] {
        let refused = client.get(&format!("/api/v1/spots?{query}")).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        assert!(refused.body.contains(&format!("\"{field}\"")), "{}", refused.body);
    }
}

#[tokio::test]
async fn the_page_shows_every_spot_and_wall_and_keeps_what_cannot_hold_together() {
    let mut client = visitor().await;
    let (status, page) = client.get("/spots?setting=wall&setting=town").await.read();
    assert_eq!(status, StatusCode::OK);
    assert_eq!(texts(&page, "table.gains tbody tr").len(), 12);
    assert!(text(&page, "#answer").contains("+3.0 °C"), "{}", text(&page, "#answer"));
    let (status, page) = client.get("/spots?setting=hollow&setting=slope").await.read();
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&page, ".error-summary").contains("hollow"));
    let ticked = scraper::Selector::parse("input[name=setting][checked]").unwrap();
    assert_eq!(page.select(&ticked).count(), 2, "what was ticked stays");
}
