//! The contract of the store: every test runs on SQLite and on PostgreSQL.

use crate::support::members::{counting, decided, joined, moment, record, submitted};
use crate::support::{TestDatabase, execute, on_both_engines};
use sqlx::{Connection, PgConnection};
use uuid::Uuid;
use winterfig::catalogue::{Catalogue, CatalogueRecords};
use winterfig::records::words::TopKilled;
use winterfig::records::{ReviewState, Role};
use winterfig::store::{self, Condition, Leaving, StoreError};

on_both_engines! {
    async fn the_catalogue_comes_back_as_it_was_planted(database) {
        let store = database.open().await;
        let kept = store.catalogue().await.unwrap();
        let shipped = Catalogue::embedded().unwrap();
        assert_eq!(kept.cultivars(), shipped.cultivars());
        assert_eq!(kept.sources(), shipped.sources());
    }

    async fn planting_the_same_version_again_writes_nothing(database) {
        let store = database.open().await;
        let records = CatalogueRecords::embedded().unwrap();
        assert!(!store.plant_catalogue(&records, &CatalogueRecords::embedded_version()).await.unwrap());
    }

    async fn a_new_version_replaces_the_facts_and_unlists_what_left(database) {
        let store = database.open().await;
        let mut records = CatalogueRecords::embedded().unwrap();
        let gone = records.cultivars.remove(0);
        records.facts.retain(|fact| fact.cultivar != gone.slug);
        records.confused.retain(|pair| pair.cultivar != gone.slug && pair.other != gone.slug);
        assert!(store.plant_catalogue(&records, "the next one").await.unwrap());
        let kept = store.catalogue().await.unwrap();
        assert_eq!(kept.cultivars().len(), 85);
        assert!(kept.get(&gone.slug).is_none());
    }

    async fn a_seed_that_does_not_hold_together_leaves_the_old_one(database) {
        let store = database.open().await;
        let mut records = CatalogueRecords::embedded().unwrap();
        "no-such-fig".clone_into(&mut records.facts[0].cultivar);
        assert!(store.plant_catalogue(&records, "broken").await.is_err());
        assert_eq!(store.catalogue().await.unwrap().cultivars(), Catalogue::embedded().unwrap().cultivars());
    }

    async fn opening_twice_in_turn_keeps_what_was_there(database) {
        let store = database.open().await;
        store.mark_simulated().await.unwrap();
        store.close().await;
        drop(store);
        let store = database.open().await;
        assert!(store.is_simulated().await.unwrap());
        assert_eq!(store.condition().await, Condition::Well);
    }

    async fn planting_at_the_same_time_from_several_tasks_ends_with_one_catalogue(database) {
        let store = database.open().await;
        let records = CatalogueRecords::embedded().unwrap();
        let mut tasks = tokio::task::JoinSet::new();
        for nth in 0..6 {
            let (store, records) = (store.clone(), records.clone());
            tasks.spawn(async move { store.plant_catalogue(&records, &format!("version {nth}")).await.unwrap() });
        }
        assert!(tasks.join_all().await.into_iter().all(|planted| planted));
        assert_eq!(store.catalogue().await.unwrap().cultivars(), Catalogue::embedded().unwrap().cultivars());
    }
}

// DUR-01 of the house's list of checks: version, log, sync and references as the engine itself reports them.
#[tokio::test]
async fn sqlite_reports_the_settings_that_durability_rests_on() {
    let facts = TestDatabase::sqlite().open().await.engine_facts().await.unwrap();
    assert_eq!(facts.durability, "journal_mode=wal synchronous=2 foreign_keys=1");
    assert_eq!(facts.version, "3.51.3");
}

// DUR-11: a second opener of one data file is refused; after the first has gone it is let in.
#[tokio::test]
async fn a_second_process_on_one_data_file_is_refused() {
    let database = TestDatabase::sqlite();
    let first = database.open().await;
    assert!(matches!(store::open(&database.address).await, Err(StoreError::InUse { .. })));
    drop(first);
    assert!(store::open(&database.address).await.is_ok());
}

// BAK-01, BAK-02, BAK-04: a copy passes its checks and is private, a damaged one is found out, a name in use is not overwritten.
#[tokio::test]
async fn a_copy_passes_its_checks_and_a_damaged_one_does_not() {
    let folder = tempfile::tempdir().unwrap();
    let copy = folder.path().join("copy.db");
    let store = TestDatabase::sqlite().open().await;
    store.copy_to(&copy).await.unwrap();
    assert_eq!(store::verify_copy(&copy).await.unwrap(), 86);
    assert!(store.copy_to(&copy).await.is_err());
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(std::fs::metadata(&copy).unwrap().permissions().mode() & 0o777, 0o600);
    }
    let mut bytes = std::fs::read(&copy).unwrap();
    for byte in bytes.iter_mut().skip(4096).step_by(4096).take(40) {
        *byte ^= 0xff;
    }
    std::fs::write(&copy, bytes).unwrap();
    assert!(matches!(store::verify_copy(&copy).await, Err(StoreError::BadCopy { .. })));
}

