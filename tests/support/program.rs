//! The program itself, started, killed and told to stop.
#![allow(dead_code, missing_docs)]

use std::net::SocketAddr;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

/// An address that nobody listens on.
pub fn free_address() -> SocketAddr {
    std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap()
}

/// How the program is to be started.
#[derive(Debug)]
pub struct Serving(Command);

/// A running program; killed when dropped.
#[derive(Debug)]
pub struct Program(Child);

impl Serving {
    pub fn with(mut self, name: &str, value: impl AsRef<std::ffi::OsStr>) -> Self {
        self.0.env(name, value);
        self
    }

    pub fn start(mut self) -> Program {
        Program(self.0.spawn().unwrap())
    }
}

impl Program {
    /// The service on a database, with room for as many reports as anybody sends.
    pub fn serving(binary: &str, listen: SocketAddr, database: &str) -> Serving {
        let mut command = Command::new(binary);
        command
            .args(["serve", "--listen", &listen.to_string(), "--database", database, "--writes-burst", "1000000", "--log", "warn"])
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        Serving(command)
    }

    /// Number of its process.
    pub fn id(&self) -> u32 {
        self.0.id()
    }

    /// SIGKILL.
    pub fn kill(&mut self) {
        let _ = self.0.kill();
        self.0.wait().unwrap();
    }

    /// SIGTERM.
    pub fn terminate(&self) {
        let killed = Command::new("kill").args(["-TERM", &self.0.id().to_string()]).status().unwrap();
        assert!(killed.success());
    }

    /// How it ended, within a time.
    pub async fn ended_within(&mut self, time: Duration) -> Option<ExitStatus> {
        let end = Instant::now() + time;
        while Instant::now() < end {
            if let Some(status) = self.0.try_wait().unwrap() {
                return Some(status);
            }
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
        None
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}
