//! The pages and calls for a cold night and a shelter, through the router that the binary uses: answers by selector, errors by field.

use axum::http::StatusCode;
use scraper::{Html, Selector};
use serde_json::json;

use crate::support::client::{Client, scale_switch, text, texts, value};

async fn visitor() -> Client {
    Client::at("2026-12-20T20:00:00Z").await
}

/// Twelve plants, two places, a forecast: invented.
const TWELVE: &[(&str, &str)] = &[
    ("scale", "c"),
    ("minimum", "-8"),
    ("kind", "clear_still"),
    ("minutes", "75"),
    ("rows", "3"),
    ("p1_cultivar", "Celeste"),
    ("p1_count", "6"),
    ("p1_pot", "15"),
    ("p1_years", "2"),
    ("p1_stage", "leaves_down"),
    ("p2_cultivar", "brown turkey"),
    ("p2_count", "5"),
    ("p2_pot", "40"),
    ("p2_years", "4"),
    ("p3_cultivar", "unknown"),
    ("p3_grows", "ground"),
    ("p3_years", "1"),
    ("p3_stage", "in_leaf"),
    ("s1_name", "garage"),
    ("s1_kind", "attached"),
    ("s1_room", "1"),
    ("s2_name", "glasshouse"),
    ("s2_kind", "heated"),
    ("s2_min", "3"),
    ("s2_room", "0,3"),
    ("cover_quilt", "1"),
];

#[tokio::test]
async fn twelve_plants_two_places_and_a_forecast_give_a_list_to_tick_off() {
    let mut client = visitor().await;
    let (status, page) = client.post("/cold-night", TWELVE).await.read();
    assert_eq!(status, StatusCode::OK);
    assert_eq!(text(&page, "h1"), "Tonight, −8 °C · 18 °F");
    let tasks = texts(&page, "ol.tonight > li");
    assert!(!tasks.is_empty() && texts(&page, "ol.tonight input[type=checkbox]").len() == tasks.len());
    // The one in the ground and in leaf cannot be carried; the quilt is for it.
    assert!(tasks.iter().any(|t| t.contains("unknown fig, in the ground") && t.contains("quilt")), "{tasks:?}");
    assert!(tasks.iter().any(|t| t.contains("Celeste, 15 L pot")), "{tasks:?}");
    assert!(text(&page, ".lead").contains("of your 75") && text(&page, "main").contains("carbon monoxide"));
    // No evening was typed: paper says when it was planned.
    assert!(text(&page, "main").contains("Planned on 2026-12-20 (UTC)."));
    // What was typed is still there, to change something.
    assert_eq!(value(&page, "p1_cultivar"), "Celeste");
    assert_eq!(value(&page, "s2_room"), "0,3");
    // The picture has its numbers beside it.
    assert!(texts(&page, "figure svg title").len() == 1 && texts(&page, "figure + details table tbody tr").len() > 8);
}

#[tokio::test]
async fn an_unknown_fig_and_a_missing_forecast_are_named_and_nothing_typed_is_lost() {
    let mut client = visitor().await;
    let (status, page) = client
        .post("/cold-night", &[("scale", "c"), ("rows", "3"), ("p2_cultivar", "celeste"), ("p2_pot", "15"), ("p2_count", "some")])
        .await
        .read();
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(texts(&page, ".error-summary li").len(), 2, "{}", text(&page, ".error-summary"));
    assert_eq!(value(&page, "p2_count"), "some");
    let typed = [("scale", "c"), ("minimum", "-5"), ("p1_cultivar", "no such fig"), ("p1_count", "9")];
    let (status, page) = client.post("/cold-night", &typed).await.read();
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&page, "#p1_grows-wrong").contains("ground or in a pot"), "a blank pot is asked for");
    let (status, page) = client.post("/cold-night", &[&typed[..], &[("p1_grows", "pot")]].concat()).await.read();
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&page, "#p1_pot-wrong").contains("How large"));
    let (status, page) = client.post("/cold-night", &[&typed[..], &[("p1_grows", "ground")]].concat()).await.read();
    assert_eq!(status, StatusCode::OK);
    assert!(text(&page, "main").contains("“no such fig” is not in the catalogue, so it is planned as a fig of unknown kind"));
}

