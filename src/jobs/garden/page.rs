//! `/garden`: a member's plants and what winters did to them, and the page of one plant.

use std::sync::Arc;

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Path, Query, State};
use axum::response::{IntoResponse, Response};
use uuid::Uuid;

use crate::address;
use crate::jobs::accounts::page_notices::{NoticeView, unseen};
use crate::jobs::garden::lists::value;
use crate::jobs::garden::page_setups::{SentShelter, SetupView};
use crate::jobs::garden::plant_edit::{Change, changes};
use crate::jobs::garden::table_view::GardenTable;
use crate::jobs::garden::usual_place::usual_place;
use crate::jobs::garden::winters_told::WintersTold;
use crate::jobs::reports::error::ReportError;
use crate::jobs::reports::page_new::plant_words;
use crate::jobs::reports::page_view::ReportView;
use crate::jobs::reports::page_view::public_words;
use crate::jobs::reports::plant_names::offered;
use crate::jobs::shortlist::question::Question;
use crate::jobs::trials::answer::MOST_TRIALS;
use crate::jobs::trials::words::invitation as invitation_words;
use crate::records::{PlantId, Report};
use crate::units::counted;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

#[derive(Template, WebTemplate)]
#[template(path = "garden/garden.html")]
struct GardenPage {
    frame: Frame,
    handle: String,
    steward: bool,
    table: GardenTable,
    setups: Vec<SetupView>,
    shelters: Vec<SentShelter>,
    /// What was sent a moment ago.
    sent: Option<String>,
    notices: Vec<NoticeView>,
    /// The report that would teach most, with the address that says why.
    invitation: Option<(String, String)>,
}

/// Most winters of a plant on its page. DESIGN.
const WINTERS_OF_A_PLANT: usize = 12;

/// A plant with its winters.
struct PlantView {
    words: String,
    cultivar: Option<(String, String)>,
    winters: Vec<WinterView>,
    /// Winters before those shown.
    earlier: usize,
    public_place: String,
    /// The reports around it, where a point is known.
    near: Option<String>,
}

/// A winter of a plant in the strip.
struct WinterView {
    report: String,
    winter: String,
    words: &'static str,
    level: &'static str,
    coldest: String,
    state: &'static str,
    counts: bool,
}

#[derive(Template, WebTemplate)]
#[template(path = "garden/plant.html")]
struct PlantPage {
    frame: Frame,
    plant: PlantView,
    id: String,
    reports: Vec<ReportView>,
    changes: Vec<Change>,
    plant_id: String,
    may_be: Vec<(String, String)>,
}

fn winter_view(report: &Report, frame: &Frame) -> WinterView {
    let level = report.record.damage().map_or("", |damage| damage.high().word());
    WinterView {
        report: report.id.to_string(),
        winter: report.record.winter.to_string(),
        words: report.record.top.label(),
        level,
        coldest: report.record.coldest.as_ref().map(|c| frame.short(c.celsius)).unwrap_or_default(),
        state: report.state.label(),
        counts: report.state.counts(),
    }
}

/// The report of the member's that would teach most, where their town is known.
async fn invitation(state: &AppState, who: &SignedIn) -> Result<Option<(String, String)>, Failure> {
    let Some(town) = usual_place(&*state.store, &who.member).await? else { return Ok(None) };
    let pairs = [("place".to_owned(), town)];
    let Ok(question) = Question::parse(&pairs, false) else { return Ok(None) };
    let plants = state.store.plants_of(who.member.id).await?;
    let own: Vec<String> = plants.into_iter().filter_map(|plant| plant.cultivar.map(|slug| slug.to_string())).collect();
    let asked = state.asked.most(state.clock.now()).await?;
    let snapshot = state.snapshot();
    // The same until the model or what is asked moves on.
    let times: i64 = asked.iter().map(|count| count.times).sum();
    let key = format!("trials {} {} {times}", question.to_query(), own.join(","));
    let said = run_queued(move || {
        snapshot.kept.text(&key, || {
            let words = invitation_words(&snapshot.trials(&question, &asked, &own, MOST_TRIALS));
            Ok::<_, std::convert::Infallible>(Arc::from(words.unwrap_or_default().as_bytes()))
        })
    })
    .await?;
    let said = said.map(|bytes| String::from_utf8_lossy(&bytes).into_owned()).unwrap_or_default();
    Ok((!said.is_empty()).then(|| (said, address::TRIALS.with(pairs))))
}

