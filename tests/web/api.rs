//! The API's shape: the addresses it describes are the ones it answers, and the keys are those others rely on.

use std::collections::BTreeSet;

use axum::http::StatusCode;
use serde_json::Value;

use crate::{House, routes};

const ROUTES: &str = include_str!("../../src/web/api/mod.rs");

#[tokio::test]
async fn the_description_lists_exactly_the_addresses_that_are_answered() {
    let House { mut client, database: _database, .. } = House::new().await;
    let answer = client.get("/openapi.json").await.expect(StatusCode::OK);
    let json: Value = serde_json::from_slice(&answer.bytes).unwrap();
    assert!(json["openapi"].as_str().unwrap().starts_with("3.1"));
    for method in ["get", "post"] {
        let described: BTreeSet<String> = json["paths"]
            .as_object()
            .unwrap()
            .iter()
            .filter(|(_, calls)| calls.get(method).is_some())
            .map(|(path, _)| path.clone())
            .collect();
        let routed: BTreeSet<String> = routes(ROUTES, method).into_iter().map(|path| format!("/api/v1{path}")).collect();
        assert_eq!(described, routed, "{method}");
    }
    assert!(!routes(ROUTES, "get").is_empty());
    // The command prints the same text.
    let mut printed = Vec::new();
    let _ = winterfig::cli::run(["winterfig", "openapi"].map(Into::into), &mut printed, &mut Vec::new());
    assert_eq!(serde_json::from_slice::<Value>(&printed).unwrap(), json);
}

#[tokio::test]
async fn a_shortlist_has_the_keys_that_others_rely_on() {
    let House { mut client, database: _database, .. } = House::new().await;
    let answer = client.get("/api/v1/shortlist?zone=7a&climate=inland&limit=3").await.expect(StatusCode::OK);
    assert_eq!(answer.headers["content-type"], "application/json");
    let json: Value = serde_json::from_slice(&answer.bytes).unwrap();
    for pointer in [
        "/site/yearly_minimum/mean_c",
        "/site/yearly_minimum/sd_c",
        "/site/yearly_minimum/quantiles_c",
        "/site/season",
        "/model/version",
        "/model/reports",
        "/model/fitted_at",
        "/cultivars/0/slug",
        "/cultivars/0/name",
        "/cultivars/0/rank",
        "/cultivars/0/ripe_years_in_ten",
        "/cultivars/0/ripe_interval",
        "/cultivars/0/evidence/reports",
        "/cultivars/0/evidence/class",
        "/cultivars/0/evidence/sources",
        "/cultivars/0/reasons/0",
    ] {
        assert!(json.pointer(pointer).is_some(), "{pointer}");
    }
    let rows = json["cultivars"].as_array().unwrap();
    assert_eq!(rows.len(), 3);
    for (i, row) in rows.iter().enumerate() {
        assert_eq!(row["rank"], i + 1);
        let chances: Vec<f64> =
            ["unharmed", "tips", "wood", "to_ground", "dead"].iter().map(|level| row["chance"][level].as_f64().unwrap()).collect();
        // Five levels, one winter: written to a millionth each.
        assert!((chances.iter().sum::<f64>() - 1.0).abs() < 5e-6, "{chances:?}");
        for (level, p) in ["unharmed", "tips", "wood", "to_ground", "dead"].iter().zip(chances) {
            let [low, high] = [0, 1].map(|end| row["chance_interval"][level][end].as_f64().unwrap());
            assert!((0.0..=1.0).contains(&p) && low <= high, "{level}: {low} {p} {high}");
        }
    }
}

#[tokio::test]
async fn a_cultivar_has_the_provenance_of_every_trait_and_its_sources_in_full() {
    let House { mut client, database: _database, .. } = House::new().await;
    let all: Value = serde_json::from_slice(&client.get("/api/v1/cultivars").await.bytes).unwrap();
    assert_eq!(all["cultivars"].as_array().unwrap().len(), 86);
    let one: Value = serde_json::from_slice(&client.get("/api/v1/cultivars/brown-turkey").await.bytes).unwrap();
    for name in
        ["hardiness_class", "survival_claim_c", "fruit_kind", "crop_habit", "resprouts", "fruits_on_regrowth", "ripening", "skin_colour"]
    {
        assert!(one[name]["provenance"]["kind"].is_string(), "{name}: {}", one[name]);
    }
    let listed: BTreeSet<&str> = one["source_list"].as_array().unwrap().iter().map(|s| s["key"].as_str().unwrap()).collect();
    let named: BTreeSet<&str> = one["sources"].as_array().unwrap().iter().map(|s| s.as_str().unwrap()).collect();
    assert_eq!(listed, named);
    let missing = client.get("/api/v1/cultivars/no-such-fig").await.expect(StatusCode::NOT_FOUND);
    assert_eq!(missing.headers["content-type"], "application/problem+json");
}
