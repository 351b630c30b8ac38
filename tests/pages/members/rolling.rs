//! A rolling restart behind a plain proxy: it asks each process whether it is ready, sends every request to one that is, and tries none a
//! second time. `tests/promises` does the same with 20,000 requests.

use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use axum::http::StatusCode;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::task::JoinSet;
use winterfig::records::Role;

use crate::support::TestDatabase;
use crate::support::members::joined;
use crate::support::program::{Program, free_address};
use crate::support::storm::{report, send, token};

/// How often the proxy asks whether a process is ready.
const ASK_EVERY: Duration = Duration::from_millis(100);
/// How long a process that was told to stop says so before it closes, s.
const DRAIN_S: &str = "1";

async fn answer_to(address: SocketAddr, request: &str) -> Option<String> {
    let mut stream = TcpStream::connect(address).await.ok()?;
    stream.write_all(request.as_bytes()).await.ok()?;
    let mut answer = String::new();
    stream.read_to_string(&mut answer).await.ok()?;
    Some(answer)
}

fn get(path: &str) -> String {
    format!("GET {path} HTTP/1.1\r\nHost: figs.example\r\nConnection: close\r\n\r\n")
}

async fn is_ready(address: SocketAddr) -> bool {
    answer_to(address, &get("/health/ready")).await.is_some_and(|answer| answer.starts_with("HTTP/1.1 200"))
}

async fn until_ready(address: SocketAddr) {
    while !is_ready(address).await {
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
}

/// A connection for a connection, each to the next process that said it was ready when last asked.
async fn proxy(listener: TcpListener, backends: [SocketAddr; 2]) {
    let ready: Arc<[AtomicBool; 2]> = Arc::default();
    for (nth, backend) in backends.into_iter().enumerate() {
        let ready = Arc::clone(&ready);
        tokio::spawn(async move {
            loop {
                ready[nth].store(is_ready(backend).await, Ordering::Relaxed);
                tokio::time::sleep(ASK_EVERY).await;
            }
        });
    }
    for turn in 0.. {
        let (mut client, _) = listener.accept().await.unwrap();
        let chosen = (turn..turn + 2).map(|nth| nth % 2).find(|nth| ready[*nth].load(Ordering::Relaxed));
        tokio::spawn(async move {
            let Some(chosen) = chosen else { return };
            let Ok(mut backend) = TcpStream::connect(backends[chosen]).await else { return };
            let _ = tokio::io::copy_bidirectional(&mut client, &mut backend).await;
        });
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn a_rolling_restart_behind_a_plain_proxy_loses_no_request() {
    let database = TestDatabase::postgres().await;
    let store = database.open().await;
    let member = joined(&*store, "many hands", Role::Member).await;
    let token = token(&store, &member).await;
    let backends = [free_address(), free_address()];
    let serve =
        |listen| Program::serving(env!("CARGO_BIN_EXE_winterfig"), listen, &database.address).with("WINTERFIG_DRAIN_S", DRAIN_S).start();
    let mut programs = backends.map(serve);
    for backend in backends {
        until_ready(backend).await;
    }
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let front = listener.local_addr().unwrap();
    let proxying = tokio::spawn(proxy(listener, backends));
    until_ready(front).await;

    let (going, asked, sent) = (Arc::new(AtomicBool::new(true)), Arc::new(AtomicUsize::new(0)), Arc::new(AtomicUsize::new(0)));
    let mut visitors = JoinSet::new();
    for number in 0..8 {
        let (going, asked, sent, token) = (Arc::clone(&going), Arc::clone(&asked), Arc::clone(&sent), token.clone());
        visitors.spawn(async move {
            for nth in 0.. {
                if !going.load(Ordering::Relaxed) {
                    return;
                }
                asked.fetch_add(1, Ordering::Relaxed);
                if number == 0 {
                    let answer = send(&mut None, front, &token, &format!("key {nth}"), &report(&format!("tree {nth}"))).await;
                    let (status, said) = answer.unwrap_or_else(|| panic!("report {nth} was lost"));
                    assert_eq!(status, StatusCode::CREATED, "{said}");
                    sent.fetch_add(1, Ordering::Relaxed);
                } else {
                    let path = ["/cultivars", "/reports", "/health/live", "/"][nth % 4];
                    let answer = answer_to(front, &get(path)).await.unwrap_or_default();
                    let whole = answer.starts_with("HTTP/1.1 200")
                        && (answer.ends_with("</html>\n") || answer.ends_with("</html>") || answer.ends_with('}'));
                    assert!(whole, "request {nth} for {path} was lost: {answer:.300}");
                }
            }
        });
    }
    for (program, listen) in programs.iter_mut().zip(backends) {
        program.terminate();
        assert!(program.ended_within(Duration::from_mins(1)).await.is_some_and(|status| status.success()));
        *program = serve(listen);
        until_ready(listen).await;
        // The proxy has to learn of it before the other one goes.
        tokio::time::sleep(3 * ASK_EVERY).await;
    }
    going.store(false, Ordering::Relaxed);
    while let Some(visitor) = visitors.join_next().await {
        visitor.unwrap();
    }
    proxying.abort();
    let (asked, sent) = (asked.load(Ordering::Relaxed), sent.load(Ordering::Relaxed));
    println!("{asked} requests through a rolling restart of two processes, none lost; {sent} of them reports");
    assert!(asked > 100 && sent > 0);
    assert_eq!(store.reports_of(member.id).await.unwrap().len(), sent);
}
