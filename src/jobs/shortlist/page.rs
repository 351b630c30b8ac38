//! `/shortlist?…`: the whole question in the address, the whole answer on the page.

use askama::Template;
use askama_web::WebTemplate;
use axum::Extension;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::FieldErrors;
use crate::jobs::places::page_box::KnownPlace;
use crate::jobs::season::words::{Calendar, StepWords, in_one_line, steps};
use crate::jobs::shortlist::answer::{Answer, Recommendation, Three};
use crate::jobs::shortlist::page_site_form::{SITE, SiteForm};
use crate::jobs::shortlist::question::{Place, Question, SeasonKnown, USUAL_CLIMATE, USUAL_ROWS};
use crate::jobs::shortlist::question_form::{MOST_ROWS, PARAMETERS};
use crate::jobs::shortlist::question_parts::without_place;
use crate::jobs::shortlist::reasons::{NAME_CONFUSED, evidence_words, improvement_sentence, in_ten, percent};
use crate::jobs::shortlist::stands::written_out;
use crate::jobs::shortlist::verdict::verdict;
use crate::jobs::shortlist::wants::{Wants, looks};
use crate::model::snapshot::Snapshot;
use crate::science::climate::kind::Summer;
use crate::science::climate::season::Origin;
use crate::science::climate::winters::Hemisphere;
use crate::science::hardiness::level::DamageLevel;
use crate::science::shortlist::RankBy;
use crate::science::site::{Culture, Protection, Site, YearsEstablished};
use crate::units::Celsius;
use crate::web::cells::tied;
use crate::web::charts::axis::TemperatureAxis;
use crate::web::charts::drops::{Drop, drops};
use crate::web::charts::ladder::Ladder;
use crate::web::charts::winters::Winters;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::kept_answers::Counted;
use crate::web::state::AppState;
use crate::web::visitor::Visitor;

