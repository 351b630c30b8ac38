//! Links that are passed on: short addresses, the words and the picture of a shared link, what a search may find.

use std::sync::Arc;

use axum::body::Body;
use axum::http::header::{CONTENT_TYPE, HOST};
use axum::http::{Request, StatusCode};
use scraper::{Html, Selector};
use winterfig::clock::FixedClock;
use winterfig::model::snapshot::Snapshot;
use winterfig::records::{KeyFigure, ShortAddress, ShortCode};
use winterfig::web::AppState;

use crate::support::TestDatabase;
use crate::support::client::{Answer, Client, GENEROUS, scale_switch, text, texts};

/// The first figs of these stand in the catalogue; today is fixed.
const ANSWERS: [&str; 4] = [
    "/shortlist?zone=7a&years=",
    "/compare?cultivar=Celeste&cultivar=brown+turkey&zone=7a",
    "/bench?cultivar=celeste&zone=7a",
    "/spring?zone=7a&seen=nothing&cultivar=brown-turkey&today=2026-05-15",
];

async fn visitor() -> Client {
    Client::at("2026-06-01T09:00:00Z").await
}

async fn at_host(client: &mut Client, address: &str) -> Answer {
    client.send(Request::get(address).header(HOST, "figs.example").body(Body::empty()).unwrap()).await
}

fn attribute(page: &Html, selector: &str, name: &str) -> String {
    let found = page.select(&Selector::parse(selector).unwrap()).next();
    found.unwrap_or_else(|| panic!("no {selector}")).attr(name).unwrap_or_default().to_owned()
}

#[tokio::test]
async fn every_answer_gets_a_short_address_and_the_same_answer_the_same_one() {
    let mut client = visitor().await;
    for answer in ANSWERS {
        let (status, page) = client.get(answer).await.read();
        assert_eq!(status, StatusCode::OK, "{answer}");
        let question = attribute(&page, "form[action='/a'] input[name=question]", "value");
        let first = client.post("/a", &[("question", &question)]).await.expect(StatusCode::SEE_OTHER).location().to_owned();
        assert!(first.starts_with("/a/") && first.len() == 11, "{first}");
        let again = client.another().post("/a", &[("question", &question)]).await.location().to_owned();
        assert_eq!(first, again);
        let (status, held) = client.get(&first).await.read();
        assert_eq!(status, StatusCode::OK, "{answer}");
        assert_eq!(text(&held, "h1"), text(&page, "h1"));
        let said = text(&held, ".held");
        assert!(said.contains("1 June 2026 by model priors-") && said.contains("the same"), "{said}");
        // A choice of scale comes back to the short address, and no short address is made of one.
        assert_eq!(scale_switch(&held).1, [("back".to_owned(), first.clone())]);
        assert!(texts(&held, "form[action='/a']").is_empty());
        assert_eq!(client.get(&first.to_ascii_uppercase().replace("/A/", "/a/")).await.status, StatusCode::OK);
    }
}

#[tokio::test]
async fn an_answer_that_was_another_then_says_what_differs() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let figures = vec![KeyFigure::new("to plant together", "Celeste"), KeyFigure::new("first in the list", "no fig at all")];
    let keep = |question: &str| ShortAddress {
        question: question.to_owned(),
        model: "priors-of-then".to_owned(),
        figures: figures.clone(),
        made: "2025-02-03T04:05:06Z".parse().unwrap(),
    };
    let mut client = Client::new(&store).await;
    let mut codes = Vec::new();
    for question in ["/shortlist?zone=7a", "/shortlist?zone=99z"] {
        let kept = keep(question);
        codes.push(store.keep_short_address(&ShortCode::candidates(question, &kept.figures), &kept).await.unwrap().unwrap());
    }
    let (status, page) = client.get(&format!("/a/{}", codes[0])).await.read();
    assert_eq!(status, StatusCode::OK);
    let said = text(&page, ".held");
    assert!(said.contains("3 February 2025 by model priors-of-then"), "{said}");
    assert!(
        said.contains("differs in to plant together: then Celeste, today ") && said.contains("in first in the list: then no fig at all"),
        "{said}"
    );
    // A question that can no longer be asked says what it answered, and shows the form.
    let (status, page) = client.get(&format!("/a/{}", codes[1])).await.read();
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    let said = text(&page, ".held");
    assert!(said.contains("can no longer be asked as it was; it answered then: to plant together: Celeste"), "{said}");
}

