//! The whole story of a cold spell, told by a member over HTTP: eight nights, forty pots, a heated house with a hoop house beside it that is
//! kept with its measured states, re-planned on the third night; and the same by JSON.

use axum::body::Body;
use axum::http::{Method, Request, StatusCode};
use serde_json::{Value, json};

use crate::support::TestDatabase;
use crate::support::client::Client;

/// A glass house with 1.5 kW, a hoop house along its wall, a second skin since 10 January, nights before and after it: invented.
const HOUSE: &[(&str, &str)] = &[
    ("scale", "c"),
    ("shape", "gable"),
    ("length", "3.6"),
    ("width", "2.4"),
    ("wall", "1.8"),
    ("top", "2.4"),
    ("wall_cover", "glass"),
    ("roof_cover", "glass"),
    ("minimum", "-8"),
    ("heater", "1500"),
    ("thermostat", "4"),
    ("price", "0.3"),
    ("b_kind", "shelter"),
    ("b_wall_length", "3"),
    ("b_wall_height", "1.8"),
    ("b_wall_cover", "glass"),
    ("b_shape", "gable"),
    ("b_length", "3"),
    ("b_width", "2"),
    ("b_wall", "1.8"),
    ("b_top", "2.2"),
    ("s1_what", "second"),
    ("s1_since", "2026-01-10"),
    ("r1_outside", "-4"),
    ("r1_inside", "4"),
    ("r1_date", "2026-01-03"),
    ("r2_outside", "-6"),
    ("r2_inside", "2.4"),
    ("r2_date", "2026-01-05"),
    ("r3_outside", "-5"),
    ("r3_inside", "6.6"),
    ("r3_date", "2026-01-12"),
    ("r4_outside", "-7"),
    ("r4_inside", "5"),
    ("r4_date", "2026-01-13"),
    ("keep_as", "glass house"),
];

const LOWS: [(&str, &str); 8] = [
    ("minimum", "-5"),
    ("n2_min", "-8"),
    ("n3_min", "-11"),
    ("n4_min", "-12"),
    ("n5_min", "-12"),
    ("n6_min", "-10"),
    ("n7_min", "-6"),
    ("n8_min", "1"),
];

const POTS: &[(&str, &str)] = &[
    ("scale", "c"),
    ("date", "2027-01-14"),
    ("nights", "8"),
    ("minutes", "60"),
    ("rows", "4"),
    ("p1_cultivar", "Celeste"),
    ("p1_count", "16"),
    ("p1_pot", "15"),
    ("p2_cultivar", "brown turkey"),
    ("p2_count", "12"),
    ("p2_pot", "25"),
    ("p1_value", "20"),
    ("p2_value", "25"),
    ("p3_value", "8"),
    ("p4_value", "30"),
    ("p3_cultivar", "unknown"),
    ("p3_count", "10"),
    ("p3_pot", "4"),
    ("p3_years", "1"),
    ("p4_cultivar", "Celeste"),
    ("p4_count", "2"),
    ("p4_pot", "40"),
    ("t1_name", "peppers"),
    ("t1_hurt", "1"),
    ("t1_dead", "-1"),
    ("t1_count", "3"),
    ("t1_pot", "8"),
    ("t1_value", "15"),
    ("s1_name", "glass house"),
    ("s1_room", "4"),
    ("s2_name", "hoop house"),
    ("s2_kind", "unheated_house"),
    ("s2_room", "3"),
    ("cover_fleece_heavy", "4"),
    ("cloth_area", "6"),
];

fn values<'p>(page: &'p str, before: &str) -> Vec<&'p str> {
    page.split(before).skip(1).filter_map(|rest| rest.split('"').next()).collect()
}

async fn json(client: &mut Client, address: &str, body: &Value) -> Value {
    let request = Request::builder()
        .method(Method::POST)
        .uri(address)
        .header("content-type", "application/json")
        .body(Body::from(body.to_string()))
        .unwrap();
    serde_json::from_str(&client.send(request).await.expect(StatusCode::OK).body).unwrap()
}

