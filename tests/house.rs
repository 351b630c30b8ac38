//! The direction of the rings, read from the imports: `units ← science ← catalogue, records ← store ← service ← web, cli ← main`.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// A ring, the rings it may call beside itself, and the crates it may not name.
struct Ring {
    name: &'static str,
    may_call: &'static [&'static str],
    never: &'static [&'static str],
}

const BASE: [&str; 2] = ["units", "vocabulary"];
const RINGS: &[Ring] = &[
    Ring { name: "vocabulary", may_call: &[], never: &["axum", "sqlx", "tokio"] },
    Ring { name: "units", may_call: &["vocabulary"], never: &["axum", "sqlx", "tokio"] },
    Ring { name: "science", may_call: &[], never: &["axum", "sqlx", "tokio", "std::fs", "std::env", "std::time"] },
    Ring { name: "catalogue", may_call: &["science"], never: &["axum", "sqlx", "tokio"] },
    Ring { name: "records", may_call: &["science", "catalogue"], never: &["axum", "sqlx", "tokio"] },
    Ring { name: "store", may_call: &["science", "catalogue", "records"], never: &["axum", "askama"] },
    Ring { name: "service", may_call: &["science", "catalogue", "records", "store", "clock"], never: &["axum", "sqlx", "askama"] },
    Ring { name: "web", may_call: &["science", "catalogue", "records", "store", "service", "settings", "clock"], never: &["sqlx"] },
    Ring { name: "cli", may_call: &["science", "catalogue", "records", "store", "service", "web", "settings", "clock"], never: &["sqlx"] },
    Ring { name: "settings", may_call: &["service"], never: &["sqlx", "axum"] },
    Ring { name: "clock", may_call: &[], never: &["sqlx", "axum"] },
];

#[test]
fn each_ring_calls_only_those_before_it() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut wrong = Vec::new();
    for file in rust_files(&source) {
        let Some(ring) = ring_of(&source, &file) else { continue };
        let text = std::fs::read_to_string(&file).unwrap();
        wrong.extend(offences(ring, &text).into_iter().map(|what| format!("{}: {what}", file.display())));
    }
    assert!(wrong.is_empty(), "wrong direction:\n{}", wrong.join("\n"));
}

#[test]
fn every_room_of_the_source_belongs_to_a_ring() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    for file in rust_files(&source) {
        let top = file.strip_prefix(&source).unwrap().components().next().unwrap();
        let top = Path::new(&top).with_extension("").display().to_string();
        assert!(["lib", "main"].contains(&top.as_str()) || RINGS.iter().any(|ring| ring.name == top), "{top} is in no ring");
    }
}

// The test must be able to fail: each kind of offence in a made-up file is found.
#[test]
fn an_import_against_the_direction_is_found_in_every_form_it_takes() {
    let science = &RINGS[2];
    for bad in [
        "use crate::store::Store;",
        "use crate::{catalogue::Slug, units::Celsius};",
        "fn f(x: &crate::web::State) {}",
        "use sqlx::Row;",
        "let now = std::time::SystemTime::now();",
    ] {
        assert_eq!(offences(science, bad).len(), 1, "{bad}");
    }
    for good in ["use crate::units::Celsius;", "// crate::store would be wrong here", "use crate::science::climate;", "let axumish = 1;"] {
        assert!(offences(science, good).is_empty(), "{good}");
    }
}

fn ring_of(source: &Path, file: &Path) -> Option<&'static Ring> {
    let top = file.strip_prefix(source).ok()?.components().next()?;
    let top = Path::new(&top).with_extension("");
    RINGS.iter().find(|ring| Path::new(ring.name) == top)
}

/// What a text of a ring names against the direction. Comments do not count, nor does a file's test module.
fn offences(ring: &Ring, text: &str) -> Vec<String> {
    let code: String = text
        .split("#[cfg(test)]\nmod tests")
        .next()
        .unwrap()
        .lines()
        .map(|line| line.split("//").next().unwrap())
        .collect::<Vec<_>>()
        .join("\n");
    let mut found = BTreeSet::new();
    for after in code.split("crate::").skip(1) {
        let names: Vec<&str> = match after.strip_prefix('{') {
            Some(group) => tops_of_group(group),
            None => vec![first_word(after)],
        };
        for name in names {
            let is_ring = RINGS.iter().any(|other| other.name == name);
            if is_ring && name != ring.name && !BASE.contains(&name) && !ring.may_call.contains(&name) {
                found.insert(format!("{} may not call {name}", ring.name));
            }
        }
    }
    for outside in ring.never {
        let named = code.match_indices(outside).any(|(at, _)| {
            let before = code[..at].chars().next_back();
            let after = &code[at + outside.len()..];
            !before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':') && after.starts_with("::")
        });
        if named {
            found.insert(format!("{} may not name {outside}", ring.name));
        }
    }
    found.into_iter().collect()
}

fn first_word(text: &str) -> &str {
    text.split(|c: char| !c.is_alphanumeric() && c != '_').next().unwrap()
}

/// The first words of the members of a braced import.
fn tops_of_group(group: &str) -> Vec<&str> {
    let (mut depth, mut start, mut tops) = (0_i32, 0, Vec::new());
    for (at, c) in group.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth == 0 => {
                tops.push(first_word(group[start..at].trim_start()));
                break;
            }
            '}' => depth -= 1,
            ',' if depth == 0 => {
                tops.push(first_word(group[start..at].trim_start()));
                start = at + 1;
            }
            _ => {}
        }
    }
    tops
}

fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(rust_files(&path));
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
    found
}
