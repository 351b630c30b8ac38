//! `/calendar/{secret}.ics` and `/feed/{secret}.atom`: a member's dates for programs that cannot sign in; `/account/reminders`: their address.

use axum::Form;
use axum::extract::{Path, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE, ETAG, IF_NONE_MATCH};
use axum::http::{HeaderMap, HeaderName, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::FieldErrors;
use crate::jobs::reminders::entry::{Entry, Head, WARNED, day_of, entries};
use crate::jobs::reminders::own_garden::OwnGarden;
use crate::jobs::reminders::{calendar, feed};
use crate::records::{FirstScale, ReminderReader};
use crate::token;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::frame::{Frame, Scale};
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

/// What is done with the address, and its field.
pub const ACT: &str = "act";
const MAKE: &str = "make";
const END: &str = "end";
const SCALE: &str = "scale";
/// Most warnings of a calendar. DESIGN: two a day for as long as they stand.
const MOST_WARNINGS: usize = 100;

/// `POST /account/reminders`: makes the address, or a new one in its place, or ends it; keeps the scale.
pub async fn change(
    frame: Frame,
    State(state): State<AppState>,
    who: SignedIn,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Redirect, Failure> {
    let value = |name: &str| pairs.iter().find(|(key, _)| key == name).map(|(_, value)| value.as_str()).filter(|value| !value.is_empty());
    let mut errors = FieldErrors::default();
    let scale = value(SCALE).and_then(|word| errors.keep(SCALE, word, word.parse::<FirstScale>()));
    let act = value(ACT).and_then(|word| {
        let known =
            [MAKE, END].contains(&word).then_some(word).ok_or("this is nothing that can be done with the address; accepted: make, end");
        errors.keep(ACT, word, known)
    });
    errors.into_result()?;
    if let Some(scale) = scale {
        state.store.set_first_scale(who.member.id, scale).await?;
    }
    match act {
        Some(MAKE) => {
            let secret = token::fresh().map_err(Failure::internal)?;
            if scale.is_none() && state.store.first_scale(who.member.id).await?.is_none() {
                state.store.set_first_scale(who.member.id, scale_of(&frame)).await?;
            }
            state.store.set_reminder_address(who.member.id, &secret, state.clock.now()).await?;
        }
        Some(_) => state.store.end_reminder_address(who.member.id).await?,
        None => {}
    }
    Ok(Redirect::to(&address::ACCOUNT.at("reminders")))
}

/// The scale that a page is read in.
fn scale_of(frame: &Frame) -> FirstScale {
    match frame.scale() {
        Scale::Celsius => FirstScale::Celsius,
        Scale::Fahrenheit => FirstScale::Fahrenheit,
    }
}

/// Whose dates a file's name opens.
async fn reader(state: &AppState, file: &str, ending: &str) -> Result<ReminderReader, Failure> {
    let gone = || {
        Failure::new(
            StatusCode::GONE,
            "Nothing is read here any more: its owner has changed the address, or left, or it was copied in part.",
        )
    };
    let secret = file.strip_suffix(ending).ok_or_else(gone)?;
    state.store.reminder_reader(secret).await?.ok_or_else(gone)
}

/// The entries of a reader.
async fn gathered(state: &AppState, frame: &Frame, reader: &ReminderReader) -> Result<Vec<Entry>, Failure> {
    let garden = OwnGarden::of(&*state.store, &reader.member).await?;
    let (snapshot, now) = (state.snapshot(), state.clock.now());
    let mut warnings = state.store.warnings_of(reader.member.id, now - WARNED).await?;
    // The newest ones, where there are many.
    warnings.sort_by_key(|warning| std::cmp::Reverse(warning.made));
    warnings.truncate(MOST_WARNINGS);
    let (member, made) = (reader.member.id, reader.made);
    let scale = reader.scale.unwrap_or_else(|| scale_of(frame));
    run_queued(move || entries(&snapshot, (member, scale), (&garden, &warnings), made, now)).await
}

/// A document that only its owner keeps, or word that it has not changed.
fn handed_out(headers: &HeaderMap, media_type: &'static str, name: &'static str, text: String) -> Response {
    let tag = format!("\"{}\"", token::hash(&text).get(..32).unwrap_or_default());
    let common = [
        (ETAG, tag.clone()),
        (CACHE_CONTROL, "private, no-cache".to_owned()),
        (HeaderName::from_static("x-robots-tag"), "noindex".to_owned()),
    ];
    let known = headers.get(IF_NONE_MATCH).and_then(|value| value.to_str().ok()).unwrap_or_default();
    if known.split(',').any(|known| known.trim().trim_start_matches("W/") == tag) {
        return (StatusCode::NOT_MODIFIED, common).into_response();
    }
    let named = [(CONTENT_TYPE, media_type.to_owned()), (CONTENT_DISPOSITION, format!("inline; filename=\"{name}\""))];
    (common, named, text).into_response()
}

/// `GET /calendar/{secret}.ics`.
pub async fn calendar(
    frame: Frame,
    State(state): State<AppState>,
    Path(file): Path<String>,
    headers: HeaderMap,
) -> Result<Response, Failure> {
    let reader = reader(&state, &file, address::CALENDAR_ENDING).await?;
    let entries = gathered(&state, &frame, &reader).await?;
    let origin = frame.whole("");
    let head = Head { origin: &origin, own: &frame.here, member: reader.member.id, made: reader.made, simulated: frame.simulated };
    let text = calendar::write(&entries, &head, day_of(state.clock.now()));
    Ok(handed_out(&headers, calendar::MEDIA_TYPE, "figs.ics", text))
}

/// `GET /feed/{secret}.atom`.
pub async fn feed(frame: Frame, State(state): State<AppState>, Path(file): Path<String>, headers: HeaderMap) -> Result<Response, Failure> {
    let reader = reader(&state, &file, address::FEED_ENDING).await?;
    let entries = gathered(&state, &frame, &reader).await?;
    let origin = frame.whole("");
    let head = Head { origin: &origin, own: &frame.here, member: reader.member.id, made: reader.made, simulated: frame.simulated };
    let text = feed::write(&entries, &head, &state.society().name, state.clock.now()).map_err(Failure::internal)?;
    Ok(handed_out(&headers, feed::MEDIA_TYPE, "figs.atom", text))
}