/// The answer.
#[derive(Template, WebTemplate)]
#[template(path = "shortlist/shortlist.html")]
struct ShortlistPage {
    frame: Frame,
    title: String,
    lead: String,
    assumed: Vec<String>,
    /// Address and words of the other kind of summer, where one was assumed.
    other_summer: Option<(String, &'static str)>,
    /// Why something that was asked for beside the answer was not had.
    notice: Option<String>,
    known: Option<KnownPlace>,
    doubt: Option<String>,
    three: Option<ThreeView>,
    first_winter: Vec<StepWords>,
    /// The same in one line.
    first_winter_line: String,
    /// Dates for uncovering and moving out at the same place.
    safe_dates: String,
    /// Whether its dates assume the northern half of the Earth.
    north_assumed: bool,
    verdict: Vec<String>,
    winters: Winters,
    rows: Vec<RowView>,
    ranked: usize,
    left_out: Vec<(String, String)>,
    more: Option<String>,
    /// The filters in words.
    wanted: Option<String>,
    /// Address of the same question without them.
    unfiltered: String,
    /// Address of what to copy into a page of another site.
    embed: String,
    /// Address that compares the first rows with each other.
    compare: Option<String>,
    form: SiteForm,
    rankings: Vec<RankingLink>,
    reports: usize,
    version: String,
}

/// A question that could not be read, with the form to correct it.
#[derive(Template, WebTemplate)]
#[template(path = "shortlist/shortlist_again.html")]
struct Again {
    frame: Frame,
    form: SiteForm,
    errors: Vec<crate::input::errors::FieldError>,
}

/// Figs to plant together.
struct ThreeView {
    sentence: String,
    /// What came of the second wish.
    wish: Option<&'static str>,
    /// The verdict without their names.
    short: String,
    figs: Vec<FigOfThree>,
    /// Address of the three beside each other.
    compare: Option<String>,
}

struct FigOfThree {
    row: RowView,
    role: &'static str,
    /// The same in a few words.
    brief: &'static str,
    /// Address of the same question for somebody who has it already.
    had: String,
}

impl ThreeView {
    fn new(three: &Three<'_>, question: &Question, axis: TemperatureAxis, winters: &Winters, frame: &Frame) -> Self {
        let figs = three.figs.iter().zip(three.roles()).map(|(r, role)| {
            let slug = r.cultivar.slug.to_string();
            let have = question.have.iter().cloned().chain([slug]).collect();
            let had = address::SHORTLIST.with_query(&Question { have, ..question.clone() }.to_query());
            let row = RowView { sheet: sheet(r.cultivar.slug.as_str(), &question.planting_query()), ..row(r, axis, winters, frame) };
            FigOfThree { row, role: role.words(), brief: role.brief(), had }
        });
        let slugs: Vec<&str> = three.figs.iter().map(|r| r.cultivar.slug.as_str()).collect();
        Self {
            sentence: three.sentence(),
            short: three.short(),
            wish: three.wish_sentence(),
            figs: figs.collect(),
            compare: compared(question, &slugs),
        }
    }
}

struct RankingLink {
    words: &'static str,
    address: String,
    current: bool,
}

/// One row as shown.
pub(crate) struct RowView {
    pub(crate) rank: usize,
    pub(crate) slug: String,
    pub(crate) name: String,
    pub(crate) reasons: Vec<String>,
    pub(crate) asides: Vec<String>,
    pub(crate) drops: Vec<Drop>,
    pub(crate) years: String,
    pub(crate) range: String,
    pub(crate) could_be: String,
    /// Years in ten that one can count on.
    pub(crate) count_on: String,
    pub(crate) five_in_ten: String,
    pub(crate) best: String,
    pub(crate) guessed: bool,
    pub(crate) ladder: Ladder,
    pub(crate) evidence: String,
    /// Address of its sheet for the same place; empty where the place is no question of its own.
    pub(crate) sheet: String,
    pub(crate) thin: bool,
    /// What the catalogue knows of its eating and looks.
    pub(crate) looks: String,
    pub(crate) changes: Vec<String>,
    pub(crate) alive: String,
    pub(crate) levels: [String; 5],
    pub(crate) level_ranges: [String; 5],
    pub(crate) to_ground: String,
    pub(crate) to_ground_range: String,
}

/// Answers, or shows what is wrong with the question and keeps what was typed.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Result<Visitor, Failure>,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    if let Some(address) = by_record(&pairs) {
        return Ok(Redirect::to(&address).into_response());
    }
    let records = Visitor::records_if_known(&visitor, &state).await;
    let snapshot = state.snapshot();
    Ok(match Question::parse_for(&pairs, false, &snapshot.catalogue) {
        Ok(question) => {
            let asked = question.kind(None, &snapshot);
            state.asked.count(asked.clone(), state.clock.now());
            let answer = snapshot.recommend(&question.on_a_page());
            let mut page = page(frame, &state, &snapshot, &answer, &pairs, None);
            page.form = page.form.with_records(&records);
            (Extension(Counted(asked)), page).into_response()
        }
        Err(errors) => {
            let listed: Vec<_> = errors.iter().cloned().collect();
            let form = SiteForm::new(written_out(&pairs), errors, &frame, "Show my shortlist").with_records(&records);
            (StatusCode::UNPROCESSABLE_ENTITY, Again { frame, form, errors: listed }).into_response()
        }
    })
}

/// The address that answers a question by a daily record of the member's, where one was chosen: the record’s own page, with everything but the
/// place.
fn by_record(pairs: &[(String, String)]) -> Option<String> {
    let id = pairs.iter().find(|(name, value)| name == SITE && !value.trim().is_empty()).map(|(_, id)| id.clone())?;
    let planting = without_place(&written_out(pairs)).into_iter().filter(|(name, _)| PARAMETERS.contains(&name.as_str()));
    Some(address::RECORD.with([(SITE.to_owned(), id)].into_iter().chain(planting)))
}

