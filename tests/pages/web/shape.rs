//! What grows with the reports and what may not: no page over 100 kB, whatever is asked of ten thousand reports, and of a garden of many plants and winters.
//!
//! Times are not looked at here; `cargo bench --bench million` prints them.

use axum::http::StatusCode;
use winterfig::records::words::TopKilled;
use winterfig::records::{ReportId, Winter};

use super::House;
use crate::support::members::{plant, record, submission};
use crate::support::reported::settle;

/// Enough that lists, kinds, squares and marks are many more than a page shows.
const REPORTS: usize = 10_000;
/// Largest page, bytes.
const LARGEST: usize = 100_000;
/// Plants of a garden, and winters of each: pages of it are several, and strips longer than are shown.
const PLANTS: usize = 50;
const WINTERS: i16 = 20;

#[tokio::test]
async fn no_page_grows_with_the_reports() {
    let mut house = House::new().await;
    let catalogue = house.store.catalogue().await.unwrap();
    settle(&*house.store, &catalogue, REPORTS).await;
    let first = house.store.reports_after(None, 1).await.unwrap().remove(0);
    let slug = first.plant.cultivar.as_ref().map_or("celeste", |slug| slug.as_str());
    let mut pages = vec![
        "/reports".to_owned(),
        format!("/reports?cultivar={slug}"),
        "/reports?winter=2024/25".to_owned(),
        "/reports?protection=none&coldest_from_c=-20&coldest_to_c=-5".to_owned(),
        "/reports?place=Graz,+AT&within_km=1000".to_owned(),
        format!("/reports?after={}", first.id),
        format!("/reports/{}", first.id),
        format!("/cultivars/{slug}"),
        format!("/api/v1/cultivars/{slug}"),
    ];
    // The catalogue's page grows with the figs, not with the reports: see Known limits.
    pages.extend(["/", "/data", "/shelters", "/method"].map(str::to_owned));
    for page in pages {
        let answer = house.client.get(&page).await.expect(StatusCode::OK);
        assert!(answer.body.len() < LARGEST, "{page}: {} bytes", answer.body.len());
    }
    let listed = house.client.get("/reports").await.body;
    assert!(listed.contains(&format!("{REPORTS} reports, each looked at")) && listed.contains("Older reports"), "{listed}");
}

#[tokio::test]
async fn the_pages_of_a_list_lead_to_every_report_once() {
    let mut house = House::new().await;
    settle(&*house.store, &house.store.catalogue().await.unwrap(), 250).await;
    let (mut seen, mut address) = (std::collections::BTreeSet::new(), "/api/v1/reports?limit=100".to_owned());
    for page in 1.. {
        let answer = house.client.get(&address).await.expect(StatusCode::OK).body;
        let answer: serde_json::Value = serde_json::from_str(&answer).unwrap();
        assert_eq!(answer["total"], 250);
        for report in answer["reports"].as_array().unwrap() {
            assert!(seen.insert(report["report_id"].as_str().unwrap().to_owned()), "twice: {report}");
        }
        let Some(next) = answer["next"].as_str() else {
            assert_eq!(page, 3);
            break;
        };
        address = format!("/api/v1/reports?limit=100&after={next}");
    }
    assert_eq!(seen.len(), 250);
}

#[tokio::test]
async fn the_pages_of_a_large_garden_are_small_and_lead_to_every_plant_once() {
    let mut house = House::new().await;
    house.client.join("orchardist").await;
    let (member, _) = house.store.sign_in_facts("orchardist").await.unwrap().unwrap();
    let mut planted = std::collections::BTreeSet::new();
    for n in 0..PLANTS {
        let sent = submission(&member, &format!("{n} first"), plant(member.id, "celeste"), record(-9.0, TopKilled::Tips));
        planted.insert(sent.plant.id.to_string());
        let all: Vec<_> = (0..WINTERS)
            .map(|w| {
                let mut one = sent.clone();
                one.record.winter = Winter::new(2025 - w, one.plant.place.hemisphere()).unwrap();
                one.key = format!("{n} {w}");
                one.report = ReportId(uuid::Uuid::now_v7());
                one.plant_is_new = w == 0;
                one
            })
            .collect();
        house.store.submit_all(&all).await.unwrap();
    }
    let (mut seen, mut address) = (std::collections::BTreeSet::new(), "/garden".to_owned());
    loop {
        let body = house.client.get(&address).await.expect(StatusCode::OK).body;
        assert!(body.len() < LARGEST, "{address}: {} bytes", body.len());
        assert!(body.contains(">19 others</a>"), "{body}");
        for id in planted.iter().filter(|id| body.contains(&format!("<th scope=\"row\"><a href=\"/garden/plants/{id}\""))) {
            assert!(seen.insert(id.clone()), "twice: {id}");
        }
        match body.split("href=\"/garden?after=").nth(1) {
            Some(rest) => address = format!("/garden?after={}", rest.split('"').next().unwrap()),
            None => break,
        }
    }
    assert_eq!(seen, planted);
}