/// What was sent, in words.
fn sent_words(pairs: &[(String, String)]) -> Option<String> {
    let many = value(pairs, "many").and_then(|typed| typed.parse::<usize>().ok());
    let said = |one: &str, several: &str| many.map(|many| format!(" {}.", counted(many, one, several))).unwrap_or_default();
    Some(match value(pairs, "sent")? {
        "figs" => format!("Added.{} Their winters can be told in one list.", said("new fig", "new figs")),
        "fruit" => format!("The list is kept, and its reports wait for a steward.{}", said("plant", "plants")),
        _ => format!("The list is kept and waits for a steward; each plant below has its winter.{}", said("plant", "plants")),
    })
}

/// `GET /garden`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    who: SignedIn,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let plants = state.store.plants_of(who.member.id).await?;
    let reports = state.store.reports_of(who.member.id).await?;
    let today = crate::records::winter::today(state.clock.now());
    let setups = state.store.setups_of(who.member.id).await?.iter().map(SetupView::new).collect();
    let shelters = state.store.shelter_reports_of(who.member.id).await?.iter().map(SentShelter::new).collect();
    Ok(GardenPage {
        handle: who.member.handle.to_string(),
        steward: who.member.may_review(),
        table: GardenTable::new(&plants, &WintersTold::of(&reports), &pairs, today, &snapshot, &frame).map_err(Failure::internal)?,
        setups,
        shelters,
        notices: unseen(&*state.store, &who.member).await?,
        invitation: invitation(&state, &who).await?,
        sent: sent_words(&pairs),
        frame,
    }
    .into_response())
}

fn view(plant: &crate::records::Plant, reports: &[Report], snapshot: &crate::model::snapshot::Snapshot, frame: &Frame) -> PlantView {
    let mut winters: Vec<&Report> = reports.iter().filter(|report| report.plant.id == plant.id).collect();
    winters.sort_by_key(|report| (report.record.winter, report.id));
    let earlier = winters.len().saturating_sub(WINTERS_OF_A_PLANT);
    PlantView {
        words: plant_words(plant),
        cultivar: plant
            .cultivar
            .as_ref()
            .and_then(|slug| snapshot.catalogue.get(slug.as_str()))
            .map(|c| (c.slug.to_string(), c.name.clone())),
        winters: winters.into_iter().skip(earlier).map(|report| winter_view(report, frame)).collect(),
        earlier,
        public_place: public_words(&plant.place),
        near: plant.place.point.map(|point| {
            let (latitude, longitude) = (format!("{:.1}", point.latitude()), format!("{:.1}", point.longitude()));
            address::REPORTS.with([("latitude", latitude), ("longitude", longitude)])
        }),
    }
}

/// `GET /garden/plants/{id}`.
pub async fn plant(frame: Frame, State(state): State<AppState>, who: SignedIn, Path(text): Path<String>) -> Result<Response, Failure> {
    let id = Uuid::parse_str(&text).map(PlantId).map_err(|_| ReportError::Absent)?;
    let plant = state.store.plant(id).await?.filter(|plant| plant.owner == Some(who.member.id)).ok_or(ReportError::Absent)?;
    let reports = state.store.reports_of_plant(id).await?;
    let changes = changes(&plant, &state.store.earlier_of_plant(id).await?);
    let snapshot = state.snapshot();
    Ok(PlantPage {
        changes,
        plant_id: plant.id.to_string(),
        may_be: offered(&plant, &snapshot),
        plant: view(&plant, &reports, &snapshot, &frame),
        id: text,
        reports: reports.iter().map(|report| ReportView::new(report, &snapshot, &frame)).collect(),
        frame,
    }
    .into_response())
}
