//! What must hold when two ask at once, when a clock was wrong, and when a row cannot be read.

use crate::support::members::{counting, decided, evidence, joined, moment, record, submitted};
use crate::support::{TestDatabase, on_both_engines};
use sqlx::{Connection, PgConnection, SqliteConnection};
use uuid::Uuid;
use winterfig::records::place::{FineCells, HeldPoint};
use winterfig::records::words::TopKilled;
use winterfig::records::{MemberId, ReviewState, Role};
use winterfig::store::{ApiToken, DataRelease, LinkPurpose, MailLink, RoleChange};

/// Runs a statement behind the store's back.
async fn behind_its_back(database: &TestDatabase, text: &'static str) {
    if database.engine == "SQLite" {
        let mut connection = SqliteConnection::connect(&database.address).await.unwrap();
        sqlx::raw_sql(text).execute(&mut connection).await.unwrap();
    } else {
        let mut connection = PgConnection::connect(&database.address).await.unwrap();
        sqlx::raw_sql(text).execute(&mut connection).await.unwrap();
    }
}

fn token(member: MemberId, nth: usize) -> ApiToken {
    ApiToken { id: format!("t{nth}"), member, name: "logger".to_owned(), scope: "report".to_owned(), made: moment(1) }
}

fn release(version: &str) -> DataRelease {
    DataRelease { number: 0, version: version.to_owned(), made: moment(1), reports: 1, plants: 1, sha256: version.to_owned() }
}

