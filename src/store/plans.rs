//! How both engines go about the questions of lists, queues and gardens: by an index, never along a whole table.

use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sqlx::{Connection, PgConnection, Row};

use super::desk::{COUNTING, NEWEST, NEWEST_OF, OLDEST, OLDEST_OF, OTHERS};
use super::reports::{AFTER, CHANGED, OF_MEMBER, OF_PLANT, REPORT, WAITING};

/// Every question of which a page, the API or the learner asks for reports.
const QUESTIONS: [(&str, &str); 12] = [
    ("one report", REPORT),
    ("reports of a member", OF_MEMBER),
    ("reports of a plant", OF_PLANT),
    ("waiting reports", WAITING),
    ("reports one part after the other", AFTER),
    ("what changed", CHANGED),
    ("the queue", OLDEST),
    ("the queue, newest first", NEWEST),
    ("the queue of a reporter", OLDEST_OF),
    ("the queue of a reporter, newest first", NEWEST_OF),
    ("others in the same cold", OTHERS),
    ("what counts of a member", COUNTING),
];

/// What SQLite says it would do (`EXPLAIN QUERY PLAN`), a line a step.
async fn plan(connection: &mut SqliteConnection, question: &'static str) -> Vec<String> {
    let text = format!("EXPLAIN QUERY PLAN {question}");
    let rows = sqlx::query(sqlx::AssertSqlSafe(text)).fetch_all(connection).await.unwrap();
    rows.iter().map(|row| row.get("detail")).collect()
}

#[tokio::test]
async fn no_question_for_reports_goes_along_a_whole_table() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("fig.db");
    let store = super::open(&format!("sqlite:{}", file.display())).await.unwrap();
    let mut connection = SqliteConnection::connect_with(&SqliteConnectOptions::new().filename(&file)).await.unwrap();
    for (what, question) in QUESTIONS {
        let steps = plan(&mut connection, question).await;
        // SCAN without a key or an index reads every row; with one and without LIMIT it does so in another order.
        let whole = |step: &&String| step.starts_with("SCAN") && !step.contains("VIRTUAL");
        assert!(!steps.is_empty() && !steps.iter().any(|step| whole(&step)), "{what}: {steps:#?}");
    }
    drop(store);
}

/// What PostgreSQL says it would do without knowing the values, were reading along a table forbidden: it then does so only where it has no
/// index to go by. (Of an empty table it would read all of it otherwise.)
async fn postgres_plan(connection: &mut PgConnection, nth: usize, question: &str) -> Vec<String> {
    let values = (1..20).take_while(|n| question.contains(&format!("${n}"))).map(|_| "NULL").collect::<Vec<_>>().join(", ");
    let values = if values.is_empty() { values } else { format!("({values})") };
    let prepared = format!("PREPARE question_{nth} AS {question}");
    sqlx::raw_sql(sqlx::AssertSqlSafe(prepared)).execute(&mut *connection).await.unwrap();
    let explained = format!("EXPLAIN EXECUTE question_{nth}{values}");
    let rows = sqlx::raw_sql(sqlx::AssertSqlSafe(explained)).fetch_all(connection).await.unwrap();
    rows.iter().map(|row| row.get(0)).collect()
}

#[tokio::test]
async fn nor_does_postgresql_where_it_has_an_index() {
    let cluster = std::env::var("WINTERFIG_TEST_POSTGRES").unwrap_or_else(|_| panic!("no PostgreSQL: run the tests through `tests/run`"));
    let name = format!("plans_{}", std::process::id());
    let admin = async |text: String| {
        let mut connection = PgConnection::connect(&format!("{cluster}postgres")).await.unwrap();
        sqlx::raw_sql(sqlx::AssertSqlSafe(text)).execute(&mut connection).await.unwrap();
    };
    admin(format!("CREATE DATABASE {name}")).await;
    let store = super::open(&format!("{cluster}{name}")).await.unwrap();
    let mut connection = PgConnection::connect(&format!("{cluster}{name}")).await.unwrap();
    sqlx::raw_sql("SET enable_seqscan = off; SET plan_cache_mode = force_generic_plan").execute(&mut connection).await.unwrap();
    let mut whole = Vec::new();
    for (nth, (what, question)) in QUESTIONS.into_iter().enumerate() {
        let steps = postgres_plan(&mut connection, nth, question).await;
        assert!(!steps.is_empty(), "{what}");
        if steps.iter().any(|step| step.contains("Seq Scan")) {
            whole.push(format!("{what}: {steps:#?}"));
        }
    }
    // The test must be able to fail: nothing leads to a note but the note.
    let by_content = postgres_plan(&mut connection, QUESTIONS.len(), "SELECT id FROM report WHERE content = $1").await;
    assert!(by_content.iter().any(|step| step.contains("Seq Scan")), "{by_content:?}");
    assert!(whole.is_empty(), "{}", whole.join("\n"));
    connection.close().await.unwrap();
    store.close().await;
    admin(format!("DROP DATABASE {name} WITH (FORCE)")).await;
}
