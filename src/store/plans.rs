//! How SQLite goes about the questions of lists, queues and gardens: by an index, never along a whole table.

use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sqlx::{Connection, Row};

use super::desk::{COUNTING, NEWEST, NEWEST_OF, OLDEST, OLDEST_OF, OTHERS};
use super::reports::{ACCEPTED, CHANGED, OF_MEMBER, OF_PLANT, REPORT, WAITING};

/// Every question of which a page, the API or the learner asks for reports.
const QUESTIONS: [(&str, &str); 12] = [
    ("one report", REPORT),
    ("reports of a member", OF_MEMBER),
    ("reports of a plant", OF_PLANT),
    ("waiting reports", WAITING),
    ("accepted reports, filtered", ACCEPTED),
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
