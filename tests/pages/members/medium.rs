//! [DUR] The program on a disk that fails: power cuts, no room, syncs that do not succeed, a kill at every step of a start. The disk is
//! `tests/support/medium.c`, laid under the program; it knows the files of SQLite, so these are tests of that engine.

use std::collections::HashSet;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::process::Command;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use axum::http::StatusCode;
use tempfile::TempDir;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio::task::JoinSet;
use winterfig::records::{MemberId, Role};
use winterfig::store;

use crate::support::members::joined;
use crate::support::program::{Program, Serving, free_address};
use crate::support::storm::{report, send, token};

const BINARY: &str = env!("CARGO_BIN_EXE_winterfig");
const DATA: [&str; 2] = ["fig.db", "fig.db-wal"];
/// Longest wait for a start, and for a stop.
const PATIENCE: Duration = Duration::from_secs(15);

/// A folder with data on a disk that can be made to fail.
struct Disk {
    folder: TempDir,
}

impl Disk {
    fn new() -> Self {
        let disk = Self { folder: tempfile::tempdir().unwrap() };
        std::fs::create_dir(disk.medium()).unwrap();
        let source = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/support/medium.c");
        let built = Command::new("cc").args(["-shared", "-fPIC", "-O1", "-o"]).arg(disk.shim()).args([source, "-ldl"]).status().unwrap();
        assert!(built.success());
        disk
    }

    fn shim(&self) -> PathBuf {
        self.folder.path().join("medium.so")
    }

    fn medium(&self) -> PathBuf {
        self.folder.path().join("medium")
    }

    fn data(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn address(&self) -> String {
        format!("sqlite:{}", self.data("fig.db").display())
    }

    /// Makes the disk `full`, `broken` or `lying`, or well again.
    fn set(&self, what: &str, so: bool) {
        let flag = self.medium().join(what);
        if so { std::fs::write(flag, "").unwrap() } else { std::fs::remove_file(flag).unwrap() }
    }

    fn syncs(&self) -> u64 {
        std::fs::metadata(self.medium().join("syncs")).map_or(0, |file| file.len())
    }

    fn serving(&self, listen: SocketAddr) -> Serving {
        Program::serving(BINARY, listen, &self.address()).with("LD_PRELOAD", self.shim()).with("MEDIUM", self.medium())
    }

    /// What a power cut leaves: each file as of its last sync.
    fn cut_power(&self) {
        for name in DATA {
            let (file, synced) = (self.data(name), self.medium().join(format!("{name}.synced")));
            if synced.exists() {
                std::fs::copy(synced, file).unwrap();
            } else {
                let _ = std::fs::remove_file(file);
            }
        }
        let _ = std::fs::remove_file(self.data("fig.db-shm"));
    }

    /// A member and a token to send reports with.
    async fn member(&self) -> (MemberId, String) {
        let store = store::open(&self.address()).await.unwrap();
        let member = joined(&*store, "many hands", Role::Member).await;
        let token = token(&store, &member).await;
        store.close().await;
        self.settle();
        (member.id, token)
    }

    /// Everything that was written without the shim has reached the disk too.
    fn settle(&self) {
        for name in DATA {
            let (file, synced) = (self.data(name), self.medium().join(format!("{name}.synced")));
            let _ = if file.exists() { std::fs::copy(file, synced).map(|_| ()) } else { std::fs::remove_file(synced) };
        }
    }

    async fn kept(&self, member: MemberId) -> HashSet<String> {
        let store = store::open(&self.address()).await.unwrap();
        let kept = store.reports_of(member).await.unwrap().into_iter().map(|report| report.id.to_string()).collect();
        store.close().await;
        self.settle();
        kept
    }

    /// `winterfig verify`: SQLite's own checks, of pages and of foreign keys.
    fn verify(&self) {
        let checked = Command::new(BINARY).arg("verify").arg(self.data("fig.db")).output().unwrap();
        assert!(checked.status.success(), "{}", String::from_utf8_lossy(&checked.stderr));
    }
}

/// What the program says to a request, status and all; empty where it is not there.
async fn said(listen: SocketAddr, request: &str) -> String {
    let ask = async {
        let mut stream = TcpStream::connect(listen).await.ok()?;
        stream.write_all(request.as_bytes()).await.ok()?;
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).await.ok()?;
        Some(String::from_utf8_lossy(&answer).into_owned())
    };
    tokio::time::timeout(PATIENCE, ask).await.ok().flatten().unwrap_or_default()
}

