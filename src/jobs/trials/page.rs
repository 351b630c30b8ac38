//! `/trials`: which trial next.

use std::collections::BTreeMap;

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Redirect, Response};

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::shortlist::page::title as title_of;
use crate::jobs::shortlist::page_site_form::SiteForm;
use crate::jobs::shortlist::question::Question;
use crate::jobs::trials::answer::{MOST_TRIALS, TrialAnswer, TrialsAnswer, USUAL_TRIALS};
use crate::jobs::trials::offers::Returned;
use crate::jobs::trials::words::{asked as asked_words, part, reasons, returned as returned_words, stands};
use crate::records::Nursery;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::frame::{Frame, day};
use crate::web::state::AppState;
use crate::web::visitor::{SignedIn, Visitor};

#[derive(Template, WebTemplate)]
#[template(path = "trials/trials.html")]
struct TrialsPage {
    frame: Frame,
    form: SiteForm,
    errors: Vec<FieldError>,
    view: Option<View>,
    /// Whether the visitor belongs to a nursery.
    nursery: bool,
    offers: Vec<OfferView>,
}

/// A fig that a nursery offers.
struct OfferView {
    slug: String,
    name: String,
    address: String,
    nursery: String,
    since: String,
    report: String,
    /// What came back of it, for the nursery itself.
    returned: Option<String>,
}

/// The answer in words.
struct View {
    title: String,
    asked: String,
    rows: Vec<Row>,
}

/// Figs named beside one that teaches as much.
const NAMED_BESIDE: usize = 8;

/// A trial, and those that teach as much for the same reasons.
struct Row {
    slug: String,
    name: String,
    address: String,
    stands: &'static str,
    own: bool,
    of_own: String,
    of_all: String,
    reasons: Vec<String>,
    /// Addresses and names of the others, as many as are named, and how many there are besides.
    others: Vec<(String, String)>,
    more: usize,
}

impl Row {
    fn is_as_good_as(&self, other: &Self) -> bool {
        (self.stands, self.own, &self.of_own, &self.of_all, &self.reasons)
            == (other.stands, other.own, &other.of_own, &other.of_all, &other.reasons)
    }
}

/// Rows in their order, with those that teach as much as the one before them beside it.
fn grouped(rows: impl Iterator<Item = Row>) -> Vec<Row> {
    let mut groups: Vec<Row> = Vec::new();
    for row in rows {
        let is_full = groups.len() == USUAL_TRIALS;
        match groups.last_mut().filter(|first| first.is_as_good_as(&row)) {
            Some(first) if first.others.len() < NAMED_BESIDE => first.others.push((row.address, row.name)),
            Some(first) => first.more += 1,
            None if is_full => break,
            None => groups.push(row),
        }
    }
    groups
}

fn view(answer: &TrialsAnswer<'_>, title: String) -> View {
    let row = |trial: &TrialAnswer<'_>| Row {
        slug: trial.cultivar.slug.to_string(),
        name: trial.cultivar.name.clone(),
        address: address::cultivar(&trial.cultivar.slug),
        stands: stands(trial),
        own: trial.own,
        of_own: part(trial.of_own),
        of_all: part(trial.of_all),
        reasons: reasons(trial),
        others: Vec::new(),
        more: 0,
    };
    View { title, asked: asked_words(answer), rows: grouped(answer.trials.iter().map(row)) }
}

/// Figs of the visitor's garden, by their names in addresses.
async fn own(state: &AppState, visitor: &Visitor) -> Result<Vec<String>, Failure> {
    let Some(member) = visitor.member() else { return Ok(Vec::new()) };
    let plants = state.store.plants_of(member.id).await?;
    Ok(plants.into_iter().filter_map(|plant| plant.cultivar.map(|slug| slug.to_string())).collect())
}

