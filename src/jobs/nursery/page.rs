//! `/nursery`: the counter's question, the stock with one tap for a sale, and the way to everything else.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::input::fields::Fields;
use crate::jobs::nursery::form::form_words;
use crate::jobs::nursery::returned::{MOST_READ, Returned, returned};
use crate::jobs::nursery::service::{Nurseries, NurseryError};
use crate::jobs::nursery::table;
use crate::jobs::shortlist::named::identified;
use crate::model::snapshot::Snapshot;
use crate::records::{Member, Nursery, PlantForm, StockLine};
use crate::science::climate::zone::HalfZone;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

/// Names and values of a form.
pub(super) type Pairs = Vec<(String, String)>;

/// Half-zones that are offered as buttons: figs in stock are asked for in these. DESIGN; any other place goes into the box.
const ZONES_FROM: &str = "4a";
const ZONES_TO: &str = "10b";

impl From<NurseryError> for Failure {
    fn from(error: NurseryError) -> Self {
        match error {
            NurseryError::Fields(errors) => errors.into(),
            NurseryError::Absent | NurseryError::None => Self::not_found(format!("Nothing was done: {error}.")),
            NurseryError::Moved(words) => Self::new(StatusCode::CONFLICT, words),
            rule @ (NurseryError::MayNotStart | NurseryError::HasOne | NurseryError::Full | NurseryError::NotKeeper) => {
                Self::new(StatusCode::UNPROCESSABLE_ENTITY, format!("Nothing was done: {rule}."))
            }
            NurseryError::TooOften(wait) => {
                Self::too_many(format!("Many changes in a short time; please wait {} s.", wait.wait_s), wait.wait_s)
            }
            NurseryError::Store(error) => error.into(),
            error @ NurseryError::Randomness(_) => Self::internal(error),
        }
    }
}

/// The nurseries of this service.
pub(super) fn nurseries(state: &AppState) -> Nurseries {
    Nurseries::new(std::sync::Arc::clone(&state.store), std::sync::Arc::clone(&state.limits), state.ids.clone())
}

/// A nursery without its name: who belongs to none starts or joins one.
#[derive(Template, WebTemplate)]
#[template(path = "nursery/start.html")]
pub(super) struct StartPage {
    frame: Frame,
    may_start: bool,
    typed: Typed,
    errors: Vec<FieldError>,
}

/// What a member without a nursery sees.
pub(super) fn start_page(frame: Frame, member: &Member, pairs: Pairs, errors: FieldErrors) -> StartPage {
    let listed = errors.iter().cloned().collect();
    StartPage { may_start: member.may_start_nursery(), typed: Typed::new(pairs, errors), errors: listed, frame }
}

/// The member's nursery, or the page on which one is started or joined.
pub(super) async fn belonging(state: &AppState, frame: &Frame, member: &Member) -> Result<Result<Nursery, Response>, Failure> {
    match nurseries(state).needed(member).await {
        Ok(nursery) => Ok(Ok(nursery)),
        Err(NurseryError::None) => Ok(Err(start_page(frame.clone(), member, Pairs::new(), FieldErrors::default()).into_response())),
        Err(error) => Err(error.into()),
    }
}

/// A line as shown.
pub(super) struct LineView {
    pub id: String,
    pub name: String,
    pub slug: Option<String>,
    pub form: String,
    pub count: i64,
    pub price: String,
    pub note: String,
    pub version: i64,
}

impl LineView {
    pub(super) fn new(line: &StockLine, snapshot: &Snapshot) -> Self {
        let known = identified(&snapshot.catalogue, &line.item.name).ok().and_then(|place| snapshot.catalogue.cultivars().get(place));
        Self {
            id: line.id.to_string(),
            name: line.item.name.clone(),
            slug: known.map(|fig| fig.slug.to_string()),
            form: form_words(&line.item),
            count: line.count,
            price: line.item.price.as_ref().map(ToString::to_string).unwrap_or_default(),
            note: line.item.note.clone().unwrap_or_default(),
            version: line.version,
        }
    }
}

