//! Many connections at once beside a program that sends the same bytes ready-made; and questions that nobody asked before.

use std::net::SocketAddr;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use axum::Router;
use axum::http::HeaderMap;
use axum::http::header::{CONTENT_ENCODING, CONTENT_TYPE};
use axum::routing::get;
use tokio::net::TcpStream;
use winterfig::web::server;

use crate::client::{Service, Visitor};
use crate::median_and_most;
use crate::pages::accept_on;
use crate::program::free_address;
use crate::society::Society;
use crate::table::Figures;
use crate::throughput::throughput;

/// Connections at once.
const CONNECTIONS: usize = 64;
/// How long each is measured, and how often; the best counts, since the machine's own noise only takes away.
const MEASURED: Duration = Duration::from_secs(2);
const ROUNDS: usize = 2;
/// Questions that nobody asked before.
const COLD: usize = 99;

const QUERY: &str = "zone=7a&climate=inland&setting=wall";
/// What is asked by the crowd: name, path, content type.
const ASKED: [(&str, &str, &str); 2] =
    [("API", "/api/v1/shortlist", "application/json"), ("page", "/shortlist", "text/html; charset=utf-8")];

/// Another process of this program that serves one file, and nothing around it.
struct ReadyMade {
    process: Child,
    address: SocketAddr,
}

impl Drop for ReadyMade {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

impl ReadyMade {
    async fn start(file: &Path, path: &str, kind: &str, encoding: &str) -> Self {
        let address = free_address();
        let process = Command::new(std::env::current_exe().unwrap())
            .args(["ready-made", &address.to_string(), &file.display().to_string(), path, kind, encoding])
            .stdout(Stdio::null())
            .spawn()
            .unwrap();
        while TcpStream::connect(address).await.is_err() {
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
        Self { process, address }
    }
}

/// What that process does.
pub async fn serve_ready_made(arguments: &[String]) {
    let [_, address, file, path, kind, encoding] = arguments else { panic!("six words") };
    let bytes: &'static [u8] = Box::leak(std::fs::read(file).unwrap().into_boxed_slice());
    let headers: HeaderMap = [(CONTENT_TYPE, kind), (CONTENT_ENCODING, encoding)]
        .into_iter()
        .filter(|(_, value)| !value.is_empty())
        .map(|(name, value)| (name, value.parse().unwrap()))
        .collect();
    let answer = move || {
        let headers = headers.clone();
        async move { (headers, bytes) }
    };
    let router = Router::new().route(path, get(answer));
    let listener = tokio::net::TcpListener::bind(address.parse::<SocketAddr>().unwrap()).await.unwrap();
    server::serve(listener, router, 1024, std::future::pending()).await;
}

/// Median time of questions, each asked for the first time: at once, beside whatever the program was asked for before (the data package of a
/// look at `/data`, scores), and once it is at rest.
pub async fn cold(service: &mut Service, figures: &mut Figures) {
    for (name, path, _) in ASKED {
        let ms = asked_first(service, path, 0).await;
        figures.add(format!("cold question beside other work {name}, ms"), ms);
    }
    figures.add("rest waited for, s", service.rest().await.as_secs_f64());
    for (name, path, _) in ASKED {
        let ms = asked_first(service, path, 1).await;
        figures.add(format!("cold question {name}, ms"), ms);
    }
}

/// The same of one kind of answer; questions of another round differ.
async fn asked_first(service: &mut Service, path: &str, round: usize) -> f64 {
    let mut times = Vec::new();
    for nth in 0..COLD {
        let question = format!("{path}?yearly_minimum_c=-{}.{nth:02}&climate=inland&setting=wall", 9 + (nth + round) % 13);
        times.push(service.visitor.get(&question, None).await.took);
    }
    median_and_most(times).0
}

/// Requests a second, plain and compressed, as parts of what the ready-made bytes reach.
pub async fn ratios(service: &Service, figures: &mut Figures) {
    for (name, path, kind) in ASKED {
        for (how, encoding) in [("plain", ""), ("gzip", "gzip")] {
            let (ratio, rate) = ratio(service, path, kind, encoding).await;
            figures.add(format!("ratio {name} {how}"), ratio);
            figures.add(format!("rate of {name} {how}, /s"), rate);
        }
    }
}

async fn ratio(service: &Service, path: &str, kind: &str, encoding: &str) -> (f64, f64) {
    let question = format!("{path}?{QUERY}");
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("answer");
    std::fs::write(&file, Visitor::of(service.address).get_with(&question, None, !encoding.is_empty()).await.body).unwrap();
    let ready = ReadyMade::start(&file, path, kind, encoding).await;
    let mut rates = [0.0f64; 2];
    for _ in 0..ROUNDS {
        for (rate, address) in rates.iter_mut().zip([ready.address, service.address]) {
            *rate = rate.max(throughput(address, &question, encoding, CONNECTIONS, MEASURED).await);
        }
    }
    (rates[1] / rates[0], rates[1])
}

/// The same while reports are accepted, so that kept answers go with their snapshot.
pub async fn while_accepting(service: &Service, society: &Society, figures: &mut Figures) {
    for (name, path, kind) in ASKED {
        let on = AtomicBool::new(true);
        let measuring = async {
            let measured = ratio(service, path, kind, "gzip").await;
            on.store(false, Ordering::Relaxed);
            measured
        };
        let ((ratio, _), _) = tokio::join!(measuring, accept_on(service.address, society, &on, 2_000));
        figures.add(format!("ratio accepting {name} gzip"), ratio);
    }
}
