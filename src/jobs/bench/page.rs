//! `/bench`: the answer sheet for a buyer, one printed page for one plant and one place.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use jiff::civil::Date;
use qrcode::QrCode;
use qrcode::render::svg;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::bench::answer::{EARLY_WAYS, EarlyWinter, Sheet};
use crate::jobs::bench::verdicts::{Verdict, headline, verdicts};
use crate::jobs::compare::words::crop_words;
use crate::jobs::cultivars::page::{SourceLine, source_line};
use crate::jobs::season::first_winter::Step;
use crate::jobs::season::words::{Calendar, StepWords, told};
use crate::jobs::shortlist::named::identified;
use crate::jobs::shortlist::page::title;
use crate::jobs::shortlist::page_site_form::{SITE, SiteForm};
use crate::jobs::shortlist::question::{Place, Question};
use crate::jobs::shortlist::question_parts::without_place;
use crate::jobs::shortlist::reasons::{evidence_words, percent};
use crate::jobs::station_record;
use crate::jobs::station_record::answer::{Carried, site_and_heat};
use crate::jobs::station_record::page_saved::{asked_record, reading_of};
use crate::jobs::station_record::read::Reading;
use crate::model::snapshot::Snapshot;
use crate::records::NamedSite;
use crate::science::climate::winters::Hemisphere;
use crate::science::fruiting::year::RipeDays;
use crate::science::site::Protection;
use crate::units::Celsius;
use crate::web::cells::tied;
use crate::web::charts::axis::{TemperatureAxis, Tick};
use crate::web::charts::drops::{Drop, drops};
use crate::web::charts::ladder::Ladder;
use crate::web::charts::winters::Winters;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::Visitor;

