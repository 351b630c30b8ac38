//! `/spring`: is it dead, how long do I wait, figs this year, when is it safe, autumn, cutting back.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use jiff::tz::TimeZone;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::shortlist::page::said_place;
use crate::jobs::shortlist::question::{Place, USUAL_CLIMATE};
use crate::jobs::spring::answer::SpringAnswer;
use crate::jobs::spring::page_form::SpringForm;
use crate::jobs::spring::page_safe::{SafeView, carrying, safe_views};
use crate::jobs::spring::question::{Seen, SpringQuestion};
use crate::jobs::spring::record_seasons::SpringRecord;
use crate::jobs::spring::{words, words_alive};
use crate::jobs::station_record::page_saved::{asked_record, reading_of, records_of};
use crate::model::snapshot::Snapshot;
use crate::records::NamedSite;
use crate::science::climate::season::Origin;
use crate::science::fruiting::asleep::Verdict;
use crate::web::charts::drops::{Drop, drops};
use crate::web::charts::heat_year::{Drawn, HeatYear};
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::Visitor;

/// The form alone, or again with what is wrong.
#[derive(Template, WebTemplate)]
#[template(path = "spring/spring_ask.html")]
struct Ask {
    frame: Frame,
    title: &'static str,
    form: SpringForm,
    errors: Vec<FieldError>,
}

/// The answer.
#[derive(Template, WebTemplate)]
#[template(path = "spring/spring.html")]
#[expect(clippy::struct_excessive_bools, reason = "each opens or closes a part of the page")]
struct SpringPage {
    frame: Frame,
    title: String,
    asked: String,
    hemisphere: &'static str,
    season: &'static str,
    asleep: bool,
    assumed: Vec<String>,
    by_record: Option<String>,
    alive: String,
    wait: Vec<String>,
    wait_reasons: Vec<String>,
    silent: bool,
    figs: String,
    figs_drops: Vec<Drop>,
    first_figs: Option<String>,
    crops: Vec<String>,
    left: Vec<(&'static str, String, String)>,
    fig_reasons: Vec<String>,
    next: Vec<String>,
    heat_note: String,
    chart: HeatYear,
    back: Vec<(usize, String)>,
    back_words: Option<String>,
    safe: Vec<SafeView>,
    safe_dates: String,
    carrying: String,
    green: Vec<(&'static str, String, &'static str)>,
    autumn: bool,
    cuts: Vec<CutView>,
    head_start: HeadStartView,
    learned: Vec<String>,
    sources: Vec<SourceView>,
    advice: Vec<(&'static str, &'static str)>,
    model: String,
    season_assumed: bool,
    form: SpringForm,
}

struct CutView {
    depth: String,
    figs: String,
    later: String,
    shoots: String,
}

struct HeadStartView {
    words: String,
    without: (String, String),
    rows: Vec<(String, String, String, String)>,
    given: bool,
}

struct SourceView {
    key: String,
    what: String,
    value: String,
    from: String,
}

/// Rows of the table of starting values that the answer rests on.
const SOURCES: [&str; 29] = [
    "main_need",
    "breba_need",
    "regrowth_need",
    "ripening_step",
    "cultivar_spread",
    "ripening_unknown_spread",
    "ripe_report_spread",
    "growth_start_mean",
    "leafing_heat",
    "delay_tips",
    "delay_wood",
    "delay_ground",
    "regrowth_share",
    "wood_share_without_regrowth",
    "breba_kept",
    "heat_year_spread",
    "heat_place_spread",
    "hard_frost_after",
    "shown_wood",
    "shown_ground",
    "shown_shape",
    "seasons_to_full_crop",
    "green_fig_pea",
    "green_fig_growing",
    "green_fig_full_green",
    "green_fig_swelling",
    "regrowth_length",
    "regrowth_length_by_heat",
    "regrowth_length_by_age",
];

/// Asks, or answers, or shows what is wrong with the question and keeps what was typed.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let sites = records_of(&state, &visitor).await?;
    if pairs.iter().all(|(_, value)| value.trim().is_empty()) {
        let form = SpringForm::new(pairs, FieldErrors::default(), &frame, &snapshot, &sites);
        return Ok(Ask { frame, title: "Is it dead, and how long do I wait?", form, errors: Vec::new() }.into_response());
    }
    let record = match asked_record(&pairs) {
        Some(id) => Some(reading_of(&state, &visitor, id).await?),
        None => None,
    };
    let now = TimeZone::UTC.to_datetime(state.clock.now()).date();
    match SpringQuestion::parse(&pairs, &snapshot, now, record.as_ref().map(|(name, reading)| (name.as_str(), reading))) {
        Ok(question) => {
            let answer = snapshot.spring(&question);
            Ok(page(frame, &snapshot, &question, &answer, pairs, &sites).into_response())
        }
        Err(errors) => {
            let listed = errors.iter().cloned().collect();
            let form = SpringForm::new(pairs, errors, &frame, &snapshot, &sites);
            Ok((StatusCode::UNPROCESSABLE_ENTITY, Ask { frame, title: "This needs a second look", form, errors: listed }).into_response())
        }
    }
}

