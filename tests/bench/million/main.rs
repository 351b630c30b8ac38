//! How the service grows with its reports, as one table: `cargo bench --bench million -- [812 10000 100000 1000000] [postgres://…/]`.
//!
//! Each society is seeded and written directly into a fresh database: a file of SQLite in a temporary folder, or, with the address of a
//! cluster of PostgreSQL that may make databases, a database there (which is dropped again). The program itself is then started on it and asked
//! over loopback by this one. Times hold what the client takes; client and service share the machine's cores.
//!
//! - **first**: each page once, after the program said that it is ready; **again**: the next time; **accepting**: median of a page while one
//!   report after another is sent and accepted, and the longest; **bytes** of a page as it is, not compressed.
//! - **moved**: from the answer to a steward's yes until a model stands that has learned from the report; **refitted**: until one stands that
//!   was fitted anew.
//! - **memory**: of the program, as Linux counts what is resident.
//! - **ratio**: requests a second over 64 connections, beside a program that sends the same bytes ready-made.
//!
//! With the word `clmm` the engine is set beside R's `ordinal::clmm` at the end, at ten and at a hundred thousand reports.
//!
//! It asserts nothing; the last column is the aim at a million, and whether it was met at the largest size that was run.
#![allow(
    clippy::panic,
    clippy::disallowed_methods,
    clippy::unwrap_used,
    clippy::expect_used,
    missing_docs,
    reason = "a benchmark fails by panicking"
)]

mod client;
mod crowd;
mod learning;
#[path = "../../support/members.rs"]
mod members;
mod packages;
mod pages;
#[path = "../../support/peer.rs"]
mod peer;
#[path = "../../support/processor_time.rs"]
mod processor_time;
#[path = "../../support/program.rs"]
mod program;
#[path = "../../support/reported.rs"]
mod reported;
#[path = "../society/mod.rs"]
mod simulated;
mod society;
mod table;
#[path = "../../support/throughput.rs"]
mod throughput;

use std::time::{Duration, Instant};

use client::Service;
use society::Society;
use table::{Figures, Table};

#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// The program.
const PROGRAM: &str = env!("CARGO_BIN_EXE_winterfig");
/// Sizes where none is named.
const USUAL: [usize; 2] = [812, 10_000];
/// Sizes at which the engine is set beside its peer.
const BESIDE_PEER: [usize; 2] = [10_000, 100_000];

#[tokio::main]
async fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
    if arguments.first().is_some_and(|first| first == "ready-made") {
        return crowd::serve_ready_made(&arguments).await;
    }
    let mut sizes: Vec<usize> = arguments.iter().filter_map(|argument| argument.parse().ok()).collect();
    if sizes.is_empty() {
        sizes = USUAL.to_vec();
    }
    let cluster = arguments.iter().find(|argument| argument.starts_with("postgres"));
    let engines: Vec<Option<&String>> = match cluster {
        Some(cluster) if arguments.iter().any(|argument| argument == "both") => vec![None, Some(cluster)],
        Some(cluster) => vec![Some(cluster)],
        None => vec![None],
    };
    let mut table = Table::default();
    for engine in engines {
        for reports in &sizes {
            let name = if engine.is_some() { "PostgreSQL" } else { "SQLite" };
            eprintln!("== {reports} reports, {name}");
            let figures = measured(*reports, engine.map(String::as_str)).await;
            table.add(name, *reports, figures);
            // What is known so far, should a later size not come to its end.
            println!("{table}");
        }
    }
    if arguments.iter().any(|argument| argument == "clmm") {
        for reports in BESIDE_PEER {
            peer::print(reports, concat!(env!("CARGO_MANIFEST_DIR"), "/tests/bench/clmm.R"));
        }
    }
}

/// Every figure of a society.
async fn measured(reports: usize, cluster: Option<&str>) -> Figures {
    let mut figures = Figures::default();
    let society = Society::settled(reports, cluster).await;
    figures.add("written, rows/s", reports as f64 / society.took.as_secs_f64());
    let begun = Instant::now();
    let mut service = Service::start(&society).await;
    figures.add("ready after the start, s", begun.elapsed().as_secs_f64());
    pages::first_and_again(&mut service, &society, &mut figures).await;
    let fitted = learning::first_fit(&mut service).await;
    figures.add("first fit after the start, s", begun.elapsed().as_secs_f64().max(fitted.as_secs_f64()));
    pages::once_more(&mut service, &society, &mut figures).await;
    let memory = service.memory();
    figures.add("memory after pages, MB", memory.held);
    learning::moved(&mut service, &society, &mut figures).await;
    figures.add("memory at most, MB", service.memory().most);
    crowd::cold(&mut service, &mut figures).await;
    crowd::ratios(&service, &mut figures).await;
    pages::while_accepting(&mut service, &society, &mut figures).await;
    crowd::while_accepting(&service, &society, &mut figures).await;
    let memory = service.memory();
    figures.add("memory at the end, MB", memory.held);
    figures.add("memory at the end, at most, MB", memory.most);
    service.stop().await;
    packages::out_and_in(&society, &mut figures).await;
    society.end().await;
    figures
}

/// Median and greatest of some times, ms.
fn median_and_most(mut times: Vec<Duration>) -> (f64, f64) {
    times.sort_unstable();
    let ms = |time: Option<&Duration>| time.map_or(f64::NAN, |time| time.as_secs_f64() * 1e3);
    (ms(times.get(times.len() / 2)), ms(times.last()))
}
