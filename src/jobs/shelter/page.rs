//! `/shelter`: lengths, covers and a cold night in; what it holds, what each change gains and what it costs out. No account is needed; a member
//! may keep a shelter.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use axum_extra::extract::CookieJar;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::accounts::members::MemberError;
use crate::jobs::shelter::field::Field;
use crate::jobs::shelter::page_form::{Fields, fields};
use crate::jobs::shelter::page_result::ResultView;
use crate::jobs::shelter::{calculate, form};
use crate::jobs::shortlist::page_site_form::SITE;
use crate::jobs::station_record::page_saved::{asked_record, reading_of, records_of};
use crate::jobs::station_record::usual_winter::UsualWinter;
use crate::records::setup::Described;
use crate::records::{NamedSite, Setup, SetupKind};
use crate::units::Celsius;
use crate::web::cpu_queue::run_queued;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{AskedAgain, Frame, Scale};
use crate::web::packed;
use crate::web::preferences::take_choice;
use crate::web::state::AppState;
use crate::web::visitor::Visitor;

/// Parameter that takes a kept one up.
const KEPT: &str = "kept";
/// Parameter of an address that asks for the answer, not for the form.
const ANSWER: &str = "answer";
/// Parameter that holds a long question packed into one word.
const PACKED: &str = "packed";
/// Longest address that says its question in the open, characters: what mail programs and messengers pass on whole.
const LONGEST_OPEN: usize = 2_000;
/// Longest address that the service answers, characters.
const LONGEST_ADDRESS: usize = 8_000;

type Pairs = Vec<(String, String)>;

/// An invented house, to try the page with; m and °C.
const EXAMPLE: &str = "example=1&scale=c&shape=gable&length=3&width=2.4&wall=1.8&top=2.4&wall_cover=glass&roof_cover=glass\
    &tightness=ordinary&floor=dry&heater=1500&thermostat=6&minimum=-8&price=0.3&r1_outside=-4&r1_inside=3&r1_heater=1500";

#[derive(Template, WebTemplate)]
#[template(path = "shelter/shelter.html")]
struct ShelterPage {
    frame: Frame,
    typed: Typed,
    errors: Vec<FieldError>,
    fahrenheit: bool,
    example: String,
    is_example: bool,
    ask: Fields,
    member: bool,
    mine: Vec<Mine>,
    /// Daily records that the member keeps.
    records: Vec<Choice>,
    result: Option<ResultView>,
}

/// A shelter that the member keeps.
struct Mine {
    id: String,
    name: String,
}

/// Shows the form; what an address brings is already filled in, and answered where it says `answer=1`.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Query(mut pairs): Query<Pairs>,
) -> Result<Response, Failure> {
    let own = own(&state, &visitor).await?;
    if let Some((_, asked)) = pairs.iter().find(|(k, _)| k == KEPT) {
        let found = own.shelters.iter().find(|setup| setup.id.to_string() == *asked);
        let found = found.ok_or_else(|| Failure::not_found("There is no such shelter in your garden; you may have to sign in."))?;
        pairs = found.answers.iter().cloned().chain([(Field::KeepAs.into(), found.name.as_str().to_owned())]).collect();
    }
    if let Some((_, word)) = pairs.iter().find(|(k, _)| k == PACKED) {
        let asked = packed::unpack(word);
        pairs = asked.ok_or_else(|| Failure::not_found("This address is not whole; a part of it was cut off on the way."))?;
        pairs.push((ANSWER.to_owned(), "1".to_owned()));
    }
    if pairs.iter().any(|(k, v)| k == ANSWER && v == "1") {
        // An address keeps nothing, whatever stands in it.
        pairs.retain(|(k, _)| *k != Field::KeepAs.name());
        return answered(frame, &state, &visitor, own, pairs).await;
    }
    Ok(page(frame, &own, pairs, FieldErrors::default(), None).into_response())
}

/// What whoever is signed in keeps; nothing for a visitor.
#[derive(Default)]
struct Own {
    member: bool,
    shelters: Vec<Setup>,
    records: Vec<NamedSite>,
}

async fn own(state: &AppState, visitor: &Visitor) -> Result<Own, Failure> {
    let Some(member) = visitor.member() else { return Ok(Own::default()) };
    let shelters = state.setups.of(member, SetupKind::Shelter).await.map_err(Failure::unavailable)?;
    Ok(Own { member: true, shelters, records: records_of(state, visitor).await? })
}

/// Assesses the shelter.
pub async fn assess(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Form(mut pairs): Form<Pairs>,
) -> Result<(CookieJar, Response), Failure> {
    let (frame, jar) = take_choice(frame, &mut pairs);
    let own = own(&state, &visitor).await?;
    Ok((jar, answered(frame, &state, &visitor, own, pairs).await?))
}

