//! A question to those who follow: answered without an account, counted as answers come, set aside by a steward, and gone with who asks.

use axum::body::Body;
use axum::http::header::AUTHORIZATION;
use axum::http::{Request, StatusCode};
use winterfig::records::{AnswerState, ReviewState, Role};

use crate::support::client::{Client, REPORT};
use crate::support::members::{decided, joined};
use crate::support::on_both_engines;

const ANSWER: [(&str, &str); 8] = [
    ("seen", "own"),
    ("name", "Celeste"),
    ("place", "Graz, Austria"),
    ("culture", "ground"),
    ("became", "tips"),
    ("coldest", "-11"),
    ("coldest_unit", "c"),
    ("thermometer", "in_garden"),
];

fn with<'a>(more: &[(&'a str, &'a str)]) -> Vec<(&'a str, &'a str)> {
    let kept = ANSWER.iter().filter(|(name, _)| more.iter().all(|(other, _)| other != name));
    kept.chain(more).copied().collect()
}

/// A member asks; the address of the question.
async fn asked(client: &mut Client) -> String {
    client.join("fig asker").await;
    client.post("/garden/surveys", &[("asker", "Weir Lane"), ("winter", "2025/26")]).await.expect(StatusCode::SEE_OTHER);
    let mine = client.get("/garden/surveys").await.expect(StatusCode::OK).body;
    format!("/surveys/{}", mine.split("href=\"/surveys/").nth(1).unwrap().split(['"', '/']).next().unwrap())
}

