//! E-mail by links in letters, against a relay of the test's own. Ids are of OWASP ASVS 5.0.0 and of our own list (PWD, INP, ERR).

use std::sync::Arc;

use axum::body::Body;
use axum::http::header::{AUTHORIZATION, CONTENT_TYPE, SET_COOKIE};
use axum::http::{Request, StatusCode};
use winterfig::clock::FixedClock;
use winterfig::jobs::accounts::mail::Mail;
use winterfig::jobs::accounts::mail_relay::RelaySettings;
use winterfig::model::snapshot::Snapshot;
use winterfig::store::Store;
use winterfig::web::AppState;

use super::relay::Relay;
use crate::support::client::{Client, GENEROUS, PASSPHRASE};
use crate::support::{TestDatabase, on_both_engines};

const NOON: &str = "2026-06-20T12:00:00Z";
const NEW_PASSPHRASE: &str = "nine mild winters after that";

async fn visitor(store: &Arc<dyn Store>, relay: &str, now: &str) -> Client {
    let snapshot = Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
    let relay = RelaySettings { url: relay, ..RelaySettings::default() };
    let mail = Mail::new(&relay, "figs@example.org", "https://figs.example.org").unwrap();
    let state = AppState::new(snapshot, Arc::clone(store), Arc::new(FixedClock(now.parse().unwrap()))).allowing(GENEROUS);
    Client::over(winterfig::routes::router(state.with_mail(Some(mail))))
}

/// The address of this service that a letter leads to.
fn link(letter: &str) -> String {
    let start = letter.find("https://figs.example.org/").unwrap_or_else(|| panic!("no link in {letter}"));
    letter[start + "https://figs.example.org".len()..].split_whitespace().next().unwrap().to_owned()
}

async fn join(client: &mut Client, handle: &str, email: &str) {
    let fields = [("handle", handle), ("passphrase", PASSPHRASE), ("email", email)];
    client.post("/account/join", &fields).await.expect(StatusCode::SEE_OTHER);
}

// V6.4, PWD-06: an address counts once the link sent to it was used, which works once, and not by merely being opened.
#[tokio::test]
async fn an_address_is_confirmed_by_the_link_that_was_sent_to_it() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut relay = Relay::open().await;
    let mut client = visitor(&store, &relay.address, NOON).await;
    join(&mut client, "fig grower", "grower@example.org").await;
    let letter = relay.letter().await;
    assert!(letter.contains("To: grower@example.org") && letter.contains("From: figs@example.org"), "{letter}");
    let path = link(&letter);
    assert!(client.get("/account").await.body.contains("Not confirmed yet"));
    let page = client.get(&path).await.expect(StatusCode::OK).body;
    assert!(page.contains("Is this your address?"));
    assert!(client.get("/account").await.body.contains("Not confirmed yet"), "opening a link confirms nothing");
    // On another device than the one that joined.
    let mut elsewhere = client.another();
    let page = elsewhere.post(&path, &[]).await.expect(StatusCode::OK).body;
    assert!(page.contains("Your address is confirmed"));
    assert!(client.get("/account").await.body.contains("Confirmed on"));
    elsewhere.post(&path, &[]).await.expect(StatusCode::GONE);
    // Another address asks the passphrase, tells the old one, and is not confirmed.
    let change = |passphrase| [("email", "other@example.org"), ("email_passphrase", passphrase)];
    client.post("/account/address", &change("not this one at all")).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    assert!(relay.silent().await);
    client.post("/account/address", &change(PASSPHRASE)).await.expect(StatusCode::SEE_OTHER);
    let mut letters = [relay.letter().await, relay.letter().await];
    letters.sort_by_key(|letter| !letter.contains("To: grower@example.org"));
    assert!(letters[0].contains("Subject: Your address was changed") && letters[1].contains("To: other@example.org"), "{letters:?}");
    assert!(client.get("/account").await.body.contains("Not confirmed yet"));
}

