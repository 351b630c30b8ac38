//! `/garden/propagation`: the ledger of batches, and how many to stick.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::garden::usual_place::usual_place;
use crate::jobs::propagation::ready_by::{Surroundings, ready_by, season_of, winter_cost};
use crate::jobs::propagation::sticks::{SticksAnswer, SticksQuestion, behind, sentence};
use crate::jobs::propagation::table::table;
use crate::jobs::propagation::words;
use crate::model::snapshot::Snapshot;
use crate::records::{BatchRecord, Hemisphere, KeptBatch, Member, Setup, SetupKind};
use crate::science::climate::season::Season;
use crate::science::numeric::Z_90;
use crate::science::priors::PriorRow;
use crate::science::propagation::{Batch, Method};
use crate::units::counted;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

#[derive(Template, WebTemplate)]
#[template(path = "propagation/ledger.html")]
struct LedgerPage {
    frame: Frame,
    typed: Typed,
    errors: Vec<FieldError>,
    methods: Vec<Choice>,
    answer: Option<AnswerView>,
    batches: Vec<BatchView>,
    /// A batch that was just taken off the list, and how to bring it back.
    gone: Option<BatchView>,
    shelters: Vec<ShelterView>,
}

/// How many to stick, in words.
struct AnswerView {
    sentence: String,
    behind: String,
    prior: String,
}

/// A batch as listed.
pub(crate) struct BatchView {
    pub id: String,
    pub name: String,
    pub method: &'static str,
    pub stuck: String,
    pub heat: String,
    pub rooted: String,
    pub potted: String,
    pub ready: Vec<String>,
    pub version: i64,
    pub has_earlier: bool,
}

/// What a kept shelter costs through a winter.
struct ShelterView {
    id: String,
    name: String,
    cost: String,
}

impl BatchView {
    pub(crate) fn new(batch: &KeptBatch, ready: Vec<String>, frame: &Frame) -> Self {
        let record = &batch.record;
        let share =
            |count: u32, of: u32| if of == 0 { String::new() } else { format!(" ({:.0} %)", 100.0 * f64::from(count) / f64::from(of)) };
        let heat = |c: f64| crate::units::Celsius::new(c).map_or_else(|_| String::new(), |c| format!("at {}", frame.temperature(c)));
        Self {
            id: batch.id.to_string(),
            name: record.name_written.clone(),
            method: record.method.label(),
            stuck: format!("{} on {}", record.stuck, record.stuck_on),
            heat: record.bottom_heat_c.map_or_else(String::new, heat),
            rooted: record.rooted.map_or_else(String::new, |r| format!("{}{} on {}", r.count, share(r.count, record.stuck), r.on)),
            potted: record.potted.map_or_else(String::new, |p| format!("{} on {}", p.count, p.on)),
            ready,
            version: batch.version,
            has_earlier: batch.has_earlier,
        }
    }
}

/// What dates of a member's batches rest on.
pub(crate) struct Kept {
    pub setups: Vec<Setup>,
    pub season: Option<(Season, Hemisphere)>,
}

impl Kept {
    pub(crate) async fn of(state: &AppState, member: &Member, snapshot: &Snapshot) -> Result<Self, Failure> {
        let mut setups = state.store.setups_of(member.id).await?;
        setups.retain(|setup| setup.kind != SetupKind::Thermometer);
        let season = usual_place(&*state.store, member).await?.and_then(|town| season_of(&town, snapshot));
        Ok(Self { setups, season })
    }

    /// When a batch is ready, in sentences; nothing for one that is potted.
    pub(crate) fn ready(&self, record: &BatchRecord, snapshot: &Snapshot) -> Vec<String> {
        if record.potted.is_some() || record.rooted.is_some_and(|rooted| rooted.count == 0) {
            return Vec::new();
        }
        let (season, hemisphere) = self.season.map_or((None, Hemisphere::North), |(season, half)| (Some(season), half));
        words::ready(&ready_by(record, &Surroundings { setups: &self.setups, season, hemisphere }, snapshot))
    }

    fn shelters(&self) -> Vec<ShelterView> {
        let Some((season, _)) = &self.season else { return Vec::new() };
        let cost = |setup: &Setup| {
            let winter = winter_cost(setup, season)?;
            let [low, high] = winter.energy_range_kwh;
            let money = winter.cost.map_or_else(String::new, |cost| format!(", {cost:.0} by the price you gave"));
            Some(ShelterView {
                id: setup.id.to_string(),
                name: setup.name.as_str().to_owned(),
                cost: format!(
                    "holding {:.0} °C from November to March takes about {:.0} kWh ({low:.0} to {high:.0}){money}{}",
                    winter.hold_c,
                    winter.energy_kwh,
                    match winter.days_short {
                        0 => String::new(),
                        n => format!("; on {} its heater is not enough", counted(n, "day", "days")),
                    }
                ),
            })
        };
        self.setups.iter().filter(|setup| setup.kind == SetupKind::Shelter).filter_map(cost).collect()
    }
}

