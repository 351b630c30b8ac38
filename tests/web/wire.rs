//! The service on a real connection: what a framework's test client cannot send. Slowness, sizes, and framing that two readers might read
//! in two ways (RFC 9112 §6.3).

use std::time::{Duration, Instant};

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use winterfig::web;

use crate::House;

/// The service listening; it ends with the test.
async fn listening() -> (House, std::net::SocketAddr) {
    let house = House::new().await;
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let address = listener.local_addr().unwrap();
    tokio::spawn(web::server::serve(listener, house.client.router.clone(), 256, std::future::pending()));
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
    let (_house, address) = listening().await;
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
    let (_house, address) = listening().await;
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

// DOS-01 on a smaller scale: connections that say nothing or trickle are closed within 30 s, and others do not feel them.
#[tokio::test]
async fn connections_that_say_nothing_or_trickle_are_closed_and_hold_nobody_up() {
    let (_house, address) = listening().await;
    let begun = Instant::now();
    let mut slow = Vec::new();
    for n in 0..100 {
        slow.push(tokio::spawn(async move {
            let mut stream = TcpStream::connect(address).await.unwrap();
            let mut buffer = [0; 256];
            for byte in b"GET / HTTP/1.1\r\nHost: someone who has all the time in the world\r\n".iter().cycle() {
                if n % 2 == 0 && stream.write_all(&[*byte]).await.is_err() {
                    break;
                }
                if let Ok(Ok(0) | Err(_)) = tokio::time::timeout(Duration::from_secs(1), stream.read(&mut buffer)).await {
                    break;
                }
            }
        }));
    }
    tokio::time::sleep(Duration::from_millis(300)).await;
    let asked = said(address, b"GET /health/live HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n").await;
    assert_eq!(status(&asked), "200");
    for connection in slow {
        connection.await.unwrap();
    }
    assert!(begun.elapsed() < Duration::from_secs(30), "{:?}", begun.elapsed());
}