on_both_engines! {
    async fn a_lease_from_a_clock_that_was_ahead_does_not_hold_once_it_is_right(database) {
        let store = database.open().await;
        let (one, two) = (Uuid::from_u128(1), Uuid::from_u128(2));
        let ahead = 26 * 3600;
        assert!(store.try_to_lead("fit", one, moment(ahead), moment(ahead + 30)).await.unwrap());
        assert!(store.try_to_lead("fit", two, moment(0), moment(30)).await.unwrap(), "26 hours ahead is no lease of 30 s");
        // Clocks of healthy processes may differ by less than a lease.
        assert!(store.try_to_lead("other", one, moment(29), moment(59)).await.unwrap());
        assert!(!store.try_to_lead("other", two, moment(0), moment(30)).await.unwrap());
    }

    async fn a_lease_given_back_is_gone_also_for_those_whose_clock_is_behind(database) {
        let store = database.open().await;
        let (one, two) = (Uuid::from_u128(1), Uuid::from_u128(2));
        assert!(store.try_to_lead("fit", one, moment(20), moment(50)).await.unwrap());
        assert!(!store.try_to_lead("fit", two, moment(20), moment(20)).await.unwrap(), "nobody gives back what another holds");
        assert!(store.try_to_lead("fit", one, moment(20), moment(20)).await.unwrap());
        assert!(store.try_to_lead("fit", two, moment(0), moment(30)).await.unwrap());
    }

    async fn a_row_that_cannot_be_read_is_left_out_of_lists(database) {
        let store = database.open().await;
        let (who, steward) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "judge", Role::Steward).await);
        for coldest in [-9.4, -7.0] {
            let report = submitted(&*store, &who, "celeste", record(coldest, TopKilled::Tips)).await;
            decided(&*store, &report, &steward, ReviewState::Accepted).await;
        }
        behind_its_back(&database, "INSERT INTO withdrawn_report (id, at_ms) VALUES ('not-an-id', 1)").await;
        behind_its_back(&database, "UPDATE report SET content = '{}' WHERE coldest_c = -7.0").await;
        behind_its_back(&database, "INSERT INTO member (id, handle, handle_folded, passphrase, role, credit, joined_ms)
            VALUES ('of a later version', 'late', 'late', 'hash', 'gardener', 'unnamed', 1)").await;
        assert_eq!(store.withdrawn_reports().await.unwrap(), []);
        assert_eq!(counting(&*store).await.len(), 1);
        assert_eq!(evidence(&*store).await.0.len(), 1);
        assert_eq!(store.reports_of(who.id).await.unwrap().len(), 1);
        assert_eq!(store.members().await.unwrap().len(), 2);
    }

    async fn two_administrators_at_once_leave_one(database) {
        let store = database.open().await;
        let (one, two) = (joined(&*store, "grower one", Role::Administrator).await, joined(&*store, "grower two", Role::Administrator).await);
        let (first, second) = tokio::join!(store.change_role(one.id, Role::Member), store.change_role(two.id, Role::Member));
        let mut changes = [first.unwrap(), second.unwrap()];
        changes.sort_by_key(|change| *change == RoleChange::LastAdministrator);
        assert_eq!(changes, [RoleChange::Given, RoleChange::LastAdministrator]);
        assert!(store.has_administrator().await.unwrap());
        assert_eq!(store.change_role(MemberId(Uuid::nil()), Role::Member).await.unwrap(), RoleChange::NoMember);
        assert_eq!(store.change_role(one.id, Role::Administrator).await.unwrap(), RoleChange::Given);
    }

    async fn a_member_has_no_more_tokens_than_the_most_also_when_asking_at_once(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        let mut tasks = tokio::task::JoinSet::new();
        for nth in 0..6 {
            let store = store.clone();
            tasks.spawn(async move { store.make_token(&token(who.id, nth), &format!("hash {nth}"), 3).await.unwrap() });
        }
        assert_eq!(tasks.join_all().await.into_iter().filter(|made| *made).count(), 3);
        assert_eq!(store.tokens_of(who.id).await.unwrap().len(), 3);
    }

    async fn a_new_passphrase_forgets_the_devices_and_a_reset_the_tokens_too(database) {
        let store = database.open().await;
        let who = joined(&*store, "grower one", Role::Member).await;
        assert!(store.make_token(&token(who.id, 1), "hash", 3).await.unwrap());
        store.know_device(who.id, "device", moment(1)).await.unwrap();
        store.set_passphrase(who.id, "new hash", None).await.unwrap();
        assert!(!store.knows_device(who.id, "device").await.unwrap());
        assert!(store.token("hash").await.unwrap().is_some(), "a change of one's own leaves the programs");
        store.know_device(who.id, "device", moment(2)).await.unwrap();
        let link = MailLink {
            secret_hash: "secret".to_owned(), member: who.id, purpose: LinkPurpose::Reset, email: "one@example.org".to_owned(), ends: moment(9),
        };
        store.keep_link(&link).await.unwrap();
        assert_eq!(store.reset_passphrase("secret", "newer hash", moment(3)).await.unwrap(), Some(who.id));
        assert!(!store.knows_device(who.id, "device").await.unwrap() && store.token("hash").await.unwrap().is_none());
    }

    async fn a_release_that_does_not_follow_the_newest_is_refused_and_its_cells_stay(database) {
        let store = database.open().await;
        let cells = |points: &[(f64, f64)]| points.iter().map(|(lat, lon)| HeldPoint::new(*lat, *lon).unwrap().cell()).collect::<FineCells>();
        let (first, second) = (cells(&[(51.04, -0.13), (-33.9, 18.4)]), cells(&[(51.04, -0.13)]));
        assert_eq!(store.fine_cells().await.unwrap(), FineCells::default());
        assert_eq!(store.keep_release(&release("1.60.0+aa"), b"one", &first).await.unwrap(), Some(1));
        assert_eq!(store.fine_cells().await.unwrap(), first);
        assert_eq!(store.keep_release(&release("1.59.0+bb"), b"two", &second).await.unwrap(), None);
        assert_eq!(store.fine_cells().await.unwrap(), first);
        assert_eq!(store.keep_release(&release("1.61.0+bb"), b"two", &second).await.unwrap(), Some(2));
        assert_eq!(store.fine_cells().await.unwrap(), second);
        assert_eq!(store.keep_release(&release("1.61.0+bb"), b"two", &second).await.unwrap(), None, "the same bytes");
    }
}
