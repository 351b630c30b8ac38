//! Places and shelters that a member keeps in the garden.

use axum::http::StatusCode;

use crate::support::client::{Client, PASSPHRASE};
use crate::support::on_both_engines;

const PLACE: [(&str, &str); 9] = [
    ("scale", "f"),
    ("minimum", "18"),
    ("p1_cultivar", "Celeste"),
    ("p1_pot", "5"),
    ("s1_name", "garage"),
    ("s1_kind", "attached"),
    ("s1_out1", "23"),
    ("s1_in1", "41"),
    ("keep_places", "yes"),
];

const SHELTER: [(&str, &str); 11] = [
    ("scale", "c"),
    ("shape", "gable"),
    ("length", "3"),
    ("width", "2.4"),
    ("wall", "1.8"),
    ("top", "2.4"),
    ("wall_cover", "glass"),
    ("roof_cover", "glass"),
    ("heater", "1500"),
    ("minimum", "-8"),
    ("keep_as", "the glass one"),
];

/// The value of a form's field as a page shows it.
fn value(page: &str, name: &str) -> String {
    let field = page.split("<input").find(|field| field.contains(&format!("name=\"{name}\""))).unwrap_or_else(|| panic!("no field {name}"));
    field.split("value=\"").nth(1).map_or(String::new(), |rest| rest.split('"').next().unwrap().to_owned())
}

/// The answer's first words: the lowest temperature inside and its range.
fn lead(page: &str) -> String {
    page.split("class=\"lead\">").nth(1).unwrap().split("</p>").next().unwrap().to_owned()
}

on_both_engines! {
    async fn a_place_is_kept_with_its_readings_and_stands_in_the_next_form(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        // Without an account the night is planned and nothing kept.
        client.post("/cold-night", &PLACE).await.expect(StatusCode::OK);
        client.join("fig grower").await;
        assert!(client.get("/garden").await.body.contains("None kept yet"));
        client.post("/cold-night", &PLACE).await.expect(StatusCode::OK);
        let page = client.get("/cold-night").await.body;
        assert_eq!((value(&page, "s1_name"), value(&page, "s1_room")), ("garage".to_owned(), String::new()));
        // In the scale of a reader who has not chosen, whatever it was typed in.
        assert_eq!(["scale", "s1_out1", "s1_in1"].map(|name| value(&page, name)), ["c", "-5", "5"]);
        assert!(client.get("/garden").await.body.contains("garage</strong>, place for a cold night; one reading"));
        // Another night's reading takes the place of what was kept, not a second place.
        let more = [PLACE.as_slice(), &[("s1_out2", "14"), ("s1_in2", "39")]].concat();
        client.post("/cold-night", &more).await.expect(StatusCode::OK);
        let garden = client.get("/garden").await.body;
        assert!(garden.contains("2 readings") && garden.matches("place for a cold night").count() == 1, "{garden}");
        // Nobody else sees it, and it goes for good.
        let id = garden.split("name=\"setup\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
        let mut other = client.another();
        other.join("another grower").await;
        assert_eq!(value(&other.get("/cold-night").await.body, "s1_name"), "");
        other.post("/garden/setups/delete", &[("setup", &id)]).await.expect(StatusCode::NOT_FOUND);
        assert!(client.get("/account/mine.json").await.body.contains("\"garage\""));
        client.post("/garden/setups/delete", &[("setup", &id)]).await.expect(StatusCode::SEE_OTHER);
        assert!(client.get("/garden").await.body.contains("None kept yet"));
    }

    async fn what_the_own_thermometer_said_moves_the_next_plan_and_begins_a_report(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fig grower").await;
        let night = [("scale", "c"), ("minimum", "-6"), ("p1_cultivar", "Celeste"), ("p1_grows", "ground")];
        let before = client.post("/cold-night", &night).await.expect(StatusCode::OK).body;
        let forecast = value(&before, "forecast_c");
        assert_eq!(forecast, "-6.00");
        let said = [("forecast_c", forecast.as_str()), ("coldest", "−9,5"), ("coldest_unit", "c")];
        let on = client.post("/cold-night/measured", &said).await.expect(StatusCode::SEE_OTHER);
        assert_eq!(on.location(), "/reports/new?coldest=-9.5&coldest_unit=c");
        assert_eq!(value(&client.get(on.location()).await.body, "coldest"), "-9.5");
        let form = client.get("/cold-night").await.body;
        assert_eq!([value(&form, "log1_forecast"), value(&form, "log1_measured")], ["-6", "-9.5"]);
        assert!(client.get("/garden").await.body.contains("own thermometer</strong>, beside the forecast; one reading"));
        let again = [night.as_slice(), &[("log1_forecast", "-6"), ("log1_measured", "-9.5")]].concat();
        let after = client.post("/cold-night", &again).await.expect(StatusCode::OK).body;
        assert_ne!(lead(&before), lead(&after), "the plan starts from the own offset");
        client.post("/cold-night/measured", &[("forecast_c", "-6"), ("coldest", "")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    }

    async fn a_shelter_is_kept_and_a_later_reading_narrows_what_it_holds(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fig grower").await;
        let before = client.post("/shelter", &SHELTER).await.expect(StatusCode::OK).body;
        let page = client.get("/shelter").await.body;
        let address = page.split("href=\"/shelter?kept=").nth(1).unwrap().split('"').next().unwrap();
        let address = format!("/shelter?kept={address}");
        let kept = client.get(&address).await.expect(StatusCode::OK).body;
        assert_eq!((value(&kept, "length"), value(&kept, "keep_as")), ("3".to_owned(), "the glass one".to_owned()));
        let read = [SHELTER.as_slice(), &[("r1_outside", "-4"), ("r1_inside", "3"), ("r1_heater", "1500")]].concat();
        let after = client.post("/shelter", &read).await.expect(StatusCode::OK).body;
        assert_ne!(lead(&before), lead(&after));
        assert_eq!(value(&client.get(&address).await.body, "r1_inside"), "3", "the same shelter, with its reading");
        assert!(client.get("/garden").await.body.contains("the glass one</a>, shelter; one reading"));
        client.another().get(&address).await.expect(StatusCode::NOT_FOUND);
        // One too many is refused, and what was typed stays.
        for n in 2..=6 {
            let named: Vec<_> = SHELTER.iter().map(|(k, v)| if *k == "keep_as" { (*k, format!("house {n}")) } else { (*k, (*v).to_owned()) }).collect();
            let named: Vec<(&str, &str)> = named.iter().map(|(k, v)| (*k, v.as_str())).collect();
            client.post("/shelter", &named).await.expect(StatusCode::OK);
        }
        let seventh: Vec<(&str, &str)> = SHELTER.iter().map(|(k, v)| if *k == "keep_as" { (*k, "house 7") } else { (*k, *v) }).collect();
        let refused = client.post("/shelter", &seventh).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(refused.contains("you keep 6 already") && value(&refused, "keep_as") == "house 7");
        // Gone with the member.
        let leave = [("records", "keep"), ("leave_passphrase", PASSPHRASE)];
        client.post("/account/leave", &leave).await.expect(StatusCode::SEE_OTHER);
        client.get(&address).await.expect(StatusCode::NOT_FOUND);
    }
}
