//! `/nursery/history`: who did what to the stock, newest first, and taking it back.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::response::{IntoResponse, Response};
use jiff::Timestamp;
use uuid::Uuid;

use crate::address;
use crate::jobs::nursery::form::item_words;
use crate::jobs::nursery::page::{Pairs, belonging};
use crate::records::{StockAct, StockChange};
use crate::store::StockHistoryLine;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

/// Changes on a page.
const ON_A_PAGE: i64 = 100;

/// What was done in one go.
struct DeedView {
    deed: String,
    when: String,
    who: String,
    act: &'static str,
    what: Vec<String>,
    /// Whether some of it can still be taken back.
    can_undo: bool,
    undone: bool,
}

#[derive(Template, WebTemplate)]
#[template(path = "nursery/history.html")]
struct HistoryPage {
    frame: Frame,
    name: String,
    deeds: Vec<DeedView>,
    next: Option<String>,
}

/// What became of a line: `Celeste, in a pot: 3, before 4`.
pub(super) fn change_words(change: &StockChange) -> String {
    let counts = match (&change.before, &change.after) {
        (Some((_, before)), Some((_, after))) if before == after => format!("{after} as before"),
        (Some((_, before)), Some((_, after))) => format!("{after}, before {before}"),
        (None, Some((_, after))) => format!("{after}, new"),
        (Some((_, before)), None) => format!("gone, before {before}"),
        (None, None) => String::new(),
    };
    let item = change.after.as_ref().or(change.before.as_ref()).map(|(item, _)| item_words(item)).unwrap_or_default();
    format!("{item}: {counts}")
}

fn deeds(lines: &[StockHistoryLine]) -> Vec<DeedView> {
    let mut found: Vec<DeedView> = Vec::new();
    for line in lines {
        let (deed, words) = (line.change.deed.to_string(), change_words(&line.change));
        let open = line.change.undone.is_none();
        match found.last_mut().filter(|last| last.deed == deed) {
            Some(last) => {
                last.what.push(words);
                last.can_undo |= open && line.change.act != StockAct::Undone;
            }
            None => found.push(DeedView {
                when: line.change.at.strftime("%Y-%m-%d %H:%M").to_string(),
                who: line.author.clone().unwrap_or_else(|| "somebody who has left".to_owned()),
                act: line.change.act.label(),
                what: vec![words],
                can_undo: open && line.change.act != StockAct::Undone,
                undone: !open,
                deed,
            }),
        }
    }
    found
}

fn cursor(pairs: &Pairs) -> Option<(Timestamp, Uuid)> {
    let (_, typed) = pairs.iter().find(|(name, _)| name == "before")?;
    let (at, id) = typed.split_once('_')?;
    Some((Timestamp::from_millisecond(at.parse().ok()?).ok()?, Uuid::parse_str(id).ok()?))
}

/// `GET /nursery/history`.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn, Query(pairs): Query<Pairs>) -> Result<Response, Failure> {
    let nursery = match belonging(&state, &frame, &who.member).await? {
        Ok(nursery) => nursery,
        Err(start) => return Ok(start),
    };
    let mut lines = state.store.stock_history(nursery.id, cursor(&pairs), ON_A_PAGE + 1).await?;
    let more = lines.len() > ON_A_PAGE as usize;
    lines.truncate(ON_A_PAGE as usize);
    let next = lines
        .last()
        .filter(|_| more)
        .map(|last| address::NURSERY_HISTORY.with([("before", format!("{}_{}", last.change.at.as_millisecond(), last.change.id))]));
    Ok(HistoryPage { name: nursery.name, deeds: deeds(&lines), next, frame }.into_response())
}