#[tokio::test]
async fn eight_nights_are_planned_with_the_kept_house_and_planned_again_on_the_third() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    client.join("grower").await;
    // The two measured states give the gain of the second skin: 11.8 − 8.2 = 3.6 K, with its interval.
    let house = client.post("/shelter", HOUSE).await.expect(StatusCode::OK).body;
    assert!(house.contains("What your changes gained") && house.contains("3.6 K") && house.contains("Behind the shared wall"), "{house}");
    // It stands in the form of the nights by itself.
    let form = client.get("/cold-night").await.expect(StatusCode::OK).body;
    let kind = values(&form, "<option value=\"shelter:").first().map(|id| format!("shelter:{id}")).unwrap();
    assert!(form.contains(&format!("<option value=\"{kind}\" selected")) && form.contains("Your shelter “glass house”"));
    let asked = [POTS, &LOWS, &[("s1_kind", kind.as_str())]].concat();
    let page = client.post("/cold-night", &asked).await.expect(StatusCode::OK).body;
    for said in [
        "8 nights of cold",
        "stays in until",
        "noon",
        "Nine in ten",
        "night by night",
        "Heated:",
        "If the power fails at dusk of",
        "It has to stay above",
        "over soil</th>",
    ] {
        assert!(page.contains(said), "{said} in {page}");
    }
    // Ticked and planned again on the third evening, colder than it was: what went in is in.
    let ticks: Vec<&str> = values(&page, "name=\"did\" value=\"").into_iter().filter(|v| v.ends_with("n1") || v.ends_with("n2")).collect();
    assert!(!ticks.is_empty());
    let mut lows = LOWS;
    (lows[2].1, lows[3].1) = ("-14", "-15");
    let did: Vec<(&str, &str)> = ticks.iter().map(|tick| ("did", *tick)).collect();
    let again = [POTS, &lows, &[("s1_kind", kind.as_str()), ("from", "3")], &did].concat();
    let page = client.post("/cold-night", &again).await.expect(StatusCode::OK).body;
    assert!(page.contains("6 nights of cold") && page.contains("stays in the glass house"), "{page}");
    // Somebody else's shelter is none of theirs, and what they typed stays.
    let mut other = client.another();
    let refused = other.post("/cold-night", &asked).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(refused.contains("this shelter is not in your garden") && refused.contains("brown turkey"));
}

