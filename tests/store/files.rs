//! Files of SQLite: private from the first byte, one name, copies put back whole.

use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

use crate::support::members::{joined, member, moment, record, submitted};
use crate::support::{TestDatabase, on_both_engines};
use uuid::Uuid;
use winterfig::records::Role;
use winterfig::records::words::TopKilled;
use winterfig::store::{self, Leaving, Simulation, StoreError};

fn mode(path: &Path) -> u32 {
    std::fs::metadata(path).unwrap().permissions().mode() & 0o777
}

fn file_of(database: &TestDatabase) -> PathBuf {
    database.address.trim_start_matches("sqlite:").into()
}

fn beside(file: &Path, ending: &str) -> PathBuf {
    format!("{}{ending}", file.display()).into()
}

#[tokio::test]
async fn data_file_log_lock_and_list_are_their_owners_alone() {
    let database = TestDatabase::sqlite();
    let file = file_of(&database);
    let store = database.open().await;
    let who = joined(&*store, "grower one", Role::Member).await;
    store.forget_member(who.id, Leaving::KeepRecords, Uuid::nil(), moment(1)).await.unwrap();
    for ending in ["", "-wal", "-shm", ".lock", ".erased"] {
        assert_eq!(mode(&beside(&file, ending)), 0o600, "{ending}");
    }
}

#[tokio::test]
async fn files_that_an_earlier_version_left_open_to_others_are_closed() {
    let database = TestDatabase::sqlite();
    let file = file_of(&database);
    drop(database.open().await);
    for ending in ["", ".lock"] {
        std::fs::set_permissions(beside(&file, ending), std::fs::Permissions::from_mode(0o644)).unwrap();
    }
    let _store = database.open().await;
    assert_eq!((mode(&file), mode(&beside(&file, ".lock"))), (0o600, 0o600));
}

// The file that a copy is written into is private before the first byte of the data: what is there when the copy breaks off stays private.
#[tokio::test]
async fn a_copy_that_breaks_off_leaves_a_private_part() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let folder = tempfile::tempdir().unwrap();
    let copy = folder.path().join("copy.db");
    // A folder stands where the checked copy would get its name.
    std::fs::create_dir_all(folder.path().join("copy.db.part")).unwrap();
    assert!(store.copy_to(&copy).await.is_err());
    std::fs::remove_dir(folder.path().join("copy.db.part")).unwrap();
    store.copy_to(&copy).await.unwrap();
    assert_eq!(mode(&copy), 0o600);
}

#[tokio::test]
async fn one_data_file_has_one_lock_whatever_path_leads_to_it() {
    let database = TestDatabase::sqlite();
    let file = file_of(&database);
    let store = database.open().await;
    let link = beside(&file, ".link.db");
    std::os::unix::fs::symlink(&file, &link).unwrap();
    let through_link = format!("sqlite:{}", link.display());
    assert!(matches!(store::open(&through_link).await, Err(StoreError::InUse { .. })));
    drop(store);
    joined(&*store::open(&through_link).await.unwrap(), "grower one", Role::Member).await;
    assert_eq!(database.open().await.members().await.unwrap().len(), 1, "it is the same file");
}

#[tokio::test]
async fn a_data_file_with_a_second_name_is_refused() {
    let database = TestDatabase::sqlite();
    let file = file_of(&database);
    drop(database.open().await);
    let second = beside(&file, ".second.db");
    std::fs::hard_link(&file, &second).unwrap();
    for path in [&file, &second] {
        let refused = store::open(&format!("sqlite:{}", path.display())).await.err().unwrap().to_string();
        assert!(refused.contains("2 names"), "{refused}");
        assert!(store::open_reading(&format!("sqlite:{}", path.display())).await.is_err());
    }
    std::fs::remove_file(&second).unwrap();
    database.open().await;
}

#[tokio::test]
async fn a_copy_is_put_back_whole_and_what_stood_there_is_kept() {
    let database = TestDatabase::sqlite();
    let file = file_of(&database);
    let copy = beside(&file, ".copy");
    let store = database.open().await;
    let gone = joined(&*store, "grower one", Role::Member).await;
    submitted(&*store, &gone, "celeste", record(-9.4, TopKilled::Tips)).await;
    store.copy_to(&copy).await.unwrap();
    joined(&*store, "grower two", Role::Member).await;
    store.forget_member(gone.id, Leaving::KeepRecords, Uuid::nil(), moment(1)).await.unwrap();

    assert!(matches!(store::restore(&database.address, &copy).await, Err(StoreError::InUse { .. })), "not beside a running service");
    drop(store);
    let restored = store::restore(&database.address, &copy).await.unwrap();
    assert_eq!((restored.forgotten, restored.list_found), (1, true));
    assert_eq!(mode(&file), 0o600);
    let store = database.open().await;
    assert!(store.members().await.unwrap().is_empty(), "who left since was forgotten again");
    assert!(store.join(&member("grower two", Role::Member), "hash").await.unwrap(), "they joined after the copy was made");
    drop(store);
    // What stood there before is a database of its own.
    let before = restored.before.unwrap();
    let before = store::open(&format!("sqlite:{}", before.display())).await.unwrap();
    assert_eq!(before.members().await.unwrap().iter().map(|m| m.handle.to_string()).collect::<Vec<_>>(), ["grower two"]);
}

#[tokio::test]
async fn a_damaged_copy_is_not_put_back() {
    let database = TestDatabase::sqlite();
    let copy = beside(&file_of(&database), ".copy");
    let store = database.open().await;
    joined(&*store, "grower one", Role::Member).await;
    store.copy_to(&copy).await.unwrap();
    drop(store);
    let mut bytes = std::fs::read(&copy).unwrap();
    for byte in bytes.iter_mut().skip(4096).step_by(4096).take(40) {
        *byte ^= 0xff;
    }
    std::fs::write(&copy, bytes).unwrap();
    assert!(matches!(store::restore(&database.address, &copy).await, Err(StoreError::BadCopy { .. })));
    assert_eq!(database.open().await.members().await.unwrap().len(), 1, "the data file is as it was");
}

#[tokio::test]
async fn a_copy_is_put_where_there_was_none() {
    let database = TestDatabase::sqlite();
    let folder = tempfile::tempdir().unwrap();
    let copy = folder.path().join("copy.db");
    let store = database.open().await;
    joined(&*store, "grower one", Role::Member).await;
    store.copy_to(&copy).await.unwrap();
    let address = format!("sqlite:{}", folder.path().join("new.db").display());
    let restored = store::restore(&address, &copy).await.unwrap();
    assert_eq!((restored.before, restored.list_found), (None, true), "the copy brings its list along");
    assert_eq!(store::open(&address).await.unwrap().members().await.unwrap().len(), 1);
}

on_both_engines! {
    async fn what_a_filling_left_that_broke_off_is_not_taken_for_the_whole(database) {
        let store = database.open().await;
        assert_eq!(store.simulation().await.unwrap(), None);
        store.begin_simulation().await.unwrap();
        let who = joined(&*store, "grower one", Role::Member).await;
        submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
        drop(store);
        let store = database.open().await;
        assert_eq!(store.simulation().await.unwrap(), Some(Simulation::Filling));
        assert!(store.is_simulated().await.unwrap());
        store.begin_simulation().await.unwrap();
        assert!(store.members().await.unwrap().is_empty());
        joined(&*store, "grower one", Role::Member).await;
        store.mark_simulated().await.unwrap();
        assert_eq!(store.simulation().await.unwrap(), Some(Simulation::Whole));
    }
}
