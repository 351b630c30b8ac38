//! The service on a real connection: what a framework's test client cannot send. Slowness, sizes, and framing that two readers might read
//! in two ways (RFC 9112 §6.3).

use std::time::{Duration, Instant};

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use winterfig::web;

use super::House;

/// The service listening, with so many places; it ends with the test.
async fn listening(connections: usize) -> (House, std::net::SocketAddr) {
    let house = House::new().await;
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(web::server::serve(listener, house.client.router.clone(), connections, std::future::pending()));
    (house, address)
}

/// Everything the service says to these bytes until it closes or falls silent.
async fn said(address: std::net::SocketAddr, bytes: &[u8]) -> String {
    let mut stream = TcpStream::connect(address).await.unwrap();
    // It may answer and close before it has read everything.
    let _ = stream.write_all(bytes).await;
    let mut answer = Vec::new();
    let _ = tokio::time::timeout(Duration::from_secs(5), stream.read_to_end(&mut answer)).await;
    String::from_utf8_lossy(&answer).into_owned()
}

fn status(answer: &str) -> &str {
    answer.split(' ').nth(1).unwrap_or("")
}

// DOS-03, ASVS 2.4.1.
#[tokio::test]
async fn what_is_too_large_is_refused_by_its_kind() {
    let (_house, address) = listening(256).await;
    let headers = (0..101).fold(String::new(), |all, n| all + &format!("X-Header-{n}: x\r\n"));
    let many = said(address, format!("GET / HTTP/1.1\r\nHost: a\r\n{headers}\r\n").as_bytes()).await;
    assert_eq!(status(&many), "431");
    let long = "x".repeat(40_000);
    let head = said(address, format!("GET / HTTP/1.1\r\nHost: a\r\nX-Long: {long}\r\n\r\n").as_bytes()).await;
    assert_eq!(status(&head), "431");
    let line = said(address, format!("GET /?{} HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n", "x".repeat(9_000)).as_bytes()).await;
    assert_eq!(status(&line), "414");
    let form = "name=".to_owned() + &"x".repeat(64 * 1024);
    let form = format!(
        "POST /account/sign-in HTTP/1.1\r\nHost: a\r\nSec-Fetch-Site: same-origin\r\nConnection: close\r\n\
         Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{form}",
        form.len()
    );
    assert_eq!(status(&said(address, form.as_bytes()).await), "413");
}

// DOS-04, ASVS 4.2.1: one message, one reading; nothing smuggled behind it is answered. A length beside chunks is read by the chunks, as
// RFC 9112 allows; the library does not tell us of it.
#[tokio::test]
async fn framing_that_can_be_read_in_two_ways_is_refused() {
    let (_house, address) = listening(256).await;
    let smuggled = "GET /health/live HTTP/1.1\r\nHost: a\r\n\r\n";
    for framing in [
        "Content-Length: 4\r\nContent-Length: 40\r\n",
        "Content-Length: 4, 40\r\n",
        "Content-Length: +4\r\n",
        "X-Folded: one\r\n two\r\n",
        "Transfer-Encoding: chunked, identity\r\n",
    ] {
        let text = format!(
            "POST /account/sign-in HTTP/1.1\r\nHost: a\r\nContent-Type: application/x-www-form-urlencoded\r\n{framing}\r\n0\r\n\r\n{smuggled}"
        );
        let answer = said(address, text.as_bytes()).await;
        assert_eq!(status(&answer), "400", "{framing}");
        assert_eq!(answer.matches("HTTP/1.1 ").count(), 1, "{framing}: {answer}");
    }
}

/// Waits until the service closes a connection, sending it `bytes` one by one meanwhile.
async fn trickle(mut stream: TcpStream, bytes: &[u8], every: Duration) -> Vec<u8> {
    let (mut answer, mut buffer) = (Vec::new(), [0; 1024]);
    let mut bytes = bytes.iter().cycle();
    loop {
        if let Some(byte) = bytes.next() {
            // It may have answered and closed: what it said is read all the same.
            let _ = stream.write_all(&[*byte]).await;
        }
        match tokio::time::timeout(every, stream.read(&mut buffer)).await {
            Ok(Ok(0) | Err(_)) => return answer,
            Ok(Ok(read)) => answer.extend_from_slice(&buffer[..read]),
            Err(_) => {}
        }
    }
}

