//! `/preview/…`: the picture that goes with a link to an answer, drawn from the same chart. Made when it is first asked for, away from the
//! threads that answer, and kept for a while.

use askama::Template;
use axum::body::Bytes;
use axum::extract::{Path, RawQuery, State};
use axum::http::HeaderName;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};

use crate::jobs::compare::words::verdict;
use crate::jobs::sharing::question::{Asked, SharedQuestion};
use crate::jobs::shortlist::answer::{Answer, Recommendation, Three};
use crate::jobs::shortlist::page::title;
use crate::jobs::shortlist::reasons::in_ten;
use crate::jobs::spring::page as spring;
use crate::jobs::spring::words_alive;
use crate::model::snapshot::Snapshot;
use crate::records::Register;
use crate::web::charts::axis::TemperatureAxis;
use crate::web::charts::heat_year::HeatYear;
use crate::web::charts::ladder::Ladder;
use crate::web::charts::winters::Winters;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::palette::Palette;
use crate::web::picture::png;
use crate::web::state::AppState;

/// Characters of a line of the title and of what is said, in the typeface and sizes of the drawing; and most lines of each.
const TITLE: (usize, usize) = (47, 2);
const SAID: (usize, usize) = (68, 2);
/// Most figs drawn.
const FIGS: usize = 3;
/// How long others may keep a picture, s: until reports of a day could have changed it.
const KEPT_BY_OTHERS: &str = "public, max-age=86400";
/// Other sites show it beside a link to this one.
const RESOURCE_POLICY: HeaderName = HeaderName::from_static("cross-origin-resource-policy");
/// How classes of the charts are drawn: the page's own stylesheet names units and rules that a drawing outside a browser does not know.
const STYLE: &str = include_str!("../../../templates/sharing/preview.css");

#[derive(Template)]
#[template(path = "sharing/preview.svg", escape = "html")]
struct Drawing {
    frame: Frame,
    title: Vec<String>,
    said: Vec<String>,
    ladders: Vec<(String, Ladder)>,
    winters: Option<Winters>,
    heat: Option<HeatYear>,
}

/// `GET /preview`: the picture of a page that has none of its own.
pub async fn of_the_site(frame: Frame, State(state): State<AppState>) -> Result<Response, Failure> {
    answered(frame, &state, None).await
}

/// `GET /preview/{page}?…`: the picture of an answer.
pub async fn of_an_answer(
    frame: Frame,
    State(state): State<AppState>,
    Path(page): Path<String>,
    RawQuery(query): RawQuery,
) -> Result<Response, Failure> {
    let asked = format!("/{page}?{}", query.unwrap_or_default());
    let today = jiff::tz::TimeZone::UTC.to_datetime(state.clock.now()).date();
    let question = SharedQuestion::read(&asked, &state.snapshot(), today).map_err(|why| Failure::not_found(why.to_string()))?;
    answered(frame, &state, Some((question, today.to_string()))).await
}

async fn answered(frame: Frame, state: &AppState, question: Option<(SharedQuestion, String)>) -> Result<Response, Failure> {
    let snapshot = state.snapshot();
    let what = match &question {
        // A question about a plant in spring is answered for the day.
        Some((question, today)) => format!("{} {today} {} {}", question.address, frame.scale().word(), snapshot.model.version),
        None => String::new(),
    };
    let picture = if let Some(picture) = state.pictures.drawn(&what) {
        picture
    } else {
        let register = state.registers.newest(&state.store).await?;
        let drawn = run_queued(move || {
            let drawing = match question {
                Some((question, _)) => Drawing::of(&question, frame, &snapshot, &register),
                None => Drawing::of_the_site(frame),
            };
            drawing.picture()
        });
        let picture = drawn.await??;
        state.pictures.keep(what, picture.clone());
        picture
    };
    let headers = [(CONTENT_TYPE, "image/png"), (CACHE_CONTROL, KEPT_BY_OTHERS), (RESOURCE_POLICY, "cross-origin")];
    Ok((headers, picture).into_response())
}

