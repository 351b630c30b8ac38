//! Figs compared at one place: page and API.

use axum::http::StatusCode;
use serde_json::Value;

use crate::support::client::{Client, text, texts};

async fn visitor() -> Client {
    Client::at("2026-05-28T09:00:00Z").await
}

#[tokio::test]
async fn a_pair_is_answered_with_one_chance_and_the_order_of_asking_changes_nothing() {
    let mut client = visitor().await;
    let mut ahead = async |a: &str, b: &str| {
        let answer = client.get(&format!("/api/v1/compare?cultivar={a}&cultivar={b}&zone=7a&climate=inland")).await.expect(StatusCode::OK);
        let json: Value = serde_json::from_str(&answer.body).unwrap();
        let pair = &json["pairs"][0];
        let sum = ["chance_a_clearly_better", "chance_b_clearly_better", "chance_same"].map(|key| pair[key].as_f64().unwrap());
        assert!((sum.iter().sum::<f64>() - 1.0).abs() < 1e-5, "{pair}");
        let best: f64 = json["chance_best"].as_array().unwrap().iter().map(|p| p.as_f64().unwrap()).sum();
        assert!((best - 1.0).abs() < 1e-5);
        let p = pair["chance_a_better"].as_f64().unwrap();
        if pair["a"] == a { p } else { 1.0 - p }
    };
    let (one, turned) = (ahead("celeste", "brown-turkey").await, ahead("brown-turkey", "celeste").await);
    assert!((one + turned - 1.0).abs() < 1e-5, "{one} {turned}");
}

#[tokio::test]
async fn the_page_says_who_bears_more_in_a_sentence_and_takes_any_name() {
    let mut client = visitor().await;
    let (status, page) = client.get("/compare?cultivar=Celeste&cultivar=Brown+Turkey&zone=7a&climate=inland").await.read();
    assert_eq!(status, StatusCode::OK);
    let verdict = text(&page, ".verdict");
    assert!(verdict.contains("Celeste") && verdict.contains("Brown Turkey") && verdict.contains("here"), "{verdict}");
    assert_eq!(texts(&page, ".shortlist li h3").len(), 2);
}

#[tokio::test]
async fn what_cannot_be_compared_is_named_and_stays_in_the_form() {
    let mut client = visitor().await;
    for (query, said) in [
        ("cultivar=celeste&zone=7a", "2 to 4 figs"),
        ("cultivar=celeste&cultivar=Celeste&zone=7a", "named twice"),
        ("cultivar=celeste&cultivar=no-such-fig-at-all&zone=7a", "no fig of the catalogue"),
        ("cultivar=celeste&cultivar=brown-turkey&zone=99x", "99x"),
    ] {
        let (status, page) = client.get(&format!("/compare?{query}")).await.read();
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{query}");
        assert!(text(&page, "main").contains(said), "{query}: {}", text(&page, "main"));
        assert!(page.root_element().html().contains("value=\"Celeste\""), "{query}");
    }
}
