//! Every migration on data that were there before it, on both engines.

use std::path::Path;

use crate::support::TestDatabase;
use crate::support::members::member;
use sqlx::migrate::Migrator;
use sqlx::{Connection, PgConnection, SqliteConnection};
use winterfig::records::Role;

const BEFORE_THIRD: &str = "
    INSERT INTO cultivar (slug, place, listed, name, sources, note) VALUES ('old-fig', 0, TRUE, 'Old fig', '', '');
    INSERT INTO member (id, handle, handle_folded, passphrase, email, role, credit, joined_ms)
        VALUES ('019a0000-0000-7000-8000-000000000001', 'grower', 'grower', 'hash', NULL, 'member', 'unnamed', 1);
    INSERT INTO plant (id, owner, name_written, cultivar, certainty, planted, setting, culture, container_l, place_words, latitude_h,
        longitude_h, publish, mother, made_ms)
        VALUES ('019a0000-0000-7000-8000-000000000002', '019a0000-0000-7000-8000-000000000001', 'Old fig', 'old-fig', 'label', 2010, NULL,
        'ground', NULL, 'by the mill', 4417, 1223, 'grid', NULL, 1);
    INSERT INTO report (id, plant, reporter, winter, state, version, content, flags, coldest_c, cover, sent_ms, changed_ms)
        VALUES ('019a0000-0000-7000-8000-000000000003', '019a0000-0000-7000-8000-000000000002', '019a0000-0000-7000-8000-000000000001',
        '2024/25', 'taken', 1, '{\"winter\":\"2024/25\",\"looked\":\"2025-05-20\",\"judged_by\":null,\"top\":\"none\",\"vitality\":\"alive\",
        \"regrew\":null,\"first_growth\":null,\"cause\":null,\"coldest\":null,\"stage\":null,\"cover\":\"none\",\"fruit\":null,\"note\":null,
        \"complete_list\":false}', '[]', NULL, 'none', 1, 1);
";

async fn migrator(engine: &str) -> Migrator {
    Migrator::new(Path::new(env!("CARGO_MANIFEST_DIR")).join("migrations").join(engine)).await.unwrap()
}

/// After the last migration what was there before is still there, and the store reads it.
async fn check(database: &TestDatabase) {
    let store = database.open().await;
    let report =
        store.report(winterfig::records::ReportId("019a0000-0000-7000-8000-000000000003".parse().unwrap())).await.unwrap().unwrap();
    assert_eq!((report.plant.name_written.as_str(), report.credited), ("Old fig", None));
    assert_eq!(store.members().await.unwrap().len(), 1);
    // Names of members from before names were kept by their forms are taken like any other.
    assert!(!store.join(&member("Gr0wer", Role::Member), "hash").await.unwrap());
    // The seed of today has been planted over it; a fig that left it is kept for its records and no longer listed.
    let catalogue = store.catalogue().await.unwrap();
    assert_eq!((catalogue.cultivars().len(), catalogue.get("old-fig").is_none()), (86, true));
}

#[tokio::test]
async fn the_third_migration_keeps_what_the_second_held_on_sqlite() {
    let database = TestDatabase::sqlite();
    let mut connection = SqliteConnection::connect(&format!("{}?mode=rwc", database.address)).await.unwrap();
    migrator("sqlite").await.run_to(2, &mut connection).await.unwrap();
    sqlx::raw_sql(BEFORE_THIRD).execute(&mut connection).await.unwrap();
    connection.close().await.unwrap();
    check(&database).await;
}

#[tokio::test]
async fn the_third_migration_keeps_what_the_second_held_on_postgres() {
    let database = TestDatabase::empty_postgres().await;
    let mut connection = PgConnection::connect(&database.address).await.unwrap();
    migrator("postgres").await.run_to(2, &mut connection).await.unwrap();
    sqlx::raw_sql(BEFORE_THIRD).execute(&mut connection).await.unwrap();
    connection.close().await.unwrap();
    check(&database).await;
}

#[tokio::test]
async fn the_fourth_migration_keeps_what_the_third_held_on_sqlite() {
    let database = TestDatabase::sqlite();
    let mut connection = SqliteConnection::connect(&format!("{}?mode=rwc", database.address)).await.unwrap();
    migrator("sqlite").await.run_to(3, &mut connection).await.unwrap();
    sqlx::raw_sql(BEFORE_THIRD).execute(&mut connection).await.unwrap();
    connection.close().await.unwrap();
    check(&database).await;
}

#[tokio::test]
async fn the_fourth_migration_keeps_what_the_third_held_on_postgres() {
    let database = TestDatabase::empty_postgres().await;
    let mut connection = PgConnection::connect(&database.address).await.unwrap();
    migrator("postgres").await.run_to(3, &mut connection).await.unwrap();
    sqlx::raw_sql(BEFORE_THIRD).execute(&mut connection).await.unwrap();
    connection.close().await.unwrap();
    check(&database).await;
}

#[tokio::test]
async fn the_twelfth_migration_keeps_what_the_eleventh_held_on_both_engines() {
    let database = TestDatabase::sqlite();
    let mut connection = SqliteConnection::connect(&format!("{}?mode=rwc", database.address)).await.unwrap();
    migrator("sqlite").await.run_to(11, &mut connection).await.unwrap();
    sqlx::raw_sql(BEFORE_THIRD).execute(&mut connection).await.unwrap();
    connection.close().await.unwrap();
    check(&database).await;
    let database = TestDatabase::empty_postgres().await;
    let mut connection = PgConnection::connect(&database.address).await.unwrap();
    migrator("postgres").await.run_to(11, &mut connection).await.unwrap();
    sqlx::raw_sql(BEFORE_THIRD).execute(&mut connection).await.unwrap();
    connection.close().await.unwrap();
    check(&database).await;
}

#[test]
fn both_engines_have_migrations_of_the_same_numbers_and_names() {
    let names = |engine: &str| {
        let mut names: Vec<String> = std::fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("migrations").join(engine))
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    };
    assert_eq!(names("sqlite"), names("postgres"));
}
