//! The direction of the house, read from the imports: which ring may call which, which job may call which, and no circle of files anywhere.
#![allow(clippy::disallowed_methods, clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

mod imports;

use std::collections::BTreeMap;
use std::path::Path;

use imports::{SourceFile, circle, names_crate, read_source, read_texts};

/// A ring, the rings it may call beside itself, and the crates it may not name.
struct Ring {
    name: &'static str,
    may_call: &'static [&'static str],
    never: &'static [&'static str],
}

const PURE: [&str; 3] = ["axum", "sqlx", "tokio"];
const FRAMEWORKS: [&str; 4] = ["axum", "axum_extra", "askama", "askama_web"];

/// In order, lowest first. `jobs` are the files of a job that do not know the web framework; `pages` those that do (`page*.rs`, `api*.rs`).
#[rustfmt::skip]
const RINGS: &[Ring] = &[
    Ring { name: "vocabulary", may_call: &[], never: &PURE },
    Ring { name: "units", may_call: &["vocabulary"], never: &PURE },
    Ring { name: "science", may_call: &["units", "vocabulary"], never: &["axum", "sqlx", "tokio", "std::fs", "std::env", "std::time"] },
    Ring { name: "catalogue", may_call: &["science", "units", "vocabulary"], never: &PURE },
    Ring { name: "places", may_call: &["catalogue", "science", "units", "vocabulary"], never: &PURE },
    Ring { name: "records", may_call: &["catalogue", "science", "units", "vocabulary"], never: &PURE },
    Ring { name: "clock", may_call: &[], never: &["sqlx", "axum"] },
    Ring { name: "token", may_call: &[], never: &["sqlx", "axum"] },
    Ring { name: "ids", may_call: &[], never: &["sqlx", "axum"] },
    Ring { name: "network", may_call: &[], never: &["sqlx", "axum"] },
    Ring { name: "store", may_call: &["records", "catalogue", "science", "units", "vocabulary"], never: &FRAMEWORKS },
    Ring { name: "input", may_call: &["records", "catalogue", "science", "units", "vocabulary"], never: &["axum", "sqlx", "askama"] },
    Ring { name: "model", may_call: &["store", "clock", "token", "ids", "records", "catalogue", "science", "units", "vocabulary"], never: &["axum", "sqlx", "askama"] },
    Ring { name: "jobs", may_call: &["model", "input", "store", "clock", "token", "ids", "records", "places", "catalogue", "science", "units", "vocabulary"], never: &["axum", "axum_extra", "askama", "askama_web", "sqlx"] },
    Ring { name: "demo", may_call: &["jobs", "model", "input", "store", "clock", "token", "ids", "records", "places", "catalogue", "science", "units", "vocabulary"], never: &["axum", "sqlx", "askama"] },
    Ring { name: "settings", may_call: &["jobs", "input", "network"], never: &["sqlx", "axum"] },
    Ring { name: "web", may_call: &["settings", "network", "jobs", "model", "input", "store", "clock", "token", "ids", "records", "places", "catalogue", "science", "units", "vocabulary"], never: &["sqlx"] },
    Ring { name: "pages", may_call: &["web", "settings", "jobs", "model", "input", "store", "clock", "token", "ids", "records", "places", "catalogue", "science", "units", "vocabulary"], never: &["sqlx"] },
    Ring { name: "routes", may_call: &["pages", "jobs", "web", "settings"], never: &["sqlx"] },
    Ring { name: "cli", may_call: &["routes", "web", "demo", "settings", "jobs", "model", "input", "store", "clock", "token", "ids", "records", "places", "catalogue", "science", "units", "vocabulary"], never: &["sqlx"] },
];

/// The jobs, lowest first: a job may call those before it, never one after it.
const JOBS: [&str; 16] = [
    "accounts",
    "places",
    "open_data",
    "shortlist",
    "station_record",
    "shelter",
    "cold_night",
    "pots",
    "spring",
    "reports",
    "garden",
    "review",
    "cultivars",
    "method",
    "bench",
    "home",
];

