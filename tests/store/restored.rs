//! A copy from before an erasure, put back: who asked to be forgotten is forgotten again, and everybody else is there.

use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::sync::Arc;

use crate::support::members::{counting, decided, joined, moment, record, submitted};
use crate::support::{TestDatabase, execute, on_both_engines};
use sqlx::{Connection, PgConnection};
use uuid::Uuid;
use winterfig::records::words::TopKilled;
use winterfig::records::{Member, ReviewState, Role};
use winterfig::store::{self, Leaving, Store};

const SEED: Uuid = Uuid::from_u128(9);

/// Copies a database that nobody has open, as a dump does, and gives the address of the copy.
async fn copied(database: &TestDatabase, name: &str) -> String {
    if let Some(file) = database.address.strip_prefix("sqlite:") {
        let copy = Path::new(file).with_file_name(name);
        std::fs::copy(file, &copy).unwrap();
        return format!("sqlite:{}", copy.display());
    }
    let (cluster, original) = database.address.rsplit_once('/').unwrap();
    let mut admin = PgConnection::connect(&format!("{cluster}/postgres")).await.unwrap();
    let copy = format!("{original}_{name}");
    execute(&mut admin, format!("CREATE DATABASE {copy} TEMPLATE {original}")).await;
    format!("{cluster}/{copy}")
}

async fn opened(address: &str, list: &Path) -> Arc<dyn Store> {
    // A data file of SQLite has its list beside it.
    if let Some(file) = address.strip_prefix("sqlite:")
        && list.exists()
    {
        std::fs::copy(list, format!("{file}.erased")).unwrap();
    }
    store::open_listing(address, list).await.unwrap()
}

/// The list as it is after the database was in use.
fn list_of(database: &TestDatabase, list: &Path) -> String {
    let beside = database.address.strip_prefix("sqlite:").map(|file| format!("{file}.erased"));
    if let Some(beside) = beside {
        std::fs::copy(beside, list).unwrap();
    }
    std::fs::read_to_string(list).unwrap()
}

async fn with_a_report(store: &dyn Store, steward: &Member, name: &str) -> Member {
    let who = joined(store, name, Role::Member).await;
    let report = submitted(store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
    decided(store, &report, steward, ReviewState::Accepted).await;
    who
}

async fn members(store: &dyn Store) -> Vec<String> {
    store.members().await.unwrap().into_iter().map(|member| member.handle.as_str().to_owned()).collect()
}

on_both_engines! {
    async fn a_dump_put_back_does_not_bring_back_who_was_forgotten_since(database) {
        let folder = tempfile::tempdir().unwrap();
        let list = folder.path().join("erased");
        let store = opened(&database.address, &list).await;
        let steward = joined(&*store, "judge", Role::Steward).await;
        let (gone, also_gone) = (with_a_report(&*store, &steward, "grower one").await, with_a_report(&*store, &steward, "grower two").await);
        store.close().await;
        drop(store);
        let dump = copied(&database, "dump").await;

        let store = opened(&database.address, &list).await;
        store.forget_member(gone.id, Leaving::KeepRecords, SEED, moment(50)).await.unwrap();
        store.forget_member(also_gone.id, Leaving::RemoveRecords, SEED, moment(60)).await.unwrap();
        let published: Vec<_> = counting(&*store).await.into_iter().map(|report| report.id).collect();
        store.close().await;
        drop(store);
        let listed = list_of(&database, &list);
        assert!(listed.contains(&gone.id.to_string()) && listed.lines().count() == 2, "{listed}");
        assert!(!listed.contains("grower"));

        let restored = opened(&dump, &list).await;
        assert_eq!(members(&*restored).await, ["judge"]);
        let again: Vec<_> = counting(&*restored).await.into_iter().map(|report| report.id).collect();
        assert_eq!(again, published, "kept records have the ids that they took when their member left");
        restored.close().await;
    }

    async fn a_list_that_was_lost_is_written_again_from_the_database(database) {
        let folder = tempfile::tempdir().unwrap();
        let list = folder.path().join("erased");
        let store = opened(&database.address, &list).await;
        let gone = joined(&*store, "grower one", Role::Member).await;
        store.forget_member(gone.id, Leaving::KeepRecords, SEED, moment(50)).await.unwrap();
        store.close().await;
        drop(store);
        let before = list_of(&database, &list);
        let _ = std::fs::remove_file(format!("{}.erased", database.address.trim_start_matches("sqlite:")));
        std::fs::remove_file(&list).unwrap();
        store::open_listing(&database.address, &list).await.unwrap().close().await;
        assert_eq!(list_of(&database, &list), before);
    }
}

// Every process keeps a list of its own, with what the others erased in it.
#[tokio::test]
async fn a_process_lists_what_another_one_on_the_same_database_erased() {
    let database = TestDatabase::postgres().await;
    let folder = tempfile::tempdir().unwrap();
    let lists = ["one", "two"].map(|name| folder.path().join(name));
    let (one, two) = (
        store::open_listing(&database.address, &lists[0]).await.unwrap(),
        store::open_listing(&database.address, &lists[1]).await.unwrap(),
    );
    let gone = joined(&*one, "grower one", Role::Member).await;
    one.forget_member(gone.id, Leaving::KeepRecords, SEED, moment(50)).await.unwrap();
    assert!(!lists[1].exists());
    two.complete_list_of_erasures().await.unwrap();
    two.complete_list_of_erasures().await.unwrap();
    let read = |list| std::fs::read_to_string(list).unwrap();
    assert_eq!(read(&lists[0]), read(&lists[1]));
    assert_eq!(std::fs::metadata(&lists[1]).unwrap().permissions().mode() & 0o777, 0o600);
}

// A list that cannot be written holds up nobody who wants to leave: the database keeps the erasure.
#[tokio::test]
async fn a_list_that_cannot_be_written_does_not_hold_up_an_erasure_on_postgres() {
    let database = TestDatabase::postgres().await;
    let folder = tempfile::tempdir().unwrap();
    let nowhere = folder.path().join("no such folder/erased");
    let store = store::open_listing(&database.address, &nowhere).await.unwrap();
    let gone = joined(&*store, "grower one", Role::Member).await;
    store.forget_member(gone.id, Leaving::KeepRecords, SEED, moment(50)).await.unwrap();
    assert!(members(&*store).await.is_empty() && store.complete_list_of_erasures().await.is_err());
    std::fs::create_dir(folder.path().join("no such folder")).unwrap();
    store.complete_list_of_erasures().await.unwrap();
    assert!(std::fs::read_to_string(&nowhere).unwrap().contains(&gone.id.to_string()));
}
