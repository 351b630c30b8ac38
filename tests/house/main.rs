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
    Ring { name: "address", may_call: &[], never: &["sqlx", "axum"] },
    Ring { name: "clock", may_call: &[], never: &["sqlx", "axum"] },
    Ring { name: "token", may_call: &[], never: &["sqlx", "axum"] },
    Ring { name: "ids", may_call: &[], never: &["sqlx", "axum"] },
    Ring { name: "network", may_call: &[], never: &["sqlx", "axum"] },
    Ring { name: "outbound", may_call: &["network"], never: &["sqlx", "axum"] },
    Ring { name: "store", may_call: &["records", "catalogue", "science", "units", "vocabulary"], never: &FRAMEWORKS },
    Ring { name: "input", may_call: &["records", "catalogue", "science", "units", "vocabulary"], never: &["axum", "sqlx", "askama"] },
    Ring { name: "model", may_call: &["store", "clock", "token", "ids", "records", "catalogue", "science", "units", "vocabulary"], never: &["axum", "sqlx", "askama"] },
    Ring { name: "jobs", may_call: &["address", "outbound", "model", "input", "store", "clock", "token", "ids", "records", "places", "catalogue", "science", "units", "vocabulary"], never: &["axum", "axum_extra", "askama", "askama_web", "sqlx"] },
    Ring { name: "demo", may_call: &["jobs", "model", "input", "store", "clock", "token", "ids", "records", "places", "catalogue", "science", "units", "vocabulary"], never: &["axum", "sqlx", "askama"] },
    Ring { name: "settings", may_call: &["outbound", "jobs", "input", "network"], never: &["sqlx", "axum"] },
    Ring { name: "web", may_call: &["address", "outbound", "settings", "network", "jobs", "model", "input", "store", "clock", "token", "ids", "records", "places", "catalogue", "science", "units", "vocabulary"], never: &["sqlx"] },
    Ring { name: "pages", may_call: &["address", "web", "settings", "jobs", "model", "input", "store", "clock", "token", "ids", "records", "places", "catalogue", "science", "units", "vocabulary"], never: &["sqlx"] },
    Ring { name: "routes", may_call: &["pages", "jobs", "web", "settings"], never: &["sqlx"] },
    Ring { name: "cli", may_call: &["outbound", "routes", "web", "demo", "settings", "jobs", "model", "input", "store", "clock", "token", "ids", "records", "places", "catalogue", "science", "units", "vocabulary"], never: &["sqlx"] },
];

/// The jobs, lowest first: a job may call those before it, never one after it.
const JOBS: [&str; 31] = [
    "accounts",
    "letters",
    "season",
    "places",
    "open_data",
    "shortlist",
    "compare",
    "proposals",
    "station_record",
    "shelter",
    "covers",
    "spots",
    "cold_night",
    "pots",
    "spring",
    "reports",
    "trials",
    "garden",
    "warnings",
    "propagation",
    "review",
    "office",
    "measured_shelters",
    "cultivars",
    "method",
    "bench",
    "nursery",
    "surveys",
    "reminders",
    "home",
    "sharing",
];

fn source() -> BTreeMap<String, SourceFile> {
    read_source(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src"))
}

#[test]
fn every_file_calls_only_rings_before_its_own_and_jobs_below_its_own() {
    let wrong: Vec<String> = source().values().flat_map(offences).collect();
    assert!(wrong.is_empty(), "wrong direction:\n{}", wrong.join("\n"));
}

/// Files below a folder.
fn files_below(folder: &Path) -> Vec<std::path::PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries.flat_map(|path| if path.is_dir() { files_below(&path) } else { vec![path] }).collect()
}

/// A template is not compiled where it stands outside its blocks, so that what a merge left there shows nowhere.
#[test]
fn no_file_holds_what_a_merge_left_unresolved() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let marks = ["<".repeat(7), ">".repeat(7)];
    let folders = ["src", "templates", "static", "migrations", "seed-data", "tests"];
    let mut left = Vec::new();
    for file in folders.iter().flat_map(|folder| files_below(&root.join(folder))) {
        let Ok(text) = std::fs::read_to_string(&file) else { continue };
        if text.lines().any(|line| marks.iter().any(|mark| line.starts_with(mark.as_str()))) {
            left.push(file);
        }
    }
    assert!(left.is_empty(), "{left:?}");
}

/// String literals of a file that begin like a path of this service, after a host or not: `"/reports/{}"`, `"{host}/bench"`.
fn path_literals(code: &str) -> Vec<&str> {
    let begins = code.match_indices("\"/").chain(code.match_indices("}/"));
    begins
        .filter(|(at, _)| code[at + 2..].starts_with(|c: char| c.is_ascii_lowercase()))
        // The description of the API names the path that it describes; the macro takes a literal only.
        .filter(|(at, _)| {
            !code[..*at].lines().next_back().unwrap_or_default().trim_start().starts_with("path =")
                && !code[..*at].trim_end().ends_with("path =")
        })
        .map(|(at, _)| code[at + 1..].split('"').next().unwrap())
        .collect()
}