on_both_engines! {
    async fn a_stranger_answers_once_sees_the_counts_and_is_invited_to_a_full_report(database) {
        let store = database.open().await;
        let mut owner = Client::new(&store).await;
        let question = asked(&mut owner).await;
        let mut stranger = owner.another();
        let page = stranger.get(&question).await.expect(StatusCode::OK).body;
        assert!(page.contains("Weir Lane asks") && page.contains("None yet. Yours is the first."), "{page}");
        // What is missing is named, and what was typed stays.
        let page = stranger.post(&question, &with(&[("became", "")])).await.expect(StatusCode::UNPROCESSABLE_ENTITY).body;
        assert!(page.contains("id=\"became-wrong\"") && page.contains("value=\"Graz, Austria\"") && page.contains("value=\"Celeste\""), "{page}");
        let nonce = uuid::Uuid::now_v7().to_string();
        for _ in 0..2 {
            let page = stranger.post(&question, &with(&[("nonce", nonce.as_str())])).await.expect(StatusCode::OK).body;
            assert!(page.contains("Your answer is counted below") && page.contains("Make it a full report"), "{page}");
            assert!(page.contains("href=\"/reports/new?winter=2025%2F26&#38;name=Celeste") || page.contains("/reports/new?winter=2025%2F26&amp;name=Celeste"), "{page}");
        }
        // Seen elsewhere is counted apart and leads to no report.
        let seen = with(&[("seen", "another"), ("became", "to_ground_alive"), ("fruit", "main_ripe"), ("cover", "wrap")]);
        let page = stranger.post(&question, &seen).await.expect(StatusCode::OK).body;
        assert!(!page.contains("Make it a full report"), "{page}");
        assert!(page.contains("<tr><th scope=\"row\">All</th><td class=\"num\">1</td><td class=\"num\">1</td><td></td></tr>"), "{page}");
        // One of one’s own with its tips lost, one seen that was lost to the ground: 1 and a quarter of 1.25.
        assert!(page.contains(">80 %<br>") && page.contains(">20 %<br>"), "{page}");
        assert!(page.contains("What happened at which cold") && page.contains("Where reported figs stand"));
        let shown = page.split("id=\"answers\"").nth(1).unwrap();
        assert!(!shown.contains("Graz"), "no place in words");
        // None of it is a report.
        assert_eq!(store.waiting_count().await.unwrap(), 0);
        assert!(page.contains("none of it enters the chances"));
        let sheet = stranger.get(&format!("{question}/sheet")).await.expect(StatusCode::OK).body;
        assert!(sheet.contains("<svg") && sheet.contains(&question));
    }

    async fn who_asked_takes_the_answers_home_without_persons_and_nobody_else_does(database) {
        let store = database.open().await;
        let mut owner = Client::new(&store).await;
        let question = asked(&mut owner).await;
        let code = question.rsplit('/').next().unwrap().to_owned();
        let mut stranger = owner.another();
        stranger.post(&question, &ANSWER).await.expect(StatusCode::OK);
        let seen = with(&[("seen", "another"), ("name", "grandmother’s fig"), ("became", "to_ground_alive"), ("coldest", ""), ("thermometer", "")]);
        stranger.post(&question, &seen).await.expect(StatusCode::OK);
        stranger.post(&question, &with(&[("name", "figs for sale www.example.org")])).await.expect(StatusCode::OK);
        let mine = owner.get("/garden/surveys").await.expect(StatusCode::OK).body;
        let table = format!("/garden/surveys/{code}/answers.csv");
        assert!(mine.contains(&table) && mine.contains(&format!("/garden/surveys/{code}/answers.json")), "{mine}");
        let answer = owner.get(&table).await.expect(StatusCode::OK);
        assert_eq!(answer.headers["content-type"], "text/csv; charset=utf-8");
        // Graz lies at 47.07° N, 15.44° E: the square of half a degree from 47.0, 15.0 has its middle at 47.25, 15.25.
        let mut rows: Vec<&str> = answer.body.lines().collect();
        // They came at one moment; that of a plant of one’s own last.
        rows[1..].sort_by_key(|row| row.contains(",own,"));
        assert_eq!(rows.len(), 3, "the header and the two that are counted: {}", answer.body);
        assert!(rows[2].contains(",own,celeste,ground,tips,tips,alive,") && rows[2].ends_with(",-11,in_garden,,47.25,15.25,0.5"), "{}", rows[2]);
        assert!(rows[1].contains(",another,,ground,to_ground,to_ground,alive,,,,,47.25,15.25,0.5"), "{}", rows[1]);
        for private in ["Graz", "grandmother", "example.org"] {
            assert!(!answer.body.contains(private), "{private}");
        }
        // The same for a program, by a token.
        let page = owner.post("/account/tokens", &[("token_name", "ledger")]).await.expect(StatusCode::OK).body;
        let token = page.split("<code>").nth(1).and_then(|rest| rest.split("</code>").next()).unwrap().to_owned();
        let api = format!("/api/v1/surveys/{code}/answers");
        let ask = |path: &str, token: &str| {
            Request::get(path).header(AUTHORIZATION, format!("Bearer {token}")).body(Body::empty()).unwrap()
        };
        let json: serde_json::Value = serde_json::from_str(&owner.send(ask(&api, &token)).await.expect(StatusCode::OK).body).unwrap();
        assert_eq!((json["winter"].as_str(), json["answers"].as_array().map(Vec::len)), (Some("2025/26"), Some(2)));
        let own = json["answers"].as_array().unwrap().iter().find(|answer| answer["seen"] == "own").unwrap();
        assert_eq!(own["coldest_c"], serde_json::json!(-11.0));
        // Nobody else: not a stranger, not another member, not without a token.
        let mut other = owner.another();
        other.join("other grower").await;
        other.get(&table).await.expect(StatusCode::NOT_FOUND);
        let page = other.post("/account/tokens", &[("token_name", "ledger")]).await.expect(StatusCode::OK).body;
        let theirs = page.split("<code>").nth(1).and_then(|rest| rest.split("</code>").next()).unwrap().to_owned();
        other.send(ask(&api, &theirs)).await.expect(StatusCode::NOT_FOUND);
        stranger.get(&api).await.expect(StatusCode::UNAUTHORIZED);
        assert_ne!(stranger.get(&table).await.status, StatusCode::OK);
    }

    async fn an_answer_that_advertises_or_cannot_be_waits_for_a_steward_and_one_may_be_set_aside(database) {
        let store = database.open().await;
        let mut owner = Client::new(&store).await;
        let question = asked(&mut owner).await;
        let mut stranger = owner.another();
        let page = stranger.post(&question, &with(&[("name", "figs for sale www.example.org")])).await.expect(StatusCode::OK).body;
        assert!(page.contains("a steward looks at it before it is counted") && page.contains("1 answer waits"), "{page}");
        let page = stranger.get(&question).await.body;
        assert!(page.contains("1 answer waits") && !page.contains("www.example.org"), "{page}");
        stranger.post(&question, &ANSWER).await.expect(StatusCode::OK);
        let mut steward = owner.another();
        steward.join("judge").await;
        let judge = store.sign_in_facts("judge").await.unwrap().unwrap().0.id;
        store.change_role(judge, Role::Steward).await.unwrap();
        let desk = steward.get("/review/answers").await.expect(StatusCode::OK).body;
        assert!(desk.contains("www.example.org") && desk.contains("an address or advertising in the name"), "{desk}");
        let waiting = store.survey_answers_in(AnswerState::Waiting, 9).await.unwrap();
        let shown = store.survey_answers_in(AnswerState::Shown, 9).await.unwrap();
        for (answer, _) in waiting.iter().chain(&shown) {
            // Nobody else may.
            owner.post(&format!("/review/answers/{}", answer.id), &[("aside", "yes")]).await.expect(StatusCode::NOT_FOUND);
            steward.post(&format!("/review/answers/{}", answer.id), &[("aside", "yes")]).await.expect(StatusCode::SEE_OTHER);
        }
        let page = stranger.get(&question).await.body;
        assert!(page.contains("None yet. Yours is the first.") && !page.contains("waits for a steward."), "{page}");
        // Who asks closes it, and deletes it with its answers.
        let code = question.rsplit('/').next().unwrap();
        owner.post(&format!("/garden/surveys/{code}/open"), &[("open", "no")]).await.expect(StatusCode::SEE_OTHER);
        stranger.post(&question, &ANSWER).await.expect(StatusCode::CONFLICT);
        let mine: serde_json::Value = serde_json::from_str(&owner.get("/account/mine.json").await.body).unwrap();
        assert_eq!((mine["surveys"][0]["asker"].as_str(), mine["surveys"][0]["answers"].as_u64()), (Some("Weir Lane"), Some(2)));
        stranger.join("passer-by").await;
        stranger.post(&format!("/garden/surveys/{code}/delete"), &[]).await.expect(StatusCode::NOT_FOUND);
        owner.post(&format!("/garden/surveys/{code}/delete"), &[]).await.expect(StatusCode::SEE_OTHER);
        stranger.get(&question).await.expect(StatusCode::NOT_FOUND);
    }

    async fn a_grower_has_no_public_page_until_they_put_one_up_and_it_shows_what_stewards_took(database) {
        let store = database.open().await;
        let mut client = Client::new(&store).await;
        client.join("fern").await;
        client.post("/reports/new", REPORT).await.expect(StatusCode::SEE_OTHER);
        assert!(client.get("/garden/surveys").await.body.contains("There is none unless you put it up"));
        let wrong = client.post("/garden/page", &[("title", "Figs"), ("recommends", "buy at www.example.org")]).await;
        assert!(wrong.expect(StatusCode::UNPROCESSABLE_ENTITY).body.contains("buy at www.example.org"));
        client.post("/garden/page", &[("title", "Figs of the weir"), ("recommends", "Cover the young.")]).await.expect(StatusCode::SEE_OTHER);
        let mine = client.get("/garden/surveys").await.body;
        let page = format!("/growers/{}", mine.split("href=\"/growers/").nth(1).unwrap().split('"').next().unwrap());
        let mut stranger = client.another();
        let shown = stranger.get(&page).await.expect(StatusCode::OK).body;
        assert!(shown.contains("Figs of the weir") && shown.contains("Cover the young.") && shown.contains("/cultivars/celeste"), "{shown}");
        assert!(shown.contains("No report that a steward took yet") && !shown.contains("by the mill"), "{shown}");
        let steward = joined(&*store, "judge", Role::Steward).await;
        decided(&*store, &store.waiting(1).await.unwrap()[0], &steward, ReviewState::Accepted).await;
        assert!(!stranger.get(&page).await.body.contains("No report that a steward took yet"));
        // A steward may set it aside; its grower cannot put the same page up anew.
        let mut judge = client.another();
        judge.join("second judge").await;
        let id = store.sign_in_facts("second judge").await.unwrap().unwrap().0.id;
        store.change_role(id, Role::Steward).await.unwrap();
        let action = format!("/review{page}");
        assert!(judge.get(&page).await.body.contains(&format!("action=\"{action}\"")) && !stranger.get(&page).await.body.contains(&action));
        judge.post(&action, &[("aside", "yes")]).await.expect(StatusCode::SEE_OTHER);
        stranger.get(&page).await.expect(StatusCode::NOT_FOUND);
        assert!(judge.get(&page).await.expect(StatusCode::OK).body.contains("stewards alone see it"));
        client.post("/garden/page", &[("off", "yes")]).await.expect(StatusCode::SEE_OTHER);
        client.post("/garden/page", &[("title", "Figs of the weir"), ("recommends", "")]).await.expect(StatusCode::SEE_OTHER);
        stranger.get(&page).await.expect(StatusCode::NOT_FOUND);
        judge.post(&action, &[]).await.expect(StatusCode::SEE_OTHER);
        stranger.get(&page).await.expect(StatusCode::OK);
        client.post("/garden/page", &[("off", "yes")]).await.expect(StatusCode::SEE_OTHER);
        stranger.get(&page).await.expect(StatusCode::NOT_FOUND);
    }
}

#[tokio::test]
async fn one_address_answers_so_often_and_no_more() {
    let database = crate::support::TestDatabase::sqlite();
    let store = database.open().await;
    let mut owner = Client::new(&store).await;
    let question = asked(&mut owner).await;
    let mut stranger = owner.another();
    for _ in 0..30 {
        stranger.post(&question, &ANSWER).await.expect(StatusCode::OK);
    }
    stranger.post(&question, &ANSWER).await.expect(StatusCode::TOO_MANY_REQUESTS);
}
