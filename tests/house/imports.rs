//! Which file of the source names which other, read from imports and inline paths. Comments and test modules do not count.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// A file of the source and what it names.
#[derive(Debug, Clone, Default)]
pub struct SourceFile {
    /// Its module path, for example `jobs::shortlist::page`; `lib` and `main` for the roots.
    pub module: String,
    /// Modules of this crate that it names, each cut to the longest that is a file.
    pub names: BTreeSet<String>,
    /// Its code without comments and tests.
    pub code: String,
}

/// Every file below a folder of source, by module path.
pub fn read_source(folder: &Path) -> BTreeMap<String, SourceFile> {
    let texts: BTreeMap<String, String> =
        rust_files(folder).into_iter().map(|path| (module_of(folder, &path), std::fs::read_to_string(path).unwrap())).collect();
    read_texts(&texts)
}

/// The same from texts by module path.
pub fn read_texts(texts: &BTreeMap<String, String>) -> BTreeMap<String, SourceFile> {
    let modules: BTreeSet<&str> = texts.keys().map(String::as_str).collect();
    texts
        .iter()
        .map(|(module, text)| {
            let code = code_of(text);
            let names = paths_in(&code, module).iter().filter_map(|path| file_of(path, &modules)).filter(|named| named != module).collect();
            (module.clone(), SourceFile { module: module.clone(), names, code })
        })
        .collect()
}

/// The crates of others that a file names by path, for example `axum`.
pub fn names_crate(code: &str, outside: &str) -> bool {
    code.match_indices(outside).any(|(at, _)| {
        let before = code[..at].chars().next_back();
        let after = &code[at + outside.len()..];
        !before.is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':') && after.starts_with("::")
    })
}

/// A circle of files that name each other, if there is one: the files in order.
pub fn circle(files: &BTreeMap<String, SourceFile>) -> Option<Vec<String>> {
    fn visit<'a>(
        at: &'a str,
        files: &'a BTreeMap<String, SourceFile>,
        done: &mut BTreeSet<&'a str>,
        path: &mut Vec<&'a str>,
    ) -> Option<Vec<String>> {
        if let Some(start) = path.iter().position(|name| *name == at) {
            return Some(path[start..].iter().map(|name| (*name).to_owned()).collect());
        }
        if !done.contains(at) {
            path.push(at);
            for named in &files[at].names {
                if let Some(found) = visit(named, files, done, path) {
                    return Some(found);
                }
            }
            path.pop();
            done.insert(at);
        }
        None
    }
    let mut done = BTreeSet::new();
    files.keys().find_map(|name| visit(name, files, &mut done, &mut Vec::new()))
}

fn code_of(text: &str) -> String {
    let before_tests = text.split("#[cfg(test)]\n").next().filter(|_| text.contains("mod tests {")).unwrap_or(text);
    before_tests.lines().map(|line| line.split("//").next().unwrap()).collect::<Vec<_>>().join("\n")
}

/// Every path of this crate in a text, absolute: `jobs::shortlist::page::show`.
fn paths_in(code: &str, module: &str) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for (at, _) in code.match_indices("use ") {
        let starts_a_word = code[..at].chars().next_back().is_none_or(|c| !c.is_alphanumeric() && c != '_');
        if let Some((tree, _)) = code[at + 4..].split_once(';').filter(|_| starts_a_word) {
            for leaf in leaves(tree) {
                found.extend(absolute(&leaf, module));
            }
        }
    }
    for root in ["crate::", "super::", "self::"] {
        for (at, _) in code.match_indices(root) {
            if code[..at].chars().next_back().is_some_and(|c| c.is_alphanumeric() || c == '_' || c == ':') {
                continue;
            }
            let path: String = code[at..].chars().take_while(|c| c.is_alphanumeric() || *c == '_' || *c == ':').collect();
            found.extend(absolute(path.trim_end_matches(':'), module));
        }
    }
    found
}

/// The paths of a use tree: `a::{b, c::d}` gives `a::b` and `a::c::d`.
fn leaves(tree: &str) -> Vec<String> {
    let tree = tree.trim();
    let Some((before, rest)) = tree.split_once('{') else {
        return vec![tree.split(" as ").next().unwrap().trim().to_owned()];
    };
    let inner = &rest[..rest.rfind('}').unwrap_or(rest.len())];
    let (mut depth, mut start, mut parts) = (0_i32, 0, Vec::new());
    for (at, c) in inner.char_indices() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                parts.push(&inner[start..at]);
                start = at + 1;
            }
            _ => {}
        }
    }
    parts.push(&inner[start..]);
    parts.iter().filter(|part| !part.trim().is_empty()).flat_map(|part| leaves(&format!("{before}{}", part.trim()))).collect()
}

fn absolute(path: &str, module: &str) -> Option<String> {
    let path = path.trim().trim_end_matches("::self").trim_end_matches("::*");
    if let Some(rest) = path.strip_prefix("crate::") {
        return Some(rest.to_owned());
    }
    if let Some(rest) = path.strip_prefix("winterfig::") {
        return Some(rest.to_owned());
    }
    let mut base: Vec<&str> = module.split("::").filter(|part| *part != "lib").collect();
    let mut rest = path;
    if let Some(after) = rest.strip_prefix("self::") {
        return Some(base.into_iter().chain([after]).collect::<Vec<_>>().join("::"));
    }
    while let Some(after) = rest.strip_prefix("super::") {
        base.pop();
        rest = after;
    }
    (rest.len() < path.len()).then(|| base.into_iter().chain([rest]).collect::<Vec<_>>().join("::"))
}

fn file_of(path: &str, modules: &BTreeSet<&str>) -> Option<String> {
    let parts: Vec<&str> = path.split("::").collect();
    (1..=parts.len()).rev().map(|n| parts[..n].join("::")).find(|module| modules.contains(module.as_str()))
}

fn module_of(folder: &Path, file: &Path) -> String {
    let relative = file.strip_prefix(folder).unwrap().with_extension("");
    let parts: Vec<String> = relative.components().map(|part| part.as_os_str().to_string_lossy().into_owned()).collect();
    parts.iter().enumerate().filter(|(n, part)| !(*n > 0 && *part == "mod")).map(|(_, part)| part.as_str()).collect::<Vec<_>>().join("::")
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
