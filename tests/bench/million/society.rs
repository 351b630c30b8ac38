//! A society in a fresh database: its reports, its members, a grower and a steward who are signed in.

use std::sync::Arc;
use std::time::{Duration, Instant};

use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sqlx::{Connection, PgConnection};
use tempfile::TempDir;
use uuid::Uuid;
use winterfig::clock::{Clock, SystemClock};
use winterfig::ids::Ids;
use winterfig::jobs::accounts::limits::{Allowances, Limits};
use winterfig::jobs::accounts::members::{Members, Origin};
use winterfig::records::words::TopKilled;
use winterfig::records::{Member, Report, ReviewState, Role};
use winterfig::store::{self, Store};

use crate::{members, reported};

/// Reports for each member.
const OF_MEMBER: usize = 20;
/// One report in so many waits for review besides.
const WAITING: usize = 50;
/// The grower's own reports that count.
const OWN: usize = 20;
/// Rows of one statement.
const ROWS: usize = 1_000;

/// A society and where it is.
pub struct Society {
    pub folder: TempDir,
    pub database: String,
    pub reports: usize,
    /// How long its reports took to be written.
    pub took: Duration,
    /// Session of the grower.
    pub grower: String,
    /// Token of the grower's program.
    pub token: String,
    /// Session of the steward, an administrator.
    pub steward: String,
    /// A report of the grower.
    pub own: String,
    /// A report that waits.
    pub waiting: String,
    cluster: Option<String>,
}

impl Society {
    /// Writes one of so many reports.
    pub async fn settled(reports: usize, cluster: Option<&str>) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let name = format!("million_{reports}");
        let database = match cluster {
            Some(cluster) => fresh(cluster, &name).await,
            None => format!("sqlite:{}", folder.path().join("fig.db").display()),
        };
        let store = store::open_listing(&database, &folder.path().join("erased")).await.unwrap();
        let begun = Instant::now();
        reported::settle(&*store, &store.catalogue().await.unwrap(), reports).await;
        let took = begun.elapsed();
        join_many(&database, reports / OF_MEMBER).await;
        let service = Members::new(Arc::clone(&store), Arc::new(Limits::new(GENEROUS)), Ids::system());
        let (grower, grower_session) = joined(&service, "grower").await;
        let (judge, _) = joined(&service, "judge").await;
        store.change_role(judge.id, Role::Administrator).await.unwrap();
        // A change of role ends sessions.
        let (judge, steward) = service.sign_in("judge", PASSPHRASE, &origin(), SystemClock.now()).await.unwrap();
        let token = service.make_token(grower.id, "thermometer", SystemClock.now()).await.unwrap();
        let mut own = Vec::new();
        for nth in 0..OWN {
            own.push(members::submitted(&*store, &grower, "celeste", members::record(-8.0 - nth as f64 / 4.0, TopKilled::Tips)).await);
        }
        for report in &own {
            members::decided(&*store, report, &judge, ReviewState::Accepted).await;
        }
        let waiting = wait(&store, &grower, reports / WAITING + 1).await;
        store.close().await;
        Self {
            folder,
            database,
            reports,
            took,
            grower: grower_session,
            token,
            steward,
            own: own[0].id.to_string(),
            waiting: waiting.id.to_string(),
            cluster: cluster.map(str::to_owned),
        }
    }

    /// Another database, empty, for what comes in.
    pub async fn another(&self) -> String {
        match &self.cluster {
            Some(cluster) => fresh(cluster, "million_in").await,
            None => format!("sqlite:{}", self.folder.path().join("in.db").display()),
        }
    }

    /// Drops what is not in the temporary folder.
    pub async fn end(self) {
        let Some(cluster) = &self.cluster else { return };
        for name in [format!("million_{}", self.reports), "million_in".to_owned()] {
            admin(cluster, &format!("DROP DATABASE IF EXISTS {name} WITH (FORCE)")).await;
        }
    }
}

const PASSPHRASE: &str = "seven wet winters in a row";
/// Nobody here waits for a limit.
const GENEROUS: Allowances =
    Allowances { joins_per_hour: 1000, sign_ins_per_minute: 1000, writes_burst: 1_000_000, writes_per_minute: 1_000_000 };

fn origin() -> Origin {
    Origin { address: "127.0.0.1".to_owned(), device: "benchmark".to_owned(), known_as: None }
}

async fn joined(members: &Members, handle: &str) -> (Member, String) {
    members.join(handle, PASSPHRASE, ("", ""), &origin(), SystemClock.now()).await.unwrap()
}

/// An empty database of a cluster.
async fn fresh(cluster: &str, name: &str) -> String {
    admin(cluster, &format!("DROP DATABASE IF EXISTS {name} WITH (FORCE)")).await;
    admin(cluster, &format!("CREATE DATABASE {name}")).await;
    format!("{cluster}{name}")
}

async fn admin(cluster: &str, text: &str) {
    let mut connection = PgConnection::connect(&format!("{cluster}postgres")).await.unwrap();
    sqlx::raw_sql(sqlx::AssertSqlSafe(text.to_owned())).execute(&mut connection).await.unwrap();
    connection.close().await.unwrap();
}

/// So many reports that wait, some of each of many members; gives one from the middle.
async fn wait(store: &Arc<dyn Store>, grower: &Member, reports: usize) -> Report {
    let mut senders: Vec<Member> = store.members().await.unwrap();
    senders.retain(|member| member.role == Role::Member && member.id != grower.id);
    senders.push(grower.clone());
    let mut middle = None;
    let numbers: Vec<usize> = (0..reports).collect();
    for some in numbers.chunks(ROWS) {
        let submission = |nth: &usize| {
            let record = members::record(-6.0 - *nth as f64 % 90.0 / 10.0, TopKilled::Tips);
            let member = &senders[nth / OF_MEMBER % senders.len()];
            members::submission(member, &format!("waiting {nth}"), members::plant(member.id, "celeste"), record)
        };
        let submissions: Vec<_> = some.iter().map(submission).collect();
        store.submit_all(&submissions).await.unwrap();
        middle = some.iter().position(|nth| *nth == reports / 2).map(|at| submissions[at].report).or(middle);
    }
    store.report(middle.unwrap()).await.unwrap().unwrap()
}

/// Members by the thousand, who cannot sign in: their passphrase is no hash.
async fn join_many(database: &str, members: usize) {
    let numbers: Vec<usize> = (0..members).collect();
    let text = |some: &[usize]| {
        let row = |nth: &usize| {
            let id = Uuid::from_u128((9 << 64) + *nth as u128);
            format!("('{id}', 'Member {nth:07}', 'member {nth:07}', 'none', NULL, 'member', 'handle', {})", 1_700_000_000_000 + nth)
        };
        let rows: Vec<String> = some.iter().map(row).collect();
        format!("INSERT INTO member (id, handle, handle_folded, passphrase, email, role, credit, joined_ms) VALUES {}", rows.join(", "))
    };
    if let Some(file) = database.strip_prefix("sqlite:") {
        let mut connection = SqliteConnection::connect_with(&SqliteConnectOptions::new().filename(file)).await.unwrap();
        for some in numbers.chunks(ROWS) {
            sqlx::raw_sql(sqlx::AssertSqlSafe(text(some))).execute(&mut connection).await.unwrap();
        }
        connection.close().await.unwrap();
    } else {
        let mut connection = PgConnection::connect(database).await.unwrap();
        for some in numbers.chunks(ROWS) {
            sqlx::raw_sql(sqlx::AssertSqlSafe(text(some))).execute(&mut connection).await.unwrap();
        }
        connection.close().await.unwrap();
    }
}