/// The page.
#[derive(Template, WebTemplate)]
#[template(path = "nursery/nursery.html")]
struct NurseryPage {
    frame: Frame,
    name: String,
    zones: Vec<String>,
    lines: Vec<LineView>,
    plants: i64,
    /// Lines of figs that no entry of the catalogue stands for.
    unknown: usize,
    typed: Typed,
    forms: Vec<Choice>,
    errors: Vec<FieldError>,
    names: Vec<String>,
    /// What was done, and what takes it back.
    done: Option<(String, String)>,
    /// Why something was not done.
    refused: Option<String>,
    returned: Vec<Returned>,
    fewest: usize,
}

/// What a page of stock says beside the stock.
#[derive(Default)]
pub(super) struct Said {
    pub typed: Pairs,
    pub errors: FieldErrors,
    pub done: Option<(String, String)>,
    pub refused: Option<String>,
}

/// The half-zones of the buttons.
pub(super) fn zones() -> Vec<String> {
    let all = HalfZone::all().map(|zone| zone.to_string());
    all.skip_while(|zone| zone != ZONES_FROM).take_while(|zone| zone != ZONES_TO).chain([ZONES_TO.to_owned()]).collect()
}

/// The forms in which plants are sold, the typed one chosen.
pub(super) fn forms(typed: &Typed) -> Vec<Choice> {
    typed.words::<PlantForm>("form", PlantForm::Pot.word())
}

pub(super) async fn nursery_page(state: &AppState, frame: Frame, nursery: &Nursery, said: Said) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let stock = state.store.stock(nursery.id).await?;
    let lines: Vec<LineView> = stock.iter().map(|line| LineView::new(line, &snapshot)).collect();
    let back = state.store.returned_reports(nursery.id, MOST_READ).await?;
    let listed = said.errors.iter().cloned().collect();
    let typed = Typed::new(said.typed, said.errors);
    Ok(NurseryPage {
        name: nursery.name.clone(),
        zones: zones(),
        plants: stock.iter().map(|line| line.count).sum(),
        unknown: lines.iter().filter(|line| line.slug.is_none()).count(),
        lines,
        forms: forms(&typed),
        typed,
        errors: listed,
        names: snapshot.catalogue.cultivars().iter().map(|c| c.name.clone()).collect(),
        done: said.done,
        refused: said.refused,
        returned: returned(&back, &snapshot.catalogue),
        fewest: Nursery::FEWEST_REPORTERS,
        frame,
    }
    .into_response())
}

/// `GET /nursery`.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn, Query(pairs): Query<Pairs>) -> Result<Response, Failure> {
    let of = |name: &str| pairs.iter().find(|(key, _)| key == name).map(|(_, value)| value.as_str());
    match nurseries(&state).needed(&who.member).await {
        Ok(nursery) => {
            let done = of("done").and_then(said_of).map(|words| (words.to_owned(), of("deed").unwrap_or_default().to_owned()));
            nursery_page(&state, frame, &nursery, Said { done, ..Said::default() }).await
        }
        Err(NurseryError::None) => {
            let typed = of("code").map(|code| vec![("code".to_owned(), code.chars().take(60).collect())]).unwrap_or_default();
            Ok(start_page(frame, &who.member, typed, FieldErrors::default()).into_response())
        }
        Err(error) => Err(error.into()),
    }
}

/// What was done, in words.
fn said_of(done: &str) -> Option<&'static str> {
    Some(match done {
        "sold" => "Sold, and counted.",
        "added" => "The line is added.",
        "changed" => "The line is changed.",
        "removed" => "The line is removed.",
        "table" => "The table is taken in.",
        "undone" => "Taken back.",
        "joined" => "You belong to this nursery now, and share its stock.",
        _ => return None,
    })
}

