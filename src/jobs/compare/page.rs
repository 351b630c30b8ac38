//! The page of a comparison: which of a few figs, at one place.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::compare::answer::CompareAnswer;
use crate::jobs::compare::beside::{Beside, Way};
use crate::jobs::compare::question::{CULTIVAR, CompareQuestion, FIGS};
use crate::jobs::compare::words::{
    again_words, chance_words, crop_words, dies_of, grown_words, pair_sentence, same_garden_sentence, verdict,
};
use crate::jobs::season::dates::day_words;
use crate::jobs::shortlist::page::{RowView, row, title};
use crate::jobs::shortlist::page_site_form::SiteForm;
use crate::jobs::shortlist::reasons::percent;
use crate::model::snapshot::Snapshot;
use crate::science::climate::winters::Hemisphere;
use crate::science::fruiting::DegreeDayCurve;
use crate::science::fruiting::year::RipeDays;
use crate::web::charts::axis::TemperatureAxis;
use crate::web::charts::fig_year::FigYear;
use crate::web::charts::winters::Winters;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;

/// The answer.
#[derive(Template, WebTemplate)]
#[template(path = "compare/compare.html")]
struct ComparePage {
    frame: Frame,
    title: String,
    verdict: Option<String>,
    /// What gardens with two of them saw, a sentence a pair.
    gardens: Vec<String>,
    winters: Winters,
    rows: Vec<RowView>,
    columns: Vec<Column>,
    /// Frost, growth and ripe figs through the year.
    year: FigYear,
    /// Each way of growing, with a cell for every fig.
    ways: Vec<(&'static str, Vec<String>)>,
    /// Whether no place says on which half of the Earth the dates are.
    north_assumed: bool,
    pairs: Vec<PairView>,
    names: Vec<String>,
    form: SiteForm,
    version: String,
}

/// What stands beside each other, for one fig.
struct Column {
    name: String,
    best: String,
    figs: String,
    regrowth: &'static str,
    crop: &'static str,
    ripening: &'static str,
    dies_of: Option<String>,
    early: String,
    main: String,
    regrown: String,
    again: String,
    skin: String,
    reports: String,
}

struct PairView {
    /// Widths of the bar: the first, about the same, the second; and where the last begins.
    share: [String; 3],
    ends: String,
    a: String,
    b: String,
    sentence: String,
    ahead: String,
    behind: String,
    same: String,
}

/// The form, empty or with what is wrong.
#[derive(Template, WebTemplate)]
#[template(path = "compare/compare_form.html")]
struct CompareForm {
    frame: Frame,
    form: SiteForm,
    names: Vec<String>,
    errors: Vec<FieldError>,
}

/// Compares, or shows the form with what was typed.
pub async fn show(frame: Frame, State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let only_figs = pairs.iter().all(|(name, value)| name == CULTIVAR || value.trim().is_empty());
    if only_figs {
        let pairs = frame.with_remembered_place(pairs);
        return Ok(form_page(frame, &snapshot, pairs, FieldErrors::default()).into_response());
    }
    Ok(match CompareQuestion::parse(&pairs, false, &snapshot.catalogue) {
        Ok(question) => {
            let register = state.registers.newest(&state.store).await?;
            for cultivar in question.figs.iter().filter_map(|&fig| snapshot.catalogue.cultivars().get(fig)) {
                state.asked.count(question.place.kind(Some(&cultivar.slug), &snapshot), state.clock.now());
            }
            let answer = snapshot.compare(&question, &register);
            page(frame, &snapshot, &answer, pairs).into_response()
        }
        Err(errors) => (StatusCode::UNPROCESSABLE_ENTITY, form_page(frame, &snapshot, pairs, errors)).into_response(),
    })
}

fn typed_figs(pairs: &[(String, String)]) -> Vec<String> {
    pairs.iter().filter(|(name, value)| name == CULTIVAR && !value.trim().is_empty()).map(|(_, value)| value.clone()).collect()
}

fn site_form(frame: &Frame, snapshot: &Snapshot, pairs: Vec<(String, String)>, errors: FieldErrors) -> SiteForm {
    let figs =
        typed_figs(&pairs).into_iter().map(|typed| snapshot.catalogue.get(&typed).map_or(typed.clone(), |fig| fig.name.clone())).collect();
    SiteForm::new(pairs, errors, frame, "Compare").for_figs(address::COMPARE, figs, FIGS.1)
}

fn names(snapshot: &Snapshot) -> Vec<String> {
    snapshot.catalogue.cultivars().iter().map(|c| c.name.clone()).collect()
}

fn form_page(frame: Frame, snapshot: &Snapshot, pairs: Vec<(String, String)>, errors: FieldErrors) -> CompareForm {
    let listed = errors.iter().cloned().collect();
    CompareForm { form: site_form(&frame, snapshot, pairs, errors), names: names(snapshot), errors: listed, frame }
}

fn page(frame: Frame, snapshot: &Snapshot, answer: &CompareAnswer<'_>, pairs: Vec<(String, String)>) -> ComparePage {
    let winter = &answer.rows.site.one_winter();
    let axis = TemperatureAxis::for_site(winter);
    let winters = Winters::new(winter, axis, &frame);
    let rows: Vec<RowView> = answer.rows.rows.iter().map(|r| row(r, axis, &winters, &frame)).collect();
    let said = answer.rows.question.hemisphere();
    let hemisphere = said.unwrap_or(Hemisphere::North);
    let columns = answer.rows.rows.iter().zip(&answer.best).enumerate().map(|(place, (r, best))| {
        let fruit = &r.standing.fruit;
        let beside = answer.beside.get(place);
        let crop = |of: fn(&Beside) -> Option<RipeDays>| crop_words(beside.and_then(of), hemisphere);
        Column {
            early: crop(|of| of.early),
            main: crop(|of| of.main),
            regrown: crop(|of| of.regrown),
            again: again_words(beside.and_then(|of| of.full_crop_again)),
            skin: r.cultivar.skin_colour.value.clone().unwrap_or_else(|| "not known".to_owned()),
            name: r.cultivar.name.clone(),
            best: chance_words(*best),
            figs: rows.get(place).map(|view| format!("{} ({})", view.years, view.range)).unwrap_or_default(),
            regrowth: match fruit.fruits_on_regrowth {
                Some(true) => "yes",
                Some(false) => "no",
                None => "not known",
            },
            crop: fruit.habit.map_or("not known", |habit| habit.label()),
            ripening: fruit.ripening.map_or("not known", |season| season.label()),
            dies_of: dies_of(answer, place),
            reports: r.standing.reports.to_string(),
        }
    });
    let pairs_shown = answer.pairs.iter().filter_map(|pair| {
        let (a, b) = (answer.row(pair.a)?, answer.row(pair.b)?);
        Some(PairView {
            a: a.cultivar.name.clone(),
            b: b.cultivar.name.clone(),
            sentence: pair_sentence(answer, pair)?,
            share: [pair.comparison.first, pair.comparison.same, pair.comparison.second].map(|p| format!("{:.2}%", 100.0 * p)),
            ends: format!("{:.2}%", 100.0 * (pair.comparison.first + pair.comparison.same)),
            ahead: percent(pair.comparison.first),
            behind: percent(pair.comparison.second),
            same: percent(pair.comparison.same),
        })
    });
    let named: Vec<&str> = answer.rows.rows.iter().map(|r| r.cultivar.name.as_str()).collect();
    let place = title(&answer.rows.question, &frame);
    ComparePage {
        title: format!("{}: {}", list(&named), place.strip_prefix("Figs for ").unwrap_or(&place)),
        verdict: verdict(answer),
        gardens: answer.pairs.iter().filter_map(|pair| same_garden_sentence(answer, pair)).collect(),
        columns: columns.collect(),
        year: year(snapshot, answer, hemisphere),
        ways: ways(answer),
        north_assumed: said.is_none(),
        pairs: pairs_shown.collect(),
        names: names(snapshot),
        form: site_form(&frame, snapshot, pairs, FieldErrors::default()),
        version: snapshot.model.version.clone(),
        winters,
        rows,
        frame,
    }
}

/// `A, B or C`.
fn list(names: &[&str]) -> String {
    match names {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [most @ .., last] => format!("{} or {last}", most.join(", ")),
    }
}

/// The year of each fig here.
fn year(snapshot: &Snapshot, answer: &CompareAnswer<'_>, hemisphere: Hemisphere) -> FigYear {
    let season = &answer.rows.site.season;
    let curve = DegreeDayCurve::from_season(season, 0.0, &snapshot.fruit_priors);
    let figs = answer.rows.rows.iter().zip(&answer.beside).map(|(r, beside)| {
        let crops = [
            ("early crop", "c-ripe-early", beside.early),
            ("main crop", "c-ripe-main", beside.main),
            ("main crop on shoots from the roots", "c-ripe-regrown", beside.regrown),
        ];
        (r.cultivar.name.clone(), crops.into_iter().filter_map(|(what, class, days)| Some((what, class, days?))).collect())
    });
    FigYear::new(season, &curve, figs, hemisphere, &|day| day_words(day, hemisphere))
}

/// Each way of growing, with a cell for every fig.
fn ways(answer: &CompareAnswer<'_>) -> Vec<(&'static str, Vec<String>)> {
    let of = |way: Way| answer.beside.iter().flat_map(|of| &of.grown).filter(|grown| grown.way == way).map(grown_words).collect();
    Way::ALL.iter().map(|&way| (way.label(), of(way))).filter(|(_, cells): &(_, Vec<String>)| cells.len() == answer.beside.len()).collect()
}
