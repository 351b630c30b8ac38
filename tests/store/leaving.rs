//! What is left when a member leaves: records under new ids, a closed name, and no word in the files of the engine.

use std::path::Path;

use crate::support::members::{counting, decided, joined, member, moment, plant, record, submission, submitted};
use crate::support::{TestDatabase, execute, on_both_engines};
use sqlx::sqlite::SqliteConnectOptions;
use sqlx::{Connection, PgConnection, SqliteConnection};
use uuid::Uuid;
use winterfig::records::words::TopKilled;
use winterfig::records::{Flag, Flagged, HeatMet, Report, ReviewState, Role, SiteId, WinterRecord};
use winterfig::store::{Erasure, Leaving, Store, Submitted};

const SEED: Uuid = Uuid::from_u128(7);

async fn only_accepted(store: &dyn Store) -> Report {
    let mut all = counting(store).await;
    assert_eq!(all.len(), 1);
    all.remove(0)
}

on_both_engines! {
    async fn records_that_stay_take_new_ids_and_the_old_ones_are_listed_as_withdrawn(database) {
        let store = database.open().await;
        let (who, steward) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "judge", Role::Steward).await);
        let heat = HeatMet { site: Some(SiteId(Uuid::from_u128(3))), to_growth: Some(210.0), to_ripe: None, to_frost: None, harder_k: None };
        let mut planted = plant(who.id, "celeste");
        "Celeste from my aunt in the old mill".clone_into(&mut planted.name_written);
        let record = WinterRecord { heat: Some(heat), ..record(-9.4, TopKilled::Tips) };
        let flag = Flagged { flag: Flag::NameFuzzy, detail: planted.name_written.clone() };
        let sent = winterfig::store::Submission { flags: vec![flag], ..submission(&who, "key", planted, record) };
        let Submitted::Fresh(old) = store.submit(&sent).await.unwrap() else { panic!("not fresh") };
        decided(&*store, &store.report(old).await.unwrap().unwrap(), &steward, ReviewState::Accepted).await;

        assert_eq!(store.forget_member(who.id, Leaving::KeepRecords, SEED, moment(50)).await.unwrap(), Erasure::Done);
        assert_eq!((store.report(old).await.unwrap(), store.plant(sent.plant.id).await.unwrap()), (None, None));
        let kept = only_accepted(&*store).await;
        assert!(kept.id != old && kept.plant.id != sent.plant.id);
        assert_eq!((kept.id.0.get_version_num(), kept.plant.id.0.get_version_num()), (4, 4), "no moment of leaving is in them");
        assert_eq!((store.versions(kept.id).await.unwrap().len(), store.decisions(kept.id).await.unwrap().len()), (1, 1));
        assert_eq!(store.withdrawn_reports().await.unwrap(), [(old, moment(50))]);
        assert_eq!((kept.plant.name_written.as_str(), kept.plant.owner), ("Celeste", None));
        assert!(kept.flags.iter().all(|flagged| flagged.detail.is_empty()) && kept.flags.len() == 1);
        assert_eq!(kept.record.heat.unwrap(), HeatMet { site: None, ..heat });
    }

    async fn a_fig_that_the_catalogue_does_not_know_keeps_no_name_of_the_members_making(database) {
        let store = database.open().await;
        let (who, steward) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "judge", Role::Steward).await);
        let mut planted = plant(who.id, "celeste");
        (planted.name_written, planted.cultivar) = ("Uncle of the mill".to_owned(), None);
        let sent = submission(&who, "key", planted, record(-9.4, TopKilled::Tips));
        store.submit(&sent).await.unwrap();
        decided(&*store, &store.report(sent.report).await.unwrap().unwrap(), &steward, ReviewState::Accepted).await;
        store.forget_member(who.id, Leaving::KeepRecords, SEED, moment(50)).await.unwrap();
        assert_eq!(only_accepted(&*store).await.plant.name_written, "a name not in the catalogue");
    }

    async fn the_name_of_a_member_who_left_stays_closed_and_so_do_its_lookalikes(database) {
        let store = database.open().await;
        let who = joined(&*store, "Mission grower", Role::Member).await;
        store.forget_member(who.id, Leaving::RemoveRecords, SEED, moment(50)).await.unwrap();
        for name in ["Mission grower", "mission-grower", "Rnission grower"] {
            assert!(!store.join(&member(name, Role::Member), "hash").await.unwrap(), "{name}");
        }
        assert!(store.join(&member("Mission growers", Role::Member), "hash").await.unwrap());
    }

    async fn a_name_that_looks_like_anothers_is_taken(database) {
        let store = database.open().await;
        joined(&*store, "Illex", Role::Member).await;
        for name in ["lllex", "ILLEX", "1llex", "íllex"] {
            assert!(!store.join(&member(name, Role::Member), "hash").await.unwrap(), "{name}");
        }
        assert_eq!(store.members().await.unwrap().len(), 1);
    }
}

/// Whether a text stands in the data file or its log, bytes as they lie on the disk.
fn on_disk(database: &TestDatabase, text: &str) -> bool {
    let file = database.address.trim_start_matches("sqlite:");
    ["", "-wal"].iter().any(|ending| {
        let bytes = std::fs::read(format!("{file}{ending}")).unwrap_or_default();
        bytes.windows(text.len()).any(|window| window == text.as_bytes())
    })
}

