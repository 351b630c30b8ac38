//! A whole fit beside R's ordinal::clmm on the same file, in one run, with three factors and with two:
//! `cargo bench -p winterfig-core --bench clmm -- 10000` (10,000 reports unless told otherwise).
#![allow(clippy::disallowed_methods, clippy::unwrap_used, missing_docs, reason = "a benchmark fails by panicking")]

#[path = "../support/peer.rs"]
mod peer;
#[path = "society/mod.rs"]
mod simulated;

fn main() {
    let reports: usize = std::env::args().find_map(|a| a.parse().ok()).unwrap_or(10_000);
    peer::print(reports, concat!(env!("CARGO_MANIFEST_DIR"), "/../tests/bench/clmm.R"));
}