#[tokio::test]
async fn more_rows_keep_what_was_typed() {
    let mut client = visitor().await;
    let (status, page) =
        client.post("/cold-night", &[("scale", "c"), ("rows", "3"), ("more", "plants"), ("p3_cultivar", "celeste")]).await.read();
    assert_eq!(status, StatusCode::OK);
    assert_eq!(value(&page, "p3_cultivar"), "celeste");
    assert_eq!(value(&page, "p6_cultivar"), "");
}

#[tokio::test]
async fn a_form_in_fahrenheit_is_read_in_fahrenheit() {
    let mut client = visitor().await;
    let (_, page) =
        client.post("/cold-night", &[("scale", "f"), ("minimum", "18"), ("p1_cultivar", "celeste"), ("p1_pot", "4")]).await.read();
    assert!(text(&page, "h1").contains("18 °F"), "{}", text(&page, "h1"));
    assert!(text(&page, "main").contains("Celeste, 15 L pot"));
}

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
    ("hold", "3"),
    ("price", "0.3"),
];

#[tokio::test]
async fn a_shelter_shows_what_it_holds_what_changes_gain_and_the_cautions() {
    let mut client = visitor().await;
    let (status, page) = client.post("/shelter", HOUSE).await.read();
    assert_eq!(status, StatusCode::OK);
    assert!(text(&page, ".lead").starts_with("Lowest inside about"), "{}", text(&page, ".lead"));
    let changes = texts(&page, "table tr.together th");
    assert_eq!(changes, ["all together"]);
    assert!(text(&page, "main").contains("earth-leakage") && text(&page, "main").contains("licensed"));
    assert_eq!(value(&page, "length"), "3.6");
}

#[tokio::test]
async fn a_reading_typed_in_narrows_the_range_on_the_page() {
    let mut client = visitor().await;
    let range = |page: &Html| -> f64 {
        let said = text(page, ".lead");
        let c = said.split(" at ").nth(1).unwrap().split(" °C").next().unwrap().replace('−', "-");
        let (low, high) = c.split_once(" to ").unwrap();
        high.parse::<f64>().unwrap() - low.parse::<f64>().unwrap()
    };
    let (_, before) = client.post("/shelter", HOUSE).await.read();
    let readings =
        [("r1_outside", "-4"), ("r1_inside", "2"), ("r2_outside", "-7"), ("r2_inside", "-1"), ("r3_outside", "-2"), ("r3_inside", "4")];
    let (_, after) = client.post("/shelter", &[HOUSE, &readings].concat()).await.read();
    assert!(range(&after) < range(&before), "{} {}", range(&after), range(&before));
    let contradictory = [("r1_outside", "-4"), ("r1_inside", "-9")];
    let (status, page) = client.post("/shelter", &[HOUSE, &contradictory].concat()).await.read();
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&page, "#r1_inside-wrong").contains("contradict"));
}

#[tokio::test]
async fn both_pages_stand_in_the_navigation_and_the_invented_examples_say_so() {
    let mut client = visitor().await;
    for address in ["/cold-night", "/shelter"] {
        let (status, page) = client.get(address).await.read();
        assert_eq!(status, StatusCode::OK);
        assert_eq!(texts(&page, "h1").len(), 1);
        assert!(page.html().contains(&format!("href=\"{address}\"")), "{address}");
        let (status, page) = client.get(&format!("{address}?example=1")).await.read();
        assert_eq!(status, StatusCode::OK);
        assert!(text(&page, ".note").contains("invented"));
    }
}

