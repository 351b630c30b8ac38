//! Many submitters at once, the program killed half-way: reports acknowledged, lost and doubled.
//! `cargo bench --bench submitters -- 60` (seconds), on a file of SQLite; with an address after it, on that empty PostgreSQL database.
#![allow(
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    missing_docs,
    reason = "a benchmark fails by panicking"
)]

#[path = "../support/mod.rs"]
mod support;

use std::time::Duration;

use support::storm::{Storm, storm};

/// Submitters at once.
const SUBMITTERS: usize = 32;

#[tokio::main]
async fn main() {
    let seconds: u64 = std::env::args().find_map(|a| a.parse().ok()).unwrap_or(10);
    let folder = tempfile::tempdir().unwrap();
    let file = format!("sqlite:{}", folder.path().join("fig.db").display());
    let database = std::env::args().find(|a| a.starts_with("postgres")).unwrap_or(file);
    let length = Duration::from_secs(seconds);
    let after = storm(env!("CARGO_BIN_EXE_winterfig"), &database, Storm { submitters: SUBMITTERS, length, processes: 1 }).await;
    println!(
        "{SUBMITTERS} submitters, {seconds} s, one kill: {} acknowledged ({:.0} a second), {} sent again",
        after.acknowledged,
        after.acknowledged as f64 / length.as_secs_f64(),
        after.repeated
    );
    println!("lost {}, doubled {}, errors {:?}", after.lost, after.kept - after.different + after.lost, after.errors);
}
