//! `/embed/shortlist`: an answer made to be framed by the sites that the office lists, and by no other; `/embed`: what to copy into a page of
//! another site, a frame or a plain link.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use html_escape::encode_double_quoted_attribute as escaped;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::bench::verdicts::in_brief;
use crate::jobs::shortlist::page::title;
use crate::jobs::shortlist::question::Question;
use crate::model::snapshot::Snapshot;
use crate::web::errors::Failure;
use crate::web::forms::Typed;
use crate::web::frame::Frame;
use crate::web::headers::framed_by;
use crate::web::state::AppState;

/// Names and values of an address.
type Pairs = Vec<(String, String)>;

/// Rows of the framed answer beside the three.
const ROWS: usize = 6;

/// The framed answer.
#[derive(Template, WebTemplate)]
#[template(path = "sharing/embedded.html")]
struct Embedded {
    frame: Frame,
    title: String,
    sentence: Option<String>,
    /// Address, name, years in ten with their range, and whether it lives and bears.
    rows: Vec<(String, String, String, String)>,
    /// The whole answer on this service.
    whole: String,
    typed: Typed,
    errors: Vec<FieldError>,
}

/// What to copy.
#[derive(Template, WebTemplate)]
#[template(path = "sharing/embed.html")]
struct EmbedPage {
    frame: Frame,
    typed: Typed,
    /// The frame and the link, as HTML.
    framed: String,
    link: String,
    preview: String,
    errors: Vec<FieldError>,
}

fn framed_page(frame: Frame, snapshot: &Snapshot, pairs: Pairs) -> (StatusCode, Embedded) {
    let empty = |frame: Frame, pairs: Pairs, errors: FieldErrors| {
        let listed = errors.iter().cloned().collect();
        let (title, whole) = ("Which figs bear where you are?".to_owned(), frame.whole(address::HOME.as_str()));
        Embedded { title, sentence: None, rows: Vec::new(), whole, typed: Typed::new(pairs, errors), errors: listed, frame }
    };
    if pairs.iter().all(|(_, value)| value.trim().is_empty()) {
        return (StatusCode::OK, empty(frame, pairs, FieldErrors::default()));
    }
    let question = match Question::parse_for(&pairs, false, &snapshot.catalogue) {
        Ok(question) => Question { limit: Some(ROWS), ..question },
        Err(errors) => return (StatusCode::UNPROCESSABLE_ENTITY, empty(frame, pairs, errors)),
    };
    let answer = snapshot.recommend(&question);
    let whole_years = |share: f64| (10.0 * share).round() as u32;
    let row = |r: &crate::jobs::shortlist::answer::Recommendation<'_>| {
        let (low, high) = (whole_years(r.ripe_range.low), whole_years(r.ripe_range.high));
        let years = format!("{} years in ten ({low} to {high})", whole_years(r.row.ripe_share));
        let brief = in_brief(r.row.winter.chance.dead, r.row.ripe_share);
        (frame.whole(&address::cultivar(&r.cultivar.slug)), r.cultivar.name.clone(), years, brief)
    };
    let rows = answer.rows.iter().map(row).collect();
    let query = Question { limit: None, ..question.clone() }.to_query();
    let page = Embedded {
        title: title(&question, &frame),
        sentence: answer.three.as_ref().map(crate::jobs::shortlist::answer::Three::sentence),
        rows,
        whole: frame.whole(&address::SHORTLIST.with_query(&query)),
        typed: Typed::new(pairs, FieldErrors::default()),
        errors: Vec::new(),
        frame,
    };
    (StatusCode::OK, page)
}

/// `GET /embed/shortlist`: by the same parameters as the shortlist; without any it asks for a town.
pub async fn framed(frame: Frame, State(state): State<AppState>, Query(pairs): Query<Pairs>) -> Result<Response, Failure> {
    let headers = framed_by(&state.society().framed_by);
    let (status, page) = framed_page(frame, &state.snapshot(), pairs);
    Ok((status, headers, page).into_response())
}

/// `GET /embed`.
pub async fn show(frame: Frame, State(state): State<AppState>, Query(pairs): Query<Pairs>) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let blank = pairs.iter().all(|(_, value)| value.trim().is_empty());
    let (query, words, errors) = if blank {
        (String::new(), "Which figs bear where you are?".to_owned(), FieldErrors::default())
    } else {
        match Question::parse_for(&pairs, false, &snapshot.catalogue) {
            Ok(question) => (question.to_query(), title(&question, &frame), FieldErrors::default()),
            Err(errors) => (String::new(), "Which figs bear where you are?".to_owned(), errors),
        }
    };
    let status = if errors.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    let preview = address::EMBEDDED_SHORTLIST.with_query(&query);
    let answer = if query.is_empty() { address::HOME.as_str().to_owned() } else { address::SHORTLIST.with_query(&query) };
    let listed = errors.iter().cloned().collect();
    let page = EmbedPage {
        framed: format!(
            "<iframe src=\"{}\" title=\"{}\" width=\"100%\" height=\"560\" loading=\"lazy\"></iframe>",
            escaped(&frame.whole(&preview)),
            escaped(&words)
        ),
        link: format!("<a href=\"{}\">{}</a>", escaped(&frame.whole(&answer)), escaped(&words)),
        preview,
        typed: Typed::new(pairs, errors),
        errors: listed,
        frame,
    };
    Ok((status, page).into_response())
}