/// The page after something was done, with what takes it back.
pub(super) fn back(done: &str, deed: Option<uuid::Uuid>) -> Redirect {
    let deed = deed.map(|deed| ("deed".to_owned(), deed.to_string()));
    Redirect::to(&address::NURSERY.with([("done".to_owned(), done.to_owned())].into_iter().chain(deed)))
}

/// Of what could not be done: the page again, with what was typed.
pub(super) async fn refused(
    state: &AppState,
    frame: Frame,
    member: &Member,
    typed: Pairs,
    error: NurseryError,
) -> Result<Response, Failure> {
    let nursery = nurseries(state).needed(member).await?;
    let (status, said) = match error {
        NurseryError::Fields(errors) => (StatusCode::UNPROCESSABLE_ENTITY, Said { typed, errors, ..Said::default() }),
        NurseryError::Moved(words) => (StatusCode::CONFLICT, Said { refused: Some(words), ..Said::default() }),
        other => return Err(other.into()),
    };
    Ok((status, nursery_page(state, frame, &nursery, said).await?).into_response())
}

/// `POST /nursery/stock`: a new line.
pub async fn add(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    match nurseries(&state).add(&who.member, &pairs, state.clock.now()).await {
        Ok(deed) => Ok(back("added", Some(deed)).into_response()),
        Err(error) => refused(&state, frame, &who.member, pairs, error).await,
    }
}

/// `POST /nursery/sell`: one tap.
pub async fn sell(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let mut fields = Fields::new(&pairs, &["line", "version", "count", "back"]);
    let line = fields.value("line").unwrap_or_default();
    let seen = fields.value("version").and_then(|typed| typed.parse::<i64>().ok());
    if seen.is_none() {
        fields.errors.add("version", "", "say which state of the line you saw");
    }
    let how_many = match fields.value("count") {
        None => Some(1),
        Some(typed) => fields.errors.keep("count", typed, crate::jobs::nursery::form::count(typed)),
    };
    fields.errors.clone().into_result()?;
    let sold = nurseries(&state).sell(&who.member, line, seen.unwrap_or_default(), how_many.unwrap_or(1), state.clock.now()).await;
    match sold {
        Ok(deed) => Ok(back("sold", Some(deed)).into_response()),
        Err(error) => refused(&state, frame, &who.member, Pairs::new(), error).await,
    }
}

/// `POST /nursery/undo`.
pub async fn undo(frame: Frame, State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Pairs>) -> Result<Response, Failure> {
    let deed = pairs.iter().find(|(name, _)| name == "deed").map_or("", |(_, deed)| deed);
    match nurseries(&state).undo(&who.member, deed, state.clock.now()).await {
        Ok(undone) if undone.moved == 0 => Ok(back("undone", None).into_response()),
        Ok(undone) => {
            let words = format!(
                "{} back as before; {} moved on since, and stay as they are.",
                crate::units::counted(undone.back, "line stands", "lines stand"),
                crate::units::counted(undone.moved, "line has", "lines have")
            );
            let nursery = nurseries(&state).needed(&who.member).await?;
            nursery_page(&state, frame, &nursery, Said { refused: Some(words), ..Said::default() }).await
        }
        Err(error) => refused(&state, frame, &who.member, Pairs::new(), error).await,
    }
}

/// `GET /nursery/stock.csv`; for who belongs to no nursery yet the header alone.
pub async fn export(State(state): State<AppState>, who: SignedIn) -> Result<Response, Failure> {
    let stock = match state.store.nursery_of(who.member.id).await? {
        Some(nursery) => state.store.stock(nursery.id).await?,
        None => Vec::new(),
    };
    let headers = [(CONTENT_TYPE, "text/csv; charset=utf-8"), (CONTENT_DISPOSITION, "attachment; filename=\"winterfig-stock.csv\"")];
    Ok((headers, table::write(&stock).map_err(Failure::internal)?).into_response())
}