/// What nurseries offer, with what came back of the visitor's own.
async fn offers(state: &AppState, own: Option<&Nursery>) -> Result<Vec<OfferView>, Failure> {
    let snapshot = state.snapshot();
    let mut views = Vec::new();
    let came_back = match own {
        Some(own) => state.trial_offers.returned(own).await?,
        None => BTreeMap::new(),
    };
    for offer in state.trial_offers.all().await? {
        let Some(cultivar) = snapshot.catalogue.get(offer.cultivar.as_str()) else { continue };
        let returned = own
            .filter(|own| own.id == offer.nursery)
            .map(|_| returned_words(came_back.get(&cultivar.slug).unwrap_or(&Returned::default())));
        views.push(OfferView {
            slug: cultivar.slug.to_string(),
            name: cultivar.name.clone(),
            address: address::cultivar(&cultivar.slug),
            report: address::report_from_nursery(&cultivar.name, &offer.code),
            nursery: offer.name,
            since: day(offer.made),
            returned,
        });
    }
    Ok(views)
}

/// Shows the form, and the trials once a place is given.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Query(pairs): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let nursery = state.trial_offers.nursery(visitor.member()).await?;
    let offers = offers(&state, nursery.as_ref()).await?;
    let page = |frame, pairs, errors, view| page(frame, pairs, errors, view, nursery.is_some(), offers);
    if pairs.iter().all(|(_, value)| value.trim().is_empty()) {
        return Ok(page(frame, pairs, FieldErrors::default(), None).into_response());
    }
    match Question::parse(&pairs, false) {
        Ok(question) => {
            let asked = state.asked.most(state.clock.now()).await?;
            let (snapshot, own, title) = (state.snapshot(), own(&state, &visitor).await?, title(&question, &frame));
            let answered = move || view(&snapshot.trials(&question, &asked, &own, MOST_TRIALS), title);
            let view = run_queued(answered).await?;
            Ok(page(frame, pairs, FieldErrors::default(), Some(view)).into_response())
        }
        Err(errors) => Ok((StatusCode::UNPROCESSABLE_ENTITY, page(frame, pairs, errors, None)).into_response()),
    }
}

/// `POST /trials/offer`: a nursery offers a fig as a trial, or ends the offer.
pub async fn offer(State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Vec<(String, String)>>) -> Result<Redirect, Failure> {
    let said = |name: &str| pairs.iter().find(|(key, _)| key == name).map_or("", |(_, value)| value.as_str());
    let (snapshot, ends) = (state.snapshot(), said("end") == "yes");
    if state.trial_offers.set(&who.member, said("cultivar"), !ends, &snapshot.catalogue, state.clock.now()).await? {
        Ok(Redirect::to(&address::TRIALS.at("offers")))
    } else {
        Err(Failure::not_found("Only a nursery offers trials, of figs of the catalogue."))
    }
}

fn title(question: &Question, frame: &Frame) -> String {
    title_of(question, frame).replacen("Figs for", "Which trial next for", 1)
}

fn page(
    frame: Frame,
    pairs: Vec<(String, String)>,
    errors: FieldErrors,
    view: Option<View>,
    nursery: bool,
    offers: Vec<OfferView>,
) -> TrialsPage {
    let listed = errors.iter().cloned().collect();
    let form = SiteForm::new(frame.with_remembered_place(pairs), errors, &frame, "Which trial next?");
    TrialsPage { form, errors: listed, view, nursery, offers, frame }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(name: &str, of_own: &str) -> Row {
        Row {
            slug: name.to_owned(),
            name: name.to_owned(),
            address: format!("to {name}"),
            stands: "uncovered",
            own: false,
            of_own: of_own.to_owned(),
            of_all: "1 %".to_owned(),
            reasons: vec!["nobody has reported it".to_owned()],
            others: Vec::new(),
            more: 0,
        }
    }

    #[test]
    fn figs_that_teach_as_much_stand_together_and_no_more_groups_than_are_read() {
        let guesses = (0..12).map(|n| row(&format!("guess {n}"), "5 %"));
        let known = (0..20).map(|n| row(&format!("known {n}"), &format!("{n} %.")));
        let groups = grouped(guesses.chain(known));
        assert_eq!((groups.len(), groups[0].others.len(), groups[0].more), (USUAL_TRIALS, NAMED_BESIDE, 3));
        assert!(groups[1..].iter().all(|group| group.others.is_empty()));
    }
}