/// The answer to a question without the record of a station that was asked for, with the reason.
pub(crate) fn without_record(frame: Frame, state: &AppState, question: &Question, pairs: &[(String, String)], notice: String) -> Response {
    let snapshot = state.snapshot();
    let answer = snapshot.recommend(&question.clone().on_a_page());
    page(frame, state, &snapshot, &answer, pairs, Some(notice)).into_response()
}

fn page(
    frame: Frame,
    state: &AppState,
    snapshot: &Snapshot,
    answer: &Answer<'_>,
    pairs: &[(String, String)],
    notice: Option<String>,
) -> ShortlistPage {
    let question = &answer.question;
    let hemisphere = question.hemisphere();
    let today = jiff::tz::TimeZone::UTC.to_datetime(state.clock.now()).date();
    let cold = |t: Celsius| tied(&frame.short(t));
    let calendar = Calendar { today, hemisphere: hemisphere.unwrap_or(Hemisphere::North), cold: &cold };
    let first_winter = answer.first_winter.as_ref().map(|first| steps(first, &calendar)).unwrap_or_default();
    let known = KnownPlace::new(question.said.as_ref(), question.estimate(&snapshot.priors), address::SHORTLIST, pairs, &frame);
    let axis = TemperatureAxis::for_site(&answer.site.one_winter());
    let winters = Winters::new(&answer.site.one_winter(), axis, &frame);
    let query = question.planting_query();
    let with_sheet = |r: &Recommendation<'_>| RowView { sheet: sheet(r.cultivar.slug.as_str(), &query), ..row(r, axis, &winters, &frame) };
    let rows = answer.rows.iter().map(with_sheet).collect();
    let more = (answer.rows.len() < answer.ranked)
        .then(|| address::SHORTLIST.with_query(&Question { limit: Some(MOST_ROWS), ..question.clone() }.to_query()));
    let rankings = RankBy::ALL
        .iter()
        .map(|&by| RankingLink {
            words: by.label(),
            address: address::SHORTLIST.with_query(
                &Question { rank_by: by, limit: question.limit.filter(|&rows| rows != USUAL_ROWS), ..question.clone() }.to_query(),
            ),
            current: by == question.rank_by,
        })
        .collect();
    ShortlistPage {
        title: title(question, &frame),
        lead: lead(question),
        assumed: assumed(answer, pairs, &frame),
        other_summer: other_summer(answer),
        notice,
        doubt: snapshot
            .doubt_sentence(answer)
            .map(|doubt| [Some(doubt), Snapshot::place_sentence(answer)].into_iter().flatten().collect::<Vec<_>>().join(" ")),
        three: answer.three.as_ref().map(|three| ThreeView::new(three, question, axis, &winters, &frame)),
        known: match (known, &state.archive) {
            (Some(known), Some(archive)) => Some(known.fetching(pairs, question.said.as_ref(), archive.list().as_deref(), &frame)),
            (known, _) => known,
        },
        embed: address::EMBED.with_query(&question.planting_query()),
        compare: first_compared(answer),
        wanted: question.wants.words(),
        unfiltered: address::SHORTLIST.with_query(&Question { wants: Wants::default(), ..question.clone() }.to_query()),
        first_winter_line: in_one_line(&first_winter),
        first_winter,
        safe_dates: address::SAFE_DATES.with_query(&Question { wants: Wants::default(), ..question.clone() }.to_query()),
        north_assumed: hemisphere.is_none(),
        verdict: verdict(answer),
        winters,
        rows,
        ranked: answer.ranked,
        left_out: answer.left_out.iter().map(|c| (c.slug.to_string(), c.name.clone())).collect(),
        more,
        form: SiteForm::new(written_out(pairs), FieldErrors::default(), &frame, "Show the new shortlist"),
        rankings,
        reports: snapshot.model.reports,
        version: snapshot.model.version.clone(),
        frame,
    }
}

/// Most of the first rows that are offered for comparison.
const COMPARED: usize = 3;

