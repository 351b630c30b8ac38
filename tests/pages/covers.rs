//! Covers before any plan: page and API, held against the plan of a night.

use axum::http::StatusCode;
use serde_json::{Value, json};

use crate::support::client::{Client, text, texts};

async fn visitor() -> Client {
    Client::at("2026-11-28T18:00:00Z").await
}

/// The same cover asked at both doors: the standing table, and a plan for one night of that kind.
#[tokio::test]
async fn the_table_says_what_a_plan_counts_on_every_kind_of_night() {
    let mut client = visitor().await;
    let answer = client.get("/api/v1/covers").await.expect(StatusCode::OK);
    let table: Value = serde_json::from_str(&answer.body).unwrap();
    let kinds: Vec<&str> = table["covers"].as_array().unwrap().iter().map(|c| c["kind"].as_str().unwrap()).collect();
    assert_eq!(kinds.len(), 8);
    for night in ["clear_still", "windy", "cloudy"] {
        let covers: Vec<Value> = kinds.iter().map(|kind| json!({"kind": kind, "count": 1})).collect();
        let question = json!({"nights": [{"minimum_c": -9.0, "kind": night}], "covers": covers,
            "plants": [{"id": "a", "cultivar": "unknown"}]});
        let (status, plan) = client.call("/api/v1/cold-night", &question).await;
        assert_eq!(status, StatusCode::OK, "{plan}");
        for (cover, planned) in table["covers"].as_array().unwrap().iter().zip(plan["covers"].as_array().unwrap()) {
            for (table, plan) in [("over_soil", "gains_k"), ("over_pot", "gains_over_pot_k")] {
                let (said, counted) = (cover[table][night]["gain_k"].as_f64().unwrap(), planned[plan][0].as_f64().unwrap());
                assert!((said - counted).abs() < 1e-5, "{night} {cover} {planned}");
            }
        }
    }
    let refused = client.get("/api/v1/covers?kind=quilt").await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    assert!(refused.body.contains("\"kind\""), "{}", refused.body);
}

#[tokio::test]
async fn the_page_says_degrees_in_the_readers_scale_with_ranges_layers_and_the_foot() {
    let mut client = visitor().await;
    let (status, page) = client.get("/covers").await.read();
    assert_eq!(status, StatusCode::OK);
    assert_eq!(texts(&page, "table.gains tbody tr").len(), 16);
    let all = text(&page, "main");
    assert!(all.contains("+2.5 °C") && all.contains("Do layers add up?") && all.contains("Down to the soil"), "{all}");
    let mut american = client.another();
    american.language = Some("en-US");
    let (_, page) = american.get("/covers").await.read();
    let shown = format!("{} {}", text(&page, ".lead"), texts(&page, "table.gains tbody tr").join(" "));
    assert!(shown.contains("+4.5 °F") && shown.contains("4.5 °F, a cage"), "{shown}");
    assert!(!shown.contains("°C"), "a reader of °F sees no other degrees: {shown}");
    let main = text(&page, "main");
    assert!(main.split_whitespace().all(|word| word.trim_matches(['(', ')', ',', ';', '.']) != "K"), "{main}");
}