#[tokio::test]
async fn the_same_story_by_json() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    let glass = |name: &str, area: f64| json!({"name": name, "area_m2": area, "cover": "glass"});
    let reading = |date: &str, outside: f64, inside: f64| json!({"date": date, "outside_c": outside, "inside_c": inside});
    let house = json!({
        "parts": [glass("walls", 17.0), glass("roof", 9.3)], "volume_m3": 18.0, "air_changes_per_hour": 1.5, "floor_m2": 8.6,
        "heater_w": 1500, "thermostat_c": 4, "price_per_kwh": 0.3,
        "beside": {"shared_area_m2": 5.4, "shared_cover": "glass", "parts": [{"area_m2": 20.0, "cover": "film_single"}], "volume_m3": 12.0, "air_changes_per_hour": 2.0},
        "states": [
            {"name": "as bought", "readings": [reading("2026-01-03", -4.0, 4.0), reading("2026-01-05", -6.0, 2.4)]},
            {"name": "second skin", "since": "2026-01-10", "layers": [{"kind": "second_cover"}],
             "readings": [reading("2026-01-12", -5.0, 6.6), reading("2026-01-13", -7.0, 5.0)]},
        ],
    });
    let mut tonight = house.clone();
    tonight["outside_c"] = json!(-8);
    let alone = json(&mut client, "/api/v1/shelter", &tonight).await;
    let gain = &alone["gains"][0];
    let of = |key: &str| gain[key].as_f64().unwrap();
    assert!((of("difference_k") - 3.6).abs() < 1e-9);
    let (low, high) = (gain["interval_k"][0].as_f64().unwrap(), gain["interval_k"][1].as_f64().unwrap());
    assert!(low < 3.6 && high > 3.6 && of("predicted_k") > 0.0);
    let lows = [-5.0, -8.0, -11.0, -12.0, -12.0, -10.0, -6.0, 1.0];
    let nights: Vec<Value> = lows.iter().zip(14..).map(|(low, day)| json!({"minimum_c": low, "date": format!("2027-01-{day}")})).collect();
    let pots: Vec<Value> = (0..40)
        .map(|n| json!({"id": format!("p{n}"), "cultivar": if n % 2 == 0 { "celeste" } else { "brown-turkey" }, "container_l": if n < 20 { 15 } else { 25 }, "value": 20}))
        .collect();
    let mut question = json!({
        "nights": nights, "plants": pots, "places": [{"id": "house", "room_m2": 4, "shelter": house}], "minutes_available": 60,
    });
    let plan = json(&mut client, "/api/v1/cold-night", &question).await;
    let place = &plan["places"][0];
    assert_eq!(place["minima_c"].as_array().unwrap().len(), 8);
    assert!(place["heat"]["energy_kwh"][3].as_f64().unwrap() > place["heat"]["energy_kwh"][7].as_f64().unwrap());
    let gone_in: Vec<&Value> = plan["plan"].as_array().unwrap().iter().filter(|row| row["place"] == "house").collect();
    assert!(!gone_in.is_empty() && gone_in.iter().all(|row| row["until"].is_string()));
    assert!(plan["nights"].as_array().unwrap().iter().all(|night| night["minutes"].as_f64().unwrap() <= 60.0 + 1e-6));
    assert!(plan["heating_cost"].as_f64().is_some() && plan["gap"].as_f64().unwrap() < 0.1);
    // On the third evening it is colder than foretold, and what went in is in.
    question["from"] = json!("2027-01-16");
    question["nights"][2]["minimum_c"] = json!(-14);
    for plant in question["plants"].as_array_mut().unwrap() {
        if let Some(row) = gone_in.iter().find(|row| row["plant"] == plant["id"] && row["first_night"].as_u64() <= Some(2)) {
            plant["at"] = row["place"].clone();
            plant["at_since"] = json!(format!("2027-01-{}", 13 + row["first_night"].as_u64().unwrap()));
        }
    }
    let again = json(&mut client, "/api/v1/cold-night", &question).await;
    assert!(again["nights"][1]["over"].as_bool().unwrap() && !again["nights"][2]["over"].as_bool().unwrap());
    assert!(again["plan"].as_array().unwrap().iter().any(|row| row["at"] == "house"));
}

/// What a program is told: status and the words at a path.
async fn refused(client: &mut Client, address: &str, body: &Value, path: &str, said: &str) {
    let request = Request::builder()
        .method(Method::POST)
        .uri(address)
        .header("content-type", "application/json")
        .body(Body::from(body.to_string()))
        .unwrap();
    let answer = client.send(request).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    let problem: Value = serde_json::from_str(&answer.body).unwrap();
    let named = problem["errors"].as_array().unwrap().iter().find(|e| e["field"] == path);
    assert!(named.is_some_and(|e| e["message"].as_str().unwrap().contains(said)), "{path}: {said} in {problem}");
}

