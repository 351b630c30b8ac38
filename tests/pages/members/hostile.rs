//! Words that would be commands to a database or links on a page, on both engines. OWASP ASVS 5.0.0, 1.2.2 and 1.2.4.

use std::collections::HashMap;
use std::time::{Duration, Instant};

use axum::http::StatusCode;
use scraper::{Html, Selector};
use winterfig::jobs::reports::list as report_list;
use winterfig::jobs::shortlist::question_form;
use winterfig::jobs::spring::question as spring;
use winterfig::records::Role;

use crate::support::client::{Client, encoded, report_with};
use crate::support::on_both_engines;

/// Kinds of injection by quote, comment, second statement, union, error and delay (common practice, no source).
const COMMANDS: [&str; 24] = [
    "'",
    "''",
    "\"",
    "`",
    "\\'",
    "' OR '1'='1",
    "' OR 1=1--",
    "\" OR \"\"=\"",
    "') OR ('1'='1",
    "1 OR 1=1",
    "1) OR (1=1",
    "'; DROP TABLE report;--",
    "1; DELETE FROM member",
    "' UNION SELECT NULL,NULL,NULL--",
    "' UNION SELECT handle, passphrase FROM member--",
    "' AND 1=CAST((SELECT version()) AS int)--",
    "' AND (SELECT 1 FROM pg_sleep(20))=1--",
    "'; SELECT pg_sleep(20);--",
    "1 AND 1=LIKE('ABCDEFG',UPPER(HEX(RANDOMBLOB(900000000))))",
    "' || (SELECT sql FROM sqlite_master) || '",
    "$1",
    "?1",
    "{{1}}",
    "celeste'/**/AND/**/'1'='1",
];
/// Longest an answer may take: a delay that took effect is twice as long.
const PROMPT: Duration = Duration::from_secs(10);

type Shape = (StatusCode, usize, usize, usize);

/// What an answer shows apart from its words: status, rows, entries, buttons.
async fn shape(client: &mut Client, address: &str) -> Shape {
    let begun = Instant::now();
    let answer = client.get(address).await;
    assert!(begun.elapsed() < PROMPT, "{address}");
    if address.starts_with("/api/") {
        let json: serde_json::Value = serde_json::from_slice(&answer.bytes).unwrap();
        let rows = ["cultivars", "reports", "errors"].map(|list| json[list].as_array().map_or(0, Vec::len));
        return (answer.status, rows[0], rows[1], rows[2]);
    }
    // Tags are counted in the text: what a visitor writes is escaped and begins none, and parsing each of some thousand pages takes a minute.
    let count = |tag: &str| answer.body.matches(tag).count();
    (answer.status, count("<tr"), count("<li"), count("<button"))
}

/// The shape of a harmless question, asked once.
async fn known_shape(known: &mut HashMap<String, Shape>, client: &mut Client, address: String) -> Shape {
    if let Some(shape) = known.get(&address) {
        return *shape;
    }
    let found = shape(client, &address).await;
    known.insert(address, found);
    found
}

