//! Claims about one fig, each by itself: page and API.

use axum::http::StatusCode;
use serde_json::Value;
use winterfig::records::words::TopKilled;
use winterfig::records::{ReviewState, Role};
use winterfig::store::Submitted;

use crate::support::TestDatabase;
use crate::support::client::{Client, text, texts};
use crate::support::members::{decided, joined, plant, record, submission};

async fn visitor() -> Client {
    Client::at("2026-06-20T10:00:00Z").await
}

/// Published outside: R. Polomski, Clemson 2013: hardy to 10 °F; a quotation of cold-plateau results: −18 °C without damage.
#[tokio::test]
async fn contradicting_figures_stand_side_by_side_each_with_its_source_and_what_is_not_told() {
    let mut client = visitor().await;
    let (status, page) = client.get("/cultivars/brown-turkey").await.read();
    assert_eq!(status, StatusCode::OK);
    let figures = texts(&page, ".claim-figure");
    assert_eq!(figures, ["−12 °C · 10 °F", "−18 °C · 0 °F"]);
    let claims = texts(&page, "ul.claims > li");
    assert!(claims[0].contains("2013") && claims[0].contains("not told"), "{}", claims[0]);
    assert!(text(&page, "main").contains("These do not agree."));
    assert!(text(&page, "main").contains("Nobody has reported a winter of it yet"));
    let answer = client.get("/api/v1/cultivars/brown-turkey").await.expect(StatusCode::OK);
    let json: Value = serde_json::from_str(&answer.body).unwrap();
    let figures: Vec<f64> = json["claims"].as_array().unwrap().iter().filter_map(|c| c["figure_c"].as_f64()).collect();
    assert_eq!(figures, [-12.2, -18.0]);
    assert!(json["contradictions"].as_array().unwrap().contains(&Value::from("survived")));
    assert_eq!((json["outcome_count"].as_u64(), json["claims"][0]["stage"].as_str()), (Some(0), None));
}

#[tokio::test]
async fn what_members_report_stands_beside_with_age_state_and_protection() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let (member, steward) = (joined(&*store, "grower", Role::Member).await, joined(&*store, "orla", Role::Steward).await);
    let sent = submission(&member, "key", plant(member.id, "celeste"), record(-9.4, TopKilled::Tips));
    let Submitted::Fresh(id) = store.submit(&sent).await.unwrap() else { panic!("not fresh") };
    let mut reader = Client::new(&store).await;
    let mut ask =
        async || -> Value { serde_json::from_str(&reader.get("/api/v1/cultivars/celeste").await.expect(StatusCode::OK).body).unwrap() };
    assert_eq!(ask().await["outcome_count"].as_u64(), Some(0), "a report that waits for a steward is not public");
    decided(&*store, &store.report(id).await.unwrap().unwrap(), &steward, ReviewState::Accepted).await;
    let json = ask().await;
    assert_eq!(json["outcome_count"].as_u64(), Some(1), "{json}");
    let outcome = &json["outcomes"][0];
    assert_eq!((outcome["coldest_c"].as_f64(), outcome["damage"].as_str()), (Some(-9.4), Some("tips")));
    let (_, page) = reader.get("/cultivars/celeste").await.read();
    let rows = texts(&page, "table.outcomes tbody tr");
    assert!(rows.len() == 1 && rows[0].contains("no protection") && rows[0].contains("tips lost"), "{rows:?}");
}
