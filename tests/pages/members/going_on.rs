//! What is typed outlives the session it was typed in, without any script: a sign-in in between, and it goes on.

use axum::http::StatusCode;
use scraper::{Html, Selector};

use crate::support::TestDatabase;
use crate::support::client::{Client, PASSPHRASE, report_with};

/// Address and hidden fields of the one form on a page.
fn form(body: &str) -> (String, Vec<(String, String)>) {
    let html = Html::parse_document(body);
    let form = html.select(&Selector::parse("main form").unwrap()).next().unwrap();
    let attribute = |e: scraper::ElementRef<'_>, name| e.value().attr(name).unwrap_or_default().to_owned();
    let hidden = Selector::parse("input[type=hidden]").unwrap();
    (attribute(form, "action"), form.select(&hidden).map(|e| (attribute(e, "name"), attribute(e, "value"))).collect())
}

async fn send(client: &mut Client, form: (String, Vec<(String, String)>), more: &[(&str, &str)]) -> crate::support::client::Answer {
    let (address, hidden) = form;
    let mut pairs: Vec<(&str, &str)> = hidden.iter().map(|(k, v)| (k.as_str(), v.as_str())).collect();
    pairs.extend(more);
    client.post(&address, &pairs).await
}

#[tokio::test]
async fn a_change_typed_in_a_session_that_has_ended_is_kept_after_one_sign_in() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut grower = Client::new(&store).await;
    grower.join("fig grower").await;
    let report = grower.post("/reports/new", &report_with(&[])).await.expect(StatusCode::SEE_OTHER).location().to_owned();
    let change = format!("{}/change", report.split('?').next().unwrap());
    let words = "It was two metres, one is left. \"Quoted\" & more.";
    let typed = [
        ("version", "1"),
        ("winter", "2025/26"),
        ("looked", "2026-05-20"),
        ("top", "up_to_third"),
        ("vitality", "alive"),
        ("cover", "none"),
        ("why", words),
    ];
    grower.cookie = None;
    let asked = grower.post(&change, &typed).await.expect(StatusCode::UNAUTHORIZED).body;
    assert!(asked.contains("Nothing you typed is lost"), "{asked}");
    // A slip of the finger loses nothing either.
    let again = send(&mut grower, form(&asked), &[("handle", "fig grower"), ("passphrase", "not the right one at all")]).await;
    let again = again.expect(StatusCode::UNAUTHORIZED).body;
    assert!(again.contains("do not go together"));
    let back = send(&mut grower, form(&again), &[("handle", "fig grower"), ("passphrase", PASSPHRASE)]).await.expect(StatusCode::OK).body;
    assert!(back.contains("Send it now") && !back.contains(PASSPHRASE));
    let (to, fields) = form(&back);
    assert_eq!(to, change);
    assert_eq!(fields, typed.map(|(k, v)| (k.to_owned(), v.to_owned())));
    send(&mut grower, form(&back), &[]).await.expect(StatusCode::SEE_OTHER);
    let page = grower.get(report.split('?').next().unwrap()).await.expect(StatusCode::OK).body;
    assert!(page.contains("Up to a third of the height") && page.contains("It was two metres"));
}

#[tokio::test]
async fn a_report_of_a_plant_in_the_garden_keeps_its_plant_through_a_sign_in() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut grower = Client::new(&store).await;
    grower.join("fig grower").await;
    grower.post("/reports/new", &report_with(&[])).await.expect(StatusCode::SEE_OTHER);
    let member = store.sign_in_facts("fig grower").await.unwrap().unwrap().0;
    let plant = store.plants_of(member.id).await.unwrap()[0].id.to_string();
    let typed = [
        ("plant", plant.as_str()),
        ("winter", "2024/25"),
        ("looked", "2025-05-20"),
        ("top", "tips"),
        ("vitality", "alive"),
        ("cover", "none"),
    ];
    grower.cookie = None;
    let asked = grower.post("/reports/new", &typed).await.expect(StatusCode::UNAUTHORIZED).body;
    let back = send(&mut grower, form(&asked), &[("handle", "fig grower"), ("passphrase", PASSPHRASE)]).await.expect(StatusCode::OK).body;
    send(&mut grower, form(&back), &[]).await.expect(StatusCode::SEE_OTHER);
    assert_eq!(store.reports_of_plant(winterfig::records::PlantId(plant.parse().unwrap())).await.unwrap().len(), 2);
}

// HDR-11 (ASVS 3.7.2): the form that waited goes to no other site, and no passphrase waits with it.
#[tokio::test]
async fn what_waits_goes_nowhere_else_and_holds_no_passphrase() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut grower = Client::new(&store).await;
    grower.join("fig grower").await;
    for elsewhere in ["//evil.example/x", "https://evil.example", "/\\evil.example", "javascript:alert(1)"] {
        let pairs = [("to", elsewhere), ("kept.top", "none"), ("handle", "fig grower"), ("passphrase", PASSPHRASE)];
        let body = grower.another().post("/account/go-on", &pairs).await.expect(StatusCode::OK).body;
        assert_eq!(form(&body).0, "/", "{elsewhere}");
    }
    let asked = grower.another().post("/garden/winter", &[("winter", "2025/26"), ("passphrase", PASSPHRASE)]).await;
    let asked = asked.expect(StatusCode::UNAUTHORIZED).body;
    assert!(asked.contains("kept.winter") && !asked.contains(PASSPHRASE));
}
