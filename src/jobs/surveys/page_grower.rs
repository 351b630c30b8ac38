//! `/growers/{code}`: the public page of a grower who wants one: kinds, winters, and what they recommend.

use std::collections::BTreeMap;

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};

use crate::records::{Member, PublicCode, Winter};
use crate::science::hardiness::level::DamageLevel;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::Visitor;

#[derive(Template, WebTemplate)]
#[template(path = "surveys/grower.html")]
struct GrowerPublicPage {
    frame: Frame,
    title: String,
    recommends: Vec<String>,
    /// Slug, name and how many plants of it.
    kinds: Vec<(String, String, usize)>,
    /// Plants whose name has no entry.
    others: usize,
    winters: Vec<WinterLine>,
    levels: [&'static str; 5],
    questions: Vec<(String, String)>,
    /// For stewards: its word, and whether it is set aside.
    judged: Option<(String, bool)>,
}

/// What a winter did, from reports that count.
struct WinterLine {
    winter: String,
    levels: [usize; 5],
    coldest: String,
}

/// `GET /growers/{code}`.
pub async fn show(frame: Frame, State(state): State<AppState>, visitor: Visitor, Path(code): Path<String>) -> Result<Response, Failure> {
    let absent = || Failure::not_found("There is no such page.");
    let code = PublicCode::typed(&code).ok_or_else(absent)?;
    let is_steward = visitor.member().is_some_and(Member::may_review);
    let page = state.store.grower_page_by_code(&code).await?.filter(|page| is_steward || !page.set_aside).ok_or_else(absent)?;
    let snapshot = state.snapshot();
    let (mut kinds, mut others) = (BTreeMap::<(String, String), usize>::new(), 0);
    for plant in state.store.plants_of(page.member).await? {
        match plant.cultivar.as_ref().and_then(|slug| snapshot.catalogue.get(slug.as_str())) {
            Some(fig) => *kinds.entry((fig.name.clone(), fig.slug.to_string())).or_default() += 1,
            None => others += 1,
        }
    }
    let mut winters: BTreeMap<Winter, WinterLine> = BTreeMap::new();
    for report in state.store.reports_of(page.member).await?.iter().filter(|report| report.state.counts()) {
        let winter = report.record.winter;
        let line =
            winters.entry(winter).or_insert_with(|| WinterLine { winter: winter.to_string(), levels: [0; 5], coldest: String::new() });
        if let Some(count) = report.record.damage().and_then(|damage| line.levels.get_mut(damage.high().index())) {
            *count += 1;
        }
        if let Some(coldest) = report.record.coldest.as_ref().filter(|_| line.coldest.is_empty()) {
            line.coldest = frame.temperature(coldest.celsius);
        }
    }
    let open = state.store.surveys_of(page.member).await?.into_iter().filter(|survey| survey.open);
    Ok(GrowerPublicPage {
        recommends: page.recommends.lines().map(str::trim).filter(|line| !line.is_empty()).map(str::to_owned).collect(),
        kinds: kinds.into_iter().map(|((name, slug), plants)| (slug, name, plants)).collect(),
        others,
        winters: winters.into_values().rev().collect(),
        levels: DamageLevel::ALL.map(DamageLevel::label),
        questions: open.map(|survey| (survey.code.to_string(), survey.winter.to_string())).collect(),
        judged: is_steward.then(|| (code.to_string(), page.set_aside)),
        title: page.title,
        frame,
    }
    .into_response())
}
