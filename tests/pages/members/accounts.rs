//! How long sessions live, how often a passphrase may be tried, and what names are taken: at the service behind the pages.

use std::sync::Arc;

use crate::support::client::PASSPHRASE;
use crate::support::on_both_engines;
use jiff::{SignedDuration, Timestamp};
use winterfig::ids::Ids;
use winterfig::jobs::accounts::limits::{Allowances, Limits};
use winterfig::jobs::accounts::members::{MOST_TOKENS, MemberError, Members, Origin};
use winterfig::records::{Member, Role};
use winterfig::store::{Leaving, Store};

const MANY: Allowances = Allowances { joins_per_hour: 1000, sign_ins_per_minute: 1000, writes_burst: 1000, writes_per_minute: 1000 };

fn desk(store: &Arc<dyn Store>) -> Members {
    Members::new(Arc::clone(store), Arc::new(Limits::new(MANY)), Ids::system())
}

fn from(known_as: Option<&str>) -> Origin {
    Origin { address: "192.0.2.1".to_owned(), device: "a test".to_owned(), known_as: known_as.map(str::to_owned) }
}

fn start() -> Timestamp {
    "2026-06-20T10:00:00Z".parse().unwrap()
}

async fn joined(members: &Members, handle: &str) -> (Member, String) {
    members.join(handle, PASSPHRASE, ("", ""), &from(None), start()).await.unwrap()
}

/// A clock that moves: the moment so long after the start.
fn at(after: SignedDuration) -> Timestamp {
    start() + after
}

const SECOND: SignedDuration = SignedDuration::from_secs(1);

