//! `/record/near?station=…`: the record of a station near a place, fetched from the public archive, in the place of the place's estimate; and
//! what that changed.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::response::{IntoResponse, Redirect, Response};

use crate::address::{RECORD_NEAR, SHORTLIST, saved_record};
use crate::input::errors::FieldErrors;
use crate::jobs::places::page_box::{distance, height};
use crate::jobs::shortlist::page::{self, RowView};
use crate::jobs::shortlist::question::USUAL_ROWS;
use crate::jobs::station_record::archive::{Archive, NoRecord};
use crate::jobs::station_record::near::{NearAnswer, NearQuestion, STATION};
use crate::jobs::station_record::saved::{self, SiteError};
use crate::jobs::station_record::words::diagnostic_words;
use crate::jobs::station_record::{page_cold_nights, page_trend};
use crate::model::snapshot::Snapshot;
use crate::records::ArchiveDocument;
use crate::units::TemperatureDelta;
use crate::web::charts::axis::TemperatureAxis;
use crate::web::charts::winters::Winters;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::upload;
use crate::web::visitor::{SignedIn, Visitor};

type Pairs = Vec<(String, String)>;

/// Most rows of a page.
const ROWS: usize = USUAL_ROWS;

/// The answer with the record.
#[derive(Template, WebTemplate)]
#[template(path = "station_record/near.html")]
struct NearPage {
    frame: Frame,
    title: String,
    /// The station, its years, distance and height.
    station: String,
    /// What the record did to the ranges, in a sentence.
    narrowed: String,
    changed: Vec<Changed>,
    /// What was done about distance and height.
    carried: String,
    now: Vec<String>,
    notes: Vec<String>,
    winters: Winters,
    rows: Vec<RowView>,
    ranked: usize,
    /// Day it was fetched.
    fetched: String,
    sha256: String,
    id: String,
    pairs: Pairs,
    back: String,
    may_keep: bool,
    name: String,
    errors: Vec<crate::input::errors::FieldError>,
}

/// A figure without the record and with it.
struct Changed {
    what: &'static str,
    before: String,
    after: String,
}

fn archive(state: &AppState) -> Result<&Archive, Failure> {
    state.archive.as_ref().ok_or_else(|| Failure::not_found("This service fetches no records: its operator has not allowed it."))
}

fn parsed(state: &AppState, pairs: &Pairs) -> Result<NearQuestion, FieldErrors> {
    NearQuestion::parse(pairs, state.archive.as_ref().and_then(Archive::list).as_deref())
}

/// `GET /record/near`: from the record as it was fetched before; where it was not, the answer without it and the button that fetches it.
pub async fn show(frame: Frame, State(state): State<AppState>, visitor: Visitor, Query(pairs): Query<Pairs>) -> Result<Response, Failure> {
    let asked = parsed(&state, &pairs)?;
    if let Some(document) = archive(&state)?.kept(&asked.id).await? {
        return answered(frame, &state, &visitor, asked, document).await;
    }
    let notice = format!("The record of {} is not at hand any more; choose it again below and it is fetched.", asked.name());
    Ok(page::without_record(frame, &state, &asked.question, &asked.pairs, notice))
}

/// `POST /record/near`: fetches the record where it is not at hand, and goes to the answer with it.
pub async fn fetch(frame: Frame, State(state): State<AppState>, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let asked = parsed(&state, &pairs)?;
    let archive = archive(&state)?;
    // One download for each visitor at a time, as with files that are sent.
    let _place = upload::place()?;
    match archive.record(&asked.id, state.clock.now()).await {
        Ok(had) => {
            if let Some(why) = &had.stale {
                tracing::warn!(station = %asked.id, %why, "a record is older than a month and no newer one was had");
            }
            Ok(Redirect::to(&address_of(&asked)).into_response())
        }
        Err(NoRecord::Ours(cause)) => Err(Failure::unavailable(cause)),
        Err(why) => {
            tracing::warn!(station = %asked.id, %why, "no record was had");
            let notice = format!("No record was had: {why}.");
            Ok(page::without_record(frame, &state, &asked.question, &asked.pairs, notice))
        }
    }
}

