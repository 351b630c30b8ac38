//! Where the tests find the reference cases: in the folder that `WINTERFIG_CASES` names, else in `shared/cases` beside the checkout.

use std::path::{Path, PathBuf};

/// Where a reference case should be. The packages lie in the checkout itself or one folder deeper.
fn place_of(name: &str) -> PathBuf {
    let beside = || Path::new(env!("CARGO_MANIFEST_DIR")).ancestors().skip(1).take(2).map(|above| above.join("shared/cases"));
    let folder = std::env::var_os("WINTERFIG_CASES").map(PathBuf::from);
    folder.or_else(|| beside().find(|folder| folder.is_dir())).or_else(|| beside().next()).unwrap_or_default().join(name)
}

/// Text of a reference case. On a laptop without the cases the test says so and passes; in CI (`CI` set) it fails.
pub fn case(name: &str) -> Option<String> {
    match std::fs::read_to_string(place_of(name)) {
        Ok(text) => Some(text),
        Err(error) => {
            assert!(std::env::var_os("CI").is_none(), "reference case {name} cannot be read in CI: {error}");
            eprintln!("SKIPPED: reference case {name} is not on this machine ({error})");
            None
        }
    }
}

/// The file of a reference case, for a program that is to read it.
#[allow(dead_code, reason = "not every test binary starts a program on a case")]
pub fn case_file(name: &str) -> Option<PathBuf> {
    case(name).map(|_| place_of(name))
}