// V6.4.3, V6.3.8, SES-04: a reset link goes to a confirmed address alone; what the page says is the same for any address.
on_both_engines! {
    async fn a_forgotten_passphrase_is_set_anew_by_a_letter_and_nothing_tells_who_is_a_member(database) {
        let store = database.open().await;
        let mut relay = Relay::open().await;
        let mut client = visitor(&store, &relay.address, NOON).await;
        join(&mut client, "fig grower", "grower@example.org").await;
        let confirm = link(&relay.letter().await);
        let mut stranger = client.another();
        let mut asked = Vec::new();
        for address in ["grower@example.org", "nobody@example.org"] {
            asked.push(stranger.post("/account/forgotten", &[("email", address)]).await.expect(StatusCode::OK).body);
        }
        assert!(relay.silent().await, "not confirmed, so nothing is sent");
        client.post(&confirm, &[]).await.expect(StatusCode::OK);
        asked.push(stranger.post("/account/forgotten", &[("email", "Grower@Example.org")]).await.expect(StatusCode::OK).body);
        assert!(asked.iter().all(|page| *page == asked[0]));
        let reset = link(&relay.letter().await);
        assert!(stranger.get(&reset).await.expect(StatusCode::OK).body.contains("A new passphrase for fig grower"));
        stranger.post(&reset, &[("new_passphrase", "short")]).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
        // An hour and a minute later it would not work.
        let mut late = visitor(&store, &relay.address, "2026-06-20T13:01:00Z").await;
        late.get(&reset).await.expect(StatusCode::GONE);
        late.post(&reset, &[("new_passphrase", NEW_PASSPHRASE)]).await.expect(StatusCode::GONE);
        stranger.post(&reset, &[("new_passphrase", NEW_PASSPHRASE)]).await.expect(StatusCode::OK);
        stranger.post(&reset, &[("new_passphrase", NEW_PASSPHRASE)]).await.expect(StatusCode::GONE);
        assert!(client.get("/account").await.body.contains("Sign in, or join"), "every session has ended");
        let sign_in = |passphrase| [("handle", "fig grower"), ("passphrase", passphrase)];
        client.post("/account/sign-in", &sign_in(PASSPHRASE)).await.expect(StatusCode::UNAUTHORIZED);
        client.post("/account/sign-in", &sign_in(NEW_PASSPHRASE)).await.expect(StatusCode::SEE_OTHER);
    }

    // A reset ends every token, and its device signs in at once also where strangers have used the account's tries up.
    async fn a_reset_lets_its_device_in_while_strangers_lock_the_account_and_ends_the_tokens(database) {
        let store = database.open().await;
        let mut relay = Relay::open().await;
        let mut client = visitor(&store, &relay.address, NOON).await;
        join(&mut client, "fig grower", "grower@example.org").await;
        client.post(&link(&relay.letter().await), &[]).await.expect(StatusCode::OK);
        let page = client.post("/account/tokens", &[("token_name", "logger")]).await.expect(StatusCode::OK).body;
        let token = page.split("<code>").nth(1).and_then(|rest| rest.split("</code>").next()).unwrap().to_owned();
        let sign_in = |passphrase| [("handle", "fig grower"), ("passphrase", passphrase)];
        let mut stranger = client.another();
        for _ in 0..12 {
            stranger.post("/account/sign-in", &sign_in("a stranger who guesses")).await;
        }
        stranger.post("/account/sign-in", &sign_in(PASSPHRASE)).await.expect(StatusCode::TOO_MANY_REQUESTS);
        stranger.post("/account/forgotten", &[("email", "grower@example.org")]).await.expect(StatusCode::OK);
        let mut device = client.another();
        let set = device.post(&link(&relay.letter().await), &[("new_passphrase", NEW_PASSPHRASE)]).await.expect(StatusCode::OK);
        let known = set.headers.get_all(SET_COOKIE).iter().filter_map(|v| v.to_str().ok()).find(|v| v.contains("device=")).unwrap();
        device.cookie = known.split(';').next().map(str::to_owned);
        device.post("/account/sign-in", &sign_in(NEW_PASSPHRASE)).await.expect(StatusCode::SEE_OTHER);
        stranger.post("/account/sign-in", &sign_in(NEW_PASSPHRASE)).await.expect(StatusCode::TOO_MANY_REQUESTS);
        let asked = Request::post("/api/v1/reports").header(AUTHORIZATION, format!("Bearer {token}")).header(CONTENT_TYPE, "application/json");
        stranger.send(asked.body(Body::from("{}")).unwrap()).await.expect(StatusCode::UNAUTHORIZED);
    }
}

// INP-09, ERR-04: an address with a line break is none; a relay that is down keeps nobody waiting.
#[tokio::test]
async fn a_line_break_is_no_address_and_a_relay_that_is_down_is_not_waited_for() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = visitor(&store, "smtp://127.0.0.1:1", NOON).await;
    let split = [("handle", "fig grower"), ("passphrase", PASSPHRASE), ("email", "a@example.org\r\nBcc: b@example.org")];
    client.post("/account/join", &split).await.expect(StatusCode::UNPROCESSABLE_ENTITY);
    join(&mut client, "fig grower", "grower@example.org").await;
    assert!(client.get("/account").await.expect(StatusCode::OK).body.contains("Not confirmed yet"));
    // Letters are few: three an hour to one member.
    let mut answers = Vec::new();
    for _ in 0..3 {
        answers.push(client.post("/account/address/again", &[]).await.status);
    }
    assert_eq!(answers, [StatusCode::SEE_OTHER, StatusCode::SEE_OTHER, StatusCode::TOO_MANY_REQUESTS]);
}

#[tokio::test]
async fn without_a_relay_the_service_says_that_it_sends_no_mail() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let mut client = Client::new(&store).await;
    assert!(client.get("/account").await.body.contains("this service sends no mail"));
    client.get("/account/forgotten").await.expect(StatusCode::NOT_FOUND);
    join(&mut client, "fig grower", "grower@example.org").await;
    let page = client.get("/account").await.body;
    assert!(page.contains("cannot be confirmed") && !page.contains("Send the link again"), "{page}");
}
