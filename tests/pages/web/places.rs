//! The place box where a night, a shelter or neighbours are asked for: what it fills in, what it compares, and what it says of words that name no
//! place.

use axum::http::StatusCode;
use winterfig::records::words::TopKilled;
use winterfig::records::{ReviewState, Role};

use super::House;
use crate::support::members::{decided, joined, record, submitted};

const FIG: [(&str, &str); 3] = [("scale", "c"), ("p1_cultivar", "Celeste"), ("p1_grows", "ground")];
const HOUSE: [(&str, &str); 9] = [
    ("scale", "c"),
    ("shape", "gable"),
    ("length", "3"),
    ("width", "2.4"),
    ("wall", "1.8"),
    ("top", "2.4"),
    ("heater", "1500"),
    ("thermostat", "5"),
    ("price", "0.3"),
];

#[tokio::test]
async fn a_town_stands_in_for_a_night_that_nobody_typed_and_says_how_usual_one_is() {
    let mut house = House::new().await;
    let page = house.client.post("/cold-night", &[&FIG[..], &[("place", "Graz, AT")]].concat()).await.expect(StatusCode::OK).body;
    assert!(page.contains("id=\"plan\"") && page.contains("For comparison: the coldest night of a winter in Graz"), "{page}");
    let page = house.client.post("/cold-night", &[&FIG[..], &[("place", "Graz, AT"), ("minimum", "-3")]].concat()).await.body;
    assert!(page.contains("to −3 °C or below") && page.contains("value=\"-3\""), "{page}");
    let wrong = [&FIG[..], &[("place", "Graz, Narnia"), ("minimum", "-3")]].concat();
    let page = house.client.post("/cold-night", &wrong).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(page.contains("is no country or region") && page.contains("Graz, Narnia") && page.contains("value=\"Celeste\""), "{page}");
}

#[tokio::test]
async fn a_town_gives_a_shelter_its_night_the_night_to_be_ready_for_and_the_cost_of_a_winter() {
    let mut house = House::new().await;
    let page = house.client.post("/shelter", &[&HOUSE[..], &[("place", "Graz, AT")]].concat()).await.expect(StatusCode::OK).body;
    for words in ["No night was given: this is the coldest of one winter in ten in Graz", "through the 365 days given", "kWh"] {
        assert!(page.contains(words), "{words}: {page}");
    }
    let page = house.client.post("/shelter", &HOUSE).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(page.contains("or say the town"), "{page}");
    let wrong = [&HOUSE[..], &[("place", "qqqqqq"), ("minimum", "-8")]].concat();
    let page = house.client.post("/shelter", &wrong).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    assert!(page.contains("no town “qqqqqq” is known") && page.contains("value=\"qqqqqq\""), "{page}");
}

#[tokio::test]
async fn where_few_live_near_what_met_the_same_cold_anywhere_is_told_by_kind() {
    let mut house = House::new().await;
    let grower = joined(&*house.store, "grower", Role::Member).await;
    let steward = joined(&*house.store, "judge", Role::Steward).await;
    let report = submitted(&*house.store, &grower, "celeste", record(-8.5, TopKilled::Tips)).await;
    decided(&*house.store, &report, &steward, ReviewState::Accepted).await;
    let page = house.client.get("/reports?place=Vienna,+AT").await.expect(StatusCode::OK).body;
    assert!(page.contains("Within 100 km of Vienna") && page.contains(": 0 reports."), "{page}");
    assert!(page.contains("anywhere: 1 report") && page.contains("What met the same cold, anywhere") && page.contains("Celeste"), "{page}");
}