/// The place of a question, for the page of dates: its record where one speaks for it.
fn safe_dates_query(question: &SpringQuestion) -> String {
    format!("half={}&{}", question.hemisphere, question.place.to_query())
}

fn page(
    frame: Frame,
    snapshot: &Snapshot,
    question: &SpringQuestion,
    answer: &SpringAnswer<'_>,
    pairs: Vec<(String, String)>,
    sites: &[NamedSite],
) -> SpringPage {
    let day = |d: f64| words::day(question, d);
    let outlook = &answer.outlook;
    let best = if outlook.breba.chance > outlook.main.chance { &outlook.breba } else { &outlook.main };
    let season = words::season(question);
    let figs = if answer.figs_range.high <= 0.0 {
        format!("No ripe figs {season}.")
    } else {
        let range = words::chances(answer.figs_range.low, answer.figs_range.high);
        format!("Chance of ripe figs {season}: {} (90 % range {range}).", words::chance(answer.figs))
    };
    let first_figs = best.days.filter(|_| answer.figs >= 0.05).map(|days| match best.ripe_by_today {
        p if p < 0.5 => format!("If they ripen, the first come about {}.", day(days.middle)),
        _ => format!("In most years the first are ripe by now; if not, about {}.", day(days.middle)),
    });
    let known = answer.silent.is_none();
    let crops = [("Early crop", &outlook.breba), ("Main crop", &outlook.main)]
        .iter()
        .filter(|_| known)
        .filter_map(|(what, crop)| words::crop(question, what, crop))
        .collect();
    let today = question.so_far().today.unwrap_or(0.0);
    SpringPage {
        title: title(question, answer, &frame),
        asked: question.today.strftime("%-d %B %Y").to_string(),
        hemisphere: question.hemisphere.label(),
        season,
        asleep: answer.silent.is_some_and(|silent| silent.verdict == Verdict::Asleep),
        by_record: question.record.as_ref().map(|record| by_record(record, question, &frame)),
        assumed: assumed(question, answer, &pairs, &frame),
        alive: words_alive::alive(question, answer),
        wait: words_alive::wait(question, answer),
        wait_reasons: words_alive::wait_reasons(question, answer),
        silent: answer.silent.is_some(),
        figs,
        figs_drops: drops(answer.figs),
        first_figs,
        crops,
        left: words::left(answer),
        fig_reasons: words::fig_reasons(question, answer),
        next: words_alive::next(question, answer),
        heat_note: heat_note(question, answer),
        chart: chart(question, answer),
        back: answer.return_to_crop.as_ref().map_or_else(Vec::new, |r| (1..).zip(r.by_season.iter().take(6)).map(|(n, &p)| (n, words::chance(p))).collect()),
        back_words: answer.return_to_crop.as_ref().map(|r| match r.season_by_which(0.5) {
            Some(n) => format!("Half of such plants bear a full crop again by the {} season, this one counted as the first; winters here kill to the ground again {}.", ordinal(n), crate::jobs::shortlist::reasons::in_ten(answer.ground_kill)),
            None => format!("Winters here kill to the ground again {}: most such plants do not come back to a full crop within ten seasons. A hardier kind, a wall or a winter cover would.", crate::jobs::shortlist::reasons::in_ten(answer.ground_kill)),
        }),
        safe: safe_views(question, answer, &frame),
        safe_dates: address::SAFE_DATES.with_query(&safe_dates_query(question)),
        carrying: carrying(question, answer),
        autumn: today >= AUTUMN,
        green: answer.green.iter().map(|g| (g.size.label(), words::chance(g.chance), words::fate(g.fate))).collect(),
        cuts: answer.cuts.iter().map(|c| CutView {
            depth: c.depth.label().to_owned(),
            figs: format!("{} instead of {}", words::chance(c.cut), words::chance(c.uncut)),
            later: format!("about {:.0} days later", c.later_days.mean),
            shoots: c.regrowth.map_or_else(String::new, words::shoots),
        }).collect(),
        head_start: head_start(question, answer, &frame),
        learned: words::learned(question, answer, snapshot.fruit_effects.as_ref()),
        sources: sources(snapshot),
        advice: vec![
            ("when_to_cut_dead_wood", "How far back, and when do I cut?"),
            ("few_figs_after_a_hard_cut", "Few figs after a hard cut"),
            ("collapse_after_leafing", "It leafed, then collapsed; split bark"),
            ("awake_in_store", "It woke early in its store"),
            ("wall_in_summer", "How much warmer a wall is"),
        ],
        model: snapshot.model.version.clone(),
        season_assumed: answer.season_assumed(),
        form: SpringForm::new(pairs, FieldErrors::default(), &frame, snapshot, sites),
        frame,
    }
}

