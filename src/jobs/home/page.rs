//! `/`: the form for the place of a fig.

use std::collections::BTreeMap;

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use jiff::Timestamp;
use jiff::civil::Date;

use crate::input::errors::FieldErrors;
use crate::jobs::cold_night::forecast::sources::attribution;
use crate::jobs::garden::usual_place::usual_place;
use crate::jobs::garden::winters_told::{WintersTold, half_of};
use crate::jobs::home::my_figs::{GroupNow, MyFigs};
use crate::jobs::home::my_figs_words::{group_words, hardened_words, more_words, rest_words, risk_words, week_words, young_words};
use crate::jobs::home::season_now::SeasonNow;
use crate::jobs::home::this_week::WeekAhead;
use crate::jobs::season::dates::day_words;
use crate::jobs::shortlist::page_site_form::SiteForm;
use crate::jobs::shortlist::question::Question;
use crate::jobs::station_record::page_saved::records_of;
use crate::jobs::warnings::tonight::Garden;
use crate::records::{HeldPoint, Member, Plant, WarningMeasure, Winter};
use crate::science::climate::winters::Hemisphere;
use crate::web::charts::fig_year::FigYear;
use crate::web::cpu_queue::run_queued;
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
    now: Option<NowView>,
    cultivars: usize,
    reports: usize,
}

/// A member's figs today, as shown.
struct NowView {
    town: String,
    rows: Vec<NowRow>,
    more: Option<String>,
    rest: String,
    young: Option<String>,
    /// Winter and how many plants have it still to be told.
    to_tell: Option<(String, usize)>,
    year: FigYear,
    /// By a forecast that is kept; `None`: by the usual year.
    week: Option<WeekView>,
}

/// The coming nights as forecast.
struct WeekView {
    words: String,
    /// The plan of the coldest night, where it comes near frost.
    plan: Option<String>,
    age: String,
    /// Whose forecast, and where its terms lie.
    whose: (&'static str, &'static str),
}

/// A group of alike plants.
struct NowRow {
    words: String,
    slug: Option<String>,
    hardened: String,
    harmed: String,
    week: String,
}

impl NowView {
    fn new(figs: &MyFigs, town: String, to_tell: Option<(String, usize)>, week: Option<WeekView>, frame: &Frame) -> Self {
        let cold = |c| frame.temperature(c);
        let row = |now: &GroupNow| {
            let (harmed, week) = risk_words(now, &cold);
            let slug = now.group.slug.as_ref().map(ToString::to_string);
            NowRow { words: group_words(now), slug, hardened: hardened_words(now), harmed, week }
        };
        let kinds = [("early crop", "c-ripe-early"), ("main crop", "c-ripe-main")];
        let lanes = figs.lanes.iter().map(|(name, crops)| {
            let crops = kinds.into_iter().zip(*crops).filter_map(|((what, class), days)| Some((what, class, days?)));
            (name.clone(), crops.collect())
        });
        let hemisphere = figs.hemisphere;
        Self {
            rows: figs.groups.iter().map(row).collect(),
            more: more_words(figs),
            rest: rest_words(figs),
            young: young_words(figs, &cold),
            year: FigYear::new(&figs.year.site.season, &figs.year.curve, lanes, hemisphere, &|day| day_words(day, hemisphere)),
            town,
            to_tell,
            week,
        }
    }
}

/// What a member's figs do today, where they have some at a place that can be looked up.
async fn now(state: &AppState, member: &Member, today: Date, frame: &Frame) -> Result<Option<NowView>, Failure> {
    let plants = state.store.plants_of(member.id).await?;
    let Some(town) = usual_place(state.store.as_ref(), member).await?.filter(|_| !plants.is_empty()) else { return Ok(None) };
    let reports = state.store.reports_of(member.id).await?;
    let told = WintersTold::of(&reports);
    let winter = Winter::last_over(today, half_of(&plants)).map_err(Failure::internal)?;
    let to_tell = Some(told.asked(&plants, winter).len()).filter(|many| *many > 0).map(|many| (winter.to_string(), many));
    let here: Vec<Plant> =
        plants.into_iter().filter(|plant| told.died(plant.id).is_none() && plant.place.words.as_deref() == Some(&town)).collect();
    let week = week(state, &here, state.clock.now()).await?;
    let choice = state.store.warning_choice(member.id).await?;
    let setups = state.store.setups_of(member.id).await?;
    let (snapshot, place, now) = (state.snapshot(), town.clone(), state.clock.now());
    let (figs, week) = run_queued(move || {
        let figs = snapshot.my_figs(&here.iter().collect::<Vec<_>>(), &place, today, week.as_ref().map(|(week, _)| week));
        let week = week.map(|(week, at)| {
            let plants = here.into_iter().filter(|plant| plant.place.point == Some(at)).collect();
            let risk = week.at_risk(&Garden { at, plants, setups }, choice.as_ref(), &snapshot, now);
            (week, risk.ok().flatten(), choice.map_or(WarningMeasure::Wood, |choice| choice.measure))
        });
        (figs, week)
    })
    .await?;
    let cold = |c| frame.temperature(c);
    let week = week.map(|(week, risk, measure)| WeekView {
        words: week_words(&week, risk.as_ref(), measure, &cold),
        plan: risk.map(|risk| risk.path),
        age: week.age(now),
        whose: attribution(week.source),
    });
    Ok(figs.map(|figs| NowView::new(&figs, town, to_tell, week, frame)))
}

/// The coming nights at the point where most of some plants stand, where its forecast is kept.
async fn week(state: &AppState, plants: &[Plant], now: Timestamp) -> Result<Option<(WeekAhead, HeldPoint)>, Failure> {
    let Some(forecasts) = &state.forecasts else { return Ok(None) };
    let mut points: BTreeMap<HeldPoint, usize> = BTreeMap::new();
    for point in plants.iter().filter_map(|plant| plant.place.point) {
        *points.entry(point).or_default() += 1;
    }
    let Some((at, _)) = points.into_iter().max_by_key(|(_, plants)| *plants) else { return Ok(None) };
    let kept = forecasts.kept(at, now).await?;
    Ok(kept.and_then(|(forecast, fetched)| WeekAhead::of(forecast, fetched, at)).map(|week| (week, at)))
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
    let now = match visitor.member() {
        Some(member) => now(&state, member, today, &frame).await?,
        None => None,
    };
    Ok(Home {
        now,
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