/// Handles that this process has open, the tests' side of every connection among them.
fn open_handles() -> usize {
    std::fs::read_dir("/proc/self/fd").map_or(0, Iterator::count)
}

// DOS-01: 500 connections that say nothing and 500 that send a byte of a head every 5 s are closed within 30 s, and others do not feel them.
#[tokio::test(flavor = "multi_thread")]
async fn connections_that_say_nothing_or_trickle_are_closed_and_hold_nobody_up() {
    rlimit::increase_nofile_limit(4096).unwrap();
    let (_house, address) = listening(2048).await;
    // The first question about health opens a connection of its own, which stays.
    said(address, b"GET /health/ready HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n").await;
    let before = open_handles();
    let begun = Instant::now();
    let mut slow = tokio::task::JoinSet::new();
    for n in 0..1000 {
        let stream = TcpStream::connect(address).await.unwrap();
        let head: &[u8] = if n % 2 == 0 { b"GET / HTTP/1.1\r\nHost: someone who has all the time in the world\r\n" } else { b"" };
        slow.spawn(trickle(stream, head, Duration::from_secs(5)));
    }
    let mut longest = Duration::ZERO;
    for _ in 0..50 {
        let asked = Instant::now();
        let answer = said(address, b"GET /health/live HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n").await;
        assert_eq!(status(&answer), "200");
        longest = longest.max(asked.elapsed());
    }
    println!("longest of 50 answers beside 1,000 slow connections: {longest:?}");
    assert_eq!(slow.len(), 1000);
    assert!(slow.try_join_next().is_none(), "the others were answered while the slow ones were open");
    slow.join_all().await;
    assert!(begun.elapsed() < Duration::from_secs(30), "{:?}", begun.elapsed());
    tokio::time::sleep(Duration::from_millis(200)).await;
    assert!(open_handles() <= before, "{before} handles before, {} after", open_handles());
}

// One address holds its share of the connections and no more; others find theirs.
#[tokio::test]
async fn one_address_leaves_connections_for_others() {
    let house = House::new().await;
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    let bounds = web::server::Bounds { connections: 16, per_address: 4, trusted: std::sync::Arc::from([]) };
    tokio::spawn(web::server::serve(listener, house.client.router.clone(), bounds, std::future::pending()));
    let mut held = Vec::new();
    for _ in 0..4 {
        held.push(TcpStream::connect(address).await.unwrap());
    }
    let asked = b"GET / HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n";
    let refused = said(address, asked).await;
    assert_eq!(status(&refused), "503");
    assert!(refused.to_ascii_lowercase().contains("retry-after"));
    let health = said(address, b"GET /health/live HTTP/1.1\r\nHost: a\r\n\r\n").await;
    assert_eq!(status(&health), "200", "whoever watches the service is answered all the same");
    let socket = tokio::net::TcpSocket::new_v4().unwrap();
    socket.bind("127.0.0.2:0".parse().unwrap()).unwrap();
    let mut other = socket.connect(address).await.unwrap();
    other.write_all(asked).await.unwrap();
    let mut answer = Vec::new();
    other.read_to_end(&mut answer).await.unwrap();
    assert_eq!(status(&String::from_utf8_lossy(&answer)), "200");
    drop(held);
}

// DOS-02: a form that arrives at a byte a second, and a reader who takes nothing of a long answer, are given up within 30 s.
#[tokio::test]
async fn a_form_that_trickles_in_and_a_reader_who_stops_are_given_up() {
    let (_house, address) = listening(8).await;
    let form = async {
        let begun = Instant::now();
        let mut stream = TcpStream::connect(address).await.unwrap();
        let head = "POST /account/sign-in HTTP/1.1\r\nHost: a\r\nSec-Fetch-Site: same-origin\r\n\
                    Content-Type: application/x-www-form-urlencoded\r\nContent-Length: 4000\r\n\r\n";
        stream.write_all(head.as_bytes()).await.unwrap();
        let answer = trickle(stream, b"handle=", Duration::from_secs(1)).await;
        assert_eq!(status(&String::from_utf8_lossy(&answer)), "408");
        assert!(begun.elapsed() < Duration::from_secs(30), "{:?}", begun.elapsed());
    };
    let reader = async {
        let long = axum::Router::new().route("/", axum::routing::get(async || vec![b'x'; 20 << 20]));
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let address = listener.local_addr().unwrap();
        // One place: it is free again when the one who took it and stopped reading is gone.
        tokio::spawn(web::server::serve(listener, long, 1, std::future::pending()));
        let mut stopped = TcpStream::connect(address).await.unwrap();
        stopped.write_all(b"GET / HTTP/1.1\r\nHost: a\r\n\r\n").await.unwrap();
        let begun = Instant::now();
        let asked = b"GET / HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n";
        tokio::time::sleep(Duration::from_millis(200)).await;
        while status(&said(address, asked).await) != "200" {
            assert!(begun.elapsed() < Duration::from_secs(30), "{:?}", begun.elapsed());
            tokio::time::sleep(Duration::from_millis(500)).await;
        }
        drop(stopped);
    };
    tokio::join!(form, reader);
}

