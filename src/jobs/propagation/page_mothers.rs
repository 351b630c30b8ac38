//! `/garden/mothers`: which mother plants to risk outdoors, which to keep two of, and what a cut of one gives.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::garden::usual_place::usual_place;
use crate::jobs::propagation::mothers::{CutQuestion, KindAnswer, MothersAnswer, words_of};
use crate::jobs::propagation::page::{counted_batches, prior_words};
use crate::jobs::propagation::words::{percent, rest, risk, sticks, way};
use crate::records::{HeldPoint, Hemisphere, Plant, Winter};
use crate::science::propagation::MotherCut;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

#[derive(Template, WebTemplate)]
#[template(path = "propagation/mothers.html")]
struct MothersPage {
    frame: Frame,
    typed: Typed,
    errors: Vec<FieldError>,
    winter: String,
    kinds: Vec<KindView>,
    left_out: Vec<(String, &'static str)>,
    plants: Vec<Choice>,
    /// What cuts of the chosen plant give.
    cuts: Option<Vec<CutView>>,
    /// Why nothing is said of its cuts.
    no_cuts: bool,
    sources: Vec<(&'static str, String)>,
}

/// A kind.
struct KindView {
    name: String,
    address: String,
    all_lost: String,
    risk: &'static str,
    plants: Vec<(String, String, String)>,
    /// The way with the least work that halves it, and the others: words, chance then, minutes.
    cheapest: Option<WayView>,
    others: Vec<WayView>,
}

struct WayView {
    words: String,
    then: String,
    minutes: String,
    halves: bool,
}

struct CutView {
    depth: &'static str,
    sticks: String,
    rest: String,
    figs: String,
}

fn kind_view(kind: &KindAnswer) -> KindView {
    let words: Vec<String> = kind.plants.iter().map(|plant| plant.words.clone()).collect();
    let mut ways: Vec<WayView> = kind
        .ways
        .iter()
        .map(|answer| WayView {
            words: way(answer, &words),
            then: percent(answer.all_lost),
            minutes: format!("{:.0} minutes", answer.minutes),
            halves: answer.halves,
        })
        .collect();
    let cheapest = ways.first().is_some_and(|way| way.halves).then(|| ways.remove(0));
    KindView {
        name: kind.name.clone(),
        address: address::cultivar(&kind.slug),
        all_lost: percent(kind.all_lost),
        risk: risk(kind.risk, kind.plants.len()),
        plants: kind.plants.iter().map(|p| (address::plant(p.id), p.words.clone(), percent(p.dies))).collect(),
        cheapest,
        others: ways,
    }
}

fn cut_view(cut: &MotherCut) -> CutView {
    let (after, before) = cut.chance;
    let forgone = cut.figs_forgone.map_or_else(String::new, |figs| format!("; about {figs:.0} figs fewer"));
    CutView {
        depth: cut.depth.label(),
        sticks: sticks(cut),
        rest: rest(cut),
        figs: format!("{} instead of {}{forgone}", percent(after), percent(before)),
    }
}

/// The winter that comes, or goes on.
fn this_winter(plants: &[Plant], now: jiff::Timestamp) -> Result<Winter, Failure> {
    let hemisphere = plants.iter().find_map(|plant| plant.place.point).map_or(Hemisphere::North, HeldPoint::hemisphere);
    let last = Winter::last_over(crate::records::winter::today(now), hemisphere).map_err(Failure::internal)?;
    Winter::new(last.year() + 1, hemisphere).map_err(Failure::internal)
}

/// `GET /garden/mothers`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    who: SignedIn,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let plants = state.store.plants_of(who.member.id).await?;
    let usual = usual_place(&*state.store, &who.member).await?;
    let own = counted_batches(&state.ledger.batches(&who.member).await?);
    let winter = this_winter(&plants, state.clock.now())?;
    let (question, errors) = match CutQuestion::parse(&pairs, &plants) {
        Ok(question) => (question, FieldErrors::default()),
        Err(errors) => (None, errors),
    };
    let asked = question.is_some();
    let (snapshot, mine) = (state.snapshot(), plants.clone());
    let (answer, cuts): (MothersAnswer, Option<Vec<MotherCut>>) = run_queued(move || {
        let answer = snapshot.mothers(&mine, usual.as_deref(), winter, &own);
        let cuts = question.and_then(|question| {
            let plant = mine.iter().find(|plant| plant.id == question.plant)?;
            snapshot.cuts_of(&question, plant, usual.as_deref(), winter)
        });
        (answer, cuts)
    })
    .await?;
    let status = if errors.is_empty() { StatusCode::OK } else { StatusCode::UNPROCESSABLE_ENTITY };
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    let snapshot = state.snapshot();
    let source = |what, key| (what, prior_words(key, &snapshot));
    let page = MothersPage {
        winter: winter.to_string(),
        kinds: answer.kinds.iter().map(kind_view).collect(),
        left_out: answer.left_out,
        plants: typed.choices("plant", "", plants.iter().map(|plant| (plant.id.to_string(), words_of(plant)))),
        no_cuts: asked && cuts.is_none(),
        cuts: cuts.map(|cuts| cuts.iter().map(cut_view).collect()),
        sources: vec![
            source("Length of a stick, m", "stick_length"),
            source("Share of last year’s length that makes sound sticks", "sound_share"),
            source("Share that a cut takes: shoots shortened, framework, to the ground", "cut_share"),
            source("Seasons of rest", "rest_seasons"),
            source("Minutes for a stick", "stick_minutes"),
            source("Minutes for a pot carried in and out", "carry_minutes"),
            source("Minutes for a cover", "cover_minutes"),
        ],
        errors: listed,
        typed,
        frame,
    };
    Ok((status, page).into_response())
}
