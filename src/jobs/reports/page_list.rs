//! `/reports`: what others' winters did, with filters, counts and a plot; and “what lives near here”.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::address;
use crate::catalogue::Slug;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::open_data::publication::{Published, published};
use crate::jobs::reports::list::{Near, ReportQuestion};
use crate::jobs::reports::page_map::map;
use crate::jobs::reports::page_survivors::KindView;
use crate::jobs::reports::summary::Summary;
use crate::records::words::Cover;
use crate::units::Celsius;
use crate::web::charts::map::Map;
use crate::web::charts::outcomes::{Outcomes, REPORTS};
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;

#[derive(Template, WebTemplate)]
#[template(path = "reports/reports.html")]
struct ReportsPage {
    frame: Frame,
    typed: Typed,
    cultivars: Vec<Choice>,
    winters: Vec<Choice>,
    covers: Vec<Choice>,
    /// Fields of the coldest temperature, in the scale they are typed in.
    coldest: [(&'static str, &'static str); 2],
    errors: Vec<FieldError>,
    total: usize,
    fit: usize,
    plants: usize,
    outcomes: Option<Outcomes>,
    /// Where their plants stand.
    map: Option<Map>,
    /// Whether a place was asked for, so that what lives there comes first.
    near: bool,
    /// The neighbourhood in words, where a town was asked for.
    about: Option<About>,
    /// The first kinds.
    kinds: Vec<KindView>,
    /// The others.
    other_kinds: Vec<KindView>,
    /// How many those are, with those that are only counted.
    more_kinds: usize,
    /// How many are only counted.
    kinds_left: usize,
    /// The first kinds that met the same cold anywhere, where few live near.
    same_cold_kinds: Vec<KindView>,
    rows: Vec<Row>,
    more: Option<String>,
}

/// What a town's neighbourhood holds, and where else the same cold was met.
struct About {
    words: String,
    same_cold: String,
    address: String,
}

fn about(near: &Near, fit: usize, same_cold: &Summary, frame: &Frame) -> About {
    let cold = near.same_cold();
    About {
        words: format!("Within {:.0} km of {}: {}.", near.km, near.spot.town.label(), counted(fit)),
        same_cold: format!("Winters as cold as the usual one there, {}, anywhere: {}", frame.range(cold), counted(same_cold.reports)),
        address: address::REPORTS
            .with([("coldest_from_c", format!("{:.1}", cold.low.degrees())), ("coldest_to_c", format!("{:.1}", cold.high.degrees()))]),
    }
}

fn counted(reports: usize) -> String {
    if reports == 1 { "1 report".to_owned() } else { format!("{reports} reports") }
}

struct Row {
    id: String,
    name: String,
    winter: String,
    top: &'static str,
    level: &'static str,
    vitality: &'static str,
    coldest: String,
    cover: &'static str,
    by: String,
    doubtful: bool,
}

fn row(report: &Published, frame: &Frame) -> Row {
    let (winter, plant) = (&report.winter, &report.plant);
    Row {
        id: winter.report_id.clone(),
        name: plant.cultivar_name.clone().unwrap_or_else(|| plant.name_written.clone()),
        winter: winter.winter.to_string(),
        top: winter.top_killed.label(),
        level: winter.damage_high.map_or("", |level| level.word()),
        vitality: winter.vitality.label(),
        coldest: winter.coldest_c.and_then(|c| Celsius::new(c).ok()).map(|c| frame.temperature(c)).unwrap_or_default(),
        cover: winter.protection.label(),
        by: winter.recorded_by.clone(),
        doubtful: winter.review != crate::records::ReviewState::Accepted,
    }
}

/// Rows of a page where nobody says how many: what a thumb scrolls through.
const ROWS: usize = 40;

/// Kinds that stand open where a place is asked for.
const KINDS: usize = 12;
/// With fewer reports near a town than this, what met the same cold anywhere is shown as well. DESIGN: a handful of plants of a kind each.
const FEW: usize = 20;

/// `GET /reports`.
pub async fn show(frame: Frame, State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let register = state.registers.newest(&state.store).await?;
    let mut asked = pairs.clone();
    if !asked.iter().any(|(name, _)| name == "limit") {
        asked.push(("limit".to_owned(), ROWS.to_string()));
    }
    let (question, errors) = match ReportQuestion::parse(&asked) {
        Ok(question) => (question, FieldErrors::default()),
        Err(errors) => (ReportQuestion::default(), errors),
    };
    let status = if errors.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    let (summaries, catalogue) = (&state.summaries, &snapshot.catalogue);
    let answer = question.answer(&register, summaries, catalogue);
    let same_cold = question.town().map(|near| near.met_same_cold(&register, summaries, catalogue));
    let rows = published(&state.store, &register, catalogue, &answer.page).await?;
    let facets = summaries.facets(&register);
    let named = |slug: &Slug| catalogue.get(slug.as_str()).map(|cultivar| (slug.to_string(), cultivar.name.clone()));
    let mut names: Vec<(String, String)> = facets.cultivars.iter().filter_map(named).collect();
    names.sort_by(|a, b| a.1.cmp(&b.1));
    let mut winters: Vec<String> = facets.winters.iter().map(ToString::to_string).collect();
    winters.sort_by(|a, b| b.cmp(a));
    let more = answer.next.as_ref().map(|after| {
        let kept =
            pairs.iter().filter(|(name, value)| name != "after" && !value.is_empty()).map(|(name, value)| (name.as_str(), value.as_str()));
        address::REPORTS.with(kept.chain([("after", after.to_string().as_str())]))
    });
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    // A question keeps the scale it was typed in, whoever opens its address.
    let celsius =
        typed.any(&["coldest_from_c", "coldest_to_c"]) || !(frame.fahrenheit_first() || typed.any(&["coldest_from_f", "coldest_to_f"]));
    let summary = &answer.summary;
    let points: Vec<_> = summary.by_cold.iter().map(|at| (at.coldest, at.level, at.reports)).collect();
    let mut kinds: Vec<KindView> = summary.kinds.iter().map(|kind| KindView::new(kind, &frame)).collect();
    let other_kinds = if question.is_near() { kinds.split_off(kinds.len().min(KINDS)) } else { Vec::new() };
    let elsewhere = same_cold.as_ref().filter(|_| summary.reports < FEW).map(|summary| summary.kinds.as_slice()).unwrap_or_default();
    let page = ReportsPage {
        same_cold_kinds: elsewhere.iter().take(KINDS).map(|kind| KindView::new(kind, &frame)).collect(),
        cultivars: typed.choices("cultivar", "", names),
        winters: typed.choices("winter", "", winters.into_iter().map(|w| (w.clone(), w))),
        covers: typed.words::<Cover>("protection", ""),
        coldest: if celsius {
            [("coldest_from_c", "From °C"), ("coldest_to_c", "to °C")]
        } else {
            [("coldest_from_f", "From °F"), ("coldest_to_f", "to °F")]
        },
        errors: listed,
        total: register.len(),
        fit: summary.reports,
        plants: summary.plants,
        near: question.is_near(),
        about: question.town().zip(same_cold.as_ref()).map(|(near, same_cold)| about(near, summary.reports, same_cold, &frame)),
        kinds,
        more_kinds: other_kinds.len() + summary.kinds_left,
        other_kinds,
        kinds_left: summary.kinds_left,
        map: map(&summary.cells),
        outcomes: Outcomes::new(&points, REPORTS, &|c| frame.temperature(c)),
        rows: rows.iter().map(|report| row(report, &frame)).collect(),
        more,
        typed,
        frame,
    };
    Ok((status, page).into_response())
}
