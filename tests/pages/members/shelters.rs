//! Shelters that members publish with what their changes gained: sent, judged, shown, released, read back, withdrawn, forgotten.

use axum::http::StatusCode;
use winterfig::catalogue::Catalogue;
use winterfig::records::release::{self, BadPackage};
use winterfig::records::{ReviewState, Role};
use winterfig::store::Store;

use super::release::{file, zip};
use crate::support::client::{Client, PASSPHRASE};
use crate::support::members::moment;
use crate::support::{TestDatabase, on_both_engines};

/// A glass house, three nights before a second skin and three after: inside less outside 7.5, 7.7, 7.3 and 11.0, 10.8, 11.2 K.
const MEASURED: [(&str, &str); 37] = [
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
    ("keep_as", "canary house"),
    ("s1_what", "second"),
    ("s1_since", "2026-01-10"),
    ("r1_date", "2026-01-04"),
    ("r1_outside", "-4"),
    ("r1_inside", "3.5"),
    ("r1_heater", "1500"),
    ("r2_date", "2026-01-05"),
    ("r2_outside", "-5"),
    ("r2_inside", "2.7"),
    ("r2_heater", "1500"),
    ("r3_date", "2026-01-06"),
    ("r3_outside", "-3"),
    ("r3_inside", "4.3"),
    ("r3_heater", "1500"),
    ("r4_date", "2026-01-12"),
    ("r4_outside", "-4"),
    ("r4_inside", "7"),
    ("r4_heater", "1500"),
    ("r5_date", "2026-01-13"),
    ("r5_outside", "-6"),
    ("r5_inside", "4.8"),
    ("r5_heater", "1500"),
    ("r6_date", "2026-01-14"),
    ("r6_outside", "-2"),
    ("r6_inside", "9.2"),
    ("r6_heater", "1500"),
];

const SENT: [(&str, &str); 7] = [
    ("place", "by the mill"),
    ("latitude", "44.17"),
    ("longitude", "-12.23"),
    ("cost_1", "80.50"),
    ("currency", "eur"),
    ("words", "Film on battens, taped at the ridge."),
    ("publish", "grid"),
];

/// Keeps the measured shelter; the address that publishes it.
async fn kept(client: &mut Client, pairs: &[(&str, &str)]) -> String {
    client.post("/shelter", pairs).await.expect(StatusCode::OK);
    let garden = client.get("/garden").await.body;
    let id = garden.split("/shelters/new?setup=").nth(1).unwrap_or_else(|| panic!("{garden}"));
    id.split('"').next().unwrap().to_owned()
}

/// Publishes it; the id.
async fn sent(client: &mut Client, setup: &str) -> String {
    let pairs = [SENT.as_slice(), &[("setup", setup)]].concat();
    let answer = client.post("/shelters/new", &pairs).await.expect(StatusCode::SEE_OTHER);
    answer.location().trim_start_matches("/shelters/").split('?').next().unwrap().to_owned()
}

/// A signed-in steward.
async fn steward(client: &Client, store: &std::sync::Arc<dyn Store>) -> Client {
    let mut steward = client.another();
    steward.join("judge").await;
    let members = store.members().await.unwrap();
    let judge = members.iter().find(|m| m.handle.to_string() == "judge").unwrap();
    store.change_role(judge.id, Role::Steward).await.unwrap();
    steward.post("/account/sign-in", &[("handle", "judge"), ("passphrase", PASSPHRASE)]).await.expect(StatusCode::SEE_OTHER);
    steward
}

async fn taken(steward: &mut Client, id: &str) {
    let verdict = [("version", "1"), ("state", "taken"), ("reason", "plausible")];
    steward.post(&format!("/review/shelters/{id}"), &verdict).await.expect(StatusCode::SEE_OTHER);
}

