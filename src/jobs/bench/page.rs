//! `/bench`: the answer sheet for a buyer, one printed page for one plant and one place.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::bench::page_sheet::{Printed, SheetView, sheet_view};
use crate::jobs::reports::form::NURSERY;
use crate::jobs::shortlist::named::identified;
use crate::jobs::shortlist::page_site_form::{SITE, SiteForm};
use crate::jobs::shortlist::question::Question;
use crate::jobs::shortlist::question_parts::without_place;
use crate::jobs::station_record;
use crate::jobs::station_record::answer::{Carried, site_and_heat};
use crate::jobs::station_record::page_saved::{asked_record, reading_of};
use crate::jobs::station_record::read::Reading;
use crate::model::snapshot::Snapshot;
use crate::records::{NamedSite, Nursery, NurseryCode};
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::Visitor;

/// Parameter that names the fig.
const CULTIVAR: &str = "cultivar";

/// Where a sheet is asked for.
#[derive(Template, WebTemplate)]
#[template(path = "bench/bench.html")]
struct BenchForm {
    frame: Frame,
    form: SiteForm,
    names: Vec<String>,
    errors: Vec<FieldError>,
}

/// The sheet.
#[derive(Template, WebTemplate)]
#[template(path = "bench/bench_sheet.html")]
struct BenchPage {
    frame: Frame,
    sheet: SheetView,
    /// A record of the member's speaks for the place, so that nobody else can open the address.
    by_record: bool,
}

/// Shows the form, or the sheet once a cultivar and a place are given.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Result<Visitor, Failure>,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let records = Visitor::records_if_known(&visitor, &state).await;
    let asked = pairs.iter().find(|(name, _)| name == CULTIVAR).map(|(_, value)| value.trim().to_owned()).unwrap_or_default();
    // Another plant for the same place: the place alone.
    if !pairs.iter().any(|(name, _)| name == CULTIVAR) || pairs.iter().all(|(_, value)| value.trim().is_empty()) {
        return Ok(bench_form(frame, &snapshot, pairs, FieldErrors::default(), &records).into_response());
    }
    let record = match asked_record(&pairs) {
        Some(id) => Some(by_record(&state, &visitor?, &snapshot, id).await?),
        None => None,
    };
    let asked_question = || match &record {
        Some(record) => station_record::answer::question(&record.reading.climate, &without_place(&pairs), false),
        None => Question::parse(&pairs, false),
    };
    let mut errors = FieldErrors::default();
    let cultivar = if asked.is_empty() {
        errors.add(CULTIVAR, "", "say which fig the sheet is for");
        None
    } else {
        errors.keep(CULTIVAR, &asked, identified(&snapshot.catalogue, &asked)).and_then(|place| snapshot.catalogue.cultivars().get(place))
    };
    let (cultivar, question) = match (cultivar, FieldErrors::together(errors.into_result(), asked_question())) {
        (Some(cultivar), Ok(question)) => (cultivar, question),
        (_, wrong) => {
            let errors = wrong.err().unwrap_or_default();
            return Ok((StatusCode::UNPROCESSABLE_ENTITY, bench_form(frame, &snapshot, pairs, errors, &records)).into_response());
        }
    };
    state.asked.count(question.kind(Some(&cultivar.slug), &snapshot), state.clock.now());
    let slug = cultivar.slug.as_str();
    let sheet = match &record {
        Some(ByRecord { reading, .. }) => {
            let (site, heat) = site_and_heat(&snapshot, &question, reading, Carried::default());
            snapshot.sheet_at(slug, &site, heat)
        }
        None => snapshot.sheet(slug, &question),
    };
    let sheet = sheet.ok_or_else(|| Failure::internal("a known cultivar has no sheet"))?;
    let today = jiff::tz::TimeZone::UTC.to_datetime(state.clock.now()).date();
    let nursery = nursery_named(&state, &pairs).await?;
    let printed = match &record {
        Some(record) => Printed::by_record(today, &record.name, record.place()),
        None => Printed::open(&frame, today, (slug, &cultivar.name), &question, nursery.as_ref()),
    };
    let from = nursery.filter(|_| record.is_none()).map(|nursery| format!("&{NURSERY}={}", nursery.code)).unwrap_or_default();
    let again = address::BENCH.with_query(&format!("{}{from}", printed.place));
    let view = SheetView { again: Some(again), ..sheet_view(&frame, &snapshot, &sheet, &question, printed) };
    Ok(BenchPage { sheet: view, by_record: record.is_some(), frame }.into_response())
}

/// The nursery whose code an address names; one that is gone is no reason to keep a sheet back.
async fn nursery_named(state: &AppState, pairs: &[(String, String)]) -> Result<Option<Nursery>, Failure> {
    let typed = pairs.iter().find(|(name, _)| name == NURSERY).and_then(|(_, code)| NurseryCode::typed(code));
    match typed {
        Some(code) => Ok(state.store.nursery_by_code(&code).await?),
        None => Ok(None),
    }
}

/// A daily record of the member's that speaks for the place.
struct ByRecord {
    id: String,
    name: String,
    reading: Reading,
}

impl ByRecord {
    /// The place in an address.
    fn place(&self) -> String {
        format!("{SITE}={}", self.id)
    }
}

async fn by_record(state: &AppState, visitor: &Visitor, snapshot: &Snapshot, id: &str) -> Result<ByRecord, Failure> {
    let (name, reading) = reading_of(state, visitor, id).await?;
    let climate = reading.climate_by(&snapshot.priors).into_owned();
    Ok(ByRecord { id: id.to_owned(), name, reading: Reading { climate, ..reading } })
}

fn bench_form(frame: Frame, snapshot: &Snapshot, pairs: Vec<(String, String)>, errors: FieldErrors, records: &[NamedSite]) -> BenchForm {
    let listed = errors.iter().cloned().collect();
    BenchForm {
        form: SiteForm::new(frame.with_remembered_place(pairs), errors, &frame, "Make the sheet")
            .for_one_cultivar(address::BENCH)
            .with_records(records),
        names: snapshot.catalogue.cultivars().iter().map(|c| c.name.clone()).collect(),
        errors: listed,
        frame,
    }
}