#[tokio::test]
async fn the_calls_answer_in_json_and_refuse_by_path() {
    let mut client = visitor().await;
    let shelter = json!({"parts": [{"name": "skin", "area_m2": 15, "u_w_m2k": 2.7}], "outside_c": -10, "hold_c": 4});
    let (status, answer) = client.call("/api/v1/shelter", &shelter).await;
    assert_eq!((status, answer["heater_needed_w"].as_f64()), (StatusCode::OK, Some(567.0)));
    let (status, problem) = client.call("/api/v1/shelter", &json!({"parts": [{"area_m2": 15, "u_w_m2k": -2}], "outside_c": -10})).await;
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(problem["errors"][0]["field"], "parts[0].u_w_m2k");
    let night = json!({"night": {"minimum_c": -7, "sd_k": 1.5, "kind": "clear_still"},
        "plants": [{"id": "a", "cultivar": "celeste", "container_l": 15, "years": 2, "stage": "leaves_down", "value": 1, "at": "open"}],
        "places": [{"id": "garage", "room_m2": 2, "inside_a_c": 4, "inside_b": 0.5, "sd_k": 1}], "covers": [], "minutes_available": 30});
    let (status, answer) = client.call("/api/v1/cold-night", &night).await;
    assert_eq!(status, StatusCode::OK);
    assert_eq!((&answer["order"], &answer["optimal"]), (&json!(["a"]), &json!(true)));
    let (status, problem) = client.call("/api/v1/cold-night", &json!({"night": {"minimum_c": -7, "wind": 3}, "plants": []})).await;
    assert_eq!((status, problem["errors"][0]["field"].as_str()), (StatusCode::UNPROCESSABLE_ENTITY, Some("night.wind")));
}

/// A house changed on 10 January, read on two nights before and two after.
const CHANGED: &[(&str, &str)] = &[
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
];

#[tokio::test]
async fn a_change_with_readings_before_and_after_gives_its_gain_and_interval_on_the_page() {
    let mut client = visitor().await;
    let (status, page) = client.post("/shelter", &[HOUSE, CHANGED].concat()).await.read();
    assert_eq!(status, StatusCode::OK, "{}", text(&page, "main"));
    let said = text(&page, "main");
    // Means of 8 and 8.4, and of 11.6 and 12: 3.6 K or 6.5 °F.
    assert!(said.contains("What your changes gained") && (said.contains("3.6 K") || said.contains("6.5 °F")), "{said}");
    // Without its date a reading belongs nowhere, and everything typed stays.
    let undated: Vec<(&str, &str)> = CHANGED.iter().copied().filter(|(k, _)| *k != "r2_date").collect();
    let (status, page) = client.post("/shelter", &[HOUSE, &undated].concat()).await.read();
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&page, "#r2_date-wrong").contains("Which night"));
    assert_eq!((value(&page, "r4_inside"), value(&page, "s1_since")), ("5".to_owned(), "2026-01-10".to_owned()));
}

#[tokio::test]
async fn a_neighbour_with_more_wall_than_there_is_is_refused_and_a_fitting_one_answered_at_an_address() {
    let mut client = visitor().await;
    let hoop = [
        ("b_kind", "shelter"),
        ("b_wall_height", "1.8"),
        ("b_wall_cover", "film_single"),
        ("b_shape", "gable"),
        ("b_length", "3"),
        ("b_width", "2"),
        ("b_wall", "1.8"),
        ("b_top", "2.2"),
    ];
    let (status, page) = client.post("/shelter", &[HOUSE, &hoop, &[("b_wall_length", "30")]].concat()).await.read();
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(text(&page, "#b_wall_length-wrong").contains("more than there is"));
    assert_eq!(value(&page, "b_width"), "2");
    let priced = [("b_wall_length", "2"), ("p_second", "60"), ("p_bubble", "30"), ("c_second", "yes"), ("c_bubble", "yes")];
    let (status, page) = client.post("/shelter", &[HOUSE, &hoop, &priced].concat()).await.read();
    assert_eq!(status, StatusCode::OK, "{}", text(&page, "main"));
    let said = text(&page, "main");
    assert!(said.contains("Behind the shared wall") && said.contains("degrees for the money"), "{said}");
    assert!(said.contains("second skin, sealed + bubble lining"), "{said}");
    // The address gives the same answer.
    let link = Selector::parse("main a[href*='answer=1']").unwrap();
    let address = page.select(&link).next().unwrap().attr("href").unwrap().to_owned();
    let (status, again) = client.get(&address).await.read();
    assert_eq!(status, StatusCode::OK);
    assert_eq!(text(&again, ".lead"), text(&page, ".lead"));
}