// BAK-03: a copy from before an erasure, put back, does not bring the member back, and loses nobody else.
#[tokio::test]
async fn an_older_copy_put_back_does_not_bring_back_who_was_forgotten() {
    let database = TestDatabase::sqlite();
    let file = database.address.trim_start_matches("sqlite:").to_owned();
    let copy = format!("{file}.copy");
    let store = database.open().await;
    let gone = joined(&*store, "grower one", Role::Member).await;
    let stays = joined(&*store, "grower two", Role::Member).await;
    let report = submitted(&*store, &gone, "celeste", record(-9.4, TopKilled::Tips)).await;
    let steward = joined(&*store, "judge", Role::Steward).await;
    decided(&*store, &report, &steward, ReviewState::Accepted).await;
    store.copy_to(std::path::Path::new(&copy)).await.unwrap();
    store.forget_member(gone.id, Leaving::KeepRecords, Uuid::nil(), moment(50)).await.unwrap();
    let published = counting(&*store).await[0].id;
    store.close().await;
    drop(store);

    for log in ["-wal", "-shm"] {
        let _ = std::fs::remove_file(format!("{file}{log}"));
    }
    std::fs::rename(&copy, &file).unwrap();
    let store = database.open().await;
    let members = store.members().await.unwrap();
    assert_eq!(members.iter().map(|member| member.id).collect::<Vec<_>>(), [stays.id, steward.id]);
    let kept = store.report(published).await.unwrap().expect("the id that the record took when they left");
    assert!(kept.reporter.is_none() && kept.plant.place.words.is_none() && kept.record.note.is_none());
    store.close().await;
    let bytes = std::fs::read(&file).unwrap();
    assert!(!bytes.windows(10).any(|window| window == b"grower one"));
    assert!(bytes.windows(10).any(|window| window == b"grower two"));
}

#[tokio::test]
async fn an_address_without_a_file_is_refused() {
    for bad in ["sqlite::memory:", "mysql://host/fig", "", "winterfig.db"] {
        assert!(matches!(store::open(bad).await, Err(StoreError::Address { .. })), "{bad}");
    }
}

// All connections wait for a table that somebody holds; whoever watches the service is told that the database answers.
#[tokio::test(flavor = "multi_thread")]
async fn postgres_is_asked_how_it_is_on_a_connection_of_its_own() {
    let database = TestDatabase::postgres().await;
    let store = database.open().await;
    let mut holder = PgConnection::connect(&database.address).await.unwrap();
    execute(&mut holder, "BEGIN; LOCK TABLE member".to_owned()).await;
    let mut waiting = tokio::task::JoinSet::new();
    for _ in 0..20 {
        let store = store.clone();
        waiting.spawn(async move { store.members().await.is_ok() });
    }
    let held = "SELECT COUNT(*) FROM pg_locks WHERE NOT granted AND relation = CAST('member' AS regclass)";
    while sqlx::query_scalar::<_, i64>(held).fetch_one(&mut holder).await.unwrap() < 8 {
        tokio::task::yield_now().await;
    }
    assert_eq!(store.condition().await, Condition::Well);
    execute(&mut holder, "COMMIT".to_owned()).await;
    assert!(waiting.join_all().await.contains(&true));
}

#[tokio::test]
async fn postgres_that_only_lets_read_is_said_not_to_be_written_to() {
    let database = TestDatabase::postgres().await;
    let store = database.open().await;
    let mut admin = PgConnection::connect(&database.address).await.unwrap();
    let name = database.address.rsplit('/').next().unwrap();
    execute(&mut admin, format!("ALTER DATABASE {name} SET default_transaction_read_only = on")).await;
    let condition = store.condition().await;
    assert!(matches!(&condition, Condition::NotWritable(why) if why.contains("read-only")), "{condition:?}");
    execute(&mut admin, "SET default_transaction_read_only = off".to_owned()).await;
    execute(&mut admin, format!("ALTER DATABASE {name} RESET default_transaction_read_only")).await;
    store.close().await;
    drop(store);
    assert_eq!(database.open().await.condition().await, Condition::Well);
}