pub async fn get(listen: SocketAddr, address: &str) -> String {
    said(listen, &format!("GET {address} HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n")).await
}

/// What readiness says once it answers with this status.
async fn ready_in_time(listen: SocketAddr, status: &str) -> String {
    let end = Instant::now() + PATIENCE;
    loop {
        let answer = get(listen, "/health/ready").await;
        if answer.starts_with(&format!("HTTP/1.1 {status}")) {
            return answer;
        }
        assert!(Instant::now() < end, "{answer}");
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
}

async fn is_ready(listen: SocketAddr) -> bool {
    let end = Instant::now() + PATIENCE;
    while Instant::now() < end {
        if get(listen, "/health/ready").await.starts_with("HTTP/1.1 200") {
            return true;
        }
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    false
}

/// Sends reports one after another until the program goes; ids of those it said it had kept, each counted as it comes.
async fn send_until_it_goes(listen: SocketAddr, token: String, name: String, kept: Arc<AtomicUsize>) -> Vec<String> {
    let (mut connection, mut ids) = (None, Vec::new());
    for nth in 0.. {
        let key = format!("{name} {nth}");
        match send(&mut connection, listen, &token, &key, &report(&key)).await {
            Some((StatusCode::CREATED, answer)) => {
                let answer: serde_json::Value = serde_json::from_str(&answer).unwrap();
                ids.push(answer["id"].as_str().unwrap().to_owned());
                kept.fetch_add(1, Ordering::Relaxed);
            }
            Some((status, answer)) => panic!("{status}: {answer}"),
            None => break,
        }
    }
    ids
}

/// Waits until so many were acknowledged, as fast as the machine lets them.
async fn acknowledged_are(count: usize, kept: &AtomicUsize) {
    while kept.load(Ordering::Relaxed) < count {
        tokio::time::sleep(Duration::from_millis(2)).await;
    }
}

/// Power cuts in a run: `WINTERFIG_CUTS`, or eight.
fn cuts() -> usize {
    std::env::var("WINTERFIG_CUTS").map_or(8, |cuts| cuts.parse().unwrap())
}

// DUR-03, DUR-04, DUR-05: eight writers, and the power cut in the middle, again and again.
#[tokio::test(flavor = "multi_thread")]
async fn nothing_acknowledged_is_lost_when_the_power_is_cut() {
    let disk = Disk::new();
    let (member, token) = disk.member().await;
    let mut acknowledged: HashSet<String> = HashSet::new();
    for round in 0..cuts() {
        let listen = free_address();
        let mut program = disk.serving(listen).start();
        assert!(is_ready(listen).await, "round {round}");
        let mut writers = JoinSet::new();
        let so_far = Arc::new(AtomicUsize::new(0));
        for writer in 0..8 {
            writers.spawn(send_until_it_goes(listen, token.clone(), format!("{round} {writer}"), Arc::clone(&so_far)));
        }
        acknowledged_are(15 + 3 * (round % 8), &so_far).await;
        program.kill();
        acknowledged.extend(writers.join_all().await.into_iter().flatten());
        disk.cut_power();
        disk.verify();
        let kept = disk.kept(member).await;
        assert!(acknowledged.is_subset(&kept), "round {round}: {} lost", acknowledged.difference(&kept).count());
        // At most what was under way is there without having been acknowledged.
        assert!(kept.len() <= acknowledged.len() + 8 * (round + 1));
    }
    println!("{} acknowledged over {} power cuts, none lost", acknowledged.len(), cuts());
    assert!(acknowledged.len() > 100);

    // The check must be able to fail: a disk that acknowledges syncs and does nothing loses what came after.
    disk.set("lying", true);
    let listen = free_address();
    let mut program = disk.serving(listen).start();
    assert!(is_ready(listen).await);
    let so_far = Arc::new(AtomicUsize::new(0));
    let writer = tokio::spawn(send_until_it_goes(listen, token, "in vain".to_owned(), Arc::clone(&so_far)));
    acknowledged_are(3, &so_far).await;
    program.kill();
    let in_vain: HashSet<String> = writer.await.unwrap().into_iter().collect();
    disk.cut_power();
    assert!(!in_vain.is_empty() && in_vain.is_disjoint(&disk.kept(member).await));
}

// DUR-02: each report that comes alone is synced before it is acknowledged.
#[tokio::test(flavor = "multi_thread")]
async fn every_acknowledged_report_has_been_synced() {
    let disk = Disk::new();
    let (_, token) = disk.member().await;
    let listen = free_address();
    let _program = disk.serving(listen).start();
    assert!(is_ready(listen).await);
    let mut connection = None;
    for nth in 0..100 {
        let before = disk.syncs();
        let key = format!("report {nth}");
        let (status, answer) = send(&mut connection, listen, &token, &key, &report(&key)).await.unwrap();
        assert_eq!(status, StatusCode::CREATED, "{answer}");
        assert!(disk.syncs() > before, "{key} was acknowledged without a sync");
    }
}

// DUR-06: no room. Nothing is acknowledged, pages are read, a session is ended; with room again everything goes on in the same process.
#[tokio::test(flavor = "multi_thread")]
async fn on_a_full_disk_reports_are_refused_and_all_else_goes_on() {
    let disk = Disk::new();
    let (member, token) = disk.member().await;
    let listen = free_address();
    let mut program = disk.serving(listen).start();
    assert!(is_ready(listen).await);
    let form = |address: &str, cookie: &str, body: &str| {
        format!(
            "POST {address} HTTP/1.1\r\nHost: a\r\nSec-Fetch-Site: same-origin\r\nCookie: {cookie}\r\nConnection: close\r\n\
             Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{body}",
            body.len()
        )
    };
    let joined = said(listen, &form("/account/join", "", "handle=fern&passphrase=seven+wet+winters+in+a+row")).await;
    let cookie = joined.lines().find(|line| line.contains("__Host-") && line.contains("HttpOnly")).unwrap();
    let cookie = cookie.split_once(": ").unwrap().1.split(';').next().unwrap().to_owned();

    disk.set("full", true);
    let mut connection = None;
    let begun = Instant::now();
    let (status, answer) = send(&mut connection, listen, &token, "no room", &report("no room")).await.unwrap();
    println!("refused after {:?}", begun.elapsed());
    assert_eq!(status, StatusCode::SERVICE_UNAVAILABLE, "{answer}");
    assert!(answer.contains("Nothing was changed"), "{answer}");
    let ready = ready_in_time(listen, "503").await;
    assert!(ready.contains("cannot be written to") && ready.contains("\"ready\":false"), "{ready}");
    for page in ["/", "/shortlist?zone=7a", "/reports", "/cultivars/celeste"] {
        assert!(get(listen, page).await.starts_with("HTTP/1.1 200"), "{page}");
    }
    let garden = format!("GET /garden HTTP/1.1\r\nHost: a\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n");
    assert!(said(listen, &garden).await.starts_with("HTTP/1.1 200"));
    let out = said(listen, &form("/account/sign-out", &cookie, "")).await;
    assert!(out.starts_with("HTTP/1.1 303") && out.contains("Max-Age=0"), "{out}");

    disk.set("full", false);
    ready_in_time(listen, "200").await;
    let (status, answer) = send(&mut connection, listen, &token, "no room", &report("no room")).await.unwrap();
    assert_eq!(status, StatusCode::CREATED, "{answer}");
    let end = Instant::now() + PATIENCE;
    while said(listen, &garden).await.starts_with("HTTP/1.1 200") {
        assert!(Instant::now() < end, "the session that was ended without room lives on");
        tokio::time::sleep(Duration::from_millis(200)).await;
    }
    assert!(program.ended_within(Duration::ZERO).await.is_none());
    program.kill();
    assert_eq!(disk.kept(member).await.len(), 1);
    disk.verify();
}

// DUR-07: a sync that fails. It is not acknowledged, nothing more is written, the process stops with an error; a start recovers.
#[tokio::test(flavor = "multi_thread")]
async fn a_sync_that_fails_stops_the_program_and_a_start_recovers() {
    let disk = Disk::new();
    let (member, token) = disk.member().await;
    let listen = free_address();
    let mut program = disk.serving(listen).start();
    assert!(is_ready(listen).await);
    let mut connection = None;
    let (status, _) = send(&mut connection, listen, &token, "good", &report("good")).await.unwrap();
    assert_eq!(status, StatusCode::CREATED);
    disk.set("broken", true);
    let (status, answer) = send(&mut connection, listen, &token, "bad", &report("bad")).await.unwrap();
    assert_eq!(status, StatusCode::SERVICE_UNAVAILABLE, "{answer}");
    let ended = program.ended_within(PATIENCE).await.expect("it goes on with a disk that does not sync");
    assert_eq!(ended.code(), Some(1));

    disk.cut_power();
    disk.set("broken", false);
    let mut program = disk.serving(listen).start();
    assert!(is_ready(listen).await);
    let mut connection = None;
    let (status, _) = send(&mut connection, listen, &token, "bad", &report("bad")).await.unwrap();
    assert!(status.is_success(), "{status}");
    program.kill();
    assert_eq!(disk.kept(member).await.len(), 2);
    disk.verify();
}

// DUR-08: told to stop under load, with a client stalled in the middle of a head: an end within 15 s, and nothing acknowledged lost.
#[tokio::test(flavor = "multi_thread")]
async fn told_to_stop_it_answers_what_is_under_way_and_ends() {
    let disk = Disk::new();
    let (member, token) = disk.member().await;
    let listen = free_address();
    let mut program = disk.serving(listen).start();
    assert!(is_ready(listen).await);
    let mut stalled = TcpStream::connect(listen).await.unwrap();
    stalled.write_all(b"GET / HTTP/1.1\r\nHost: some").await.unwrap();
    let mut writers = JoinSet::new();
    let so_far = Arc::new(AtomicUsize::new(0));
    for writer in 0..8 {
        writers.spawn(send_until_it_goes(listen, token.clone(), format!("writer {writer}"), Arc::clone(&so_far)));
    }
    acknowledged_are(16, &so_far).await;
    program.terminate();
    let ended = program.ended_within(PATIENCE).await.expect("it does not end");
    assert_eq!(ended.code(), Some(0));
    let acknowledged: HashSet<String> = writers.join_all().await.into_iter().flatten().collect();
    assert!(acknowledged.len() > 8);
    assert_eq!(disk.kept(member).await, acknowledged);
    drop(stalled);
}

// DUR-12: killed at each sync of its first start, and the power cut with it, the next start finds a database that is whole.
#[tokio::test(flavor = "multi_thread")]
async fn killed_at_any_step_of_its_first_start_it_starts_again() {
    let mut steps = 0;
    for step in 1.. {
        let disk = Disk::new();
        let listen = free_address();
        let mut program = disk.serving(listen).with("MEDIUM_DIES_AT", step.to_string()).start();
        let ended = loop {
            if let Some(status) = program.ended_within(Duration::from_millis(30)).await {
                break Some(status);
            }
            if get(listen, "/health/ready").await.starts_with("HTTP/1.1 200") {
                break None;
            }
        };
        let Some(ended) = ended else { break };
        assert_eq!(std::os::unix::process::ExitStatusExt::signal(&ended), Some(9), "step {step}");
        steps += 1;
        if step % 2 == 0 {
            disk.cut_power();
        }
        let _program = disk.serving(listen).start();
        assert!(is_ready(listen).await, "step {step}");
        assert!(get(listen, "/cultivars/celeste").await.starts_with("HTTP/1.1 200"), "step {step}");
    }
    println!("a first start has {steps} syncs");
    assert!(steps > 5, "{steps}");
}
