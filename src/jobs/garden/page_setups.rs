//! Places and shelters in the garden: what a member keeps, and deleting one.

use axum::Form;
use axum::extract::State;
use axum::response::Redirect;

use crate::address;
use crate::records::{Setup, SetupKind, ShelterReport};
use crate::web::errors::Failure;
use crate::web::frame::day;
use crate::web::state::AppState;
use crate::web::visitor::SignedIn;

/// One of them as listed.
pub(crate) struct SetupView {
    pub id: String,
    pub name: String,
    pub kind: &'static str,
    pub shelter: bool,
    pub readings: String,
    pub made: String,
}

/// A shelter that was published, or waits.
pub(crate) struct SentShelter {
    pub id: String,
    pub what: &'static str,
    pub sent: String,
    pub state: &'static str,
}

impl SentShelter {
    pub(crate) fn new(shelter: &ShelterReport) -> Self {
        Self { id: shelter.id.to_string(), what: shelter.content.shape.label(), sent: day(shelter.sent), state: shelter.state.label() }
    }
}

impl SetupView {
    pub(crate) fn new(setup: &Setup) -> Self {
        // A reading has one field that is its own: in1, r1_inside or measured.
        let is_reading = |key: &str| key.ends_with("_inside") || key == "measured" || (key.starts_with("in") && key.len() == 3);
        let read = setup.answers.iter().filter(|(key, _)| is_reading(key)).count();
        Self {
            id: setup.id.to_string(),
            name: setup.name.as_str().to_owned(),
            kind: setup.kind.label(),
            shelter: setup.kind == SetupKind::Shelter,
            readings: match read {
                0 => "no reading yet".to_owned(),
                1 => "one reading".to_owned(),
                more => format!("{more} readings"),
            },
            made: day(setup.made),
        }
    }
}

/// `POST /garden/setups/delete`.
pub async fn delete(State(state): State<AppState>, who: SignedIn, Form(pairs): Form<Vec<(String, String)>>) -> Result<Redirect, Failure> {
    let asked = pairs.iter().find(|(key, _)| key == "setup").map_or("", |(_, id)| id);
    if state.setups.delete(who.member.id, asked).await? {
        Ok(Redirect::to(&address::GARDEN.at("places")))
    } else {
        Err(Failure::not_found("There is no such place or shelter in your garden."))
    }
}
