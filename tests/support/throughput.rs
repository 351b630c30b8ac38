//! How many requests a second an address answers, for the benchmarks.

use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

/// Requests per second over so many keep-alive connections that ask for so long, read the whole answer, and ask again. `encoding`: what they
/// accept, nothing where it is empty.
pub async fn throughput(address: SocketAddr, path: &str, encoding: &str, connections: usize, measured: Duration) -> f64 {
    let done = Arc::new(AtomicU64::new(0));
    let begun = Instant::now();
    let accepted = if encoding.is_empty() { String::new() } else { format!("Accept-Encoding: {encoding}\r\n") };
    let request = format!("GET {path} HTTP/1.1\r\nHost: {address}\r\n{accepted}\r\n");
    let ends = begun + measured;
    let clients: Vec<_> = (0..connections).map(|_| tokio::spawn(ask_until(address, request.clone(), ends, Arc::clone(&done)))).collect();
    for client in clients {
        client.await.unwrap();
    }
    done.load(Ordering::Relaxed) as f64 / begun.elapsed().as_secs_f64()
}

async fn ask_until(address: SocketAddr, request: String, ends: Instant, done: Arc<AtomicU64>) {
    let mut stream = TcpStream::connect(address).await.unwrap();
    let mut buffer = vec![0u8; 1024 * 1024];
    while Instant::now() < ends {
        stream.write_all(request.as_bytes()).await.unwrap();
        let mut filled = 0;
        while !is_whole(&buffer[..filled]) {
            let read = stream.read(&mut buffer[filled..]).await.unwrap();
            assert!(read > 0, "the connection was closed within an answer");
            filled += read;
        }
        done.fetch_add(1, Ordering::Relaxed);
    }
}

/// Whether an answer is there to its end; one that is packed as it goes comes in chunks, of which the last is empty.
fn is_whole(read: &[u8]) -> bool {
    let Some(head) = read.windows(4).position(|window| window == b"\r\n\r\n") else { return false };
    let text = std::str::from_utf8(&read[..head]).unwrap().to_ascii_lowercase();
    assert!(text.starts_with("http/1.1 200"), "{text}");
    let length = text.lines().find_map(|line| line.strip_prefix("content-length: ")).map(|length| length.trim().parse::<usize>().unwrap());
    length.map_or_else(|| read.ends_with(b"\r\n0\r\n\r\n"), |length| read.len() >= head + 4 + length)
}