/// The address that compares the first rows with each other.
fn first_compared(answer: &Answer<'_>) -> Option<String> {
    compared(&answer.question, &answer.rows.iter().take(COMPARED).map(|row| row.cultivar.slug.as_str()).collect::<Vec<_>>())
}

/// The address that compares some figs with each other; none for a record, which an address does not hold.
fn compared(question: &Question, slugs: &[&str]) -> Option<String> {
    if matches!(question.place, Place::Record { .. }) || slugs.len() < 2 {
        return None;
    }
    let figs = slugs.iter().map(|slug| format!("cultivar={slug}"));
    let question = Question { limit: None, have: Vec::new(), wants: Wants::default(), ..question.clone() };
    Some(address::COMPARE.with_query(&figs.chain([question.to_query()]).collect::<Vec<_>>().join("&")))
}

/// The question said back.
pub(crate) fn title(question: &Question, frame: &Frame) -> String {
    let place = match question.place {
        Place::Zone(zone) => format!("zone {zone}"),
        Place::Minimum { mean, .. } => format!("winters that reach {}", frame.temperature(mean)),
        Place::Said => said_place(question, frame),
        Place::Record { .. } => "this record".to_owned(),
    };
    let setting = question.setting;
    let stands = match question.culture {
        Culture::Ground if setting.is_open() => "in the open ground".to_owned(),
        Culture::Ground => format!("in the ground, {}", setting.label()),
        Culture::Container(_) if setting.is_open() => "in a pot in the open".to_owned(),
        Culture::Container(_) => format!("in a pot, {}", setting.label()),
    };
    let stands = if question.protection == Protection::CarriedIn { "in a pot".to_owned() } else { stands };
    // A town says itself what climate it has.
    if question.said.as_ref().is_some_and(|said| said.spot.is_some()) {
        return format!("Figs for {place}, {stands}");
    }
    let climate = match question.climate {
        crate::science::climate::kind::ClimateKind::Coast => "on the coast",
        other => other.label(),
    };
    format!("Figs for {place}, {climate}, {stands}")
}

/// A place that was said, in words: a town, or a remembered night.
pub(crate) fn said_place(question: &Question, frame: &Frame) -> String {
    let Some(said) = &question.said else { return String::new() };
    match (&said.spot, said.remembered) {
        (Some(spot), _) if spot.point.is_some() => format!("{} (near {})", said.words, spot.town.label()),
        (Some(spot), _) => spot.town.label(),
        (None, Some((coldest, winters))) => {
            format!("a garden whose coldest night in {} winters was {}", winters.winters(), frame.short(coldest))
        }
        (None, None) => String::new(),
    }
}

fn lead(question: &Question) -> String {
    let ranked = match question.rank_by {
        RankBy::Fruit => "Ranked by the years in ten with ripe figs that you can count on",
        RankBy::Wood => "Ranked by how often the plant keeps its wood",
        RankBy::Alive => "Ranked by how surely the plant stays alive",
    };
    let plant = match question.years.years() {
        0 => "a plant in its first winter".to_owned(),
        1 => "a plant one year in place".to_owned(),
        n if question.years < YearsEstablished::ESTABLISHED => format!("a plant {n} years in place"),
        _ if matches!(question.culture, Culture::Container(_)) => "a plant of five years or more".to_owned(),
        _ => "an established tree".to_owned(),
    };
    let winter = match question.protection {
        Protection::None => "without protection".to_owned(),
        Protection::Mulch => "with mulch over the crown".to_owned(),
        Protection::Wrap => "wrapped in cloth for winter".to_owned(),
        Protection::CoverToGround => "under a cover down to the ground".to_owned(),
        Protection::FilledCage => "in a cage filled with leaves or straw".to_owned(),
        Protection::UnheatedHouse => "in an unheated house".to_owned(),
        Protection::CarriedIn => "carried into a shed or garage for winter".to_owned(),
    };
    format!("{ranked}, from {plant} {winter}.")
}

