//! What a page says when a row of the database is not what it should be, or the connection to it breaks.

use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};

use axum::http::StatusCode;
use sqlx::{Connection, PgConnection, SqliteConnection};
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream, UnixStream};
use uuid::Uuid;
use winterfig::records::{ReviewState, Role};
use winterfig::store;

use crate::support::client::{Client, report_with};
use crate::support::members::{decided, joined, record, submitted};
use crate::support::{TestDatabase, on_both_engines};

on_both_engines! {
    // A package with one bad id in its withdrawn.csv took every public page down for good.
    async fn a_row_that_cannot_be_read_takes_no_public_page_down(database) {
        let store = database.open().await;
        let (who, judge) = (joined(&*store, "grower one", Role::Member).await, joined(&*store, "judge", Role::Steward).await);
        let report = submitted(&*store, &who, "celeste", record(-9.4, winterfig::records::words::TopKilled::Tips)).await;
        decided(&*store, &report, &judge, ReviewState::Accepted).await;
        let bad = "INSERT INTO withdrawn_report (id, at_ms) VALUES ('not-an-id', 1)";
        if database.engine == "SQLite" {
            sqlx::raw_sql(bad).execute(&mut SqliteConnection::connect(&database.address).await.unwrap()).await.unwrap();
        } else {
            sqlx::raw_sql(bad).execute(&mut PgConnection::connect(&database.address).await.unwrap()).await.unwrap();
        }
        let mut visitor = Client::new(&store).await;
        for address in ["/", "/reports", "/data", "/data/winterfig-reports.zip", "/api/v1/reports", "/cultivars/celeste", "/shelters"] {
            visitor.get(address).await.expect(StatusCode::OK);
        }
    }
}

/// Where a connection is cut.
const NOWHERE: u8 = 0;
const BEFORE_THE_COMMIT: u8 = 1;
const AFTER_THE_COMMIT: u8 = 2;

/// Passes what a client of PostgreSQL says on, message by message, and cuts both off at a commit. (Messages: a letter, then a length of four
/// bytes that counts itself; the first has no letter. PostgreSQL's manual, chapter on the protocol.)
async fn pass_on(mut client: TcpStream, server: impl AsyncRead + AsyncWrite + Send + Unpin + 'static, cut: Arc<AtomicU8>) -> Option<()> {
    let (mut from_server, mut to_server) = tokio::io::split(server);
    let (mut from_client, mut to_client) = client.split();
    let up = async {
        let mut letter = Vec::new();
        loop {
            let length = from_client.read_u32().await.ok()?;
            let mut body = vec![0; usize::try_from(length).ok()? - 4];
            from_client.read_exact(&mut body).await.ok()?;
            let at = if letter == *b"Q" && body.starts_with(b"COMMIT") { cut.load(Ordering::SeqCst) } else { NOWHERE };
            if at == BEFORE_THE_COMMIT {
                return None;
            }
            let message = [&letter[..], &length.to_be_bytes(), &body].concat();
            to_server.write_all(&message).await.ok()?;
            if at == AFTER_THE_COMMIT {
                return Some(());
            }
            letter = vec![from_client.read_u8().await.ok()?];
        }
    };
    let down = async { tokio::io::copy(&mut from_server, &mut to_client).await.ok() };
    tokio::select! {
        committed = up => committed?,
        _ = down => return None,
    }
    // The server's word that it is done is heard and kept from the client.
    from_server.read_u8().await.ok().map(|_| ())
}

/// An address through which the database is reached, and how its connections are cut.
async fn cuttable(database: &TestDatabase) -> (String, Arc<AtomicU8>) {
    let address = url::Url::parse(&database.address).unwrap();
    let host = address.host_str().unwrap().replace("%2F", "/");
    let (port, name) = (address.port().unwrap_or(5432), address.path().to_owned());
    let user = address.username().to_owned();
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let through = format!("postgres://{user}@{}{name}", listener.local_addr().unwrap());
    let cut = Arc::new(AtomicU8::new(NOWHERE));
    let how = Arc::clone(&cut);
    tokio::spawn(async move {
        while let Ok((client, _)) = listener.accept().await {
            let how = Arc::clone(&how);
            if host.starts_with('/') {
                let server = UnixStream::connect(format!("{host}/.s.PGSQL.{port}")).await.unwrap();
                tokio::spawn(pass_on(client, server, how));
            } else {
                tokio::spawn(pass_on(client, TcpStream::connect((host.as_str(), port)).await.unwrap(), how));
            }
        }
    });
    (through, cut)
}

// Of 577 commits whose connection broke, 89 had been done, and the answers said that nothing was changed.
#[tokio::test(flavor = "multi_thread")]
async fn a_report_whose_commit_was_cut_is_said_to_be_kept_perhaps_and_sent_again_is_one() {
    let database = TestDatabase::postgres().await;
    let (address, cut) = cuttable(&database).await;
    let store = store::open(&address).await.unwrap();
    let mut grower = Client::new(&store).await;
    grower.join("fern grower").await;
    for (nth, how, kept) in [(0, BEFORE_THE_COMMIT, 0), (1, AFTER_THE_COMMIT, 1)] {
        let (place, key) = (format!("row {nth}"), Uuid::now_v7().to_string());
        let form = report_with(&[("place", &place), ("nonce", &key)]);
        cut.store(how, Ordering::SeqCst);
        let answer = grower.post("/reports/new", &form).await.expect(StatusCode::SERVICE_UNAVAILABLE);
        cut.store(NOWHERE, Ordering::SeqCst);
        assert!(answer.body.contains("it may have been kept or not") && !answer.body.contains("Nothing was changed"), "{}", answer.body);
        assert_eq!(store.waiting_count().await.unwrap(), nth + kept, "what was really done");
        grower.post("/reports/new", &form).await.expect(StatusCode::SEE_OTHER);
        assert_eq!(store.waiting_count().await.unwrap(), nth + 1);
    }
}
