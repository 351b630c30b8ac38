//! The program on a society's database, and questions to it over loopback.

use std::net::SocketAddr;
use std::time::{Duration, Instant};

use http_body_util::{BodyExt, Full};
use hyper::body::Bytes;
use hyper::client::conn::http1::{SendRequest, handshake};
use hyper::{Request, StatusCode};
use hyper_util::rt::TokioIo;
use tokio::net::TcpStream;

use crate::processor_time::processor_time;
use crate::program::{Program, free_address};
use crate::society::Society;
use crate::{PROGRAM, program};

/// Longest wait for the program to say that it is ready, or for a model.
pub const LONGEST: Duration = Duration::from_mins(10);

/// Longest wait for the program to come to rest, the share of a processor that it uses then at most, and how long that is looked at.
const LONGEST_UNREST: Duration = Duration::from_mins(3);
const AT_REST: f64 = 0.05;
const LOOKED_AT: Duration = Duration::from_secs(1);

/// What is resident, MB: now, and at most so far.
#[derive(Clone, Copy)]
pub struct Memory {
    pub held: f64,
    pub most: f64,
}

/// What a process holds, as Linux counts it; zeros elsewhere.
pub fn memory_of(process: u32) -> Memory {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).unwrap_or_default();
    let of = |name: &str| {
        let line = status.lines().find(|line| line.starts_with(name))?;
        line.split_whitespace().nth(1)?.parse::<f64>().ok()
    };
    Memory { held: of("VmRSS").unwrap_or(0.0) / 1000.0, most: of("VmHWM").unwrap_or(0.0) / 1000.0 }
}

/// An answer.
pub struct Answer {
    pub took: Duration,
    pub status: StatusCode,
    pub body: Bytes,
}

impl Answer {
    pub fn ms(&self) -> f64 {
        self.took.as_secs_f64() * 1e3
    }
}

/// A visitor with one connection.
pub struct Visitor {
    address: SocketAddr,
    connection: Option<SendRequest<Full<Bytes>>>,
}

async fn connected(address: SocketAddr) -> SendRequest<Full<Bytes>> {
    let stream = TcpStream::connect(address).await.unwrap();
    stream.set_nodelay(true).unwrap();
    let (mut sender, driver) = handshake(TokioIo::new(stream)).await.unwrap();
    tokio::spawn(driver);
    sender.ready().await.unwrap();
    sender
}

impl Visitor {
    pub fn of(address: SocketAddr) -> Self {
        Self { address, connection: None }
    }

    /// Asks as somebody, by a session's secret where there is one.
    pub async fn get(&mut self, path: &str, session: Option<&str>) -> Answer {
        self.get_with(path, session, false).await
    }

    pub async fn get_with(&mut self, path: &str, session: Option<&str>, gzip: bool) -> Answer {
        let mut request = Request::get(path).header("host", self.address.to_string());
        if let Some(secret) = session {
            request = request.header("cookie", format!("winterfig-plain={secret}"));
        }
        if gzip {
            request = request.header("accept-encoding", "gzip");
        }
        self.send(request.body(Full::default()).unwrap()).await
    }

    pub async fn send(&mut self, request: Request<Full<Bytes>>) -> Answer {
        let begun = Instant::now();
        // Waited for before it is used: the program ends a connection after an answer about itself, which may be told late.
        let mut standing = self.connection.take();
        if let Some(sender) = &mut standing
            && sender.ready().await.is_err()
        {
            standing = None;
        }
        let sender = match standing {
            Some(sender) => self.connection.insert(sender),
            None => self.connection.insert(connected(self.address).await),
        };
        let answer = sender.send_request(request).await.unwrap();
        let status = answer.status();
        let body = answer.into_body().collect().await.unwrap().to_bytes();
        Answer { took: begun.elapsed(), status, body }
    }

    /// Sends a report of a plant of its own as the grower's program; gives its id.
    pub async fn report(&mut self, society: &Society, nth: usize) -> String {
        let body = serde_json::json!({
            "name": "Celeste", "place": format!("row {nth}"), "winter": "2023/24", "looked": "2024-05-20", "top": "tips", "vitality": "alive",
            "cover": "none", "coldest": -12.4 - nth as f64 % 20.0 / 10.0, "thermometer": "at_plant",
        });
        let request = Request::post("/api/v1/reports")
            .header("host", self.address.to_string())
            .header("authorization", format!("Bearer {}", society.token))
            .header("content-type", "application/json")
            .body(Full::new(Bytes::from(body.to_string())))
            .unwrap();
        let answer = self.send(request).await;
        assert_eq!(answer.status, StatusCode::CREATED, "{}", String::from_utf8_lossy(&answer.body));
        let answer: serde_json::Value = serde_json::from_slice(&answer.body).unwrap();
        answer["id"].as_str().unwrap().to_owned()
    }

    /// The steward takes a report.
    pub async fn accept(&mut self, society: &Society, report: &str) {
        let request = Request::post(format!("/review/{report}"))
            .header("host", self.address.to_string())
            .header("cookie", format!("winterfig-plain={}", society.steward))
            .header("content-type", "application/x-www-form-urlencoded")
            .header("sec-fetch-site", "same-origin")
            .body(Full::new(Bytes::from_static(b"version=1&stood=waiting&state=taken")))
            .unwrap();
        let answer = self.send(request).await;
        assert_eq!(answer.status, StatusCode::SEE_OTHER, "{}", String::from_utf8_lossy(&answer.body));
    }
}

/// The program, serving.
pub struct Service {
    program: Program,
    pub address: SocketAddr,
    pub visitor: Visitor,
}

impl Service {
    /// Starts it and waits until it says that it is ready.
    pub async fn start(society: &Society) -> Self {
        let address = free_address();
        let program = program::Program::serving(PROGRAM, address, &society.database)
            .with("WINTERFIG_INSECURE_HTTP", "true")
            .with("WINTERFIG_ERASED_LIST", society.folder.path().join("erased"))
            .start();
        let begun = Instant::now();
        while TcpStream::connect(address).await.is_err() {
            assert!(begun.elapsed() < LONGEST, "the program does not listen");
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
        let mut service = Self { program, address, visitor: Visitor::of(address) };
        while service.visitor.get("/health/ready", None).await.status != StatusCode::OK {
            assert!(begun.elapsed() < LONGEST, "the program does not get ready");
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
        service
    }

    pub fn memory(&self) -> Memory {
        memory_of(self.program.id())
    }

    /// Waits until it does next to nothing; gives how long that took.
    pub async fn rest(&self) -> Duration {
        let begun = Instant::now();
        let mut before = processor_time(&self.program.id().to_string());
        loop {
            tokio::time::sleep(LOOKED_AT).await;
            let now = processor_time(&self.program.id().to_string());
            let busy = now - before > AT_REST * LOOKED_AT.as_secs_f64();
            if !busy || begun.elapsed() > LONGEST_UNREST {
                return begun.elapsed();
            }
            before = now;
        }
    }

    /// Name of the model in use.
    pub async fn model(&mut self) -> String {
        let answer = self.visitor.get("/health/ready", None).await;
        let answer: serde_json::Value = serde_json::from_slice(&answer.body).unwrap();
        answer["model_version"].as_str().unwrap().to_owned()
    }

    pub async fn stop(mut self) {
        self.program.terminate();
        if self.program.ended_within(Duration::from_secs(30)).await.is_none() {
            eprintln!("the program had to be killed");
            self.program.kill();
        }
    }
}