/// From about the middle of July (or January) on, the page asks about green figs.
const AUTUMN: f64 = 212.0;

fn ordinal(n: usize) -> &'static str {
    ["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"]
        .get(n.saturating_sub(1))
        .copied()
        .unwrap_or("last")
}

pub(crate) fn title(question: &SpringQuestion, answer: &SpringAnswer<'_>, frame: &Frame) -> String {
    let place = match question.place.place {
        Place::Zone(zone) => format!("zone {zone}"),
        Place::Minimum { mean, .. } => format!("winters that reach {}", frame.short(mean)),
        Place::Said => said_place(&question.place, frame),
        Place::Record { .. } => question.record.as_ref().map_or_else(|| "this record".to_owned(), |record| record.name.clone()),
    };
    let seen = match (question.seen, &answer.silent) {
        (Seen::Nothing, Some(silent)) if silent.verdict == Verdict::Asleep => "asleep",
        (seen, _) => words::seen(seen),
    };
    format!("{}, {place}: {seen}", words::name(answer))
}

fn assumed(question: &SpringQuestion, answer: &SpringAnswer<'_>, pairs: &[(String, String)], frame: &Frame) -> Vec<String> {
    let given = |name: &str| pairs.iter().any(|(key, value)| key == name && !value.trim().is_empty());
    let season = &answer.site.season;
    let mut found = Vec::new();
    let by_town = question.place.said.as_ref().is_some_and(|said| said.spot.is_some());
    if question.record.is_none() && !by_town && !given("climate") {
        found.push(format!("the kind of climate is {}", USUAL_CLIMATE.label()));
    }
    if season.length_origin == Origin::Assumed {
        found.push(format!("{:.0} days without frost", season.frost_free_days()));
    }
    if season.warmth_origin == Origin::Assumed {
        let summer = question.place.summer().label();
        found.push(format!("{summer}, a warmest month of {} on average", frame.temperature(season.warmest_month())));
    }
    if answer.silent.is_some() && question.coldest().is_none() {
        found.push("a winter like any other here".to_owned());
    }
    found
}

/// What the record says in place of a zone.
fn by_record(record: &SpringRecord, question: &SpringQuestion, frame: &Frame) -> String {
    let seasons = record.seasons.as_ref().map_or_else(
        || "it holds too few whole years for seasons of its own, so that those are a usual year’s".to_owned(),
        |seasons| format!("{} seasons of it give heat and nights", seasons.seasons.len()),
    );
    let lowest = match record.lowest.filter(|_| question.lowest.is_none()) {
        Some((lowest, day)) => format!("; the winter’s lowest was {} on {}", frame.temperature(lowest), day.strftime("%-d %B %Y")),
        None => String::new(),
    };
    format!("{} speaks for the place: {seasons}{lowest}.", record.name)
}

