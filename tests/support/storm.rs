//! Many submitters at once against the program itself, killed without warning and started again on the same database meanwhile.
#![allow(dead_code, missing_docs)]

use std::collections::HashSet;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::{Duration, Instant};

use http_body_util::{BodyExt, Full};
use hyper::body::Bytes;
use hyper::client::conn::http1::{SendRequest, handshake};
use hyper::{Request, StatusCode};
use hyper_util::rt::TokioIo;
use tokio::net::TcpStream;
use tokio::task::JoinSet;
use winterfig::clock::{Clock, SystemClock};
use winterfig::jobs::accounts::limits::{Allowances, Limits};
use winterfig::jobs::accounts::members::Members;
use winterfig::records::{Member, Role};
use winterfig::store::{self, Store};

use super::members::joined;
use super::program::{Program, free_address};

/// How hard it blows.
#[derive(Debug, Clone, Copy)]
pub struct Storm {
    pub submitters: usize,
    /// How long new reports are begun. Half-way through the program (of several, the first) is killed.
    pub length: Duration,
    /// Programs on the one database.
    pub processes: usize,
}

/// What was seen. `acknowledged` and `kept` are equal when nothing was lost or doubled.
#[derive(Debug, PartialEq, Eq)]
pub struct Aftermath {
    /// Reports that the program said it had kept.
    pub acknowledged: usize,
    /// Ids among them.
    pub different: usize,
    /// Ids among them that the database does not have.
    pub lost: usize,
    /// Reports in the database.
    pub kept: usize,
    /// Answers that were neither a report kept nor a connection that broke with the program.
    pub errors: Vec<String>,
    /// Requests sent again after the connection broke.
    pub repeated: usize,
}

/// Longest wait for one report to be acknowledged: long enough for a start.
const PATIENCE: Duration = Duration::from_mins(1);

/// Runs a storm over a database; `binary` is the path of the program.
pub async fn storm(binary: &str, database: &str, storm: Storm) -> Aftermath {
    let store = store::open(database).await.unwrap();
    let member = joined(&*store, "many hands", Role::Member).await;
    let token = token(&store, &member).await;
    store.close().await;
    // A file of SQLite lets one process in.
    drop(store);

    let listens: Arc<[SocketAddr]> = (0..storm.processes).map(|_| free_address()).collect();
    let serve = |listen| Program::serving(binary, listen, database).start();
    let mut programs: Vec<Program> = listens.iter().map(|listen| serve(*listen)).collect();
    for listen in listens.iter() {
        while TcpStream::connect(listen).await.is_err() {
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
    }
    let end = Instant::now() + storm.length;
    let mut tasks = JoinSet::new();
    for number in 0..storm.submitters {
        tasks.spawn(submit(Arc::clone(&listens), token.clone(), number, end));
    }
    tokio::time::sleep(storm.length / 2).await;
    programs[0].kill();
    programs[0] = serve(listens[0]);
    let mut ids = Vec::new();
    let (mut errors, mut repeated) = (Vec::new(), 0);
    while let Some(task) = tasks.join_next().await {
        let seen = task.unwrap();
        ids.extend(seen.ids);
        errors.extend(seen.errors);
        repeated += seen.repeated;
    }
    drop(programs);

    let store = store::open(database).await.unwrap();
    let kept: HashSet<String> = store.reports_of(member.id).await.unwrap().into_iter().map(|report| report.id.to_string()).collect();
    let different: HashSet<&String> = ids.iter().collect();
    let lost = different.iter().filter(|id| !kept.contains(**id)).count();
    let aftermath = Aftermath { acknowledged: ids.len(), different: different.len(), lost, kept: kept.len(), errors, repeated };
    store.close().await;
    aftermath
}

/// A token under which a member's programs send reports.
pub async fn token(store: &Arc<dyn Store>, member: &Member) -> String {
    let members = Members::new(Arc::clone(store), Arc::new(Limits::new(Allowances::default())), winterfig::ids::Ids::system());
    members.make_token(member.id, "storm", SystemClock.now()).await.unwrap()
}

#[derive(Default)]
struct Seen {
    ids: Vec<String>,
    errors: Vec<String>,
    repeated: usize,
}

/// One report after another until the end; each is sent again under its key until it is acknowledged.
async fn submit(listens: Arc<[SocketAddr]>, token: String, number: usize, end: Instant) -> Seen {
    let mut seen = Seen::default();
    let mut asked = number;
    let mut connection = None;
    for nth in 0.. {
        if Instant::now() >= end {
            break;
        }
        let key = format!("{number}-{nth}");
        let body = report(&format!("row {number}, tree {nth}"));
        let give_up = Instant::now() + PATIENCE;
        let mut tries = 0;
        loop {
            if Instant::now() >= give_up {
                seen.errors.push(format!("{key} was never answered"));
                break;
            }
            seen.repeated += usize::from(tries > 0);
            tries += 1;
            match send(&mut connection, listens[asked % listens.len()], &token, &key, &body).await {
                Some((StatusCode::CREATED, answer)) => {
                    let answer: serde_json::Value = serde_json::from_str(&answer).unwrap();
                    seen.ids.push(answer["id"].as_str().unwrap().to_owned());
                    break;
                }
                Some((status, answer)) => {
                    seen.errors.push(format!("{status}: {answer}"));
                    break;
                }
                // The program is not there; another may be.
                None => {
                    connection = None;
                    asked += 1;
                    tokio::time::sleep(Duration::from_millis(50)).await;
                }
            }
        }
    }
    seen
}

/// A report of a plant in a place of its own.
pub fn report(place: &str) -> String {
    serde_json::json!({
        "name": "Celeste", "place": place, "winter": "2023/24", "looked": "2024-05-20", "top": "tips", "vitality": "alive", "cover": "none",
        "coldest": -9.4, "thermometer": "at_plant",
    })
    .to_string()
}

/// Sends a report; `None` where the program is not there or goes while it is asked.
pub async fn send(
    connection: &mut Option<SendRequest<Full<Bytes>>>,
    listen: SocketAddr,
    token: &str,
    key: &str,
    body: &str,
) -> Option<(StatusCode, String)> {
    if connection.is_none() {
        let stream = TcpStream::connect(listen).await.ok()?;
        let (sender, driver) = handshake(TokioIo::new(stream)).await.ok()?;
        tokio::spawn(driver);
        *connection = Some(sender);
    }
    let sender = connection.as_mut()?;
    sender.ready().await.ok()?;
    let request = Request::post("/api/v1/reports")
        .header("host", listen.to_string())
        .header("authorization", format!("Bearer {token}"))
        .header("content-type", "application/json")
        .header("idempotency-key", key)
        .body(Full::new(Bytes::from(body.to_owned())))
        .unwrap();
    let answer = sender.send_request(request).await.ok()?;
    let status = answer.status();
    let bytes = answer.into_body().collect().await.ok()?.to_bytes();
    Some((status, String::from_utf8_lossy(&bytes).into_owned()))
}
