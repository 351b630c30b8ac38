//! `/nursery/counter`: a buyer's place, and three that are in stock.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::bench::verdicts::in_brief;
use crate::jobs::nursery::counter::{AtCounter, KnownStock};
use crate::jobs::nursery::form::form_words;
use crate::jobs::nursery::page::{LineView, Pairs, belonging, zones};
use crate::jobs::reports::form::NURSERY;
use crate::jobs::shortlist::answer::Recommendation;
use crate::jobs::shortlist::page::{RowView, row, sheet, title};
use crate::jobs::shortlist::question::Question;
use crate::model::snapshot::Snapshot;
use crate::records::{Nursery, StockLine};
use crate::web::charts::axis::TemperatureAxis;
use crate::web::charts::winters::Winters;
use crate::web::errors::Failure;
use crate::web::frame::Frame;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

/// A fig that is offered.
struct OfferView {
    row: RowView,
    /// Whether it lives and bears, in a few words.
    brief: String,
    lines: Vec<LineView>,
}

/// A fig of the stock that is not offered.
struct OtherView {
    name: String,
    sheet: String,
    brief: String,
}

#[derive(Template, WebTemplate)]
#[template(path = "nursery/counter.html")]
struct CounterPage {
    frame: Frame,
    title: String,
    place: String,
    zones: Vec<String>,
    /// Whether it is asked for a pot.
    pot: bool,
    offers: Vec<OfferView>,
    /// The one that would do carried in, and where it stands then.
    carried: Option<OfferView>,
    others: Vec<OtherView>,
    winters: Option<Winters>,
    /// Lines that the catalogue has no entry for: name and form.
    unknown: Vec<String>,
    /// Whether there is anything in stock at all.
    empty: bool,
    errors: Vec<FieldError>,
}

/// A place as `place=` for a town and `zone=` for a zone, however it was typed in the one box.
fn in_one_box(pairs: &Pairs) -> Pairs {
    let mut read: Pairs = pairs.iter().filter(|(name, value)| name != "place" && !value.trim().is_empty()).cloned().collect();
    if let Some((_, typed)) = pairs.iter().find(|(name, value)| name == "place" && !value.trim().is_empty()) {
        // A zone that was tapped says more than what was left in the box.
        if read.iter().all(|(name, _)| name != "zone") {
            read.extend(crate::jobs::nursery::service::place_pairs(typed));
        }
    }
    read
}

/// The query of a sheet from this nursery.
fn query_of(question: &Question, nursery: &Nursery) -> String {
    format!("{}&{NURSERY}={}", question.planting_query(), nursery.code)
}

fn brief(r: &Recommendation<'_>) -> String {
    in_brief(r.row.winter.chance.dead, r.row.ripe_share)
}

struct Shown<'a> {
    snapshot: &'a Snapshot,
    stock: &'a KnownStock<'a>,
    nursery: &'a Nursery,
    frame: &'a Frame,
    axis: TemperatureAxis,
    winters: &'a Winters,
}

impl Shown<'_> {
    fn offer(&self, r: &Recommendation<'_>, question: &Question) -> OfferView {
        let slug = r.cultivar.slug.as_str();
        let view = RowView { sheet: sheet(slug, &query_of(question, self.nursery)), ..row(r, self.axis, self.winters, self.frame) };
        let lines: Vec<&StockLine> = self.stock.lines_of(self.snapshot, slug);
        OfferView { row: view, brief: brief(r), lines: lines.iter().map(|line| LineView::new(line, self.snapshot)).collect() }
    }
}

/// `GET /nursery/counter`.
pub async fn show(frame: Frame, State(state): State<AppState>, who: SignedIn, Query(pairs): Query<Pairs>) -> Result<Response, Failure> {
    let nursery = match belonging(&state, &frame, &who.member).await? {
        Ok(nursery) => nursery,
        Err(start) => return Ok(start),
    };
    let snapshot = state.snapshot();
    let stock = state.store.stock(nursery.id).await?;
    let known = KnownStock::new(&snapshot, &stock, false);
    let read = in_one_box(&pairs);
    let pot = read.iter().any(|(name, value)| name == "culture" && value == "container");
    let page = |frame: Frame, title: String, errors: FieldErrors| {
        let listed = errors.iter().cloned().collect();
        CounterPage {
            title,
            place: pairs.iter().find(|(name, _)| name == "place").map(|(_, typed)| typed.clone()).unwrap_or_default(),
            zones: zones(),
            pot,
            offers: Vec::new(),
            carried: None,
            others: Vec::new(),
            winters: None,
            unknown: known.unknown.iter().map(|line| format!("{}, {}", line.item.name, form_words(&line.item))).collect(),
            empty: stock.iter().all(|line| line.count == 0),
            errors: listed,
            frame,
        }
    };
    let asked = "What of ours will do at your place?".to_owned();
    if read.iter().all(|(name, _)| name == "culture") {
        return Ok(page(frame, asked, FieldErrors::default()).into_response());
    }
    let question = match Question::parse(&read, false) {
        Ok(question) => question,
        Err(errors) => return Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, asked, errors)).into_response()),
    };
    let places: Vec<usize> = known.kinds.iter().map(|(place, _)| *place).collect();
    let counter = snapshot.at_counter(&question, &places);
    let said = title(&question, &frame).replacen("Figs for", "In stock for", 1);
    Ok(answered(page(frame, said, FieldErrors::default()), &snapshot, &known, &nursery, &counter).into_response())
}

fn answered(page: CounterPage, snapshot: &Snapshot, stock: &KnownStock<'_>, nursery: &Nursery, counter: &AtCounter<'_>) -> CounterPage {
    let site = counter.answer.site.one_winter();
    let axis = TemperatureAxis::for_site(&site);
    let winters = Winters::new(&site, axis, &page.frame);
    let shown = Shown { snapshot, stock, nursery, frame: &page.frame, axis, winters: &winters };
    let offered = counter.offered();
    let is_offered = |r: &Recommendation<'_>| offered.iter().any(|other| other.cultivar.slug == r.cultivar.slug);
    let query = query_of(&counter.question, nursery);
    let others = counter.answer.rows.iter().filter(|r| !is_offered(r)).map(|r| OtherView {
        name: r.cultivar.name.clone(),
        sheet: sheet(r.cultivar.slug.as_str(), &query),
        brief: brief(r),
    });
    let (offers, others) = (offered.iter().map(|r| shown.offer(r, &counter.question)).collect(), others.collect());
    let carried = counter.if_carried().map(|(question, r)| shown.offer(r, question));
    CounterPage { offers, others, carried, winters: Some(winters), ..page }
}