on_both_engines! {
    // INP-02
    async fn commands_to_a_database_are_words_like_any_other(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fern").await;
        client.post("/reports/new", &report_with(&[])).await.expect(StatusCode::SEE_OTHER);
        let questions: Vec<(&str, Vec<&str>)> = vec![
            ("/shortlist", question_form::PARAMETERS.to_vec()),
            ("/spring", spring::PARAMETERS.to_vec()),
            ("/reports", report_list::PARAMETERS.to_vec()),
            ("/cultivars", vec!["q", "class", "sort", "order"]),
            ("/api/v1/shortlist", question_form::PARAMETERS.to_vec()),
            ("/api/v1/reports", report_list::PARAMETERS.to_vec()),
            ("/api/v1/cultivars", vec!["q", "sort"]),
        ];
        let mut harmless_shapes = HashMap::new();
        for command in COMMANDS {
            // A search leaves marks out of account, so its harmless likeness is the same letters.
            let letters = encoded(&command.chars().map(|c| if c.is_alphanumeric() { c } else { ' ' }).collect::<String>());
            let command = encoded(command);
            for (address, names) in &questions {
                for name in names {
                    let harmless = if *name == "q" { letters.as_str() } else { "qqqqq" };
                    let asked = shape(&mut client, &format!("{address}?{name}={command}")).await;
                    // A town may be meant by part of the words, or by none of them.
                    if ["place", "near"].contains(name) {
                        assert!([StatusCode::OK, StatusCode::UNPROCESSABLE_ENTITY].contains(&asked.0), "{address}?{name}={command}");
                        continue;
                    }
                    let usual = format!("{address}?{name}={harmless}");
                    assert_eq!(asked, known_shape(&mut harmless_shapes, &mut client, usual).await, "{address}?{name}={command}");
                }
                let asked = shape(&mut client, &format!("{address}?{command}=1")).await;
                let usual = format!("{address}?qqqqq=1");
                assert_eq!(asked, known_shape(&mut harmless_shapes, &mut client, usual).await, "{address}?{command}=1");
            }
            for place in ["/cultivars/", "/reports/", "/garden/plants/", "/account/reset/", "/api/v1/cultivars/", "/review/"] {
                let asked = shape(&mut client, &format!("{place}{command}")).await;
                let usual = format!("{place}qqqqq");
                assert_eq!(asked, known_shape(&mut harmless_shapes, &mut client, usual).await, "{place}{command}");
            }
        }
        // Who signs in by a command is nobody; what is written of a plant is kept to the letter.
        for command in COMMANDS {
            let mut stranger = client.another();
            let handle = format!("fern{command}");
            let refused = stranger.post("/account/sign-in", &[("handle", &handle), ("passphrase", command)]).await;
            assert!(refused.status.is_client_error() && stranger.cookie.is_none(), "{command}");
            let place = format!("by the mill {command}");
            let sent = client.post("/reports/new", &report_with(&[("place", &place)])).await.expect(StatusCode::SEE_OTHER);
            let address = sent.location().split('?').next().unwrap().to_owned();
            let page = Html::parse_document(&client.get(&address).await.body);
            let text: String = page.root_element().text().collect();
            assert!(text.contains(&place), "{command}");
        }
        assert_eq!(store.members().await.unwrap().len(), 1);
        assert_eq!(store.waiting_count().await.unwrap(), i64::try_from(1 + COMMANDS.len()).unwrap());
    }

    // INP-08: a note is text. It is shown to its writer and to stewards alone, and leads nowhere.
    async fn an_address_in_a_note_is_no_link(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fern").await;
        let note = "seen at https://elsewhere.example/figs and www.elsewhere.example, javascript:alert(1), [x](https://elsewhere.example)";
        let sent = client.post("/reports/new", &report_with(&[("note", note)])).await.expect(StatusCode::SEE_OTHER);
        let id = sent.location().split('?').next().unwrap().trim_start_matches("/reports/").to_owned();
        let mut steward = client.another();
        steward.join("moss").await;
        for moss in store.members().await.unwrap().into_iter().filter(|member| member.handle.to_string() == "moss") {
            store.change_role(moss.id, Role::Steward).await.unwrap();
        }
        for (reader, address) in [(&mut client, format!("/reports/{id}")), (&mut steward, format!("/review/{id}"))] {
            let page = Html::parse_document(&reader.get(&address).await.expect(StatusCode::OK).body);
            let text: String = page.root_element().text().collect();
            assert!(text.contains(note), "{address}");
            let links = Selector::parse("[href*=elsewhere], [href^=javascript], [src*=elsewhere]").unwrap();
            assert_eq!(page.select(&links).count(), 0, "{address}");
        }
        let mut stranger = client.another();
        assert!(!stranger.get(&format!("/reports/{id}")).await.body.contains("elsewhere"));
    }
}
