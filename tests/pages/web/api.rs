//! The API's shape: the addresses it describes are the ones it answers, and the keys are those others rely on.

use std::collections::BTreeSet;

use axum::http::StatusCode;
use serde_json::Value;

use super::{House, routes};

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
        let method = method.to_uppercase().parse().unwrap();
        let routed: BTreeSet<String> = routes(&method).into_iter().filter(|path| path.starts_with("/api/v1/")).collect();
        assert!(!routed.is_empty());
        assert_eq!(described, routed, "{method}");
    }
    // The command prints the same text.
    let mut printed = Vec::new();
    let _ = winterfig::cli::run(["winterfig", "openapi"].map(Into::into), &mut printed, &mut Vec::new());
    assert_eq!(serde_json::from_slice::<Value>(&printed).unwrap(), json);
}

#[tokio::test]
async fn without_a_limit_programs_get_every_cultivar_and_a_page_shows_twelve() {
    let House { mut client, database: _database, .. } = House::new().await;
    let answer = client.get("/api/v1/shortlist?zone=7a").await.expect(StatusCode::OK);
    let json: Value = serde_json::from_slice(&answer.bytes).unwrap();
    let rows = json["cultivars"].as_array().unwrap().len();
    assert!(rows > 12 && json["ranked"] == rows, "{rows}");
    assert_eq!(json["left_out"][0]["reason"]["code"], "caprifig");
    let page = client.get("/shortlist?zone=7a").await.expect(StatusCode::OK).body;
    assert!(page.contains(&format!("Show all {rows} cultivars")) && page.contains("pollinators whose figs are not eaten"));
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
async fn stores_and_frozen_pots_answer_as_their_pages_do_and_refuse_what_they_do_not_know() {
    let House { mut client, database: _database, .. } = House::new().await;
    let store = "/api/v1/store?kind=attached&zone=6b&climate=inland&container_l=15&years=4";
    let json: Value = serde_json::from_slice(&client.get(store).await.expect(StatusCode::OK).bytes).unwrap();
    // By hand: a garage on the house keeps 0.3 of the distance to 20 °C.
    assert_eq!((json["inside_a_c"].as_f64(), json["inside_b"].as_f64()), (Some(6.0), Some(0.7)));
    for night in json["nights"].as_array().unwrap() {
        let [outside, inside] = ["outside_c", "inside_c"].map(|key| night[key].as_f64().unwrap());
        assert!((inside - (6.0 + 0.7 * outside)).abs() < 1e-4, "{night}");
    }
    assert!(json["chance"]["dead"].as_f64() < json["dies_in_the_open"].as_f64(), "{json}");
    let frozen = "/api/v1/frozen-pot?lowest_c=-12&hours=48&container_l=10&years=5";
    let json: Value = serde_json::from_slice(&client.get(frozen).await.expect(StatusCode::OK).bytes).unwrap();
    let lives = json["lives"].as_f64().unwrap();
    assert!((lives + json["chance"]["dead"].as_f64().unwrap() - 1.0).abs() < 1e-5);
    assert!(json["mean_c"].as_f64().unwrap() < -9.0, "two days at −12 °C: {json}");
    let page = client.get(&frozen.replace("/api/v1", "")).await.expect(StatusCode::OK).body;
    assert!(page.contains(&format!("Chance that it lives: {:.0}", 100.0 * lives)), "{lives}");
    for (address, field) in
        [("/api/v1/store?zone=6b", "kind"), (&*format!("{store}&seen=x"), "seen"), ("/api/v1/frozen-pot?lowest_c=3", "lowest_c")]
    {
        let refused = client.get(address).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        assert!(refused.body.contains(&format!("\"{field}\"")), "{address}: {}", refused.body);
    }
}

#[tokio::test]
async fn spring_answers_as_its_page_does_and_refuses_what_it_does_not_know() {
    let House { mut client, database: _database, .. } = House::new().await;
    let address = "/api/v1/spring?cultivar=brown-turkey&seen=nothing&zone=6b&climate=inland&today=2026-05-20";
    let json: Value = serde_json::from_slice(&client.get(address).await.expect(StatusCode::OK).bytes).unwrap();
    assert_eq!((json["today"].as_str(), json["seen"].as_str()), (Some("2026-05-20"), Some("nothing")));
    let levels: f64 = ["unharmed", "tips", "wood", "to_ground", "dead"].iter().map(|l| json["levels"][l].as_f64().unwrap()).sum();
    assert!((levels - 1.0).abs() < 5e-6);
    let page = client.get(&address.replace("/api/v1", "")).await.expect(StatusCode::OK).body;
    let by: jiff::civil::Date = json["wait"]["not_dead_before"].as_str().unwrap().parse().unwrap();
    assert!(page.contains(&format!("Do not dig it out before {}.", by.strftime("%-d %B"))), "{by}");
    assert_eq!(json["head_start"]["covers"].as_array().unwrap().len(), 3);
    assert_eq!(json["reports"]["first_ripe_main"], serde_json::json!([0, 0]));
    let one = client.get(&format!("{address}&cover_k=5&cover_from=03-01&cover_to=05-10")).await.expect(StatusCode::OK);
    let one: Value = serde_json::from_slice(&one.bytes).unwrap();
    assert_eq!(one["head_start"]["under_cover"], serde_json::json!(["2026-03-01", "2026-05-10"]));
    let cover = &one["head_start"]["covers"][0];
    assert!(cover["gained_days"].as_f64().unwrap() > 5.0 && cover["chance"].as_f64() > one["head_start"]["without"].as_f64(), "{cover}");
    for (more, field) in
        [("&weather=fine", "weather"), ("&cover_k=40", "cover_k"), ("&cover_from=05-01&cover_to=03-01", "cover_to"), ("&site=x", "site")]
    {
        let refused = client.get(&format!("{address}{more}")).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        assert!(refused.body.contains(&format!("\"{field}\"")), "{more}: {}", refused.body);
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

/// Holds a document to a schema: every key is described, every required key is there, all the way down. Types are held by the general-purpose
/// program that the members' tests run.
fn keys_are_described(document: &Value, schema: &Value, description: &Value, at: &str) {
    let schema = schema.get("$ref").and_then(Value::as_str).map_or(schema, |name| description.pointer(&name[1..]).unwrap());
    if let Some(choices) = schema.get("oneOf").and_then(Value::as_array) {
        let choice = choices.iter().find(|choice| choice["type"] != "null").unwrap();
        if !document.is_null() {
            keys_are_described(document, choice, description, at);
        }
        return;
    }
    match document {
        Value::Object(fields) => {
            let Some(described) = schema.get("properties").and_then(Value::as_object) else { panic!("{at} is not described as an object") };
            for (key, value) in fields {
                let place = format!("{at}.{key}");
                keys_are_described(value, described.get(key).unwrap_or_else(|| panic!("{place} is not described")), description, &place);
            }
            for required in schema.get("required").and_then(Value::as_array).into_iter().flatten().filter_map(Value::as_str) {
                assert!(fields.contains_key(required), "{at}.{required} is promised");
            }
        }
        Value::Array(items) => {
            for (place, item) in items.iter().enumerate() {
                keys_are_described(item, &schema["items"], description, &format!("{at}[{place}]"));
            }
        }
        _ => {}
    }
}

#[tokio::test]
async fn questions_and_answers_of_the_calculations_are_described_to_the_last_key() {
    let House { mut client, database: _database, .. } = House::new().await;
    let description: Value = serde_json::from_slice(&client.get("/openapi.json").await.bytes).unwrap();
    let night = serde_json::json!({
        "night": {"minimum_c": -8.0, "lead_hours": 12.0, "kind": "clear_still", "date": "2026-01-20", "own_log": [{"forecast_c": -4.0, "measured_c": -6.0}]},
        "plants": [
            {"id": "a", "cultivar": "celeste", "container_l": 20.0, "years": 3, "stage": "hard", "at": "open", "value": 2.0},
            {"id": "b", "cultivar": "unknown", "years": 1, "stage": "in_leaf"},
        ],
        "places": [{"id": "garage", "room_m2": 2.0, "readings": [{"outside_c": -5.0, "inside_c": 3.0}, {"outside_c": 2.0, "inside_c": 6.0}]}],
        "covers": [{"kind": "fleece", "count": 1, "gain_k": 2.0, "gain_sd_k": 0.8, "minutes": 4.0}],
        "minutes_available": 40.0,
    });
    let shelter = serde_json::json!({
        "parts": [{"name": "walls", "area_m2": 20.0, "u_w_m2k": 6.8, "layers": [{"r_m2k_w": 0.3, "fraction": 0.5}]}],
        "perimeter_m": 12.0, "perimeter_w_mk": 1.4, "volume_m3": 20.0, "air_changes_per_hour": 1.0, "floor_m2": 9.0, "water_litres": 100.0,
        "heater_w": 1500.0, "heater_kind": "electric", "thermostat_c": 4.0, "mats": {"area_m2": 1.0, "power_w_m2": 150.0},
        "night": {"sunset_plus_2h_c": 0.0, "minimum_c": -8.0, "hours": 14.0, "kind": "clear_still"}, "hold_c": 4.0, "design_low_c": -12.0, "day": {"maximum_c": 8.0},
        "price_per_kwh": 0.3, "readings": [{"outside_c": -3.0, "inside_c": 4.0, "heater_w": 1500.0}],
        "changes": [{"name": "bubble", "layers": [{"r_m2k_w": 0.2}]}], "season": {"daily_minima_c": [-2.0, 1.0], "daily_maxima_c": [4.0, 8.0]},
        "neighbour": {"name": "hoops", "shared_area_m2": 6.0, "shared_u_w_m2k": 6.0, "parts": [{"area_m2": 15.0, "u_w_m2k": 7.0}], "volume_m3": 15.0},
    });
    for (address, question) in [("/api/v1/cold-night", night), ("/api/v1/shelter", shelter)] {
        let operation = &description["paths"][address]["post"];
        keys_are_described(&question, &operation["requestBody"]["content"]["application/json"]["schema"], &description, "question");
        let request = axum::http::Request::post(address).header("content-type", "application/json");
        let answer = client.send(request.body(axum::body::Body::from(question.to_string())).unwrap()).await.expect(StatusCode::OK);
        let answer: Value = serde_json::from_slice(&answer.bytes).unwrap();
        keys_are_described(&answer, &operation["responses"]["200"]["content"]["application/json"]["schema"], &description, "answer");
        // The short plan is for plans that take longer than it.
        let silent: Vec<&String> =
            answer.as_object().unwrap().iter().filter(|(key, part)| part.is_null() && *key != "if_only").map(|(key, _)| key).collect();
        assert!(silent.is_empty(), "parts of the answer that this question does not show: {silent:?}");
    }
}
