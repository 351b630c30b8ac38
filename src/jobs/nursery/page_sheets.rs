//! `/nursery/sheets`: a sheet for each fig in stock, one page each, in one print.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::bench::page_sheet::{Printed, SheetView, sheet_view};
use crate::jobs::nursery::counter::KnownStock;
use crate::jobs::nursery::page::{Pairs, belonging};
use crate::jobs::nursery::service::{place_pairs, place_typed};
use crate::jobs::shortlist::question::Question;
use crate::records::Nursery;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

/// Most sheets in one print: some 20 ms each on one core of an optimised program, ten times that of one that is not. The rest is the next print.
pub const MOST_SHEETS: usize = 50;

#[derive(Template, WebTemplate)]
#[template(path = "nursery/sheets.html")]
struct SheetsPage {
    frame: Frame,
    name: String,
    sheets: Vec<SheetView>,
    /// Which of how many: `1 to 40 of 40`.
    part: String,
    /// Address of the next part.
    next: Option<String>,
    unknown: usize,
    typed: Typed,
    cultures: Vec<Choice>,
    errors: Vec<FieldError>,
}

/// The pairs of the form as those of a question: `where` is a zone or a town.
pub(super) fn question_pairs(pairs: &Pairs, nursery: &Nursery) -> Pairs {
    let of = |name: &str| pairs.iter().find(|(key, _)| key == name).map(|(_, value)| value.trim()).filter(|value| !value.is_empty());
    let mut read: Pairs = match of("where") {
        Some(typed) => place_pairs(typed),
        None => form_urlencoded::parse(nursery.place.as_bytes()).into_owned().collect(),
    };
    if let Some(culture) = of("culture") {
        read.retain(|(name, _)| name != "culture");
        read.push(("culture".to_owned(), culture.to_owned()));
    }
    if of("carried") == Some("yes") {
        read.push(("protection".to_owned(), "carried_in".to_owned()));
    }
    read
}

/// What is wrong with a question, under the name of the form's own box.
pub(super) fn under_where(errors: &FieldErrors) -> FieldErrors {
    let mut told = FieldErrors::default();
    for error in errors {
        let field = if matches!(error.field.as_str(), "zone" | "place") { "where" } else { error.field.as_str() };
        told.add(field, &error.value, &error.message);
    }
    told
}

/// `GET /nursery/sheets`.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn, Query(mut pairs): Query<Pairs>) -> Result<Response, Failure> {
    let nursery = match belonging(&state, &frame, &who.member).await? {
        Ok(nursery) => nursery,
        Err(start) => return Ok(start),
    };
    let snapshot = state.snapshot();
    let stock = state.store.stock(nursery.id).await?;
    let known = KnownStock::new(&snapshot, &stock, false);
    let read = question_pairs(&pairs, &nursery);
    let from = pairs.iter().find(|(name, _)| name == "from").and_then(|(_, typed)| typed.parse::<usize>().ok()).unwrap_or(1).max(1);
    if pairs.iter().all(|(name, _)| name != "where") {
        pairs.push(("where".to_owned(), place_typed(&nursery.place)));
    }
    let (name, unknown, kinds) = (nursery.name.clone(), known.unknown.len(), known.kinds.len());
    let page = |frame: Frame, sheets: Vec<SheetView>, errors: FieldErrors| {
        let listed = errors.iter().cloned().collect();
        let typed = Typed::new(pairs.clone(), errors);
        let cultures = [("ground", "In the ground"), ("container", "In a pot")].map(|(v, w)| (v.to_owned(), w.to_owned()));
        let last = from - 1 + sheets.len();
        let rest = pairs.iter().filter(|(name, _)| name != "from").cloned().chain([("from".to_owned(), (last + 1).to_string())]);
        SheetsPage {
            name,
            part: format!("{from} to {last} of {kinds}"),
            next: (!sheets.is_empty() && last < kinds).then(|| address::NURSERY_SHEETS.with(rest)),
            sheets,
            unknown,
            cultures: typed.choices("culture", "ground", cultures),
            typed,
            errors: listed,
            frame,
        }
    };
    if read.iter().all(|(name, _)| !matches!(name.as_str(), "zone" | "place" | "yearly_minimum_c")) {
        return Ok(page(frame, Vec::new(), FieldErrors::default()).into_response());
    }
    let question = match Question::parse(&read, false) {
        Ok(question) => question,
        Err(errors) => return Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, Vec::new(), under_where(&errors))).into_response()),
    };
    let mut figs: Vec<(String, String)> = known
        .kinds
        .iter()
        .filter_map(|(place, _)| snapshot.catalogue.cultivars().get(*place))
        .map(|fig| (fig.name.clone(), fig.slug.to_string()))
        .collect();
    figs.sort();
    let today = jiff::tz::TimeZone::UTC.to_datetime(state.clock.now()).date();
    let (of_print, seen) = (frame.clone(), std::sync::Arc::clone(&snapshot));
    let sheets = run_queued(move || {
        let sheet = |(name, slug): &(String, String)| {
            let sheet = seen.sheet(slug, &question)?;
            let printed = Printed { alone: false, ..Printed::open(&of_print, today, (slug, name), &question, Some(&nursery)) };
            Some(sheet_view(&of_print, &seen, &sheet, &question, printed))
        };
        figs.iter().skip(from - 1).take(MOST_SHEETS).filter_map(sheet).collect::<Vec<_>>()
    })
    .await?;
    Ok(page(frame, sheets, FieldErrors::default()).into_response())
}
