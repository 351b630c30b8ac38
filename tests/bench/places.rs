//! The file of towns: how it is made, and how fast it answers.
//!
//! `cargo bench -p winterfig-core --bench places -- build FOLDER` writes `seed-data/places.bin` from the tables of FOLDER (the unpacked sources are described in its
//! README; `../shared/evidence/places` here), through the command `xz`. The same tables give the same bytes.
//! `cargo bench -p winterfig-core --bench places -- check FOLDER` compares each station with a long record with the estimate of the nearest town.
//! `cargo bench -p winterfig-core --bench places` prints the time of look-ups and the memory they take; it asserts nothing.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

#[path = "places/build.rs"]
mod build;
#[path = "places/check.rs"]
mod check;
#[path = "places/names.rs"]
mod names;
#[path = "places/tables.rs"]
mod tables;

use std::time::Instant;

use winterfig_core::places::Gazetteer;

const WORDS: [&str; 14] = [
    "Vienna, AT",
    "Asheville NC",
    "Osaka",
    "大阪",
    "Melb",
    "s",
    "San Jose",
    "San Francisco de los Cab",
    "Melbuorne",
    "Grza",
    "Springfield",
    "St Louis",
    "東京",
    "47.07, 15.44",
];
const RUNS: usize = 200;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|a| a != "--bench").collect();
    match arguments.as_slice() {
        [word, folder] if word == "build" => {
            let bytes = build::build(std::path::Path::new(folder));
            let to = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../seed-data/places.bin");
            std::fs::write(&to, &bytes).unwrap();
            println!("{} bytes", bytes.len());
        }
        [word, folder] if word == "check" => check::check(std::path::Path::new(folder)),
        [] => measure(),
        _ => panic!("accepted: build FOLDER, check FOLDER, or nothing"),
    }
}

fn measure() {
    let before = resident_kb();
    let start = Instant::now();
    let towns = Gazetteer::embedded().unwrap();
    println!(
        "open {:.2} ms; {} towns, {} names; memory +{} kB",
        start.elapsed().as_secs_f64() * 1e3,
        towns.towns(),
        towns.names(),
        resident_kb() - before
    );
    println!("{:<28}{:>10}{:>10}  first", "words", "best µs", "median µs");
    for words in WORDS {
        let mut times: Vec<f64> = (0..RUNS)
            .map(|_| {
                let start = Instant::now();
                let _ = std::hint::black_box(towns.find(words, 8));
                start.elapsed().as_secs_f64() * 1e6
            })
            .collect();
        times.sort_by(f64::total_cmp);
        let first = towns.find(words, 1).map_or_else(|e| e.to_string(), |t| t[0].label());
        println!("{words:<28}{:>10.0}{:>10.0}  {first}", times[0], times[RUNS / 2]);
    }
    println!("memory +{} kB after these", resident_kb() - before);
}

/// Resident memory of this process, kB, where the system says it.
fn resident_kb() -> i64 {
    let text = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    text.lines().find_map(|l| l.strip_prefix("VmRSS:")?.trim().split(' ').next()?.parse().ok()).unwrap_or(0)
}
