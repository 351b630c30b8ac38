//! `/office/import`: a table of winters with one reporter a row, looked at first, then taken in.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Multipart, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::office::import::{self, ImportError};
use crate::jobs::office::page::Administrator;
use crate::jobs::reports::table_import::BadTable;
use crate::records::Member;
use crate::units::counted;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::upload::{self, Upload};

/// Rows that are named where they cannot be used.
const ROWS_NAMED: usize = 50;

#[derive(Template, WebTemplate)]
#[template(path = "office/import.html")]
struct ImportPage {
    frame: Frame,
    /// Who reports how much, and who that is here.
    looked: Vec<(String, usize, String)>,
    /// Fields that send the table once more.
    again: Vec<(String, String)>,
    /// What was done, and what takes it back.
    done: Option<(String, Option<String>)>,
    /// Rows that cannot be used.
    refused: Vec<String>,
    typed: Typed,
    verdicts: Vec<Choice>,
    errors: Vec<FieldError>,
}

impl ImportPage {
    fn new(frame: Frame, pairs: Vec<(String, String)>, errors: FieldErrors) -> Self {
        let listed = errors.iter().cloned().collect();
        let typed = Typed::new(pairs, errors);
        let verdicts = [("wait", "They wait for a steward"), ("take", "Take them at once, on my word as a steward")];
        Self {
            looked: Vec::new(),
            again: Vec::new(),
            done: None,
            refused: Vec::new(),
            verdicts: typed.choices("verdict", "wait", verdicts.map(|(value, words)| (value.to_owned(), words.to_owned()))),
            typed,
            errors: listed,
            frame,
        }
    }
}

/// `GET /office/import`.
pub async fn show(frame: Frame, Administrator(_): Administrator) -> Response {
    ImportPage::new(frame, Vec::new(), FieldErrors::default()).into_response()
}

/// What a reporter of the table is here.
fn who(member: Option<&Member>) -> String {
    member.map_or_else(|| "credited by this name; no member".to_owned(), |member| format!("the member {}", member.handle))
}

/// `POST /office/import`.
pub async fn send(
    frame: Frame,
    State(state): State<AppState>,
    Administrator(me): Administrator,
    form: Multipart,
) -> Result<Response, Failure> {
    let _place = upload::place()?;
    let sent: Upload = upload::read(form).await?;
    let said = |name: &str| sent.pairs.iter().find(|(key, _)| key == name).map(|(_, value)| value.as_str()).unwrap_or_default();
    let (take, accepting) = (said("step") == "take", said("verdict") == "take");
    let shown: Vec<(String, String)> = sent.pairs.iter().filter(|(name, _)| name == "verdict").cloned().collect();
    let refuse = |words: String, refused: Vec<String>| {
        let mut errors = FieldErrors::default();
        errors.add("file", "", words);
        let page = ImportPage { refused, ..ImportPage::new(frame.clone(), shown.clone(), errors) };
        (StatusCode::UNPROCESSABLE_ENTITY, page).into_response()
    };
    if state.store.is_simulated().await? {
        return Ok(refuse("this service holds simulated data; real reports do not go into it".to_owned(), Vec::new()));
    }
    if sent.bytes.is_empty() {
        return Ok(refuse("choose the table, a CSV file".to_owned(), Vec::new()));
    }
    let (snapshot, now) = (state.snapshot(), state.clock.now());
    let told = |error: ImportError| match error {
        ImportError::Store(error) => Err(Failure::from(error)),
        ImportError::Table(BadTable::Rows(rows)) => {
            let named = rows.iter().take(ROWS_NAMED).map(ToString::to_string).collect();
            Ok(refuse(BadTable::Rows(rows).to_string(), named))
        }
        other => Ok(refuse(other.to_string(), Vec::new())),
    };
    let table = match import::read(&state.store, &sent.bytes, &snapshot, now).await {
        Ok(table) => table,
        Err(error) => return told(error),
    };
    if take {
        let taken = table.taken(&state.store, &state.ids, &snapshot, &me, accepting, now).await?;
        return match taken.keep(&state.store, &state.ids, &me, now).await {
            Ok(deed) => {
                let words =
                    format!("{} kept, {} of them taken at once.", counted(taken.len(), "report is", "reports are"), taken.verdicts.len());
                let undo = (!taken.verdicts.is_empty()).then(|| deed.to_string());
                let page = ImportPage { done: Some((words, undo)), ..ImportPage::new(frame, Vec::new(), FieldErrors::default()) };
                Ok(page.into_response())
            }
            Err(error) => told(error),
        };
    }
    let looked = table
        .reporters
        .iter()
        .map(|(name, member)| (name.clone(), table.counts.get(name).copied().unwrap_or(0), who(member.as_ref())))
        .collect();
    let held = Upload { bytes: sent.bytes.clone(), pairs: Vec::new() }.again().unwrap_or_default();
    Ok(ImportPage { looked, again: held, ..ImportPage::new(frame.clone(), shown.clone(), FieldErrors::default()) }.into_response())
}