/// Eight nights, forty pots, a heated house with a hoop house beside it: invented.
const EIGHT: &[(&str, &str)] = &[
    ("scale", "c"),
    ("date", "2027-01-14"),
    ("pasted", "3 / -5\n1 / -8\n-2 / -11 windy\n-3 / -12\n-3 / -12\n-2 / -10\n0 / -6 cloudy\n5 / 1 cloudy"),
    ("minutes", "60"),
    ("rows", "4"),
    ("p1_cultivar", "Celeste"),
    ("p1_count", "16"),
    ("p1_pot", "15"),
    ("p1_years", "3"),
    ("p2_cultivar", "brown turkey"),
    ("p2_count", "12"),
    ("p2_pot", "25"),
    ("p2_years", "4"),
    ("p3_cultivar", "unknown"),
    ("p3_count", "10"),
    ("p3_pot", "4"),
    ("p3_years", "1"),
    ("p3_stage", "leaves_down"),
    ("p4_cultivar", "Celeste"),
    ("p4_count", "2"),
    ("p4_pot", "40"),
    ("p4_years", "6"),
    ("s1_name", "house"),
    ("s1_kind", "heated"),
    ("s1_min", "4"),
    ("s1_room", "1.5"),
    ("s2_name", "hoop house"),
    ("s2_kind", "unheated_house"),
    ("s2_room", "3"),
    ("s2_out1", "-6"),
    ("s2_in1", "-1"),
    ("s2_out2", "-12"),
    ("s2_in2", "-6"),
    ("cover_fleece_heavy", "4"),
];

#[tokio::test]
async fn eight_nights_forty_pots_and_two_houses_give_one_page_that_says_when_and_until_when() {
    let mut client = visitor().await;
    let (status, page) = client.post("/cold-night", EIGHT).await.read();
    assert_eq!(status, StatusCode::OK, "{}", text(&page, ".error-summary"));
    assert!(text(&page, "h1").starts_with("8 nights of cold, down to −12 °C"), "{}", text(&page, "h1"));
    assert!(texts(&page, "h2.evening")[0].starts_with("Thursday 14 January"), "{:?}", texts(&page, "h2.evening"));
    let tasks = texts(&page, "ol.tonight li");
    assert!(tasks.iter().any(|t| t.contains("stays in until") && t.contains("noon")), "{tasks:?}");
    // Minutes a day, each within the hour there is.
    let rows = texts(&page, "[aria-label='The nights'] tbody tr");
    assert_eq!(rows.len(), 8);
    // What was pasted stands in rows now.
    assert_eq!(
        (value(&page, "minimum"), value(&page, "n4_min"), value(&page, "n8_max")),
        ("-5".to_owned(), "-12".to_owned(), "5".to_owned())
    );
}

#[tokio::test]
async fn ticked_and_planned_again_on_the_third_evening_what_went_in_is_in() {
    let mut client = visitor().await;
    let (_, first) = client.post("/cold-night", EIGHT).await.read();
    let ticks: Vec<String> = first
        .select(&Selector::parse("ol.tonight input[name=did]").unwrap())
        .filter_map(|e| e.attr("value"))
        .filter(|v| v.ends_with("n1") || v.ends_with("n2"))
        .map(str::to_owned)
        .collect();
    assert!(!ticks.is_empty());
    let again: Vec<(&str, &str)> = EIGHT.iter().copied().filter(|(k, _)| *k != "pasted").chain([("nights", "8"), ("from", "3")]).collect();
    let rows = [
        ("minimum", "-5"),
        ("n2_min", "-8"),
        ("n3_min", "-14"),
        ("n4_min", "-15"),
        ("n5_min", "-12"),
        ("n6_min", "-10"),
        ("n7_min", "-6"),
        ("n8_min", "1"),
    ];
    let did: Vec<(&str, &str)> = ticks.iter().map(|v| ("did", v.as_str())).collect();
    let (status, page) = client.post("/cold-night", &[&again[..], &rows[..], &did[..]].concat()).await.read();
    assert_eq!(status, StatusCode::OK, "{}", text(&page, ".error-summary"));
    assert!(text(&page, "h1").starts_with("6 nights of cold, down to −15 °C"), "{}", text(&page, "h1"));
    assert_eq!(texts(&page, "ul.done-list li").len(), ticks.len());
    assert_eq!(texts(&page, "ul.done-list input[checked]").len(), ticks.len());
    assert!(text(&page, "main").contains("stays in the"), "what is inside is said to stay");
}

