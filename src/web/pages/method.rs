//! `/method`: how the chances are made, in words and symbols, with every starting value and its source.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::State;

use crate::science::priors::PriorRow;
use crate::web::frame::Frame;
use crate::web::state::AppState;

/// The page.
#[derive(Template, WebTemplate)]
#[template(path = "method.html")]
pub struct Page {
    frame: Frame,
    tables: Vec<(&'static str, Vec<Line>)>,
    reports: usize,
    version: String,
    cultivars: usize,
    without_class: usize,
    from_memory: usize,
}

/// One starting value.
struct Line {
    key: String,
    value: String,
    unit: String,
    what: String,
    provenance: &'static str,
    note: String,
}

/// Shows it.
pub async fn show(frame: Frame, State(state): State<AppState>) -> Page {
    let snapshot = state.snapshot();
    Page {
        frame,
        tables: vec![
            ("What winter does", snapshot.prior_rows.iter().map(line).collect()),
            ("What a season ripens", snapshot.fruit_prior_rows.iter().map(line).collect()),
        ],
        reports: snapshot.model.reports,
        version: snapshot.model.version.clone(),
        cultivars: snapshot.standings.len(),
        without_class: snapshot.standings.iter().filter(|s| s.class.is_none()).count(),
        from_memory: snapshot.standings.iter().filter(|s| s.class_from_memory).count(),
    }
}

fn line(row: &PriorRow) -> Line {
    let tidy = |text: &str| text.replace('|', " | ").replace('-', "−");
    let value = if row.spread.trim().is_empty() { tidy(&row.value) } else { format!("{} ± {}", tidy(&row.value), tidy(&row.spread)) };
    Line {
        key: row.key.clone(),
        value,
        unit: match row.unit.as_str() {
            "C" => "°C".to_owned(),
            "1" => String::new(),
            unit => unit.to_owned(),
        },
        what: row.applies_to.clone(),
        provenance: provenance(&row.provenance),
        note: row.note.clone(),
    }
}

/// A mark of provenance in words.
pub(super) fn provenance(mark: &str) -> &'static str {
    match mark {
        "READ" => "read in a source",
        "COMPUTED" => "computed from published data",
        "DERIVED" => "derived from what was read",
        "MEMORY" => "from memory, not looked up",
        "COMMON_PRACTICE" => "common practice, no source",
        "DESIGN" => "a starting value with no source; reports overrule it",
        _ => "",
    }
}
