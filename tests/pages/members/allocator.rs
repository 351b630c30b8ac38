//! The program that serves, as it begins: with the allocator told to give memory back soon.

use std::time::{Duration, Instant};

use tokio::net::TcpStream;

use crate::support::program::{Program, free_address};

/// Longest that the program may take to listen.
const LONGEST: Duration = Duration::from_secs(30);

// The process that was started is the one that serves, and what an operator has set stays.
#[tokio::test]
async fn the_program_that_serves_tells_its_allocator_to_give_memory_back_soon() {
    for (given, has) in [(None, "100"), (Some("250"), "250")] {
        let folder = tempfile::tempdir().unwrap();
        let listen = free_address();
        let database = format!("sqlite:{}", folder.path().join("fig.db").display());
        let serving = Program::serving(env!("CARGO_BIN_EXE_winterfig"), listen, &database);
        let program = given.into_iter().fold(serving, |serving, value| serving.with("MIMALLOC_PURGE_DELAY", value)).start();
        let end = Instant::now() + LONGEST;
        while TcpStream::connect(listen).await.is_err() {
            assert!(Instant::now() < end, "it does not listen");
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        let environment = std::fs::read(format!("/proc/{}/environ", program.id())).unwrap();
        let set = format!("MIMALLOC_PURGE_DELAY={has}");
        assert!(environment.split(|byte| *byte == 0).any(|word| word == set.as_bytes()), "{set}");
    }
}