// DOS-09: over capacity a connection is told so at once, and everything is as before when a place is free.
#[tokio::test]
async fn over_capacity_a_connection_is_told_to_come_again() {
    let (_house, address) = listening(2).await;
    let asked = b"GET / HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n";
    let both = [TcpStream::connect(address).await.unwrap(), TcpStream::connect(address).await.unwrap()];
    let begun = Instant::now();
    let answer = said(address, asked).await;
    println!("turned away after {:?}", begun.elapsed());
    assert_eq!(status(&answer), "503", "{answer}");
    let head = answer.to_ascii_lowercase();
    for line in ["retry-after: 5", "x-content-type-options: nosniff", "connection: close", "content-type: text/plain; charset=utf-8"] {
        assert!(head.contains(line), "{line} in {answer}");
    }
    // Those who say nothing at the door keep nobody out for long: some are closed without a word, the others after two seconds.
    let mut crowd = Vec::new();
    for _ in 0..100 {
        crowd.push(TcpStream::connect(address).await.unwrap());
    }
    let begun = Instant::now();
    while status(&said(address, asked).await) != "503" {
        assert!(begun.elapsed() < Duration::from_secs(10), "the crowd at the door keeps everybody out");
    }
    drop(both);
    let begun = Instant::now();
    while status(&said(address, asked).await) != "200" {
        assert!(begun.elapsed() < Duration::from_secs(10), "not as before");
    }
    drop(crowd);
}

// Pages that take every thread that makes pages hold up nobody who watches the service: here until that answer has come.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn health_is_answered_while_pages_take_every_thread() {
    let (release, released) = std::sync::mpsc::channel::<()>();
    let released = std::sync::Arc::new(std::sync::Mutex::new(released));
    let (begun, mut has_begun) = tokio::sync::mpsc::unbounded_channel();
    let heavy = move || {
        let _ = begun.send(());
        // Until the sender is gone.
        let _ = released.lock().unwrap().recv();
        std::future::ready("done")
    };
    let router = axum::Router::new()
        .route("/heavy", axum::routing::get(heavy))
        .route("/health/live", axum::routing::get(async || "alive"))
        .route("/health/ready", axum::routing::get(async || "ready"));
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(web::server::serve(listener, router, 64, std::future::pending()));
    // A visitor without the runtime, for that is about to be taken.
    let visitor = std::thread::spawn(move || {
        use std::io::{Read, Write};
        let ask = |path: &str| {
            let mut stream = std::net::TcpStream::connect(address).unwrap();
            stream.write_all(format!("GET {path} HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n").as_bytes()).unwrap();
            stream
        };
        let mut heavy: Vec<_> = (0..4).map(|_| ask("/heavy")).collect();
        for _both_threads in 0..2 {
            has_begun.blocking_recv().unwrap();
        }
        let read = |mut stream: std::net::TcpStream| {
            let mut answer = String::new();
            stream.read_to_string(&mut answer).unwrap();
            answer
        };
        let answers = [read(ask("/health/live")), read(ask("/health/ready?quiet"))];
        drop(release);
        (answers, heavy.drain(..).map(read).collect::<Vec<_>>())
    });
    let (health, heavy) = tokio::task::spawn_blocking(move || visitor.join().unwrap()).await.unwrap();
    assert!(health[0].ends_with("alive") && health[1].ends_with("ready"), "{health:?}");
    assert!(heavy.iter().all(|answer| answer.ends_with("done")));
}