/// Asks until an erasure is finished; the suite's own limit ends a test that waits for ever.
async fn finished(store: &dyn Store) {
    while store.unfinished_erasure().await.unwrap() {
        tokio::task::yield_now().await;
    }
}

// PRV-03, beside a copy being made: it reads a state that only the log holds, so the words stay in the log until it is done.
#[tokio::test]
async fn an_erasure_beside_an_open_reader_says_that_it_will_be_finished_and_is() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let who = joined(&*store, "grower one", Role::Member).await;
    submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
    let options: SqliteConnectOptions = database.address.parse().unwrap();
    let mut reader = SqliteConnection::connect_with(&options.read_only(true)).await.unwrap();
    sqlx::raw_sql("BEGIN; SELECT COUNT(*) FROM member").execute(&mut reader).await.unwrap();

    assert_eq!(store.forget_member(who.id, Leaving::KeepRecords, SEED, moment(50)).await.unwrap(), Erasure::Unfinished);
    assert!(on_disk(&database, "by the mill") && store.unfinished_erasure().await.unwrap());
    // Writing goes on meanwhile.
    joined(&*store, "grower two", Role::Member).await;
    sqlx::raw_sql("COMMIT").execute(&mut reader).await.unwrap();
    finished(&*store).await;
    assert!(!on_disk(&database, "by the mill") && !on_disk(&database, "grower one"));
}

#[tokio::test]
async fn an_erasure_that_a_stop_broke_off_is_finished_at_the_next_start() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let who = joined(&*store, "grower one", Role::Member).await;
    submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
    let options: SqliteConnectOptions = database.address.parse().unwrap();
    let mut reader = SqliteConnection::connect_with(&options.read_only(true)).await.unwrap();
    sqlx::raw_sql("BEGIN; SELECT COUNT(*) FROM member").execute(&mut reader).await.unwrap();
    store.forget_member(who.id, Leaving::KeepRecords, SEED, moment(50)).await.unwrap();
    store.close().await;
    drop(store);
    assert!(on_disk(&database, "by the mill"));
    sqlx::raw_sql("COMMIT").execute(&mut reader).await.unwrap();
    let store = database.open().await;
    finished(&*store).await;
    assert!(!on_disk(&database, "by the mill"));
}

/// Whether a text stands in the files of the tables that held it.
async fn in_tables(connection: &mut PgConnection, text: &str) -> bool {
    execute(connection, "CHECKPOINT".to_owned()).await;
    let folder: String = sqlx::query_scalar("SHOW data_directory").fetch_one(&mut *connection).await.unwrap();
    for table in ["member", "plant", "report", "report_version"] {
        let path: String =
            sqlx::query_scalar("SELECT pg_relation_filepath(CAST($1 AS regclass))").bind(table).fetch_one(&mut *connection).await.unwrap();
        let bytes = std::fs::read(Path::new(&folder).join(path)).unwrap();
        if bytes.windows(text.len()).any(|window| window == text.as_bytes()) {
            return true;
        }
    }
    false
}

#[tokio::test]
async fn an_erasure_on_postgres_waits_for_older_readers_and_leaves_the_tables_files() {
    let database = TestDatabase::postgres().await;
    let store = database.open().await;
    let who = joined(&*store, "grower one", Role::Member).await;
    submitted(&*store, &who, "celeste", record(-9.4, TopKilled::Tips)).await;
    let mut reader = PgConnection::connect(&database.address).await.unwrap();
    execute(&mut reader, "BEGIN ISOLATION LEVEL REPEATABLE READ".to_owned()).await;
    execute(&mut reader, "SELECT COUNT(*) FROM member".to_owned()).await;

    assert_eq!(store.forget_member(who.id, Leaving::KeepRecords, SEED, moment(50)).await.unwrap(), Erasure::Unfinished);
    execute(&mut reader, "COMMIT".to_owned()).await;
    finished(&*store).await;
    for canary in ["by the mill", "behind the shed", "grower one"] {
        assert!(!in_tables(&mut reader, canary).await, "{canary}");
    }
}

// A table that refers to reports or plants has to follow when they take new ids, or nobody could leave any more.
#[tokio::test]
async fn every_table_that_refers_to_records_is_known_to_leaving() {
    const KNOWN: [&str; 5] = ["decision", "plant_version", "report", "report_version", "submission"];
    let database = TestDatabase::sqlite();
    drop(database.open().await);
    let mut connection = SqliteConnection::connect(&database.address).await.unwrap();
    let mut referring: Vec<String> = sqlx::query_scalar(
        "SELECT DISTINCT m.name FROM sqlite_schema m JOIN pragma_foreign_key_list(m.name) f WHERE m.type = 'table' AND f.\"table\" IN ('report', 'plant')",
    )
    .fetch_all(&mut connection)
    .await
    .unwrap();
    referring.sort();
    assert_eq!(
        referring, KNOWN,
        "add a statement to RENEW_REPORT or RENEW_PLANT in store/forgetting.rs, and make the reference deferrable on PostgreSQL"
    );
}