fn heat_note(question: &SpringQuestion, answer: &SpringAnswer<'_>) -> String {
    let today = question.so_far().today.unwrap_or(0.0);
    let usual = answer.curve.until(today);
    let since = question.turn().strftime("%-d %B");
    if question.winter_ahead {
        return format!("Heat counts from {since} on. What this season brought is past, and says nothing of the next.");
    }
    let of_record = question.record.as_ref().and_then(|record| record.heat.map(|heat| (record, heat)));
    match (question.heat, question.heat_by_today(), of_record) {
        (Some(sum), ..) => format!("You measured {sum:.0} degree-days since {since}; a usual year here has {usual:.0} by today."),
        (None, Some(sum), Some((record, (counted, until)))) if until < question.today => format!(
            "{} counts {counted:.0} degree-days from {since} to the morning of {}; with what is usual since then that makes {sum:.0} by today, where a usual year here has {usual:.0}.",
            record.name,
            until.strftime("%-d %B")
        ),
        (None, Some(sum), Some((record, _))) => {
            format!("{} counts {sum:.0} degree-days since {since}; a usual year here has {usual:.0} by today.", record.name)
        }
        (None, ..) => format!(
            "By today a usual year here has {usual:.0} degree-days above 8 °C (46.4 °F) since {since}. Give your own sum and the dates follow it."
        ),
    }
}

fn head_start(question: &SpringQuestion, answer: &SpringAnswer<'_>, frame: &Frame) -> HeadStartView {
    let head = &answer.head_start;
    let day = |d: f64| words::day(question, d);
    let date = |d: Option<f64>| d.map_or_else(|| "none".to_owned(), day);
    HeadStartView {
        words: format!(
            "A pot, or a plant under a light cover, that spends {} to {} where it is warmer by day and night together starts sooner. In a usual year here, for a plant with {}{}:",
            day(head.days.0),
            day(head.days.1),
            words::state(head.level),
            head.without.1.map_or_else(String::new, |first| format!(
                "; dates are of a year that has its first figs about {} in the open",
                day(first)
            ))
        ),
        without: (words::chance(head.without.0), date(head.without.1)),
        rows: head
            .rows
            .iter()
            .map(|row| {
                let (chance, range) = row.chance;
                (
                    frame.difference(row.warmer),
                    format!(
                        "{} degree-days, {:.0} {}",
                        words::tens(row.gain.degree_days),
                        row.gain.days,
                        if row.gain.days.round() == 1.0 { "day" } else { "days" }
                    ),
                    format!("{} ({})", words::chance(chance), words::chances(range.low, range.high)),
                    date(row.first),
                )
            })
            .collect(),
        given: head.given,
    }
}

pub(crate) fn chart(question: &SpringQuestion, answer: &SpringAnswer<'_>) -> HeatYear {
    let day = |d: f64| words::day(question, d);
    let today = question.so_far().today.unwrap_or(0.0);
    let main = &answer.outlook.main;
    let mut days = Vec::new();
    if today >= 0.0 {
        days.push((today, format!("today, {}", day(today)), format!("today {}", day(today))));
    }
    if let Some(silent) = &answer.silent
        && let Some(by) = silent.wait.nine_in_ten
    {
        days.push((by, format!("9 in 10 have moved by {}", day(by)), format!("9 in 10: {}", day(by))));
    }
    if let Some(ripe) = main.days {
        days.push((ripe.middle, format!("first main-crop figs about {}", day(ripe.middle)), format!("figs: {}", day(ripe.middle))));
    }
    let frost = answer.curve.hard_frost();
    days.push((frost, format!("first night of −1 °C about {}", day(frost)), format!("−1 °C: {}", day(frost))));
    days.sort_by(|a, b| a.0.total_cmp(&b.0));
    let need = (main.chance > 0.0).then(|| answer.curve.until(answer.curve.growth_start()) + main.need.mean);
    HeatYear::new(
        &answer.curve,
        question.turn(),
        &Drawn { shown: answer.silent.is_some().then_some(&answer.shown), need, figs: main.days.map(|d| [d.early, d.late]), days },
    )
}

fn sources(snapshot: &Snapshot) -> Vec<SourceView> {
    SOURCES
        .iter()
        .filter_map(|key| snapshot.fruit_prior_rows.iter().find(|row| row.key == *key))
        .map(|row| SourceView {
            key: row.key.clone(),
            what: row.applies_to.clone(),
            value: if row.spread.is_empty() {
                format!("{} {}", row.value.replace('|', " | "), row.unit)
            } else {
                format!("{} ± {} {}", row.value, row.spread, row.unit)
            },
            from: format!(
                "{}{}",
                crate::web::frame::provenance(&row.provenance),
                if row.note.is_empty() { String::new() } else { format!(": {}", row.note) }
            ),
        })
        .collect()
}