impl Drawing {
    fn of_the_site(frame: Frame) -> Self {
        Self {
            title: vec!["Which fig lives, and fruits,".to_owned(), "where you are?".to_owned()],
            said: lines("A shortlist for your place, with honest chances: from published sources and from winter reports.", SAID),
            ladders: Vec::new(),
            winters: None,
            heat: None,
            frame,
        }
    }

    fn of(question: &SharedQuestion, frame: Frame, snapshot: &Snapshot, reports: &Register) -> Self {
        match &question.asked {
            Asked::Shortlist(question) => {
                let answer = snapshot.recommend(&question.clone().on_a_page());
                let said = answer.three.as_ref().map(Three::sentence).unwrap_or_default();
                let three = answer.three.as_ref().map(|three| three.figs.iter().collect::<Vec<_>>());
                let rows = three.unwrap_or_else(|| answer.rows.iter().collect());
                Self::of_ladders(&title(question, &frame), &said, &answer, &rows, frame)
            }
            Asked::Compare(question) => {
                let answer = snapshot.compare(question, reports);
                let rows: Vec<_> = answer.rows.rows.iter().collect();
                let said = verdict(&answer).unwrap_or_default();
                Self::of_ladders(&title(&question.place, &frame), &said, &answer.rows, &rows, frame)
            }
            Asked::Sheet(fig, question) => {
                let Some(cultivar) = snapshot.catalogue.cultivars().get(*fig) else { return Self::of_the_site(frame) };
                let Some(sheet) = snapshot.sheet(cultivar.slug.as_str(), question) else { return Self::of_the_site(frame) };
                let axis = TemperatureAxis::for_site(&sheet.site.one_winter());
                let winters = Winters::new(&sheet.site.one_winter(), axis, &frame);
                let ladder = Ladder::new(&sheet.thresholds, axis, &winters, &frame);
                let said = format!("Ripe figs {}, killed to the ground {}.", in_ten(sheet.row.ripe_share), in_ten(sheet.row.loses_top()));
                Self {
                    title: lines(&format!("{} {}", cultivar.name, title(question, &frame).replacen("Figs for", "in", 1)), TITLE),
                    said: lines(&said, SAID),
                    ladders: vec![(cultivar.name.clone(), ladder)],
                    winters: Some(winters),
                    heat: None,
                    frame,
                }
            }
            Asked::Spring(question) => {
                let answer = snapshot.spring(question);
                Self {
                    title: lines(&spring::title(question, &answer, &frame), TITLE),
                    said: lines(&words_alive::alive(question, &answer), SAID),
                    ladders: Vec::new(),
                    winters: None,
                    heat: Some(spring::chart(question, &answer)),
                    frame,
                }
            }
        }
    }

    fn of_ladders(title: &str, said: &str, answer: &Answer<'_>, rows: &[&Recommendation<'_>], frame: Frame) -> Self {
        let winter = answer.site.one_winter();
        let axis = TemperatureAxis::for_site(&winter);
        let winters = Winters::new(&winter, axis, &frame);
        let ladders = rows.iter().take(FIGS).map(|r| (r.cultivar.name.clone(), Ladder::new(&r.thresholds, axis, &winters, &frame)));
        Self { title: lines(title, TITLE), said: lines(said, SAID), ladders: ladders.collect(), winters: Some(winters), heat: None, frame }
    }

    fn picture(&self) -> Result<Bytes, Failure> {
        let svg = self.render().map_err(Failure::internal)?;
        png(&svg, Palette::light().resolved(STYLE)).map_err(Failure::internal)
    }
}

/// A text in lines of so many characters, cut after the last line there is room for.
fn lines(text: &str, (width, most): (usize, usize)) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= width => *line = format!("{line} {word}"),
            _ => lines.push(word.to_owned()),
        }
    }
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            last.push('…');
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_is_laid_in_lines_and_what_has_no_room_is_marked_as_cut() {
        assert_eq!(lines("one two three four", (9, 2)), ["one two", "three…"]);
        assert_eq!(lines("one two three", (9, 2)), ["one two", "three"]);
        assert_eq!(lines("", (9, 2)), Vec::<String>::new());
    }
}
