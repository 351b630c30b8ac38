//! Letters that members chose: made once, sent through an encrypted relay, tried again, given up with a reason, and stopped without signing in.

use std::sync::Arc;

use axum::http::StatusCode;
use jiff::{SignedDuration, Timestamp};
use winterfig::clock::FixedClock;
use winterfig::ids::Ids;
use winterfig::jobs::accounts::mail::Mail;
use winterfig::jobs::accounts::mail_relay::RelaySettings;
use winterfig::jobs::letters::sender::{Fate, look};
use winterfig::model::snapshot::Snapshot;
use winterfig::records::words::TopKilled;
use winterfig::records::{LetterKind, Member, ReviewState, Role};
use winterfig::store::Store;
use winterfig::web::AppState;

use super::relay::{LATER, REFUSED, Relay, TAKEN, Way, root};
use crate::support::client::{Client, GENEROUS};
use crate::support::members::{decided, joined, moment, record, submitted};
use crate::support::on_both_engines;

const STOP: &str = "a-secret-of-the-tests";

fn minutes(minutes: i64) -> Timestamp {
    moment(0) + SignedDuration::from_mins(minutes)
}

fn mail(relay: &Relay, sign_in: Option<(&str, &str)>) -> Mail {
    let roots = root();
    let sign_in = sign_in.map(|(name, passphrase)| (name.to_owned(), passphrase.to_owned()));
    let settings = RelaySettings { url: &relay.address, sign_in, roots: Some(&roots), ..RelaySettings::default() };
    Mail::new(&settings, "figs@example.org", "https://figs.example.org").unwrap()
}

/// Makes a round and sends what is due, so many minutes after the beginning.
async fn looked(store: &dyn Store, mail: &Mail, after: i64) -> Vec<Fate> {
    look(store, mail, &Ids::seeded(after.unsigned_abs()), &FixedClock(minutes(after))).await.unwrap()
}

/// A grower with a confirmed address who wishes for letters about decisions, told from the beginning.
async fn grower(store: &dyn Store) -> Member {
    let grower = joined(store, "fig grower", Role::Member).await;
    store.set_mail_address(grower.id, Some("grower@example.org")).await.unwrap();
    let link = winterfig::store::MailLink {
        secret_hash: "hash".to_owned(),
        member: grower.id,
        purpose: winterfig::store::LinkPurpose::Confirm,
        email: "grower@example.org".to_owned(),
        ends: minutes(60),
    };
    store.keep_link(&link).await.unwrap();
    assert!(store.confirm_address("hash", minutes(0)).await.unwrap());
    store.wish_for_letters(grower.id, &[LetterKind::Verdicts], STOP, minutes(-1)).await.unwrap();
    for kind in LetterKind::ALL.iter().copied() {
        store.letters_told(kind, minutes(-1)).await.unwrap();
    }
    grower
}

/// A report of the grower that a steward set aside 20 s after the beginning.
async fn set_aside(store: &dyn Store, grower: &Member) {
    let judge = joined(store, "judge", Role::Steward).await;
    let report = submitted(store, grower, "olympian", record(-12.0, TopKilled::ToGround)).await;
    decided(store, &report, &judge, ReviewState::Rejected).await;
}

async fn visitor(store: &Arc<dyn Store>, mail: &Mail) -> Client {
    let snapshot = Snapshot::from_priors(store.catalogue().await.unwrap()).unwrap();
    let state = AppState::new(snapshot, Arc::clone(store), Arc::new(FixedClock(minutes(30)))).allowing(GENEROUS);
    Client::over(winterfig::routes::router(state.with_mail(Some(mail.clone()))))
}

