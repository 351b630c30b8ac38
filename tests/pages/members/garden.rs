//! The garden: a winter of all of it in one list, and changing a plant.

use axum::http::StatusCode;
use scraper::{Html, Selector};
use serde_json::Value;
use winterfig::records::{Flag, Report, ReviewState, Role};

use crate::support::client::{Client, REPORT, report_with};
use crate::support::members::{decided, joined};
use crate::support::{TestDatabase, on_both_engines};

const NEW_YEAR: [(&str, &str); 8] = [
    ("winter", "2024/25"),
    ("looked_day", "20"),
    ("looked_month", "5"),
    ("looked_year", "2025"),
    ("cover", "none"),
    ("coldest", "-8"),
    ("coldest_unit", "c"),
    ("thermometer", "in_garden"),
];

/// Ids of the plants in a garden's page.
fn plants(page: &str) -> Vec<String> {
    let mut ids: Vec<String> =
        page.split("href=\"/garden/plants/").skip(1).map(|rest| rest.split('"').next().unwrap().to_owned()).collect();
    ids.dedup();
    ids
}

fn list<'a>(rows: &'a [(String, String)], nonce: &'a str) -> Vec<(&'a str, &'a str)> {
    let shared = NEW_YEAR.iter().copied().chain([("nonce", nonce)]);
    shared.chain(rows.iter().map(|(k, v)| (k.as_str(), v.as_str()))).collect()
}

async fn garden_of_two(client: &mut Client) -> Vec<String> {
    client.join("fig grower").await;
    assert!(client.get("/garden/winter").await.body.contains("No living plant here yet"));
    for place in ["by the mill", "by the weir"] {
        let report: Vec<(&str, &str)> = REPORT.iter().map(|(k, v)| if *k == "place" { (*k, place) } else { (*k, *v) }).collect();
        client.post("/reports/new", &report).await.expect(StatusCode::SEE_OTHER);
    }
    plants(&client.get("/garden").await.body)
}