on_both_engines! {
    // ASVS 5.0 7.3.1 and 7.3.2; the figures are a decision of the house's list of checks: members 14 days unused and 30 days in all.
    async fn a_members_session_ends_after_a_fortnight_unused_or_thirty_days_in_all(database) {
        let store = database.open().await;
        let members = desk(&store);
        let (_, secret) = joined(&members, "fern grower").await;
        let day = SignedDuration::from_hours(24);
        let lives = async |after| members.behind(&secret, at(after)).await.unwrap().is_some();
        assert!(!lives(-SECOND).await, "a clock set back brings no session to life that began later");
        assert!(lives(day * 14 - SECOND).await);
        // Used just now, so it may go unused for another fortnight.
        assert!(lives(day * 28 - SECOND * 2).await);
        assert!(lives(day * 30 - SECOND).await);
        assert!(!lives(day * 30).await);

        let (_, unused) = members.sign_in("fern grower", PASSPHRASE, &from(None), start()).await.unwrap();
        assert!(members.behind(&unused, at(day * 14)).await.unwrap().is_none());
    }

    // Those who judge others' reports: 30 minutes unused, 8 hours in all, also where the role came after the sign-in.
    async fn a_stewards_session_ends_after_half_an_hour_unused_or_eight_hours_in_all(database) {
        let store = database.open().await;
        let members = desk(&store);
        let (member, secret) = joined(&members, "fern grower").await;
        store.change_role(member.id, Role::Steward).await.unwrap();
        let minute = SignedDuration::from_mins(1);
        let lives = async |secret: &str, after| members.behind(secret, at(after)).await.unwrap().is_some();
        assert!(!lives(&secret, minute * 30).await);
        let mut now = SignedDuration::ZERO;
        while now + minute * 29 < minute * 480 {
            now += minute * 29;
            assert!(lives(&secret, now).await, "{now:?}");
        }
        assert!(lives(&secret, minute * 480 - SECOND).await);
        assert!(!lives(&secret, minute * 480).await);
    }

    // The last use is noted at most every five minutes, which may cost a session as much of its idle time and no more.
    async fn a_use_within_five_minutes_is_not_noted_and_a_later_one_is(database) {
        let store = database.open().await;
        let members = desk(&store);
        let (member, secret) = joined(&members, "fern grower").await;
        let seen = async || store.sessions_of(member.id).await.unwrap()[0].seen;
        let five = SignedDuration::from_mins(5);
        members.behind(&secret, at(five)).await.unwrap().unwrap();
        assert_eq!(seen().await, start());
        members.behind(&secret, at(five + SECOND)).await.unwrap().unwrap();
        assert_eq!(seen().await, at(five + SECOND));
    }

    // ASVS 6.3.1: a right guess after ten tries is refused like a wrong one, also where a session asks for the passphrase again.
    async fn the_passphrase_asked_again_is_counted_before_it_is_looked_at(database) {
        let store = database.open().await;
        let members = desk(&store);
        let (member, _) = joined(&members, "fern grower").await;
        for _ in 0..10 {
            assert!(matches!(members.confirm(&member, "not this one, is it").await, Err(MemberError::NotSignedIn)));
        }
        assert!(matches!(members.confirm(&member, PASSPHRASE).await, Err(MemberError::TooOften(_))));
        let leaving = members.leave(&member, PASSPHRASE, Leaving::KeepRecords, start()).await;
        assert!(matches!(leaving, Err(MemberError::TooOften(_))));
        assert!(store.member(member.id).await.unwrap().is_some());
    }

    // Strangers who use an account's sign-ins up do not keep its member from leaving.
    async fn strangers_do_not_use_up_what_a_session_may_ask(database) {
        let store = database.open().await;
        let members = desk(&store);
        let (member, _) = joined(&members, "fern grower").await;
        for _ in 0..12 {
            assert!(members.sign_in("fern grower", "not this one, is it", &from(None), start()).await.is_err());
        }
        assert!(members.confirm(&member, PASSPHRASE).await.is_ok());
    }

    // A stolen device was good for any number of guesses.
    async fn a_known_device_has_ten_tries_of_its_own(database) {
        let store = database.open().await;
        let members = desk(&store);
        let (member, _) = joined(&members, "fern grower").await;
        let own = members.know_device(&member, &from(None), start()).await.unwrap();
        let try_on = async |device: Option<&str>, passphrase: &str| members.sign_in("fern grower", passphrase, &from(device), start()).await;
        for _ in 0..10 {
            assert!(matches!(try_on(Some(&own), "not this one, is it").await, Err(MemberError::NotSignedIn)));
        }
        assert!(matches!(try_on(Some(&own), PASSPHRASE).await, Err(MemberError::TooOften(_))));
        assert!(try_on(None, PASSPHRASE).await.is_ok(), "others are counted apart");
    }

    async fn a_name_too_long_for_any_member_is_refused_before_anything_is_kept_of_it(database) {
        let store = database.open().await;
        let members = desk(&store);
        let long = "x".repeat(64 * 1024);
        let Err(MemberError::Fields(errors)) = members.sign_in(&long, PASSPHRASE, &from(None), start()).await else { panic!("taken") };
        let said = errors.to_string();
        assert!(said.contains("no name here is longer than 30 characters") && said.len() < 300, "{} bytes", said.len());
        // 30 letters of 4 bytes are a name like any other.
        assert!(matches!(members.sign_in(&"𐐨".repeat(30), PASSPHRASE, &from(None), start()).await, Err(MemberError::NotSignedIn)));
    }

    async fn tokens_are_bounded_and_the_refusal_says_what_to_do(database) {
        let store = database.open().await;
        let members = desk(&store);
        let (member, _) = joined(&members, "fern grower").await;
        for nth in 0..MOST_TOKENS {
            members.make_token(member.id, &format!("logger {nth}"), start()).await.unwrap();
        }
        let Err(MemberError::Fields(errors)) = members.make_token(member.id, "one more", start()).await else { panic!("made") };
        assert!(errors.to_string().contains("end one that is no longer used"), "{errors}");
        assert_eq!(store.tokens_of(member.id).await.unwrap().len(), MOST_TOKENS);
    }
}