/// Sources printed: the sheet has one page.
const SOURCES: usize = 3;

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
    name: String,
    title: String,
    headline: String,
    verdicts: [Verdict; 4],
    reasons: Vec<String>,
    drops: Vec<Drop>,
    range: String,
    ladder: Ladder,
    ticks_c: Vec<Tick>,
    ticks_f: Vec<Tick>,
    marks: Vec<(&'static str, String)>,
    first: Vec<(&'static str, String, String, String)>,
    /// What its first winter asks for.
    steps: Vec<StepWords>,
    /// Whether its dates assume the northern half of the Earth.
    north_assumed: bool,
    /// When to expect figs: crop, and dates.
    crops: Vec<(&'static str, String)>,
    /// What to do when it dies back.
    dies_back: String,
    /// Number of the winter, and for each way its chances of a killed top and of death.
    early: Vec<(&'static str, Vec<(String, String)>)>,
    early_ways: Vec<&'static str>,
    evidence: String,
    thin: bool,
    sources: Vec<SourceLine>,
    /// Sources that the sheet has no room for.
    more_sources: usize,
    slug: String,
    date: String,
    version: String,
    address: String,
    safe_dates: String,
    square: Option<String>,
    again: String,
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
    let date = today.strftime("%-d %B %Y").to_string();
    let printed = if let Some(record) = &record {
        // A record is its member's alone: nobody else can open its address.
        Printed { today, date, address: format!("by the daily record “{}”", record.name), square: None, place: record.place() }
    } else {
        let place = question.to_query();
        let query = format!("cultivar={slug}&{place}");
        // The host of the request will do where no public address was set.
        let address = frame.whole(&address::BENCH.with_query(&query));
        let square = frame.knows_its_host().then(|| square(&address)).flatten();
        Printed { today, date, address, square, place }
    };
    Ok(page(frame, &snapshot, &sheet, &question, printed).into_response())
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

/// What only a printed sheet carries.
struct Printed {
    today: Date,
    date: String,
    address: String,
    square: Option<String>,
    /// The place in an address.
    place: String,
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

/// A square code of an address, as SVG without inline style.
fn square(address: &str) -> Option<String> {
    let code = QrCode::new(address.as_bytes()).ok()?;
    let drawn = code.render::<svg::Color<'_>>().min_dimensions(120, 120).quiet_zone(true).build();
    // The document head that the crate writes does not belong inside a page.
    drawn.find("<svg").map(|start| drawn[start..].to_owned())
}

fn protection_words(protection: Protection) -> &'static str {
    match protection {
        Protection::None => "left as it is",
        Protection::Mulch => "mulched, 15 to 30 cm (6 to 12 in)",
        Protection::FilledCage => "in a cage filled with leaves",
        Protection::CarriedIn => "in a pot, carried into a shed",
        other => other.label(),
    }
}

/// What the first winter asks for; how long to wait in spring stands further down, for a winter of any year.
fn first_steps(sheet: &Sheet<'_>, calendar: &Calendar<'_>) -> Vec<StepWords> {
    let steps = sheet.steps.as_ref().map(|first| told(first, calendar)).unwrap_or_default();
    steps.into_iter().filter(|(step, _)| !matches!(step, Step::DoNotDig(_))).map(|(_, words)| words).collect()
}

/// When each crop first ripens.
fn crops(sheet: &Sheet<'_>, hemisphere: Hemisphere) -> Vec<(&'static str, String)> {
    let of = |what: &'static str, days: Option<RipeDays>| days.map(|_| (what, crop_words(days, hemisphere)));
    let crops = sheet.crops;
    [of("early crop", crops.early), of("main crop", crops.main), of("on shoots from the roots", crops.regrown)]
        .into_iter()
        .flatten()
        .collect()
}

/// What to do with a plant that shows nothing in spring, and what to expect of it then.
fn dies_back(sheet: &Sheet<'_>, calendar: &Calendar<'_>) -> String {
    let wait = match sheet.wait.nine_in_ten {
        Some(day) => format!(
            "Do not dig before {}: nine in ten that died back had shown growth by about {}.",
            calendar.date(sheet.wait.not_dead_before),
            calendar.date(day)
        ),
        None => format!("Do not dig before {}: the whole season may have to pass.", calendar.date(sheet.wait.not_dead_before)),
    };
    let then = match (sheet.standing.fruit.fruits_on_regrowth, sheet.after_ground_kill) {
        (Some(false), _) => "It bears nothing on shoots from the roots: figs come with older wood.".to_owned(),
        (Some(true), share) => format!("It bears on shoots from the roots: figs ripen that year in {} of cases here.", percent(share)),
        (None, share) => format!(
            "Nobody has recorded whether it bears on shoots from the roots; with that doubt figs ripen that year in {} of cases here.",
            percent(share)
        ),
    };
    format!("{wait} {then}")
}

const fn way_words(protection: Protection) -> &'static str {
    match protection {
        Protection::None => "Out, as it is",
        Protection::Mulch => "Out, mulched",
        _ => "In a pot, carried in",
    }
}

fn early_line(winter: &EarlyWinter) -> (&'static str, Vec<(String, String)>) {
    let nth = match winter.nth {
        1 => "First",
        2 => "Second",
        3 => "Third",
        4 => "Fourth",
        _ => "Fifth",
    };
    (nth, winter.ways.iter().map(|way| (percent(way.loses_top), percent(way.dies))).collect())
}

fn page(frame: Frame, snapshot: &Snapshot, sheet: &Sheet<'_>, question: &Question, printed: Printed) -> BenchPage {
    let axis = TemperatureAxis::for_site(&sheet.site.one_winter());
    let winters = Winters::new(&sheet.site.one_winter(), axis, &frame);
    let (evidence, thin) = evidence_words(sheet.standing);
    let whole = |share: f64| (10.0 * share).round() as u32;
    let hemisphere = question.hemisphere();
    let cold = |t: Celsius| tied(&frame.temperature(t));
    let calendar = Calendar { today: printed.today, hemisphere: hemisphere.unwrap_or(Hemisphere::North), cold: &cold };
    let sources = &sheet.cultivar.sources;
    BenchPage {
        name: sheet.cultivar.name.clone(),
        title: title(question, &frame).replacen("Figs for", "in", 1),
        headline: headline(sheet),
        verdicts: verdicts(sheet),
        reasons: sheet.reasons.iter().map(|r| r.sentence.clone()).collect(),
        drops: drops(sheet.row.ripe_share),
        range: format!("{} to {}", whole(sheet.ripe_range.low), whole(sheet.ripe_range.high)),
        ladder: Ladder::new(&sheet.thresholds, axis, &winters, &frame),
        ticks_c: axis.ticks_c(),
        ticks_f: axis.ticks_f(),
        marks: winters.marks.iter().map(|m| (m.words, m.temperature.clone())).collect(),
        first: sheet
            .first_winter
            .iter()
            .map(|w| {
                let (low, high) = (percent(w.dies_interval.low), percent(w.dies_interval.high));
                let range = if low == high { low } else { format!("{low} to {high}") };
                (protection_words(w.protection), percent(w.loses_top), percent(w.dies), range)
            })
            .collect(),
        steps: first_steps(sheet, &calendar),
        north_assumed: hemisphere.is_none(),
        crops: crops(sheet, calendar.hemisphere),
        dies_back: dies_back(sheet, &calendar),
        early: sheet.early_winters.iter().map(early_line).collect(),
        early_ways: EARLY_WAYS.into_iter().map(way_words).collect(),
        evidence,
        thin,
        sources: sources.iter().filter_map(|key| snapshot.catalogue.source(key)).take(SOURCES).map(source_line).collect(),
        more_sources: sources.len().saturating_sub(SOURCES),
        slug: sheet.cultivar.slug.to_string(),
        version: snapshot.model.version.clone(),
        again: address::BENCH.with_query(&printed.place),
        safe_dates: address::SAFE_DATES.with_query(&printed.place),
        by_record: matches!(question.place, Place::Record { .. }),
        date: printed.date,
        address: printed.address,
        square: printed.square,
        frame,
    }
}
