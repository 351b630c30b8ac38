//! `/method`: how the chances are made, in words and symbols, with every starting value and its source.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::State;

use crate::catalogue::report_prior_table;
use crate::jobs::method::page_fruiting::FruitLessons;
use crate::jobs::method::page_hardiness::Lessons;
use crate::jobs::method::page_scale;
use crate::model::snapshot::Snapshot;
use crate::science::priors::PriorRow;
use crate::web::frame::{Frame, Scale, provenance};
use crate::web::root_limits::{RootLimit, root_limits};
use crate::web::state::AppState;

/// The page.
#[derive(Template, WebTemplate)]
#[template(path = "method/method.html")]
pub struct MethodPage {
    frame: Frame,
    lessons: Option<Lessons>,
    fruit_lessons: Option<FruitLessons>,
    trouble: Option<String>,
    fruit_trouble: Option<String>,
    tables: Vec<(&'static str, Vec<Line>)>,
    roots: Vec<RootLimit>,
    reports: usize,
    version: String,
    /// Reports of it that came after its fit.
    ahead: usize,
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
pub async fn show(frame: Frame, State(state): State<AppState>) -> MethodPage {
    page(frame, &state.snapshot())
}

fn page(frame: Frame, snapshot: &Snapshot) -> MethodPage {
    let scale = frame.scale();
    let line = |row: &PriorRow| Line::of(row, scale);
    let night = snapshot.night_prior_rows.iter().map(line).collect();
    // The shipped table reads, as its test shows; without it the page is shorter.
    let reports = report_prior_table::rows().unwrap_or_default().iter().map(line).collect();
    MethodPage {
        fruit_lessons: FruitLessons::of(snapshot),
        lessons: snapshot.learned.as_ref().map(|learned| Lessons::of(snapshot, learned, scale)),
        trouble: snapshot.trouble().map(|t| t.to_string()),
        fruit_trouble: snapshot.fruit_trouble.clone(),
        roots: root_limits(&snapshot.priors.roots, &snapshot.prior_rows, &frame),
        frame,
        tables: vec![
            ("What winter does", snapshot.prior_rows.iter().map(line).collect()),
            ("What a season ripens", snapshot.fruit_prior_rows.iter().map(line).collect()),
            ("How far a report’s temperature is trusted", reports),
            ("A cold night, and how hardened a plant is", night),
        ],
        reports: snapshot.model.reports,
        version: snapshot.model.version.clone(),
        ahead: snapshot.model.ahead,
        cultivars: snapshot.standings.len(),
        without_class: snapshot.standings.iter().filter(|s| s.class.is_none()).count(),
        from_memory: snapshot.standings.iter().filter(|s| s.class_from_memory).count(),
    }
}

impl Line {
    fn of(row: &PriorRow, scale: Scale) -> Self {
        let (value, unit) = page_scale::value_and_unit(row, scale);
        Self {
            key: row.key.clone(),
            value,
            unit,
            what: page_scale::note(&row.applies_to, scale),
            provenance: provenance(&row.provenance),
            note: page_scale::note(&row.note, scale),
        }
    }
}

impl MethodPage {
    /// A difference in the reader's degrees: `1.9 K`, `3.4 °F`.
    fn degrees(&self, kelvin: f64) -> String {
        format!("{} {}", self.bare_degrees(kelvin), page_scale::unit(self.frame.scale()))
    }

    /// `3 to 5 K`, `5.4 to 9 °F`.
    fn degrees_between(&self, low: f64, high: f64) -> String {
        format!("{} to {}", self.bare_degrees(low), self.degrees(high))
    }

    fn bare_degrees(&self, kelvin: f64) -> String {
        page_scale::bare(kelvin, self.frame.scale())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::learn_hardiness::tests::demonstration;

    #[test]
    fn after_reports_the_page_shows_scores_reliability_and_counts() {
        let html = page(Frame::sample(Scale::Celsius), &demonstration()).render().unwrap();
        let page = scraper::Html::parse_document(&html);
        let count = |selector: &str| page.select(&scraper::Selector::parse(selector).unwrap()).count();
        assert_eq!(count(".panels figure"), 4);
        assert!(html.contains("Each winter left out in turn") && html.contains("Each group of reporters left out in turn"));
        assert!(count("h2") >= 10);
        assert!(!html.contains("NaN"));
    }

    #[test]
    fn who_reads_fahrenheit_first_reads_no_kelvins() {
        let html = page(Frame::sample(Scale::Fahrenheit), &demonstration()).render().unwrap();
        let text: String = scraper::Html::parse_document(&html).root_element().text().collect();
        // A letter K that is a unit stands behind a number, a bar, a slash or a space and before no letter.
        let kelvins = text.match_indices('K').filter(|(at, _)| {
            let before = text[..*at].chars().next_back().unwrap_or(' ');
            let after = text[at + 1..].chars().next().unwrap_or(' ');
            !before.is_alphabetic() && !after.is_alphanumeric()
        });
        let found: Vec<&str> = kelvins.map(|(at, _)| text[..at].rsplit('.').next().unwrap_or_default()).collect();
        assert!(found.is_empty(), "{found:?}");
        assert!(text.contains("3.4 °F") && text.contains("per °F") && !text.contains("kelvin"));
    }

    #[test]
    fn a_fit_that_failed_is_told() {
        let mut snapshot = Snapshot::from_seed().unwrap();
        snapshot.note_trouble(Some("the fit did not converge".to_owned()));
        snapshot.fruit_trouble = Some("first growth: the fit did not settle".to_owned());
        let html = page(Frame::sample(Scale::Celsius), &snapshot).render().unwrap();
        assert!(html.contains("Newer reports are not in this model yet") && html.contains("did not converge"));
        assert!(html.contains("taught nothing this time") && html.contains("did not settle"));
    }
}