#[tokio::test]
async fn what_cannot_be_is_refused_by_its_path_and_by_its_field() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    let pot = json!([{"id": "a", "cultivar": "celeste", "container_l": 15}]);
    let nights = |rows: Value| json!({"nights": rows, "plants": pot});
    let night = |date: &str| json!({"minimum_c": -5, "date": date});
    let out_of_order = nights(json!([night("2027-01-14"), night("2027-01-13")]));
    refused(&mut client, "/api/v1/cold-night", &out_of_order, "nights[1].date", "2027-01-13").await;
    let missing = nights(json!([night("2027-01-14"), night("2027-01-16")]));
    refused(&mut client, "/api/v1/cold-night", &missing, "nights[1].date", "2027-01-16").await;
    refused(&mut client, "/api/v1/cold-night", &nights(json!(vec![json!({"minimum_c": -5}); 30])), "nights", "30 nights").await;
    let walls = json!([{"name": "walls", "area_m2": 22.0, "cover": "glass"}, {"name": "roof", "area_m2": 10.0, "cover": "glass"}]);
    let house = |more: Value| {
        let mut house = json!({"parts": walls, "heater_w": 1500, "outside_c": -8});
        house.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        house
    };
    let states = json!([{"name": "as bought"}, {"name": "second skin", "since": "2026-01-10", "layers": [{"kind": "second_cover"}],
        "readings": [{"date": "2026-01-05", "outside_c": -4, "inside_c": 6}]}]);
    refused(&mut client, "/api/v1/shelter", &house(json!({ "states": states })), "states[1].readings[0]", "before").await;
    let nowhere = json!([{"name": "as bought"}, {"name": "second skin", "since": "2026-01-10", "layers": [{"kind": "second_cover"}]}]);
    let stray = house(json!({"states": nowhere, "readings": [{"outside_c": -4, "inside_c": 6}]}));
    refused(&mut client, "/api/v1/shelter", &stray, "readings[0]", "belongs to no state").await;
    let wall = house(json!({"beside": {"shared_area_m2": 60, "shared_u_w_m2k": 6, "parts": [{"area_m2": 20, "u_w_m2k": 7}]}}));
    refused(&mut client, "/api/v1/shelter", &wall, "neighbour.shared_area_m2", "more").await;
    let tenant = json!({"night": {"minimum_c": -5}, "plants": [{"id": "a", "other": "peppers", "hurt_c": -6, "dead_c": -3}]});
    refused(&mut client, "/api/v1/cold-night", &tenant, "plants[0].dead_c", "cannot die").await;
    // The same on the pages: the words stand at the field, and what was typed stays.
    let peppers = [("t1_name", "peppers"), ("t1_hurt", "-6"), ("t1_dead", "-3"), ("t1_pot", "8")];
    let page = client.post("/cold-night", &[&[("scale", "c"), ("minimum", "-5")], &peppers[..]].concat()).await;
    let page = page.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(
        page.contains("t1_dead-wrong") && page.contains("cannot die at a warmer temperature") && page.contains("value=\"peppers\""),
        "{page}"
    );
    let half = [("scale", "c"), ("minimum", "-5"), ("t1_name", "greens"), ("t1_hurt", "-3")];
    let page = client.post("/cold-night", &half).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(page.contains("At which temperature does it die?") && page.contains("value=\"greens\""));
    let large = [
        ("scale", "c"),
        ("minimum", "-5"),
        ("t1_name", "citrus"),
        ("t1_hurt", "-2"),
        ("t1_dead", "-5"),
        ("t1_pot", "200"),
        ("t1_room", "12"),
    ];
    let room = [("s1_name", "garage"), ("s1_kind", "attached"), ("s1_room", "3")];
    let page = client.post("/cold-night", &[&large[..], &room].concat()).await.expect(StatusCode::OK).body;
    assert!(page.contains("fits nowhere: the largest place has 3.00 m²"), "{page}");
    let made_late = [
        ("scale", "c"),
        ("shape", "gable"),
        ("length", "3"),
        ("width", "2.4"),
        ("wall", "1.8"),
        ("top", "2.4"),
        ("minimum", "-8"),
        ("s1_what", "second"),
        ("s1_since", "2026-01-10"),
        ("r1_date", "2025-13-41"),
        ("r1_outside", "-4"),
        ("r1_inside", "3"),
    ];
    let page = client.post("/shelter", &made_late).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(page.contains("r1_date-wrong") && page.contains("value=\"2025-13-41\""), "{page}");
}