on_both_engines! {
    async fn a_decision_is_told_once_in_one_letter_over_an_encrypted_way(database) {
        let store = database.open().await;
        for way in [Way::Encrypted, Way::Upgraded] {
            let mut relay = Relay::speaking(way, TAKEN, Some(("figs", "under the leaves"))).await;
            let mail = mail(&relay, Some(("figs", "under the leaves")));
            if way == Way::Encrypted {
                let grower = grower(&*store).await;
                set_aside(&*store, &grower).await;
                assert_eq!(looked(&*store, &mail, 10).await, [], "one taken back at once would not be told");
            } else {
                // The same through the other way: a further report.
                let grower = store.members_at("grower@example.org").await.unwrap().pop().unwrap();
                let judge = joined(&*store, "other judge", Role::Steward).await;
                let report = submitted(&*store, &grower, "olympian", record(-13.0, TopKilled::Tips)).await;
                let decision = winterfig::records::Decision::new(&report, &judge, ReviewState::Accepted, winterfig::records::Reason::Plausible,
                    None, minutes(20)).unwrap();
                assert!(store.decide(report.id, &decision).await.unwrap());
            }
            let at = if way == Way::Encrypted { 16 } else { 36 };
            assert_eq!(looked(&*store, &mail, at).await, [Fate::Sent]);
            let letter = relay.letter().await;
            let said = if way == Way::Encrypted { "set aside: it does not count" } else { "it counts from now on" };
            for part in ["To: grower@example.org", "Subject: Reports of yours were looked at", "List-Unsubscribe: <https://figs.example.org/letters/stop/",
                "List-Unsubscribe-Post: List-Unsubscribe=One-Click", "Content-Type: text/plain", "Content-Type: text/html", said]
            {
                assert!(letter.contains(part), "{part} in {letter}");
            }
            assert_eq!(looked(&*store, &mail, at + 1).await, [], "nothing is told twice");
            assert!(relay.silent().await);
        }
    }

    async fn two_processes_tell_a_decision_once_and_a_letter_whose_taker_died_is_sent(database) {
        let store = database.open().await;
        let mut relay = Relay::open().await;
        let mail = mail(&relay, None);
        let grower = grower(&*store).await;
        set_aside(&*store, &grower).await;
        let (after, until) = (minutes(-1), minutes(5));
        let letter = |id: u64| winterfig::records::Letter {
            id: Ids::seeded(id).fresh(until),
            member: grower.id,
            kind: LetterKind::Verdicts,
            subject: "Reports of yours were looked at".to_owned(),
            words: "once".to_owned(),
            due: until,
            ends: minutes(600),
        };
        assert!(store.keep_letters(LetterKind::Verdicts, after, until, &[letter(1)]).await.unwrap());
        assert!(!store.keep_letters(LetterKind::Verdicts, after, until, &[letter(2)]).await.unwrap(), "the other process was first");
        let taken = store.take_letter(minutes(5), minutes(8)).await.unwrap().unwrap();
        assert!(store.take_letter(minutes(6), minutes(9)).await.unwrap().is_none(), "it belongs to who took it");
        // Who took it dies here; after its time the letter goes by another hand, under the same id.
        assert_eq!(looked(&*store, &mail, 9).await, [Fate::Sent]);
        assert!(relay.letter().await.contains(&taken.letter.id.to_string()));
    }

    async fn a_relay_that_is_busy_is_asked_again_and_a_refusal_is_told_to_the_member(database) {
        let store = database.open().await;
        let busy = Relay::speaking(Way::Clear, LATER, None).await;
        let grower = grower(&*store).await;
        set_aside(&*store, &grower).await;
        assert_eq!(looked(&*store, &mail(&busy, None), 16).await, [Fate::Again(minutes(21))]);
        assert_eq!(looked(&*store, &mail(&busy, None), 20).await, [], "not before its time");
        assert_eq!(looked(&*store, &mail(&busy, None), 21).await, [Fate::Again(minutes(31))]);
        let strict = Relay::speaking(Way::Clear, REFUSED, None).await;
        assert_eq!(looked(&*store, &mail(&strict, None), 31).await, [Fate::GivenUp("the mail server refused the letter (550)".to_owned())]);
        let trouble = store.letter_wishes(grower.id).await.unwrap().trouble.unwrap();
        assert_eq!(trouble, ("the mail server refused the letter (550)".to_owned(), minutes(31)));
        // Choosing again puts it aside.
        store.wish_for_letters(grower.id, &[LetterKind::Verdicts], "another", minutes(40)).await.unwrap();
        assert_eq!(store.letter_wishes(grower.id).await.unwrap().trouble, None);
    }

    async fn letters_are_stopped_by_their_link_without_a_session_and_by_one_tap_of_a_mail_program(database) {
        let store = database.open().await;
        let relay = Relay::open().await;
        let mail = mail(&relay, None);
        let grower = grower(&*store).await;
        set_aside(&*store, &grower).await;
        let mut stranger = visitor(&store, &mail).await;
        let link = format!("/letters/stop/{STOP}");
        assert!(stranger.get(&link).await.expect(StatusCode::OK).body.contains("No more letters?"));
        assert_eq!(store.letter_wishes(grower.id).await.unwrap().kinds, [LetterKind::Verdicts], "opening the link stops nothing");
        // RFC 8058 §3.2: the body that a mail program posts.
        assert!(stranger.post(&link, &[("List-Unsubscribe", "One-Click")]).await.expect(StatusCode::OK).body.contains("No letter comes any more"));
        assert_eq!(store.letter_wishes(grower.id).await.unwrap().kinds, []);
        assert_eq!(looked(&*store, &mail, 16).await, []);
        stranger.get("/letters/stop/nobody").await.expect(StatusCode::GONE);
        stranger.post("/letters/stop/nobody", &[]).await.expect(StatusCode::GONE);
    }
}

#[tokio::test]
async fn a_member_ticks_the_letters_and_a_relay_that_nobody_vouches_for_gets_none() {
    let database = crate::support::TestDatabase::sqlite();
    let store = database.open().await;
    let relay = Relay::speaking(Way::Encrypted, TAKEN, None).await;
    let trusted = mail(&relay, None);
    let mut client = visitor(&store, &trusted).await;
    let fields = [("handle", "pruner"), ("passphrase", crate::support::client::PASSPHRASE)];
    client.post("/account/join", &fields).await.expect(StatusCode::SEE_OTHER);
    assert!(client.get("/account").await.body.contains("Once your address is confirmed"));
    let pruner = store.sign_in_facts("pruner").await.unwrap().unwrap().0;
    client
        .post("/account/letters", &[("letters", "verdicts"), ("letters", "words"), ("letters", "gossip")])
        .await
        .expect(StatusCode::SEE_OTHER);
    assert_eq!(store.letter_wishes(pruner.id).await.unwrap().kinds, [LetterKind::Verdicts, LetterKind::Words]);
    let untrusted =
        Mail::new(&RelaySettings { url: &relay.address, ..RelaySettings::default() }, "figs@example.org", "https://figs.example.org");
    let grower = grower(&*store).await;
    set_aside(&*store, &grower).await;
    assert_eq!(looked(&*store, &untrusted.unwrap(), 16).await, [Fate::Again(minutes(21))]);
}
