//! The data package out of a database, and into an empty one, by the program's own commands.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use crate::PROGRAM;
use crate::client::memory_of;
use crate::society::Society;
use crate::table::Figures;

/// Runs a command to its end; gives how long it took, and what it held at most, MB.
fn ran(arguments: &[&str]) -> Option<(Duration, f64)> {
    let begun = Instant::now();
    let mut child = Command::new(PROGRAM).args(arguments).stdout(Stdio::null()).stderr(Stdio::piped()).spawn().unwrap();
    let mut most: f64 = 0.0;
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        most = most.max(memory_of(child.id()).most);
        std::thread::sleep(Duration::from_millis(5));
    };
    if !status.success() {
        let mut said = String::new();
        std::io::Read::read_to_string(&mut child.stderr.take().unwrap(), &mut said).unwrap();
        eprintln!("{arguments:?}: {said}");
        return None;
    }
    Some((begun.elapsed(), most))
}

pub async fn out_and_in(society: &Society, figures: &mut Figures) {
    let folder = society.folder.path().join("out");
    let text = |path: &Path| path.display().to_string();
    if let Some((took, most)) = ran(&["export", &text(&folder), "--database", &society.database]) {
        figures.add("export, rows/s", society.reports as f64 / took.as_secs_f64());
        figures.add("export: memory at most, MB", most);
    }
    let package = folder.join("winterfig-reports.zip");
    let bytes = std::fs::metadata(&package).map_or(0, |file| file.len());
    figures.add("release, MB", bytes as f64 / 1e6);
    let empty = society.another().await;
    if let Some((took, most)) = ran(&["import", &text(&package), "--database", &empty]) {
        figures.add("import of its own release, rows/s", society.reports as f64 / took.as_secs_f64());
        figures.add("import: memory at most, MB", most);
    }
}