/// What nobody said and the answer had to assume.
fn assumed(answer: &Answer<'_>, pairs: &[(String, String)], frame: &Frame) -> Vec<String> {
    let given = |name: &str| pairs.iter().any(|(key, value)| key == name && !value.trim().is_empty());
    let Site { season, .. } = &answer.site;
    let mut found = Vec::new();
    let by_town = answer.question.said.as_ref().is_some_and(|said| said.spot.is_some());
    if !given("climate") && !by_town && !matches!(answer.question.place, Place::Record { .. }) {
        found.push(format!("the kind of climate is {}", USUAL_CLIMATE.label()));
    }
    if season.length_origin == Origin::Assumed {
        found.push(format!("{:.0} days without frost", season.frost_free_days()));
    }
    if season.warmth_origin == Origin::Assumed {
        let summer = answer.question.summer().label();
        found.push(format!("{summer}, a warmest month of {} on average", frame.temperature(season.warmest_month())));
    }
    found
}

/// The same question for the other kind of summer, where one was assumed.
fn other_summer(answer: &Answer<'_>) -> Option<(String, &'static str)> {
    let question = &answer.question;
    if answer.site.season.warmth_origin != Origin::Assumed {
        return None;
    }
    let other = match question.summer() {
        Summer::Cool => Summer::Warm,
        Summer::Warm => Summer::Cool,
    };
    let season = SeasonKnown { summer: Some(other), ..question.season };
    Some((address::SHORTLIST.with_query(&Question { season, ..question.clone() }.to_query()), other.label()))
}

/// Address of the sheet of a fig for a place and a planting.
pub(crate) fn sheet(slug: &str, query: &str) -> String {
    address::BENCH.with_query(&format!("cultivar={slug}&{query}"))
}

/// A row ready to be written.
pub(crate) fn row(r: &Recommendation<'_>, axis: TemperatureAxis, winters: &Winters, frame: &Frame) -> RowView {
    let (evidence, thin) = evidence_words(r.standing);
    let whole = |share: f64| (10.0 * share).round() as u32;
    let (low, high) = (whole(r.ripe_range.low), whole(r.ripe_range.high));
    let t50 = r.thresholds.t50;
    RowView {
        rank: r.rank,
        slug: r.cultivar.slug.to_string(),
        name: r.cultivar.name.clone(),
        reasons: r.reasons.iter().filter(|reason| reason.code != NAME_CONFUSED).map(|reason| reason.sentence.clone()).collect(),
        asides: r.reasons.iter().filter(|reason| reason.code == NAME_CONFUSED).map(|reason| reason.sentence.clone()).collect(),
        drops: drops(r.row.ripe_share),
        years: whole(r.row.ripe_share).to_string(),
        could_be: if low == high { "hardly any doubt".to_owned() } else { format!("could be {low} to {high}") },
        count_on: in_ten(r.row.sure.lower_quartile),
        five_in_ten: percent(r.row.sure.five_in_ten),
        best: percent(r.row.sure.best),
        guessed: r.row.guessed,
        range: if low == high { format!("{low}") } else { format!("{low} to {high}") },
        ladder: Ladder::new(&r.thresholds, axis, winters, frame)
            .with_reports(r.strip.marks().into_iter().map(|seen| (seen.outside, seen.level, seen.reports)), axis),
        evidence,
        sheet: String::new(),
        looks: looks(r.cultivar),
        thin,
        changes: r.improvements.iter().map(|tried| improvement_sentence(tried, &r.row)).collect(),
        alive: percent(r.row.winter.alive_long_run),
        levels: DamageLevel::ALL.map(|level| percent(r.row.winter.chance.of(level))),
        level_ranges: DamageLevel::ALL.map(|level| {
            let range = r.interval.of(level);
            format!("{} to {}", percent(range.low), percent(range.high))
        }),
        to_ground: frame.temperature(t50[2]),
        to_ground_range: frame.range(r.thresholds.to_ground_interval),
    }
}
