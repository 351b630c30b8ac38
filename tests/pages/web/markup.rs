//! Every page through the Nu HTML checker (`vnu-jar` of the npm registry, checked with 26.9.27 on Java 17), which reads a page by the HTML standard.
//! Where it is not installed the check says that it was skipped; `.ci/run` fetches it.

use std::process::Command;

use axum::body::Body;
use axum::http::Request;
use axum::http::header::HOST;

use super::House;
use crate::support::client::Client;

/// The setting that names the checker's file `vnu.jar`.
const CHECKER: &str = "WINTERFIG_HTML_CHECKER";

/// Pages, forms that are refused and answers; a new page is added here.
const PAGES: [&str; 46] = [
    "/",
    "/?zone=7a&setting=wall",
    "/shortlist?zone=6b",
    "/shortlist?place=Graz,+Styria,+Austria",
    "/shortlist?zone=bad&culture=roof&years=many",
    "/compare",
    "/compare?cultivar=celeste&cultivar=brown-turkey&zone=7a",
    "/cultivars",
    "/cultivars?q=turky",
    "/cultivars/brown-turkey",
    "/catalogue/brown-turkey/history",
    "/catalogue/proposals",
    "/method",
    "/cold-night",
    "/shelter",
    "/shelter?scale=f&length=12&minima=20",
    "/shelter?length=3&width=2.4&wall=1.8&heater=1500&minimum=-8&answer=1",
    "/spring",
    "/spring?zone=7a&seen=nothing&cultivar=brown-turkey&today=2026-05-15",
    "/safe-dates",
    "/safe-dates?zone=6b&on=04-20",
    "/small-heat",
    "/small-heat?heat=bulb_old&count=20",
    "/vents",
    "/vents?length_m=6&low_m2=1&high_m2=1",
    "/advice",
    "/bench",
    "/bench?cultivar=celeste&zone=7a",
    "/covers",
    "/spots",
    "/trials",
    "/trials?zone=7a",
    "/store",
    "/frozen-pot",
    "/record",
    "/reports",
    "/reports/new",
    "/reports/sheet",
    "/data",
    "/account",
    "/shelters",
    "/imprint",
    "/embed?zone=6b",
    "/embed/shortlist?zone=6b",
    "/embed/shortlist",
    "/no-such-page",
];

/// Pages of a member.
const MEMBERS_PAGES: [&str; 9] = [
    "/account/warnings",
    "/garden",
    "/garden/winter",
    "/garden/fruit",
    "/garden/plants/new",
    "/garden/propagation?wanted=20",
    "/garden/propagation?wanted=x",
    "/garden/propagation/new",
    "/garden/mothers?shoots=x",
];

/// A plan of two nights.
const PLAN: &[(&str, &str)] = &[
    ("scale", "c"),
    ("minimum", "-8"),
    ("nights", "2"),
    ("n2_min", "-9"),
    ("minutes", "40"),
    ("rows", "3"),
    ("p1_cultivar", "Celeste"),
    ("p1_count", "4"),
    ("p1_grows", "pot"),
    ("p1_pot", "15"),
    ("s1_name", "garage"),
    ("s1_kind", "attached"),
];

#[tokio::test]
async fn every_page_is_html_by_the_standard() {
    let Ok(checker) = std::env::var(CHECKER) else {
        eprintln!("SKIPPED: {CHECKER} names no checker");
        return;
    };
    let House { mut client, database: _database, .. } = House::new().await;
    let folder = tempfile::tempdir().unwrap();
    let mut asked = vec![("a plan".to_owned(), client.post("/cold-night", PLAN).await.body)];
    for page in PAGES {
        asked.push((page.to_owned(), at_host(&mut client, page).await));
    }
    client.join("fern").await;
    client
        .post("/garden/propagation/new", &[("name", "Celeste"), ("method", "softwood"), ("stuck", "9"), ("stuck_on", "2026-01-10")])
        .await;
    for page in MEMBERS_PAGES {
        asked.push((page.to_owned(), at_host(&mut client, page).await));
    }
    let short = client.post("/a", &[("question", "/shortlist?zone=7a")]).await.location().to_owned();
    asked.push((short.clone(), at_host(&mut client, &short).await));
    for (place, (_, body)) in asked.iter().enumerate() {
        std::fs::write(folder.path().join(format!("{place:02}.html")), body).unwrap();
    }
    let output = Command::new("java").args(["-jar", &checker, "--errors-only", "--format", "gnu"]).arg(folder.path()).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    let names: Vec<String> = asked.iter().enumerate().map(|(place, (page, _))| format!("{place:02}: {page}")).collect();
    assert!(output.status.success() && said.trim().is_empty(), "{said}\n{}", names.join("\n"));
}

async fn at_host(client: &mut Client, page: &str) -> String {
    client.send(Request::get(page).header(HOST, "figs.example").body(Body::empty()).unwrap()).await.body
}

/// Without this a checker that reads nothing would pass.
#[test]
fn a_page_made_to_fail_is_faulted_by_the_checker() {
    let Ok(checker) = std::env::var(CHECKER) else {
        eprintln!("SKIPPED: {CHECKER} names no checker");
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(
        folder.path().join("faulty.html"),
        "<!doctype html><title>x</title><figure><figcaption>a</figcaption><details>b</details></figure>",
    )
    .unwrap();
    let output = Command::new("java").args(["-jar", &checker, "--errors-only", "--format", "gnu"]).arg(folder.path()).output().unwrap();
    assert!(!output.status.success() && String::from_utf8_lossy(&output.stderr).contains("error:"), "{output:?}");
}