fn source() -> BTreeMap<String, SourceFile> {
    read_source(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"))
}

#[test]
fn every_file_calls_only_rings_before_its_own_and_jobs_below_its_own() {
    let wrong: Vec<String> = source().values().flat_map(offences).collect();
    assert!(wrong.is_empty(), "wrong direction:\n{}", wrong.join("\n"));
}

/// Names under which a file describes its structs and enums for machines: their own, or the one of `#[schema(as = …)]`.
fn schema_names(code: &str) -> Vec<&str> {
    let word = |c: char| !c.is_alphanumeric() && c != '_';
    code.split("#[derive(")
        .skip(1)
        .filter_map(|part| part.split_once(")]").filter(|(traits, _)| traits.contains("ToSchema")))
        .filter_map(|(_, rest)| {
            let head = rest.split_once('{').map_or(rest, |(head, _)| head);
            let given = head.split_once("schema(as = ").and_then(|(_, name)| name.split(word).next());
            given.or_else(|| head.split(word).filter(|word| !word.is_empty()).skip_while(|&word| word != "struct" && word != "enum").nth(1))
        })
        .collect()
}

/// The published description knows a schema by its name alone: of two with one name it would keep one, for both.
#[test]
fn every_schema_of_the_api_has_a_name_of_its_own() {
    let source = source();
    let mut at: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for file in source.values() {
        for name in schema_names(&file.code) {
            at.entry(name).or_default().push(&file.module);
        }
    }
    assert!(at.contains_key("SpringJson") && at.len() > 30, "{at:?}");
    at.retain(|_, files| files.len() > 1);
    assert!(at.is_empty(), "{at:?}");
}

#[test]
fn no_files_import_each_other_in_a_circle() {
    assert_eq!(circle(&source()), None);
}

#[test]
fn every_room_of_the_source_belongs_to_a_ring_and_every_job_to_a_floor() {
    for module in source().keys() {
        let parts: Vec<&str> = module.split("::").collect();
        assert!(["lib", "main", "core"].contains(&parts[0]) || RINGS.iter().any(|ring| ring.name == parts[0]), "{module} is in no ring");
        assert!(parts[0] != "jobs" || parts.len() < 2 || JOBS.contains(&parts[1]), "{module} is a job without a floor");
    }
}

// The tests must be able to fail: each kind of offence in a made-up house is found.
#[test]
fn a_wrong_import_is_found_in_every_form_it_takes() {
    let house = |module: &str, code: &str| {
        let files = [
            "store",
            "web::state",
            "catalogue",
            "units",
            "science::climate",
            "jobs::shortlist::page",
            "jobs::shortlist",
            "jobs::spring",
            "jobs",
            "model::snapshot",
        ]
        .map(|name| (name.to_owned(), String::new()));
        let mut texts = BTreeMap::from(files);
        texts.insert(module.to_owned(), code.to_owned());
        offences(&read_texts(&texts)[module]).len()
    };
    for (module, bad) in [
        ("science::thing", "use crate::store::Store;"),
        ("science::thing", "use crate::{catalogue::Slug, units::Celsius};"),
        ("science::thing", "fn f(x: &crate::web::state::State) {}"),
        ("science::thing", "use sqlx::Row;"),
        ("science::thing", "let now = std::time::SystemTime::now();"),
        ("jobs::shortlist::answer", "use axum::Json;"),
        ("jobs::shortlist::answer", "use crate::jobs::spring::SpringAnswer;"),
        ("jobs::shortlist::answer", "use super::page::Page;"),
        ("jobs::shortlist::page", "use crate::jobs::spring::SpringAnswer;"),
        ("model::learn", "use crate::jobs::shortlist::Question;"),
    ] {
        assert_eq!(house(module, bad), 1, "{module}: {bad}");
    }
    for (module, good) in [
        ("science::thing", "use crate::units::Celsius;"),
        ("science::thing", "// crate::store would be wrong here"),
        ("science::thing", "use super::climate::Zone; let axumish = 1;"),
        ("jobs::spring::answer", "use crate::jobs::shortlist::Question;"),
        ("jobs::spring::page", "use axum::Json; use crate::web::state::AppState;"),
    ] {
        assert_eq!(house(module, good), 0, "{module}: {good}");
    }
}

#[test]
fn a_circle_is_found_where_one_is_made() {
    let texts = |back: &str| {
        BTreeMap::from(
            [("a", "use crate::b::X;"), ("b", "use crate::c::Y;"), ("c", back)].map(|(name, code)| (name.to_owned(), code.to_owned())),
        )
    };
    assert_eq!(circle(&read_texts(&texts("use crate::a::Z;"))), Some(vec!["a".to_owned(), "b".to_owned(), "c".to_owned()]));
    assert_eq!(circle(&read_texts(&texts("use std::fmt;"))), None);
}

/// The ring of a module; the files of a job that know the web framework are a ring of their own.
fn ring_of(module: &str) -> Option<&'static Ring> {
    let parts: Vec<&str> = module.split("::").collect();
    let knows_the_web = parts[0] == "jobs" && parts.len() > 2 && (parts[2].starts_with("page") || parts[2].starts_with("api"));
    let name = if knows_the_web { "pages" } else { parts[0] };
    RINGS.iter().find(|ring| ring.name == name)
}

fn job_floor(module: &str) -> Option<usize> {
    let job = module.strip_prefix("jobs::")?.split("::").next()?;
    JOBS.iter().position(|name| *name == job)
}

/// What a file names against the direction.
fn offences(file: &SourceFile) -> Vec<String> {
    let Some(ring) = ring_of(&file.module) else { return Vec::new() };
    let mut found = Vec::new();
    for named in &file.names {
        if let Some(other) = ring_of(named).filter(|other| other.name != ring.name && !ring.may_call.contains(&other.name)) {
            found.push(format!("{}: {} may not call {} ({named})", file.module, ring.name, other.name));
        } else if let (Some(own), Some(other)) = (job_floor(&file.module), job_floor(named))
            && own < other
        {
            found.push(format!("{} names a job above its own: {named}", file.module));
        }
    }
    for outside in ring.never.iter().filter(|outside| names_crate(&file.code, outside)) {
        found.push(format!("{}: {} may not name {outside}", file.module, ring.name));
    }
    found
}
