//! `/nursery/table`: stock pasted as a list, or brought as a CSV file.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Multipart, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::input::errors::{FieldError, FieldErrors};
use crate::input::pasted::{self, BadTable};
use crate::jobs::nursery::page::{Pairs, back, belonging, nurseries};
use crate::jobs::nursery::service::NurseryError;
use crate::jobs::nursery::stock::TableWay;
use crate::jobs::nursery::table;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::upload::{self, Upload};
use crate::web::visitor::SignedIn;

/// Rows that are named where they cannot be used.
const ROWS_NAMED: usize = 50;

#[derive(Template, WebTemplate)]
#[template(path = "nursery/table.html")]
struct TablePage {
    frame: Frame,
    typed: Typed,
    ways: Vec<Choice>,
    refused: Vec<String>,
    errors: Vec<FieldError>,
}

fn page(frame: Frame, pairs: Pairs, errors: FieldErrors, refused: Vec<String>) -> TablePage {
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    let ways = [("replace", "Its counts take the place of those here"), ("add", "Its counts are added to those here")];
    TablePage {
        ways: typed.choices("way", "replace", ways.map(|(v, w)| (v.to_owned(), w.to_owned()))),
        typed,
        refused,
        errors: listed,
        frame,
    }
}

/// `GET /nursery/table`.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn) -> Result<Response, Failure> {
    match belonging(&state, &frame, &who.member).await? {
        Ok(_) => Ok(page(frame, Pairs::new(), FieldErrors::default(), Vec::new()).into_response()),
        Err(start) => Ok(start),
    }
}

/// `POST /nursery/table`.
pub async fn send(frame: Frame, State(state): State<AppState>, who: SignedIn, form: Multipart) -> Result<Response, Failure> {
    let _place = upload::place()?;
    let sent: Upload = upload::read(form).await?;
    let way = sent.pairs.iter().find(|(name, _)| name == "way").map_or("replace", |(_, way)| way.as_str());
    let typed = || {
        let mut pairs = vec![("way".to_owned(), way.to_owned())];
        // What was read comes back to be mended in place.
        if sent.bytes.len() <= pasted::LARGEST {
            pairs.push(("pasted".to_owned(), String::from_utf8_lossy(&sent.bytes).into_owned()));
        }
        pairs
    };
    let refuse = |errors: FieldErrors, refused: Vec<String>| {
        (StatusCode::UNPROCESSABLE_ENTITY, page(frame.clone(), typed(), errors, refused)).into_response()
    };
    let mut errors = FieldErrors::default();
    let way = match way {
        "replace" => TableWay::Replace,
        "add" => TableWay::Add,
        other => {
            errors.add("way", other, "choose whether counts are replaced or added");
            return Ok(refuse(errors, Vec::new()));
        }
    };
    let rows = match table::read(&sent.bytes) {
        Ok(rows) => rows,
        Err(bad) => {
            errors.add("pasted", "", &bad);
            let named =
                if let BadTable::Rows(rows) = &bad { rows.iter().take(ROWS_NAMED).map(ToString::to_string).collect() } else { Vec::new() };
            return Ok(refuse(errors, named));
        }
    };
    match nurseries(&state).take_table(&who.member, rows, way, state.clock.now()).await {
        Ok(taken) => Ok(back("table", Some(taken.deed)).into_response()),
        Err(NurseryError::Fields(errors)) => {
            let mut of_page = FieldErrors::default();
            errors.iter().for_each(|error| of_page.add("pasted", &error.value, &error.message));
            Ok(refuse(of_page, Vec::new()))
        }
        Err(NurseryError::Moved(words)) => {
            errors.add("pasted", "", words);
            Ok(refuse(errors, Vec::new()))
        }
        Err(other) => Err(other.into()),
    }
}