/// Paths of other people's services.
const FOREIGN_PATHS: [&str; 1] = ["/points/"];

#[test]
fn addresses_are_built_in_one_place() {
    let offences: Vec<String> = source()
        .values()
        .filter(|file| !file.module.starts_with("address") && !file.module.starts_with("routes"))
        .flat_map(|file| path_literals(&file.code).into_iter().map(|path| format!("{}: {path}", file.module)).collect::<Vec<_>>())
        .filter(|offence| !FOREIGN_PATHS.iter().any(|foreign| offence.contains(foreign)))
        .collect();
    assert!(offences.is_empty(), "use `crate::address`:\n{}", offences.join("\n"));
    assert_eq!(path_literals(r#"let a = "/reports/{id}"; let b = "/"; path = "/api/v1/x", f("a/b", "{h}/y")"#), ["/reports/{id}", "/y"]);
}

/// String literals of a file that hold a sentence (four words or more), outside vocabularies, error types, lints' reasons and the names of quantities
/// that the check `within` puts into its error.
fn sentences(code: &str) -> Vec<String> {
    let mut found = Vec::new();
    let (mut at, mut start) = (0, None);
    let bytes = code.as_bytes();
    while at < bytes.len() {
        match (bytes[at], start) {
            (b'\\', Some(_)) => at += 1,
            (b'"', None) if at > 0 && bytes[at - 1] == b'\'' && bytes.get(at + 1) == Some(&b'\'') => {}
            (b'"', None) => start = Some(at + 1),
            (b'"', Some(from)) => {
                let text = &code[from..at];
                let before = code[..from - 1].trim_end();
                let is_label =
                    before.ends_with("=>") && code[at + 1..].starts_with(',') && before[..before.len() - 2].trim_end().ends_with('"');
                let is_exempt = is_label
                    || before.ends_with("#[error(")
                    || before.ends_with("reason =")
                    || before.ends_with("within(")
                    || before.ends_with("unreachable!(");
                let words = text
                    .split_whitespace()
                    .filter(|word| !word.contains('{') && word.chars().filter(|c| c.is_alphabetic()).count() > 1)
                    .count();
                if words >= 4 && !is_exempt {
                    found.push(text.to_owned());
                }
                start = None;
            }
            _ => {}
        }
        at += 1;
    }
    found
}

/// Parts of error messages that are put together from several places.
const ERROR_PARTS: [&str; 1] = ["with the units c, f or tenths_c (or columns named tmin_c,tmax_c or tmin_f,tmax_f)"];

#[test]
fn science_gives_values_and_the_rooms_say_them() {
    let said: Vec<String> = source()
        .values()
        .filter(|file| file.module.starts_with("science::"))
        .flat_map(|file| sentences(&file.code).into_iter().map(|text| format!("{}: {text}", file.module)).collect::<Vec<_>>())
        .filter(|said| !ERROR_PARTS.iter().any(|part| said.ends_with(part)))
        .collect();
    assert!(said.is_empty(), "words belong into a room's words.rs:\n{}", said.join("\n"));
    let code = r#"vocabulary! { A = "a" => "one label of four words", } let c = '"'; within("hours of the long night", "h"); say("It is cold out there");"#;
    assert_eq!(sentences(code), ["It is cold out there"]);
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

/// Questions to the store that give every report, and the files that ask them: the data package, which is made row by row beside the answers,
/// and the register, which is kept up from changes.
const ALL_REPORTS: [(&str, &str); 2] = [(".reports_after(", "jobs::open_data::publication"), (".changed_since(", "model::registers")];
/// Who asks for some of them: changes since a fit, of which more than some dozen are left to the next one.
const SOME_REPORTS: [&str; 1] = ["model::refit_worker"];

/// Files that ask for every report without being named for it.
fn read_all(source: &BTreeMap<String, SourceFile>) -> Vec<String> {
    let asks = |file: &&SourceFile| ALL_REPORTS.iter().any(|(call, by)| file.code.contains(call) && file.module != *by);
    let outside = source.values().filter(|file| !file.module.starts_with("store") && !SOME_REPORTS.contains(&file.module.as_str()));
    outside.filter(asks).map(|file| file.module.clone()).collect()
}

/// Whatever a page or an answer says of many reports is read from the register, of which nothing grows that a page shows.
#[test]
fn no_request_reads_all_reports_from_the_store() {
    let source = source();
    assert_eq!(read_all(&source), [] as [String; 0]);
    for (call, by) in ALL_REPORTS {
        assert!(source[by].code.contains(call), "{by} does not ask for {call} any more");
    }
    let texts = BTreeMap::from([("jobs::home::page".to_owned(), "let all = state.store.reports_after(None, 10).await?;".to_owned())]);
    assert_eq!(read_all(&read_texts(&texts)), ["jobs::home::page"]);
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
