//! What a visitor finds who follows every link of every page, a member's pages included.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use scraper::{Html, Selector};
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{AssertSqlSafe, ConnectOptions, Connection};

use super::House;
use crate::support::client::{Client, REPORT};

/// Answers of one page that are followed: lists, comparisons and sheets lead to each other in every combination, all made alike.
const MOST_ANSWERS: usize = 20;
/// The pages whose answers are many.
const ANSWERS: [&str; 5] = ["/shortlist?", "/compare?", "/bench?", "/safe-dates?", "/spring?"];
/// More pages than the site links to from one place; a crawl that reaches it has found a trap.
const MOST_PAGES: usize = 600;

fn selector(text: &str) -> Selector {
    Selector::parse(text).unwrap()
}

/// Where the links of a page lead on this site, without what stands after `#`.
fn links(page: &Html) -> Vec<String> {
    page.select(&selector("a[href]"))
        .filter_map(|a| a.value().attr("href"))
        .filter(|href| href.starts_with('/'))
        .map(|href| href.split('#').next().unwrap().to_owned())
        .filter(|href| !href.is_empty())
        .collect()
}

/// HDR-03 [3.4.3]: what the content policy forbids, and what would leave the site.
fn offences(page: &Html) -> Vec<String> {
    let mut found = Vec::new();
    for element in page.select(&selector("*")) {
        let (name, value) = (element.value().name(), element.value());
        for (attribute, text) in value.attrs() {
            let address = text.trim().to_ascii_lowercase();
            if attribute == "style" || attribute.starts_with("on") {
                found.push(format!("<{name} {attribute}={text:?}>"));
            }
            if ["href", "src", "action", "formaction", "data"].contains(&attribute) {
                let scheme = address.split_once(':').map(|(scheme, _)| scheme);
                if matches!(scheme, Some("javascript" | "data" | "vbscript")) {
                    found.push(format!("<{name} {attribute}={text:?}>"));
                }
                let loads = name != "a" && !address.starts_with('/') && !address.starts_with('#');
                if loads || address.starts_with("//") {
                    found.push(format!("<{name} {attribute}={text:?}> leaves the site"));
                }
            }
        }
        let inline = name == "style" || (name == "script" && value.attr("src").is_none());
        if inline || ["iframe", "object", "embed", "base", "frame"].contains(&name) {
            found.push(format!("<{name}> {}", element.text().collect::<String>().chars().take(60).collect::<String>()));
        }
    }
    found
}

async fn crawl(client: &mut Client) -> BTreeMap<String, Html> {
    let mut waiting: VecDeque<String> = ["/".to_owned(), "/shortlist?zone=7a".to_owned(), "/shortlist?zone=bad".to_owned()].into();
    let mut pages = BTreeMap::new();
    let mut wrong = Vec::new();
    let mut answers = [0; ANSWERS.len()];
    while let Some(address) = waiting.pop_front() {
        if pages.contains_key(&address) || address.starts_with("/static/") {
            continue;
        }
        if let Some(page) = ANSWERS.iter().position(|page| address.starts_with(page)) {
            answers[page] += 1;
            if answers[page] > MOST_ANSWERS {
                continue;
            }
        }
        assert!(pages.len() < MOST_PAGES, "the crawl does not end");
        let answer = client.get(&address).await;
        if answer.status.is_server_error() || (answer.status.is_client_error() && address != "/shortlist?zone=bad") {
            wrong.push(format!("{address}: {}", answer.status));
        }
        let page = Html::parse_document(if answer.body.starts_with('<') { &answer.body } else { "" });
        waiting.extend(links(&page));
        pages.insert(address, page);
    }
    assert!(wrong.is_empty(), "links that lead nowhere:\n{}", wrong.join("\n"));
    pages
}

/// Every row of every table, as text; the last time a session was seen left out.
async fn dump(address: &str) -> Vec<String> {
    let options: SqliteConnectOptions = address.parse().unwrap();
    let mut connection = options.read_only(true).connect().await.unwrap();
    let tables: Vec<String> =
        sqlx::query_scalar("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name").fetch_all(&mut connection).await.unwrap();
    let mut rows = Vec::new();
    for table in tables {
        let columns: Vec<String> = sqlx::query_scalar(AssertSqlSafe(format!("SELECT name FROM pragma_table_info('{table}')")))
            .fetch_all(&mut connection)
            .await
            .unwrap();
        let seen = |column: &str| table == "session" && column.starts_with("seen");
        let quoted: Vec<String> = columns.iter().filter(|c| !seen(c)).map(|c| format!("quote(\"{c}\")")).collect();
        let all = format!("SELECT {} FROM \"{table}\" ORDER BY 1", quoted.join(" || ',' || "));
        let texts: Vec<String> = sqlx::query_scalar(AssertSqlSafe(all)).fetch_all(&mut connection).await.unwrap();
        rows.extend(texts.into_iter().map(|text| format!("{table}: {text}")));
    }
    connection.close().await.unwrap();
    rows
}

#[tokio::test]
async fn following_every_link_finds_no_dead_end_and_nothing_that_the_content_policy_forbids() {
    let House { mut client, database: _database, .. } = House::new().await;
    let pages = crawl(&mut client).await;
    for expected in ["/cultivars", "/cultivars/brown-turkey", "/method", "/account", "/reports/new", "/spring"] {
        assert!(pages.contains_key(expected), "{expected} is linked from nowhere");
    }
    let wrong: Vec<String> =
        pages.iter().flat_map(|(address, page)| offences(page).into_iter().map(move |what| format!("{address}: {what}"))).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // Titles tell pages apart (WCAG 2.2, 2.4.2): each cultivar has its own.
    let titles: BTreeSet<String> = pages
        .iter()
        .filter(|(address, _)| address.starts_with("/cultivars/"))
        .map(|(_, page)| page.select(&selector("title")).next().unwrap().text().collect())
        .collect();
    assert_eq!(titles.len(), pages.keys().filter(|address| address.starts_with("/cultivars/")).count());
}

// The check must be able to fail.
#[test]
fn each_kind_of_offence_is_found() {
    for bad in [
        "<p style='color:red'>",
        "<p onclick='x()'>",
        "<a href='javascript:alert(1)'>",
        "<a href=' JavaScript:alert(1)'>",
        "<script>alert(1)</script>",
        "<style>p{}</style>",
        "<script src='https://elsewhere.example/x.js'></script>",
        "<img src='//elsewhere.example/x.png'>",
        "<iframe src='/x'></iframe>",
        "<form action='https://elsewhere.example/'>",
    ] {
        assert!(!offences(&Html::parse_document(bad)).is_empty(), "{bad}");
    }
    assert!(
        offences(&Html::parse_document("<a href='/x'>x</a><script src='/static/x.js'></script><a href='https://x.example/'>x</a>"))
            .is_empty()
    );
}

// CSR-03 [3.5.3]: neither GET nor HEAD changes anything, signed in and with a report of one's own.
#[tokio::test]
async fn following_every_link_signed_in_changes_nothing() {
    let House { mut client, database, .. } = House::new().await;
    client.join("fern").await;
    let sent = client.post("/reports/new", REPORT).await;
    assert!(sent.status.is_redirection(), "{}", sent.body);
    let before = dump(&database.address).await;
    assert!(before.iter().any(|row| row.starts_with("report:")) && before.iter().any(|row| row.starts_with("session:")));
    let pages = crawl(&mut client).await;
    assert!(pages.keys().any(|address| address.starts_with("/garden")), "the garden is linked from nowhere");
    let after = dump(&database.address).await;
    assert_eq!(before, after);
}
