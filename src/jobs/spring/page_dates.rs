//! `/safe-dates`: from when it is safe to uncover, move out, plant out and cut.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use jiff::tz::TimeZone;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::season::acts::ActRow;
use crate::jobs::season::safe::Safe;
use crate::jobs::spring::page_form::SpringForm;
use crate::jobs::spring::safe_dates::{SafeDatesAnswer, SafeDatesQuestion};
use crate::jobs::spring::words;
use crate::jobs::station_record::page_saved::{asked_record, reading_of, records_of};
use crate::model::snapshot::Snapshot;
use crate::records::NamedSite;
use crate::web::degrees::signed;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::Visitor;

#[derive(Template, WebTemplate)]
#[template(path = "spring/safe_dates.html")]
struct Page {
    frame: Frame,
    title: String,
    form: SpringForm,
    errors: Vec<FieldError>,
    view: Option<View>,
}

struct View {
    lead: String,
    rows: Vec<Line>,
    on: Option<String>,
    by: String,
    spot: Option<String>,
    spring: String,
}

struct Line {
    anchor: &'static str,
    what: &'static str,
    and: &'static str,
    hurt: String,
    dates: [String; 4],
    after: Option<String>,
    source: &'static str,
}

/// Shows the form, and the dates once a place is given.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let sites = records_of(&state, &visitor).await?;
    let shown = |frame: Frame, pairs, errors, view| page(frame, pairs, errors, view, (&snapshot, &sites));
    if pairs.iter().all(|(_, value)| value.trim().is_empty()) {
        return Ok(shown(frame, pairs, FieldErrors::default(), None).into_response());
    }
    let record = match asked_record(&pairs) {
        Some(id) => Some(reading_of(&state, &visitor, id).await?),
        None => None,
    };
    let now = TimeZone::UTC.to_datetime(state.clock.now()).date();
    match SafeDatesQuestion::parse(&pairs, &snapshot, now, record.as_ref().map(|(name, reading)| (name.as_str(), reading))) {
        Ok(question) => {
            let view = View::new(&question, &snapshot.safe_dates(&question), &frame);
            Ok(shown(frame, pairs, FieldErrors::default(), Some(view)).into_response())
        }
        Err(errors) => Ok((StatusCode::UNPROCESSABLE_ENTITY, shown(frame, pairs, errors, None)).into_response()),
    }
}

fn page(
    frame: Frame,
    pairs: Vec<(String, String)>,
    errors: FieldErrors,
    view: Option<View>,
    (snapshot, sites): (&Snapshot, &[NamedSite]),
) -> Page {
    let typed = |name: &str| pairs.iter().find(|(key, value)| key == name && !value.trim().is_empty()).map(|(_, value)| value.trim());
    let place = typed("place").map(str::to_owned).or_else(|| typed("zone").map(|zone| format!("zone {zone}")));
    let title = match (view.is_some(), place) {
        (true, Some(place)) => format!("When is it safe to uncover, move out, plant out and cut: {place}"),
        _ => "When is it safe to uncover, move out, plant out and cut?".to_owned(),
    };
    let listed = errors.iter().cloned().collect();
    Page { form: SpringForm::new(pairs, errors, &frame, snapshot, sites), title, errors: listed, view, frame }
}

impl View {
    fn new(question: &SafeDatesQuestion, answer: &SafeDatesAnswer, frame: &Frame) -> Self {
        let season = &question.season;
        let when = |safe: Safe| match safe {
            Safe::Now(Some(end)) => format!("now, until about {}", words::day(season, end)),
            Safe::Now(None) => "all year".to_owned(),
            Safe::From(day) => words::day(season, day),
        };
        let line = |row: &ActRow| {
            let stage = row.act.stage();
            Line {
                anchor: row.act.word,
                what: row.act.words,
                and: row.act.and,
                hurt: frame.temperature(stage.threshold),
                dates: row.dates.map(when),
                after: row.chance_after.map(words::chance),
                source: stage.source,
            }
        };
        let usual = |word: &str| answer.rows.iter().find(|row| row.act.word == word).map(|row| when(row.dates[2])).unwrap_or_default();
        let record = season.record.as_ref().filter(|record| record.seasons.is_some());
        let spot = answer.spot.kelvin();
        Self {
            lead: format!(
                "With one year in ten still to freeze after it: uncover and cut from {}, a pot in leaf goes out from {}, a leafless young tree from {}.",
                usual("uncover"),
                usual("move_out_in_leaf"),
                usual("plant_out_asleep")
            ),
            rows: answer.rows.iter().map(line).collect(),
            on: question.on.map(|day| words::day(season, day)),
            by: record.map_or_else(
                || "from the usual frosts and summer of the place, which a record of your own would sharpen".to_owned(),
                |record| format!("counted in the years of your record “{}”", record.name),
            ),
            spot: (spot.abs() >= 0.05).then(|| signed(frame, spot)),
            spring: address::SPRING.with_query(&format!("seen=nothing&{}", season.place.to_query())),
        }
    }
}