async fn answered(frame: Frame, state: &AppState, visitor: &Visitor, mut own: Own, pairs: Pairs) -> Result<Response, Failure> {
    let member = visitor.member();
    let pairs = filled_by_record(state, visitor, pairs).await?;
    let refused = |frame: Frame, own: &Own, pairs: Pairs, errors: FieldErrors| {
        let frame = frame.asking_again(sent(&pairs));
        (StatusCode::UNPROCESSABLE_ENTITY, page(frame, own, pairs, errors, None)).into_response()
    };
    let input = match form::read(&pairs) {
        Ok(input) => input,
        Err(errors) => return Ok(refused(frame, &own, pairs, errors)),
    };
    let (input, answer) = run_queued(move || {
        let answer = calculate(&input);
        (form::with_place(&input).unwrap_or(input), answer)
    })
    .await?;
    let answer = match answer {
        Ok(answer) => answer,
        Err(errors) => {
            let errors = form::errors_of_form(&errors, &pairs);
            return Ok(refused(frame, &own, pairs, errors));
        }
    };
    let name = pairs.iter().find(|(k, v)| *k == Field::KeepAs.name() && !v.trim().is_empty()).map(|(_, name)| name.clone());
    if let (Some(name), Some(member)) = (name, member) {
        let described = vec![Described { field: Field::KeepAs.into(), name, answers: said(&pairs) }];
        match state.setups.keep(member, SetupKind::Shelter, described, state.clock.now()).await {
            Ok(()) => own = self::own(state, visitor).await?,
            Err(MemberError::Fields(errors)) => return Ok(refused(frame, &own, pairs, errors)),
            Err(other) => return Err(other.into()),
        }
    }
    let mut view = ResultView::new(&input, &answer, &frame);
    view.address = address(&pairs);
    // The choice of scale comes back to the same answer.
    let frame = match view.address.clone() {
        Some(here) => frame.back_to(here),
        None => frame.asking_again(sent(&pairs)),
    };
    Ok(page(frame, &own, pairs, FieldErrors::default(), Some(view)).into_response())
}

/// What was sent, with the night to be ready for and a usual winter taken from a daily record of the member's, where one was chosen and they were
/// left blank: they stand in the form then, to be looked at and changed, and the record is not asked again.
async fn filled_by_record(state: &AppState, visitor: &Visitor, mut pairs: Pairs) -> Result<Pairs, Failure> {
    let Some(id) = asked_record(&pairs).map(str::to_owned) else { return Ok(pairs) };
    let (name, reading) = reading_of(state, visitor, &id).await?;
    let winter = run_queued(move || UsualWinter::of(&reading)).await?;
    let winter = winter.ok_or_else(|| Failure::not_found(format!("“{name}” holds too few whole winters to say what is usual.")))?;
    let fahrenheit = pairs.iter().any(|(k, v)| *k == Field::Scale.name() && v == "f");
    let degrees = |t: Celsius| format!("{:.1}", if fahrenheit { t.fahrenheit() } else { t.degrees() });
    let minima: Vec<String> = winter.minima.iter().map(|low| degrees(*low)).collect();
    pairs.retain(|(k, _)| k != SITE);
    for (field, value) in [(Field::Minimum, degrees(winter.design_low)), (Field::Minima, minima.join(" "))] {
        if pairs.iter().all(|(k, v)| *k != field.name() || v.trim().is_empty()) {
            pairs.retain(|(k, _)| *k != field.name());
            pairs.push((field.name().into_owned(), value));
        }
    }
    Ok(pairs)
}

/// The form as it was sent, to be sent once more.
fn sent(pairs: &Pairs) -> AskedAgain {
    AskedAgain { action: address::SHELTER.as_str(), multipart: false, pairs: pairs.clone() }
}

/// What was typed of the shelter, without the fields of the page itself.
fn said(pairs: &Pairs) -> Pairs {
    pairs
        .iter()
        .filter(|(k, v)| ![&Field::KeepAs.name(), ANSWER, &Field::Example.name()].contains(&k.as_str()) && !v.trim().is_empty())
        .cloned()
        .collect()
}

/// The address that asks the same again and answers it.
fn address(pairs: &Pairs) -> Option<String> {
    let open = address::SHELTER.with(said(pairs).into_iter().chain([(ANSWER.to_owned(), "1".to_owned())]));
    if open.len() <= LONGEST_OPEN {
        return Some(open);
    }
    let packed = packed::pack(&said(pairs)).map(|word| address::SHELTER.with([(PACKED, word)]));
    packed.filter(|address| address.len() <= LONGEST_ADDRESS)
}

fn page(frame: Frame, own: &Own, pairs: Pairs, errors: FieldErrors, result: Option<ResultView>) -> ShelterPage {
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    let fahrenheit = match typed.text(&Field::Scale.name()) {
        "c" => false,
        "f" => true,
        _ => frame.scale() == Scale::Fahrenheit,
    };
    ShelterPage {
        errors: listed,
        fahrenheit,
        example: address::SHELTER.with_query(EXAMPLE),
        is_example: typed.text(&Field::Example.name()) == "1",
        ask: fields(&typed, fahrenheit),
        member: own.member,
        records: typed.choices(SITE, "", own.records.iter().map(|site| (site.id.to_string(), site.name.as_str().to_owned()))),
        mine: own.shelters.iter().map(|setup| Mine { id: setup.id.to_string(), name: setup.name.as_str().to_owned() }).collect(),
        typed,
        result,
        frame,
    }
}
