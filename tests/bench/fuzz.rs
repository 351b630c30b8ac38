//! The service asked a million bent questions (DOS-08): failures of ours, panics, growth of memory.
//! `cargo bench --bench fuzz -- 1000000`, and a seed after it for another draw.
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

use std::time::Instant;

use support::TestDatabase;
use support::client::{Client, REPORT};
use support::fuzz::{Fuzz, Grammar, Seen, ask, memory_mb};
use winterfig::records::Role;

/// Questions between two lines of progress.
const ROUND: usize = 50_000;

#[tokio::main]
async fn main() {
    let numbers: Vec<u64> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    let questions = numbers.first().map_or(ROUND, |n| *n as usize);
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let stranger = Client::new(&store).await;
    let mut member = stranger.another();
    member.join("fern").await;
    let mut steward = stranger.another();
    steward.join("moss").await;
    for moss in store.members().await.unwrap().into_iter().filter(|member| member.handle.to_string() == "moss") {
        store.change_role(moss.id, Role::Administrator).await.unwrap();
    }
    assert!(member.post("/reports/new", REPORT).await.status.is_redirection());
    let mut visitors = [stranger, member, steward];
    let grammar = Grammar::learn(&mut visitors).await;
    let mut fuzz = Fuzz::new(numbers.get(1).copied().unwrap_or(1));
    let (begun, mut seen) = (Instant::now(), Seen::default());
    println!("{:>9} {:>8} {:>10} {:>10} statuses", "asked", "s", "memory MB", "failures");
    while seen.asked < questions {
        ask(&mut visitors, &grammar, &mut fuzz, ROUND.min(questions - seen.asked), &mut seen).await;
        let (asked, failed) = (seen.asked, seen.failures.len());
        println!("{asked:>9} {:>8.0} {:>10.1} {failed:>10} {:?}", begun.elapsed().as_secs_f64(), memory_mb(), seen.statuses);
        for failure in seen.failures.iter().take(3) {
            println!("  {failure}");
        }
    }
}
