//! `/`: the form for the place of a fig.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};

use crate::input::errors::FieldErrors;
use crate::jobs::garden::usual_place::usual_place;
use crate::jobs::home::season_now::SeasonNow;
use crate::jobs::shortlist::page_site_form::SiteForm;
use crate::jobs::shortlist::question::Question;
use crate::jobs::station_record::page_saved::records_of;
use crate::science::climate::winters::Hemisphere;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::Visitor;

/// The front page.
#[derive(Template, WebTemplate)]
#[template(path = "home/home.html")]
pub struct Home {
    frame: Frame,
    form: SiteForm,
    season: SeasonNow,
    member: bool,
    cultivars: usize,
    reports: usize,
}

/// Shows the form; what an address brings is already filled in.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Home, Failure> {
    let snapshot = state.snapshot();
    let records = records_of(&state, &visitor).await?;
    let mut pairs = frame.with_remembered_place(pairs);
    // A member's garden says where the next fig will stand too.
    if let (true, Some(member)) = (pairs.is_empty(), visitor.member()) {
        let place = usual_place(state.store.as_ref(), member).await?;
        pairs.extend(place.map(|words| ("place".to_owned(), words)));
    }
    let today = jiff::tz::TimeZone::UTC.to_datetime(state.clock.now()).date();
    let hemisphere = hemisphere_of(&pairs).unwrap_or(Hemisphere::North);
    Ok(Home {
        season: SeasonNow::on(today, hemisphere),
        member: visitor.member().is_some(),
        form: SiteForm::new(pairs, FieldErrors::default(), &frame, "Show my shortlist").with_stands().with_records(&records),
        frame,
        cultivars: snapshot.standings.len(),
        reports: snapshot.model.reports,
    })
}

/// Half of the Earth of the place that the form holds, where it is known.
fn hemisphere_of(pairs: &[(String, String)]) -> Option<Hemisphere> {
    let place: Vec<_> = pairs.iter().filter(|(name, value)| name == "place" && !value.trim().is_empty()).cloned().collect();
    let question = Question::parse(&place, false).ok()?;
    let (latitude, _) = question.said?.spot?.town.at;
    Some(if latitude < 0.0 { Hemisphere::South } else { Hemisphere::North })
}