on_both_engines! {
    async fn a_list_is_kept_whole_once_and_marked_as_complete(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        let ids = garden_of_two(&mut client).await;
        assert_eq!(ids.len(), 2);
        let nonce = uuid::Uuid::now_v7().to_string();
        let row = |id: &str, name: &str, value: &str| (format!("{id}_{name}"), value.to_owned());
        // One row says nothing of its top: nothing is kept, the row is named, and what was typed stays.
        let half = [row(&ids[0], "top", "none"), row(&ids[0], "vitality", "alive"), row(&ids[1], "vitality", "uncertain")];
        let page = client.post("/garden/winter", &list(&half, &nonce)).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(page.contains(&format!("id=\"{}_top-wrong\"", ids[1])), "{page}");
        assert!(page.contains("value=\"-8\"") && page.contains("<option value=\"uncertain\" selected>"));
        assert_eq!(store.waiting_count().await.unwrap(), 2);
        // Whole: both are kept, the second with a cover of its own.
        let whole = [half.as_slice(), &[row(&ids[1], "top", "not_looked"), row(&ids[1], "cover", "mulch")]].concat();
        let sent = client.post("/garden/winter", &list(&whole, &nonce)).await.expect(StatusCode::SEE_OTHER);
        assert!(client.get(sent.location()).await.body.contains("The list is kept"));
        let reports: Vec<Report> = store.waiting(10).await.unwrap();
        let of_winter: Vec<&Report> = reports.iter().filter(|r| r.record.winter.to_string() == "2024/25").collect();
        assert_eq!(of_winter.len(), 2);
        assert!(of_winter.iter().all(|r| r.record.complete_list && r.record.coldest.is_some()));
        let covers: std::collections::BTreeSet<&str> = of_winter.iter().map(|r| r.record.cover.word()).collect();
        assert_eq!(covers.into_iter().collect::<Vec<_>>(), ["mulch", "none"]);
        // The same list again, as a browser that lost the answer sends it: nothing doubled.
        client.post("/garden/winter", &list(&whole, &nonce)).await.expect(StatusCode::SEE_OTHER);
        assert_eq!(store.waiting_count().await.unwrap(), 4);
        // The key with another list: nothing of it is kept.
        let other = [whole.as_slice(), &[row(&ids[0], "regrew", "old_wood")]].concat();
        client.post("/garden/winter", &list(&other, &nonce)).await.expect(StatusCode::CONFLICT);
        assert_eq!(store.waiting_count().await.unwrap(), 4);
    }

    async fn a_plant_is_changed_and_a_change_from_an_older_state_shows_both(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        let ids = garden_of_two(&mut client).await;
        let address = format!("/garden/plants/{}/edit", ids[0]);
        let form = client.get(&address).await.expect(StatusCode::OK).body;
        let from = form.split("name=\"from\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
        let as_of = |from: &str, name: &str, year: &str| {
            let fields = [("from", from), ("name", name), ("place", "by the mill"), ("planted", year), ("culture", "ground")];
            fields.map(|(k, v)| (k.to_owned(), v.to_owned()))
        };
        let borrowed = |fields: &[(String, String)]| fields.iter().map(|(k, v)| (k.clone(), v.clone())).collect::<Vec<_>>();
        let send = async |client: &mut Client, fields: Vec<(String, String)>| {
            let fields: Vec<(&str, &str)> = fields.iter().map(|(k, v)| (k.as_str(), v.as_str())).collect();
            client.post(&address, &fields).await
        };
        let wrong = send(&mut client, borrowed(&as_of(&from, "Celeste", "next year"))).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(wrong.contains("value=\"next year\"") && wrong.contains("has-error"));
        send(&mut client, borrowed(&as_of(&from, "Brown Turkey", "2019"))).await.expect(StatusCode::SEE_OTHER);
        assert!(client.get(&format!("/garden/plants/{}", ids[0])).await.body.contains("Brown Turkey, in the ground since 2019"));
        // The other window still has the old state.
        let both = send(&mut client, borrowed(&as_of(&from, "Alma", "2018"))).await.expect(StatusCode::CONFLICT).body;
        assert!(both.contains("changed meanwhile") && both.contains("<dd>Brown Turkey</dd>") && both.contains("value=\"Alma\""), "{both}");
        let now = both.split("name=\"from\" value=\"").nth(1).unwrap().split('"').next().unwrap().to_owned();
        send(&mut client, borrowed(&as_of(&now, "Alma", "2018"))).await.expect(StatusCode::SEE_OTHER);
        // What was said before is shown to its owner, goes with everything of theirs, and to stewards without the point.
        let page = client.get(&format!("/garden/plants/{}", ids[0])).await.body;
        assert!(page.contains("Name of the fig, “Brown Turkey”, now “Alma”") && page.contains("“Celeste”, now “Brown Turkey”"), "{page}");
        let mine: serde_json::Value = serde_json::from_str(&client.get("/account/mine.json").await.body).unwrap();
        let plant = mine["plants"].as_array().unwrap().iter().find(|plant| plant["id"] == ids[0].as_str()).unwrap();
        let names: Vec<&str> = (0..2).map(|n| plant["earlier"][n]["answers"][0][1].as_str().unwrap()).collect();
        assert_eq!(names, ["Celeste", "Brown Turkey"]);
        assert_eq!(mine["known_devices"].as_array().unwrap().len(), 1);
        let mut steward = client.another();
        steward.join("judge").await;
        let judge = store.members().await.unwrap().into_iter().find(|member| member.handle.to_string() == "judge").unwrap();
        store.change_role(judge.id, Role::Steward).await.unwrap();
        let report = store.waiting(10).await.unwrap().into_iter().find(|report| report.plant.id.to_string() == ids[0]).unwrap();
        let case = steward.get(&format!("/review/{}", report.id)).await.expect(StatusCode::OK).body;
        assert!(case.contains("“Brown Turkey”, now “Alma”") && !case.contains("Latitude, “"), "{case}");
        // Another member finds nothing there.
        let mut other = client.another();
        other.join("another grower").await;
        other.get(&address).await.expect(StatusCode::NOT_FOUND);
        assert_eq!(send(&mut other, borrowed(&as_of(&now, "Alma", "2018"))).await.status, StatusCode::NOT_FOUND);
    }

    async fn a_name_that_is_not_in_the_catalogue_is_offered_the_nearest_and_one_tap_takes_it(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fern").await;
        let report = client.post("/reports/new", &report_with(&[("name", "brown turky")])).await.expect(StatusCode::SEE_OTHER);
        let page = client.get(report.location()).await.body;
        assert!(page.contains("Not a name of the catalogue") && page.contains("It is Brown Turkey"), "{page}");
        let sent = store.waiting(1).await.unwrap().remove(0);
        let plant = sent.plant.clone();
        assert!(sent.flags.iter().any(|flagged| flagged.flag == Flag::NameUnknown));
        // A steward took it as it was.
        let steward = joined(&*store, "judge", Role::Steward).await;
        decided(&*store, &sent, &steward, ReviewState::Accepted).await;
        let address = format!("/garden/plants/{}/name", plant.id);
        assert!(page.contains(&format!("action=\"{address}\"")));
        // A fig that there is none of, and the plant of another, are left alone.
        client.post(&address, &[("cultivar", "no-such-fig")]).await.expect(StatusCode::NOT_FOUND);
        let mut other = client.another();
        other.join("moss").await;
        other.post(&address, &[("cultivar", "brown-turkey")]).await.expect(StatusCode::NOT_FOUND);
        assert_eq!(store.plant(plant.id).await.unwrap().unwrap(), plant);
        let named = client.post(&address, &[("cultivar", "brown-turkey"), ("back", report.location())]).await.expect(StatusCode::SEE_OTHER);
        assert_eq!(named.location(), report.location());
        // Under another name it is another report: it waits again, and the flag of the name is gone.
        let again = store.report(sent.id).await.unwrap().unwrap();
        assert_eq!(again.state, ReviewState::Waiting);
        assert!(again.flags.iter().all(|flagged| flagged.flag != Flag::NameUnknown), "{:?}", again.flags);
        assert_eq!(store.withdrawn_reports().await.unwrap().len(), 1);
        let page = client.get(report.location()).await.body;
        assert!(page.contains("href=\"/cultivars/brown-turkey\"") && page.contains("Beside the model") && !page.contains("It is Brown"), "{page}");
        assert!(client.get(&format!("/garden/plants/{}", plant.id)).await.body.contains("“brown turky”, now “Brown Turkey”"));
    }

    async fn what_others_will_see_is_shown_before_and_is_what_they_see(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fern").await;
        let sent = client.post("/reports/new", &report_with(&[("culture", "container"), ("container_l", "40")])).await.expect(StatusCode::SEE_OTHER);
        let page = client.get(sent.location()).await.body;
        let shown = page.split("What others see of it, once it is taken").nth(1).unwrap().split("</details>").next().unwrap().to_owned();
        assert!(!shown.contains("by the mill") && !shown.contains("behind the shed") && !shown.contains("44.17") && !shown.contains("fern"), "{shown}");
        assert!(shown.contains("the square of 0.1°"), "{shown}");
        let preview: Vec<(String, String)> = {
            let page = Html::parse_fragment(&shown);
            let texts = |css: &str| page.select(&Selector::parse(css).unwrap()).map(|e| e.text().collect()).collect::<Vec<String>>();
            texts("dt").into_iter().zip(texts("dd")).collect()
        };
        assert!(preview.len() > 15, "{preview:?}");

        let steward = joined(&*store, "judge", Role::Steward).await;
        decided(&*store, &store.waiting(1).await.unwrap()[0], &steward, ReviewState::Accepted).await;
        let public: Value = serde_json::from_str(&client.another().get("/api/v1/reports").await.expect(StatusCode::OK).body).unwrap();
        let row = &public["reports"][0];
        for (field, value) in preview.iter().filter(|(field, _)| field != "review") {
            let published = [&row[field], &row["plant"][field]].into_iter().find(|value| !value.is_null()).unwrap_or_else(|| panic!("{field}"));
            assert_eq!(published.as_str().map_or_else(|| published.to_string(), str::to_owned), *value, "{field}");
        }
        // Nothing but the place is public that was not shown.
        let place = ["latitude", "longitude", "coordinate_precision", "coordinate_uncertainty_m", "geodetic_datum", "data_generalizations", "plant"];
        for (field, value) in row.as_object().unwrap().iter().chain(row["plant"].as_object().unwrap()) {
            let empty = value.is_null() || value == "";
            assert!(empty || place.contains(&field.as_str()) || preview.iter().any(|(shown, _)| shown == field), "{field}: {value}");
        }
    }
}

// Identifiers are arguments: two services with the same seed, clock and requests give the same addresses.
#[tokio::test]
async fn the_same_requests_at_the_same_moment_are_given_the_same_ids() {
    use winterfig::ids::Ids;
    let sent = async || {
        let database = TestDatabase::sqlite();
        let store = database.open().await;
        let snapshot = winterfig::model::snapshot::Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
        let clock = std::sync::Arc::new(winterfig::clock::FixedClock("2026-06-20T10:00:00Z".parse().unwrap()));
        let state = winterfig::web::AppState::new(snapshot, std::sync::Arc::clone(&store), clock).with_ids(&Ids::seeded(7));
        let mut client = Client::over(winterfig::routes::router(state));
        client.join("fern").await;
        let nonce = "01970000-0000-7000-8000-000000000001";
        let form: Vec<(&str, &str)> = REPORT.iter().copied().chain([("nonce", nonce)]).collect();
        client.post("/reports/new", &form).await.expect(StatusCode::SEE_OTHER).location().to_owned()
    };
    let (one, other) = (sent().await, sent().await);
    assert!(one.starts_with("/reports/"), "{one}");
    assert_eq!(one, other);
}