on_both_engines! {
    async fn a_measured_shelter_is_seen_by_all_once_a_steward_has_taken_it(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        let empty = client.get("/shelters").await.expect(StatusCode::OK).body;
        assert!(empty.contains("Nobody has published a measured shelter yet"));
        client.join("canary grower").await;
        let setup = kept(&mut client, &MEASURED).await;
        let preview = client.get(&format!("/shelters/new?setup={setup}")).await.expect(StatusCode::OK).body;
        assert!(preview.contains("Second skin, sealed") && !preview.contains("canary house</h2>"), "{preview}");
        let id = sent(&mut client, &setup).await;
        let mut stranger = client.another();
        stranger.get(&format!("/shelters/{id}")).await.expect(StatusCode::NOT_FOUND);
        assert!(client.get(&format!("/shelters/{id}")).await.expect(StatusCode::OK).body.contains("waiting for review"));
        // Nobody judges their own, and only stewards judge.
        client.post(&format!("/review/shelters/{id}"), &[("state", "taken"), ("reason", "plausible")]).await.expect(StatusCode::NOT_FOUND);
        let mut judge = steward(&client, &store).await;
        assert!(judge.get("/review").await.body.contains("One shelter waits"));
        judge.post(&format!("/review/shelters/{id}"), &[("state", "set_aside"), ("reason", "other")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        // A suspended member's leave the queue, and are there again once it has ended.
        let office = winterfig::jobs::office::service::Office::new(std::sync::Arc::clone(&store), winterfig::ids::Ids::system());
        let member = || async { store.sign_in_facts("canary grower").await.unwrap().unwrap().0 };
        office.suspend(winterfig::records::Actor::Command, &member().await, "made up", moment(1)).await.unwrap();
        assert!(!judge.get("/review").await.body.contains("One shelter waits"));
        office.restore(winterfig::records::Actor::Command, &member().await, "believed", moment(2)).await.unwrap();
        assert!(judge.get("/review").await.body.contains("One shelter waits"));
        client.post("/account/sign-in", &[("handle", "canary grower"), ("passphrase", PASSPHRASE)]).await.expect(StatusCode::SEE_OTHER);
        taken(&mut judge, &id).await;
        assert!(store.office_log(None, 9).await.unwrap().iter().any(|line| line.entry.act.word() == "shelter_judged"));
        let page = stranger.get("/shelters").await.expect(StatusCode::OK).body;
        // The means differ by 11.0 − 7.5 K; the interval and the model stand beside it.
        for said in ["Second skin, sealed", "3.5 K", "80.50 EUR", "Film on battens", "3 and 3"] {
            assert!(page.contains(said), "{said} in {page}");
        }
        for canary in ["by the mill", "44.17", "12.23", "canary house"] {
            assert!(!page.contains(canary), "{canary}");
        }
        let json: serde_json::Value = serde_json::from_str(&stranger.get("/api/v1/shelters").await.expect(StatusCode::OK).body).unwrap();
        let kind = &json["kinds"][0];
        assert_eq!((kind["shelters"].as_u64(), kind["changes"][0].as_str()), (Some(1), Some("second")));
        let change = &json["shelters"][0]["changes"][0];
        let of = |key: &str| change[key].as_f64().unwrap();
        assert!((of("difference_k") - 3.5).abs() < 0.005);
        // Least squares with one spread for both states: 4 degrees of freedom, s² = 0.04, t = 2.132 (table of Student's t).
        let half = 2.132 * (0.04_f64 * (1.0 / 3.0 + 1.0 / 3.0)).sqrt();
        assert!(of("interval_high_k") - 3.5 >= half - 0.01 && 3.5 - of("interval_low_k") >= half - 0.01, "{change}");
        assert!(of("predicted_k") > 0.0);
        // Withdrawn again it is gone at once, and the list of the withdrawn says so.
        client.post(&format!("/shelters/{id}/withdraw"), &[]).await.expect(StatusCode::SEE_OTHER);
        assert!(stranger.get("/shelters").await.body.contains("Nobody has published"));
        assert!(file(&zip(&store).await, "withdrawn-shelters.csv").contains(&id));
    }

    async fn the_package_carries_shelters_and_another_database_reads_them(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("canary grower").await;
        let setup = kept(&mut client, &MEASURED).await;
        let id = sent(&mut client, &setup).await;
        taken(&mut steward(&client, &store).await, &id).await;
        let first = zip(&store).await;
        assert!(file(&first, "shelters.csv").contains(",a member,") && file(&first, "shelter-changes.csv").contains("second"));
        assert!(file(&first, "datapackage.json").contains("shelter-changes") && !file(&first, "shelters.csv").contains("44.17"));
        let other = TestDatabase::sqlite();
        let second = other.open().await;
        let package = release::read(&first, &Catalogue::embedded().unwrap()).unwrap();
        assert_eq!(package.shelters.len(), 1);
        assert!(second.import(&package, moment(1)).await.unwrap().is_empty());
        assert_eq!(zip(&second).await, first, "out, in and out again gives the same bytes");
        assert_eq!(second.import(&package, moment(1)).await.unwrap(), std::slice::from_ref(&id));
        // All of the member's own is in their file, and after they left nothing of it leads to them.
        let mine = client.get("/account/mine.json").await.body;
        assert!(mine.contains("Film on battens") && mine.contains("by the mill") && mine.contains("\"plausible\""));
        client.post("/account/leave", &[("records", "keep"), ("leave_passphrase", PASSPHRASE)]).await.expect(StatusCode::SEE_OTHER);
        let left = store.shelters_accepted().await.unwrap();
        let shelter = left.first().unwrap();
        assert!(left.len() == 1 && shelter.id.to_string() != id && shelter.reporter.is_none() && shelter.setup.is_none());
        assert!(shelter.content.words.is_none() && shelter.place.words.is_none());
        let after = zip(&store).await;
        assert!(file(&after, "withdrawn-shelters.csv").contains(&id) && file(&after, "shelters.csv").contains("a former member"));
        let versions = store.shelter_versions(shelter.id).await.unwrap();
        assert!(versions.iter().all(|(_, content, _)| content.words.is_none()));
    }
}

#[tokio::test]
async fn published_again_it_waits_again_and_takes_the_place_of_the_earlier_one() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    client.join("grower").await;
    let setup = kept(&mut client, &MEASURED).await;
    let id = sent(&mut client, &setup).await;
    let mut judge = steward(&client, &store).await;
    taken(&mut judge, &id).await;
    assert_eq!(sent(&mut client, &setup).await, id);
    let again = store.shelter_reports_of(store.shelters_waiting(9).await.unwrap()[0].reporter.unwrap()).await.unwrap();
    assert_eq!((again.len(), again[0].version, again[0].state), (1, 2, ReviewState::Waiting));
    assert!(client.another().get("/shelters").await.body.contains("Nobody has published"));
    // A verdict on the version before is refused.
    let old = [("version", "1"), ("state", "taken"), ("reason", "plausible")];
    assert_ne!(judge.post(&format!("/review/shelters/{id}"), &old).await.status, StatusCode::SEE_OTHER);
    // Gone with everything, where the member wants it so.
    client.post("/account/leave", &[("records", "remove"), ("leave_passphrase", PASSPHRASE)]).await.expect(StatusCode::SEE_OTHER);
    assert!(store.shelters_waiting(9).await.unwrap().is_empty());
    assert_eq!(store.withdrawn_shelters().await.unwrap().len(), 1);
}

#[tokio::test]
async fn what_is_missing_or_wrong_is_said_beside_its_field_and_stays() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    client.join("grower").await;
    let unmeasured: Vec<_> =
        MEASURED.iter().filter(|(k, _)| !k.starts_with("r4") && !k.starts_with("r5") && !k.starts_with("r6")).copied().collect();
    let setup = kept(&mut client, &unmeasured).await;
    let page = client.get(&format!("/shelters/new?setup={setup}")).await.expect(StatusCode::OK).body;
    assert!(page.contains("No change of this shelter is measured yet") && !page.contains("Send it to a steward"));
    client.post("/shelter", &MEASURED).await.expect(StatusCode::OK);
    let wrong = [("setup", setup.as_str()), ("cost_1", "eighty"), ("currency", "euros"), ("words", "=SUM(A1)")];
    let page = client.post("/shelters/new", &wrong).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
    for said in ["say roughly where", "“eighty” is not a number", "three letters", "may not begin with “=”", "value=\"euros\""] {
        assert!(page.contains(said), "{said} in {page}");
    }
    let mut other = client.another();
    other.join("another").await;
    other.get(&format!("/shelters/new?setup={setup}")).await.expect(StatusCode::NOT_FOUND);
    other.post("/shelters/019a0000-0000-7000-8000-000000000001/withdraw", &[]).await.expect(StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn rows_of_shelters_that_cannot_be_are_refused_by_their_line() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    client.join("grower").await;
    let setup = kept(&mut client, &MEASURED).await;
    let id = sent(&mut client, &setup).await;
    taken(&mut steward(&client, &store).await, &id).await;
    let package = zip(&store).await;
    for (name, from, to, said) in [
        ("shelters.csv", "glass", "cardboard", "there is no cover “cardboard”"),
        ("shelters.csv", ",taken,", ",waiting,", "only what was taken"),
        ("shelter-changes.csv", ",second,", ",moat,", "“moat” is not a change"),
        ("shelter-changes.csv", &id, "019a0000-0000-7000-8000-000000000001", "is not in shelters.csv"),
        ("shelter-changes.csv", ",EUR", ",euro", "not three capital letters"),
    ] {
        let changed = super::release::changed(&package, name, |text| text.replace(from, to));
        let Err(BadPackage::Rows(rows)) = release::read(&changed, &Catalogue::embedded().unwrap()) else { panic!("{said}: taken") };
        assert!(rows.iter().any(|row| row.file == name && row.line == 2 && row.reason.contains(said)), "{said} in {rows:?}");
    }
}