/// A starting value and where it is from; empty where there is none of that key.
fn prior_and_source(key: &str, snapshot: &Snapshot, value: impl Fn(&PriorRow) -> String) -> String {
    let row = snapshot.propagation_prior_rows.iter().find(|row| row.key == key);
    row.map_or_else(String::new, |row| {
        let note = if row.note.is_empty() { String::new() } else { format!(": {}", row.note) };
        format!("{} ({}{note})", value(row), crate::web::frame::provenance(&row.provenance))
    })
}

/// A starting value with its spread and where it is from, in a sentence.
pub(crate) fn prior_words(key: &str, snapshot: &Snapshot) -> String {
    prior_and_source(key, snapshot, |row| if row.spread.is_empty() { row.value.clone() } else { format!("{} ± {}", row.value, row.spread) })
}

/// The correlation within a batch with its 90 % range: its spread is that of its logarithm.
fn correlation_words(snapshot: &Snapshot) -> String {
    let prior = snapshot.propagation_priors.batch_correlation;
    let at = |z: f64| (prior.mean * (z * prior.sd).exp()).min(1.0);
    prior_and_source("batch_correlation", snapshot, |row| format!("{}, 90 % range {:.2} to {:.2}", row.value, at(-Z_90), at(Z_90)))
}

fn view(answer: &SticksAnswer, snapshot: &Snapshot) -> AnswerView {
    let share = prior_words(&format!("rooted_{}", answer.question.method), snapshot);
    let correlation = correlation_words(snapshot);
    AnswerView {
        sentence: sentence(answer),
        behind: behind(answer),
        prior: format!("Before any batch: share that roots {share}. Correlation within a batch {correlation}."),
    }
}

/// Batches that tell how many root.
pub(crate) fn counted_batches(batches: &[KeptBatch]) -> Vec<Batch> {
    batches.iter().filter(|batch| !batch.gone).filter_map(|batch| batch.record.counted()).collect()
}

/// `GET /garden/propagation`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    who: SignedIn,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let all = state.ledger.batches(&who.member).await?;
    let kept = Kept::of(&state, &who.member, &snapshot).await?;
    let asked = pairs.iter().any(|(name, _)| name == "wanted");
    let (answer, errors) = match asked.then(|| SticksQuestion::parse(&pairs)) {
        None => (None, FieldErrors::default()),
        Some(Err(errors)) => (None, errors),
        Some(Ok(question)) => {
            let (own, snapshot) = (counted_batches(&all), state.snapshot());
            (Some(run_queued(move || view(&snapshot.sticks(question, &own), &snapshot)).await?), FieldErrors::default())
        }
    };
    let status = if errors.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs.clone(), errors);
    let seen = |batch: &KeptBatch, frame: &Frame| BatchView::new(batch, kept.ready(&batch.record, &snapshot), frame);
    let named = pairs.iter().find(|(name, _)| name == "gone").map(|(_, id)| id.as_str());
    let page = LedgerPage {
        methods: typed.words::<Method>("method", Method::HardwoodSoil.word()),
        gone: all.iter().find(|batch| batch.gone && Some(batch.id.to_string().as_str()) == named).map(|batch| seen(batch, &frame)),
        batches: all.iter().filter(|batch| !batch.gone).map(|batch| seen(batch, &frame)).collect(),
        shelters: kept.shelters(),
        errors: listed,
        typed,
        answer,
        frame,
    };
    Ok((status, page).into_response())
}

/// `GET /garden/propagation.csv`.
pub async fn export(State(state): State<AppState>, who: SignedIn) -> Result<Response, Failure> {
    let all: Vec<KeptBatch> = state.ledger.batches(&who.member).await?.into_iter().filter(|batch| !batch.gone).collect();
    let headers = [(CONTENT_TYPE, "text/csv; charset=utf-8"), (CONTENT_DISPOSITION, "attachment; filename=\"winterfig-batches.csv\"")];
    Ok((headers, table(&all).map_err(Failure::internal)?).into_response())
}

/// The ledger with a batch just taken off it.
pub(crate) fn after_removal(id: &str) -> String {
    address::PROPAGATION.with([("gone", id)])
}
