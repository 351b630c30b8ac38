//! `GET /api/v1/cultivars` and `/api/v1/cultivars/{slug}`: the catalogue with the provenance of every trait.

use axum::Json;
use axum::extract::{Path, Query, State};
use serde::Serialize;
use utoipa::ToSchema;

use crate::catalogue::claims::{Claim, claims, contradictions};
use crate::catalogue::{Cultivar, Source};
use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::jobs::cultivars::outcomes::{Outcome, outcomes};
use crate::jobs::shortlist::wants::{FILTERS, Wants};
use crate::records::words::Stage;
use crate::science::hardiness::level::DamageLevel;
use crate::units::Celsius;
use crate::web::errors::Failure;
use crate::web::state::AppState;

/// The catalogue.
#[derive(Serialize, ToSchema)]
pub struct CultivarsJson {
    /// Cultivars in the order of the catalogue, each trait with its provenance.
    #[schema(value_type = Vec<Object>)]
    cultivars: Vec<Cultivar>,
}

/// One cultivar with the sources it names.
#[derive(Serialize, ToSchema)]
pub struct CultivarJson {
    /// The cultivar, each trait with its provenance.
    #[serde(flatten)]
    #[schema(value_type = Object)]
    cultivar: Cultivar,
    /// The sources it names, in full.
    #[schema(value_type = Vec<Object>)]
    source_list: Vec<Source>,
    /// Every published claim about its cold, each by itself.
    claims: Vec<ClaimJson>,
    /// Subjects of claims that contradict each other.
    contradictions: Vec<&'static str>,
    /// Reports of it.
    outcome_count: usize,
    /// The coldest of them.
    outcomes: Vec<OutcomeJson>,
}

/// One claim of one source.
#[derive(Serialize, ToSchema)]
pub struct ClaimJson {
    /// survived, class, field, waking, regrowth.
    about: &'static str,
    /// Its figure, °C; null where it has none.
    figure_c: Option<f64>,
    /// What it says.
    says: String,
    /// Age of the plant; null: not told.
    age: Option<String>,
    /// State of the plant; null: not told.
    stage: Option<String>,
    /// Protection; null: not told.
    protection: Option<String>,
    /// Title and author; null: from memory, no source.
    source: Option<String>,
    /// Year of the source; empty: not shown.
    year: String,
    /// Grade of the source in words.
    grade: &'static str,
    /// agrees, adds, counts, set_aside: how it stands to what the calculation takes.
    standing: &'static str,
    /// Why.
    reason: String,
}

/// One reported winter.
#[derive(Serialize, ToSchema)]
pub struct OutcomeJson {
    /// Report.
    report_id: String,
    /// Winter.
    winter: String,
    /// Coldest it met, °C.
    coldest_c: Option<f64>,
    /// Damage, the worst that its answers leave possible.
    damage: Option<&'static str>,
    /// alive, dead, uncertain, not_assessed.
    vitality: &'static str,
    /// Whole years since planting.
    age_years: Option<u8>,
    /// What it was doing.
    stage: Option<&'static str>,
    /// What was done for it.
    protection: &'static str,
    /// ground or container.
    culture: &'static str,
}

impl ClaimJson {
    fn of(claim: Claim) -> Self {
        Self {
            about: claim.about.word(),
            figure_c: claim.figure_c,
            says: claim.says,
            age: claim.age,
            stage: claim.stage,
            protection: claim.protection,
            source: claim.source,
            year: claim.year,
            grade: claim.grade,
            standing: claim.standing.word(),
            reason: claim.reason,
        }
    }
}

impl OutcomeJson {
    fn of(outcome: Outcome) -> Self {
        Self {
            report_id: outcome.report,
            winter: outcome.winter,
            coldest_c: outcome.coldest.map(Celsius::degrees),
            damage: outcome.damage.map(DamageLevel::word),
            vitality: outcome.vitality.word(),
            age_years: outcome.age_years,
            stage: outcome.stage.map(Stage::word),
            protection: outcome.cover.word(),
            culture: if outcome.in_pot { "container" } else { "ground" },
        }
    }
}

/// The catalogue, or the cultivars that one of whose names holds every word of `q`
#[utoipa::path(
    get,
    operation_id = "list_cultivars",
    path = "/api/v1/cultivars",
    params(
        ("q" = Option<String>, Query, description = "words of a name or synonym, accents and case folded"),
        ("skin" = Option<String>, Query, description = "light, brown, dark, mixed, unknown"),
        ("ripens" = Option<String>, Query, description = "early, mid, late, unknown; a kind between two belongs to both"),
        ("early_crop" = Option<String>, Query, description = "yes, no, unknown"),
        ("regrowth" = Option<String>, Query, description = "bears on shoots from the roots: yes, no, unknown"),
        ("kind" = Option<String>, Query, description = "common, san_pedro, smyrna, caprifig, unknown")
    ),
    responses((status = 200, description = "Cultivars", body = CultivarsJson), (status = 422, description = "unknown parameter"))
)]
pub async fn list(State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Json<CultivarsJson>, Failure> {
    let unknown = FieldErrors::refuse_unknown(
        &pairs,
        |name| name == "q" || FILTERS.contains(&name),
        "accepted: q, skin, ripens, early_crop, regrowth, kind",
    );
    let mut read = Fields::lenient(&pairs, &FILTERS);
    let wants = Wants::read(&mut read);
    let mut errors = read.errors;
    if pairs.iter().filter(|(name, _)| name == "q").count() > 1 {
        errors.add("q", "", "q is given more than once; give it once");
    }
    FieldErrors::together(unknown, errors.into_result())?;
    let query = pairs.iter().find(|(name, _)| name == "q").map_or("", |(_, q)| q.as_str());
    let cultivars = state.snapshot().catalogue.search(query).into_iter().filter(|fig| wants.fit(fig)).cloned().collect();
    Ok(Json(CultivarsJson { cultivars }))
}

/// One cultivar
#[utoipa::path(
    get,
    operation_id = "show_cultivar",
    path = "/api/v1/cultivars/{slug}",
    params(("slug" = String, Path, description = "name in addresses, for example brown-turkey")),
    responses((status = 200, description = "The cultivar, with every claim about its cold and what members report beside them", body = CultivarJson), (status = 404, description = "no such cultivar"))
)]
pub async fn show(State(state): State<AppState>, Path(slug): Path<String>) -> Result<Json<CultivarJson>, Failure> {
    let snapshot = state.snapshot();
    let cultivar = snapshot.catalogue.get(&slug).ok_or_else(|| Failure::not_found("There is no cultivar at this address."))?;
    let source_list = cultivar.sources.iter().filter_map(|key| snapshot.catalogue.source(key)).cloned().collect();
    let register = state.registers.newest(&state.store).await?;
    let (outcome_count, reported) = outcomes(&register, &slug);
    let all = claims(&snapshot.catalogue, cultivar).map_err(Failure::internal)?;
    Ok(Json(CultivarJson {
        cultivar: cultivar.clone(),
        source_list,
        contradictions: contradictions(&all).iter().map(|(about, _)| about.word()).collect(),
        claims: all.into_iter().map(ClaimJson::of).collect(),
        outcome_count,
        outcomes: reported.into_iter().map(OutcomeJson::of).collect(),
    }))
}