/// `POST /record/near/keep`: keeps the record under a name of the member's own.
pub async fn keep(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let asked = parsed(&state, &pairs)?;
    let document = archive(&state)?.kept(&asked.id).await?;
    let document = document.ok_or_else(|| Failure::not_found("That record is not at hand any more; choose it again on the shortlist."))?;
    let named = saved::asked(&pairs, Some(&who.member));
    let kept = match named {
        Ok(Some((member, name))) => {
            let record = saved::pack(&document.bytes, &asked.answers())?;
            state.sites.keep(&member, name, &record, state.clock.now()).await
        }
        Ok(None) => {
            let mut errors = FieldErrors::default();
            errors.add(saved::FIELD, "", "give it a name, for example that of your garden");
            Err(SiteError::Fields(errors))
        }
        Err(errors) => Err(SiteError::Fields(errors)),
    };
    match kept {
        Ok(site) => Ok(Redirect::to(&saved_record(site.id)).into_response()),
        Err(SiteError::Fields(errors)) => {
            let snapshot = state.snapshot();
            let typed = pairs.iter().find(|(name, _)| name == saved::FIELD).map_or(String::new(), |(_, name)| name.clone());
            let page = run_queued(move || worked_out(frame, &snapshot, &asked, &document)).await??;
            let page = NearPage { may_keep: true, name: typed, errors: errors.into_vec(), ..page };
            Ok((axum::http::StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
        }
        Err(other) => Err(other.into()),
    }
}

/// What was asked, without blanks.
fn said(asked: &NearQuestion) -> Pairs {
    asked.pairs.iter().filter(|(_, value)| !value.trim().is_empty()).cloned().collect()
}

/// The answer with the record.
fn address_of(asked: &NearQuestion) -> String {
    RECORD_NEAR.with(std::iter::once((STATION.to_owned(), asked.id.to_string())).chain(said(asked)))
}

async fn answered(
    frame: Frame,
    state: &AppState,
    visitor: &Visitor,
    asked: NearQuestion,
    document: ArchiveDocument,
) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let may_keep = visitor.member().is_some();
    let page = run_queued(move || worked_out(frame, &snapshot, &asked, &document)).await??;
    Ok(NearPage { may_keep, ..page }.into_response())
}

fn worked_out(frame: Frame, snapshot: &Snapshot, asked: &NearQuestion, document: &ArchiveDocument) -> Result<NearPage, FieldErrors> {
    // Read as on the day it was fetched, so that the same answer comes out.
    let answer = asked.answer(snapshot, &document.bytes, document.fetched)?;
    let climate = &answer.reading.climate;
    let site = &answer.own.answer.site;
    let axis = TemperatureAxis::for_site(&site.one_winter());
    let winters = Winters::new(&site.one_winter(), axis, &frame);
    let rows = answer.own.answer.rows.iter().take(ROWS).map(|row| page::row(row, axis, &winters, &frame)).collect();
    let away = distance(asked.station.km, &frame);
    let higher = asked.higher_m().map(|m| format!(", {}", height(m, &frame))).unwrap_or_default();
    Ok(NearPage {
        title: page::title(&asked.question, &frame),
        station: format!(
            "{}: {} winters from {} to {}, {away} away{higher}",
            asked.name(),
            climate.yearly_minimum.winters_used,
            climate.file.first.year(),
            climate.file.last.year()
        ),
        narrowed: narrowed(&answer, asked, snapshot, &frame),
        changed: changed(&answer, asked, snapshot, &frame),
        carried: carried(&answer, &away, &frame),
        now: then_and_now(&answer, &frame),
        notes: climate.diagnostics.iter().map(|found| page_trend::sentence(&diagnostic_words(found))).collect(),
        rows,
        ranked: answer.own.answer.ranked,
        winters,
        fetched: document.fetched.strftime("%-d %B %Y").to_string(),
        sha256: document.sha256.clone(),
        id: asked.id.to_string(),
        pairs: said(asked),
        back: SHORTLIST.with(said(asked)),
        may_keep: false,
        name: asked.name().chars().take(crate::records::SiteName::MOST).collect(),
        errors: Vec::new(),
        frame,
    })
}

/// By how much what is known of the place narrowed, and the ranges with it.
fn narrowed(answer: &NearAnswer<'_>, asked: &NearQuestion, snapshot: &Snapshot, frame: &Frame) -> String {
    let place = asked.question.estimate(&snapshot.priors).map(|before| (before.mean.error, answer.known.mean.error));
    let known = place.map(|(before, after)| {
        let parts = (10.0 * (1.0 - after / before.max(1e-9))).round();
        let k = |error: f64| frame.difference(TemperatureDelta::literal(error));
        let how =
            if parts >= 1.0 { format!(", {parts:.0} part{} in ten narrower", if parts == 1.0 { "" } else { "s" }) } else { String::new() };
        format!("Your coldest nights are now known to within {}, not {}{how}. ", k(after), k(before))
    });
    let (before, after) = answer.widths();
    let parts = (10.0 * (1.0 - after / before.max(1e-9))).round();
    let ranges = if parts >= 1.0 {
        format!("That narrows the ranges of figs by about {parts:.0} part{} in ten", if parts == 1.0 { "" } else { "s" })
    } else if parts <= -1.0 {
        "The ranges of figs are wider, since more kinds now lie between bearing and not".to_owned()
    } else {
        "The ranges of figs stay about as wide, since most of what is unsure in them is the figs".to_owned()
    };
    format!("{}{ranges}: {after:.1} years in ten wide on average, {before:.1} without the record.", known.unwrap_or_default())
}

fn changed(answer: &NearAnswer<'_>, asked: &NearQuestion, snapshot: &Snapshot, frame: &Frame) -> Vec<Changed> {
    let give = |error: f64| frame.difference(TemperatureDelta::literal(error));
    let mut lines = Vec::new();
    let estimate = asked.question.estimate(&snapshot.priors);
    let after = &answer.known;
    if let Some(before) = estimate {
        lines.push(Changed {
            what: "The coldest night of a winter, on average",
            before: frame.temperature(before.mean.value),
            after: frame.temperature(after.mean.value),
        });
        lines.push(Changed { what: "Give or take", before: give(before.mean.error), after: give(after.mean.error) });
        lines.push(Changed {
            what: "One winter in ten goes to",
            before: frame.temperature(before.winter().quantile(0.1)),
            after: after.winter.map_or_else(String::new, |winter| frame.temperature(winter.quantile(0.1))),
        });
    }
    let first = |of: &crate::jobs::shortlist::answer::Answer<'_>| {
        of.rows.iter().take(3).map(|row| row.cultivar.name.clone()).collect::<Vec<_>>().join(", ")
    };
    lines.push(Changed { what: "The first three", before: first(&answer.before), after: first(&answer.own.answer) });
    lines
}

/// What was done about distance and height.
fn carried(answer: &NearAnswer<'_>, away: &str, frame: &Frame) -> String {
    let by = answer.carried.milder_k;
    let error = frame.difference(TemperatureDelta::literal(answer.carried.error_k));
    if by.abs() < 0.05 {
        return format!("The station’s nights are taken for yours; {away} between you leave {error} open, which is in the ranges.");
    }
    format!(
        "For the difference in height your nights are taken to be {} {} than the station’s (4 °C, 7.2 °F, a kilometre); that and {away} between you leave {error} open, which is in the ranges.",
        frame.difference(TemperatureDelta::literal(by.abs())),
        if by > 0.0 { "milder" } else { "colder" }
    )
}

/// Trend, and the half-zones of two periods.
fn then_and_now(answer: &NearAnswer<'_>, frame: &Frame) -> Vec<String> {
    let climate = &answer.reading.climate;
    let zones = page_trend::zones_then_and_since(climate);
    zones.into_iter().chain(page_cold_nights::change(climate, frame)).chain(page_trend::trend(climate, frame)).collect()
}