#[tokio::test]
async fn a_short_address_leads_nowhere_else_and_holds_no_private_answer() {
    let mut client = visitor().await;
    for (question, said) in [
        ("https://evil.example/shortlist?zone=7a", "only an answer of this service"),
        ("//evil.example/shortlist?zone=7a", "only an answer of this service"),
        ("/garden?zone=7a", "only an answer of this service"),
        ("", "only an answer of this service"),
        ("/spring?site=0193&seen=nothing", "one member keeps"),
        ("/shortlist?zone=17q", "17q"),
    ] {
        let (status, page) = client.post("/a", &[("question", question)]).await.read();
        assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY, "{question}");
        assert!(text(&page, "main").contains(said), "{question}: {}", text(&page, "main"));
    }
    for absent in ["/a/01234567", "/a/x", "/a/%2F%2Fevil.example"] {
        assert_eq!(client.get(absent).await.status, StatusCode::NOT_FOUND, "{absent}");
    }
}

#[tokio::test]
async fn a_shared_link_has_words_a_picture_and_one_address() {
    let mut client = visitor().await;
    for answer in ANSWERS {
        let (_, page) = at_host(&mut client, answer).await.read();
        let property = |name: &str| attribute(&page, &format!("meta[property='og:{name}']"), "content");
        assert_eq!(property("title"), text(&page, "h1"), "{answer}");
        assert!(property("description").len() > 30 && !property("description").contains("{{"), "{answer}");
        let canonical = attribute(&page, "link[rel=canonical]", "href");
        assert!(canonical.starts_with("http://figs.example/") && !canonical.contains("years="), "{canonical}");
        assert_eq!(property("url"), canonical);
        let image = property("image");
        let picture = at_host(&mut client, image.strip_prefix("http://figs.example").unwrap()).await;
        assert_eq!((picture.status, picture.headers[CONTENT_TYPE].to_str().unwrap()), (StatusCode::OK, "image/png"), "{answer}");
        assert_eq!(&picture.bytes[1..4], b"PNG");
        assert_eq!(picture.headers["cross-origin-resource-policy"], "cross-origin");
        assert!(picture.bytes.len() > 10_000, "{answer}: {} bytes", picture.bytes.len());
    }
    for (address, status) in [
        ("/preview", StatusCode::OK),
        ("/preview/shortlist?zone=17q", StatusCode::NOT_FOUND),
        ("/preview/garden?x=1", StatusCode::NOT_FOUND),
    ] {
        assert_eq!(client.get(address).await.status, status, "{address}");
    }
}

#[tokio::test]
async fn the_public_address_goes_before_the_host_that_was_asked_and_a_search_finds_every_fig() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let snapshot = Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
    let figs = snapshot.catalogue.cultivars().len();
    let clock = Arc::new(FixedClock("2026-06-01T09:00:00Z".parse().unwrap()));
    let state =
        AppState::new(snapshot, Arc::clone(&store), clock).allowing(GENEROUS).with_public_address(Some("https://figs.example/".to_owned()));
    let mut client = Client::over(winterfig::routes::router(state));
    let (_, page) = client.send(Request::get("/method").header(HOST, "127.0.0.1:8080").body(Body::empty()).unwrap()).await.read();
    assert_eq!(attribute(&page, "link[rel=canonical]", "href"), "https://figs.example/method");
    let robots = client.get("/robots.txt").await.body;
    assert!(robots.contains("Sitemap: https://figs.example/sitemap.xml") && robots.contains("Disallow: /account\n"), "{robots}");
    let sitemap = client.get("/sitemap.xml").await;
    assert_eq!(sitemap.headers[CONTENT_TYPE], "application/xml");
    let pages: Vec<&str> = sitemap.body.split("<loc>").skip(1).map(|rest| rest.split('<').next().unwrap()).collect();
    assert_eq!(pages.iter().filter(|page| page.contains("/cultivars/")).count(), figs);
    for page in pages.iter().filter(|page| !page.contains("/cultivars/")).step_by(5) {
        let path = page.strip_prefix("https://figs.example").unwrap();
        assert_eq!(client.get(path).await.status, StatusCode::OK, "{path}");
    }
}

#[tokio::test]
async fn a_host_that_is_none_is_written_nowhere() {
    let mut client = visitor().await;
    for host in ["evil\"><script>", "user@evil.example", "a b"] {
        let answer = client.send(Request::get("/").header(HOST, host).body(Body::empty()).unwrap()).await;
        assert!(!answer.body.contains("og:url") && !answer.body.contains("evil"), "{host}");
    }
}