#[tokio::test]
async fn pasted_nights_that_cannot_be_read_stay_as_pasted() {
    let mut client = visitor().await;
    let thirty = ["3 -8"; 30].join("\n");
    for (pasted, said) in [(thirty.as_str(), "30 nights"), ("3 -8\ncold", "line 2"), ("2027-01-14 3 -8\n2027-01-16 3 -8", "missing")] {
        let typed = [("scale", "c"), ("minimum", "-4"), ("p1_cultivar", "celeste"), ("p1_pot", "15"), ("pasted", pasted)];
        let (status, page) = client.post("/cold-night", &typed).await.read();
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(text(&page, "#pasted-wrong").contains(said), "{}", text(&page, "#pasted-wrong"));
        assert!(text(&page, "#pasted").contains("-8") && value(&page, "minimum") == "-4");
    }
}

#[tokio::test]
async fn what_each_cover_buys_stands_there_before_any_plan() {
    let mut client = visitor().await;
    let (_, page) = client.get("/cold-night").await.read();
    let rows = texts(&page, "#covers tbody tr");
    assert_eq!(rows.len(), 8);
    assert!(rows.iter().any(|r| r.starts_with("quilt") && r.contains("+3.0 ± 1.5") && r.contains("+1.5 ± 1.5")), "{rows:?}");
}

#[tokio::test]
async fn a_choice_of_scale_keeps_the_plan_and_everything_typed() {
    let mut client = visitor().await;
    let (_, page) = client.post("/cold-night", TWELVE).await.read();
    let (action, mut fields) = scale_switch(&page);
    fields.push(("temperature".to_owned(), "f".to_owned()));
    let fields: Vec<(&str, &str)> = fields.iter().map(|(k, v)| (k.as_str(), v.as_str())).collect();
    let answer = client.post(&action, &fields).await;
    assert!(answer.headers["set-cookie"].to_str().unwrap().starts_with("temperature=f"));
    let (status, turned) = answer.read();
    assert_eq!(status, StatusCode::OK);
    assert_eq!(text(&turned, "h1"), "Tonight, 18 °F · −8 °C");
    assert_eq!(texts(&turned, "ol.tonight > li").len(), texts(&page, "ol.tonight > li").len());
    for (name, typed) in TWELVE.iter().filter(|(name, _)| name.starts_with("p1_") && !name.ends_with("stage")) {
        assert_eq!(value(&turned, name), *typed, "{name}");
    }
    assert_eq!(value(&turned, "minimum"), "-8");
}

#[tokio::test]
async fn a_choice_of_scale_keeps_a_form_without_a_plan_and_one_that_was_refused() {
    let mut client = visitor().await;
    for (pairs, status, rows) in [
        (vec![("more", "plants"), ("scale", "c"), ("minimum", "-8"), ("rows", "3"), ("p1_cultivar", "Celeste")], StatusCode::OK, 6),
        (vec![("scale", "c"), ("minimum", "cold"), ("rows", "3"), ("p1_cultivar", "Celeste")], StatusCode::UNPROCESSABLE_ENTITY, 3),
    ] {
        let (_, page) = client.post("/cold-night", &pairs).await.read();
        let (action, mut fields) = scale_switch(&page);
        fields.push(("temperature".to_owned(), "f".to_owned()));
        let fields: Vec<(&str, &str)> = fields.iter().map(|(k, v)| (k.as_str(), v.as_str())).collect();
        let (now, turned) = client.post(&action, &fields).await.read();
        assert_eq!(now, status);
        assert_eq!(value(&turned, "p1_cultivar"), "Celeste");
        assert_eq!(value(&turned, "minimum"), pairs.iter().find(|(name, _)| *name == "minimum").unwrap().1);
        assert_eq!(texts(&turned, "[id^=fig-]").len(), rows);
        assert!(texts(&turned, ".scale button[aria-pressed=true]").contains(&"°F".to_owned()));
    }
}
