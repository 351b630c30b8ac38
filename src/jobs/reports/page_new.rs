//! `/reports/new`: report a winter. Can be filled before signing in; joining or signing in happens in the same step, so that nothing typed
//! is lost.

use askama::Template;
use askama_web::WebTemplate;
use axum::Form;
use axum::extract::{Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Redirect, Response};
use uuid::Uuid;

use crate::address;
use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::accounts::page::{PLAIN_HTTP, refused};
use crate::jobs::accounts::page_resume_form;
use crate::jobs::reports::error::ReportError;
use crate::jobs::reports::form;
use crate::jobs::reports::questions::{Part, QUESTIONS, Question, of_part};
use crate::records::place::Publish;
use crate::records::words::{NameCertainty, Thermometer, TypedUnit};
use crate::records::{Hemisphere, Member, NamedSite, NurseryCode, Plant, Report, Winter};
use crate::science::site::Setting;
use crate::web::errors::Failure;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, Scale};
use crate::web::state::AppState;
use crate::web::visitor::{CameFrom, Visitor, bears_session, know, remember};

/// Fields of the page that are not part of a report.
const DESK_FIELDS: [&str; 4] = ["nonce", "who", "handle", "passphrase"];

/// The form.
#[derive(Template, WebTemplate)]
#[template(path = "reports/report_new.html")]
struct NewReportPage {
    frame: Frame,
    form: ReportForm,
    nonce: String,
    garden: Vec<Choice>,
    signed_in: Option<String>,
    /// Code and name of the nursery that the plant came from.
    nursery: Option<(String, String)>,
    who: Vec<Choice>,
    errors: Vec<FieldError>,
}

/// The parts of the form that do not depend on who fills it.
pub struct ReportForm {
    /// As typed.
    pub typed: Typed,
    pub(crate) certainty: Vec<Choice>,
    pub(crate) settings: Vec<Choice>,
    pub(crate) cultures: Vec<Choice>,
    pub(crate) publish: Vec<Choice>,
    pub(crate) units: Vec<Choice>,
    pub(crate) thermometers: Vec<Choice>,
    /// Daily records that the member keeps; empty for others.
    pub(crate) records: Vec<Choice>,
}

impl ReportForm {
    /// From what was typed, with what is wrong with it.
    pub fn new(pairs: Vec<(String, String)>, errors: FieldErrors, frame: &Frame) -> Self {
        let typed = Typed::new(pairs, errors);
        let unit = if frame.scale() == Scale::Fahrenheit { "f" } else { "c" };
        let culture = [("ground", "In the ground"), ("container", "In a pot")].map(|(v, w)| (v.to_owned(), w.to_owned()));
        let publish = Publish::OFFERED.iter().map(|p| (p.word().to_owned(), p.label().to_owned()));
        Self {
            certainty: typed.words::<NameCertainty>("certainty", "label"),
            settings: typed.words::<Setting>("setting", ""),
            cultures: typed.choices("culture", "ground", culture),
            publish: typed.choices("publish", "grid", publish),
            units: typed.words::<TypedUnit>("coldest_unit", unit),
            thermometers: typed.words::<Thermometer>("thermometer", ""),
            records: Vec::new(),
            typed,
        }
    }

    /// The same with the records that a member keeps to choose from.
    #[must_use]
    pub fn with_records(mut self, sites: &[NamedSite]) -> Self {
        self.records = self.typed.choices("heat_site", "", sites.iter().map(|s| (s.id.to_string(), s.name.as_str().to_owned())));
        self
    }

    /// The questions of a part, each with its choices, the answer typed chosen.
    pub fn questions(&self, part: Part) -> Vec<AskedQuestion> {
        of_part(part).map(|question| AskedQuestion { question, choices: self.choices(question) }).collect()
    }

    /// The choices of one question by its name, for pages that ask it in a place of its own.
    pub fn choices_of(&self, name: &str) -> Vec<Choice> {
        QUESTIONS.iter().find(|question| question.name == name).map(|question| self.choices(question)).unwrap_or_default()
    }

    fn choices(&self, question: &Question) -> Vec<Choice> {
        self.typed.choices(question.name, "", (question.words)().into_iter().map(|(word, label)| (word.to_owned(), label.to_owned())))
    }

    /// Whether the part with more about the plant should stand open.
    pub fn plant_open(&self) -> bool {
        self.typed.any(&["certainty", "container_l", "setting", "mother", "latitude", "longitude"])
            && self
                .typed
                .errors
                .iter()
                .any(|e| matches!(e.field.as_str(), "certainty" | "container_l" | "setting" | "mother" | "latitude" | "longitude"))
    }

    /// Whether the part with more about the winter should stand open.
    pub fn winter_open(&self) -> bool {
        self.typed.errors.iter().any(|e| {
            let asked = QUESTIONS.iter().any(|q| q.name == e.field && !matches!(q.part, Part::Damage | Part::Care));
            asked || ["first_growth", "no_growth", "first_ripe", "heat_site", "note"].iter().any(|part| e.field.starts_with(part))
        })
    }
}

/// A question with its choices.
pub struct AskedQuestion {
    /// The question.
    pub question: &'static Question,
    /// Its choices.
    pub choices: Vec<Choice>,
}

/// The form on paper, in the order of the screen.
#[derive(Template, WebTemplate)]
#[template(path = "reports/report_sheet.html")]
pub struct Sheet {
    frame: Frame,
    form: ReportForm,
}

/// `GET /reports/sheet`.
pub async fn sheet(frame: Frame) -> Sheet {
    Sheet { form: ReportForm::new(Vec::new(), FieldErrors::default(), &frame), frame }
}

/// `GET /reports/new`: an address may bring what is known already.
pub async fn show(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    Query(mut pairs): Query<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    pairs.retain(|(name, _)| form::all_fields().contains(&name.as_str()));
    if !pairs.iter().any(|(name, _)| name == "winter") {
        let winter = Winter::last_over(crate::records::winter::today(state.clock.now()), Hemisphere::North);
        pairs.extend(winter.ok().map(|winter| ("winter".to_owned(), winter.to_string())));
    }
    let nonce = state.ids.fresh(state.clock.now()).to_string();
    Ok(page(&state, frame, visitor.member(), pairs, nonce, FieldErrors::default()).await?.into_response())
}

async fn page(
    state: &AppState,
    frame: Frame,
    member: Option<&Member>,
    pairs: Vec<(String, String)>,
    nonce: String,
    errors: FieldErrors,
) -> Result<NewReportPage, Failure> {
    let (plants, sites) = match member {
        Some(member) => (state.store.plants_of(member.id).await?, state.sites.of(member).await?),
        None => (Vec::new(), Vec::new()),
    };
    let code = pairs.iter().find(|(name, _)| name == form::NURSERY).and_then(|(_, code)| NurseryCode::typed(code));
    let nursery = match code {
        Some(code) => state.store.nursery_by_code(&code).await?.map(|nursery| (nursery.code.to_string(), nursery.name)),
        None => None,
    };
    let listed = errors.iter().cloned().collect();
    let form = ReportForm::new(pairs, errors, &frame).with_records(&sites);
    let who = [("new", "I am new here"), ("member", "I am a member")].map(|(v, w)| (v.to_owned(), w.to_owned()));
    Ok(NewReportPage {
        garden: form.typed.choices("plant", "", plants.iter().map(|plant| (plant.id.to_string(), plant_words(plant)))),
        who: form.typed.choices("who", "new", who),
        nursery,
        signed_in: member.map(|member| member.handle.to_string()),
        errors: listed,
        form,
        nonce,
        frame,
    })
}

/// A plant in a list: name, year, ground or pot.
pub fn plant_words(plant: &Plant) -> String {
    let stands = if plant.culture == crate::science::site::Culture::Ground { "in the ground" } else { "in a pot" };
    match plant.planted {
        Some(year) => format!("{}, {stands} since {year}", plant.name_written),
        None => format!("{}, {stands}", plant.name_written),
    }
}

fn take(pairs: &[(String, String)], name: &str) -> String {
    pairs.iter().find(|(key, _)| key == name).map(|(_, value)| value.clone()).unwrap_or_default()
}

/// `POST /reports/new`.
pub async fn send(
    frame: Frame,
    State(state): State<AppState>,
    visitor: Visitor,
    CameFrom(origin): CameFrom,
    headers: HeaderMap,
    Form(pairs): Form<Vec<(String, String)>>,
) -> Result<Response, Failure> {
    let now = state.clock.now();
    let snapshot = state.snapshot();
    let [nonce, who, handle, passphrase] = DESK_FIELDS.map(|name| take(&pairs, name));
    let nonce = if Uuid::parse_str(&nonce).is_ok() { nonce } else { state.ids.fresh(now).to_string() };
    let answers: Vec<_> = pairs.iter().filter(|(name, _)| !DESK_FIELDS.contains(&name.as_str())).cloned().collect();
    // What is shown again never holds the passphrase.
    let shown: Vec<_> = pairs.iter().filter(|(name, _)| name != "passphrase" && name != "nonce").cloned().collect();
    let again = async |errors: FieldErrors, member: Option<&Member>| -> Result<Response, Failure> {
        let page = page(&state, frame.clone(), member, shown.clone(), nonce.clone(), errors).await?;
        Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
    };
    if let Some(member) = visitor.member() {
        return match state.reports.send(member, &answers, &key(&nonce), &snapshot, now).await {
            Ok(report) => Ok(thanks(&report)),
            Err(ReportError::Fields(errors)) => again(errors, Some(member)).await,
            Err(other) => Err(other.into()),
        };
    }
    // Whoever was signed in when the form was opened signs in again, and their plant and record stay chosen.
    let of_an_account = |name: &str| matches!(name, "plant" | "heat_site");
    let chosen = answers.iter().any(|(name, value)| of_an_account(name) && !value.trim().is_empty());
    if handle.trim().is_empty() && (chosen || bears_session(&headers)) {
        let fields = pairs.into_iter().filter(|(name, _)| !matches!(name.as_str(), "who" | "handle"));
        return Ok(page_resume_form::ask(frame, address::NEW_REPORT.as_str(), fields));
    }
    // Nobody is taken in or signed in for answers that cannot be used.
    let today = crate::records::winter::today(now);
    let plant_known = answers.iter().any(|(name, value)| name == "plant" && !value.trim().is_empty());
    if !plant_known && let Err(errors) = form::read_new(&answers, &snapshot.catalogue, today) {
        return again(errors, None).await;
    }
    if frame.refuses_sessions {
        let mut errors = FieldErrors::default();
        errors.add("handle", &handle, PLAIN_HTTP);
        return again(errors, None).await;
    }
    let entered = if who == "member" {
        state.members.sign_in(&handle, &passphrase, &origin, now).await
    } else {
        state.members.join(&handle, &passphrase, ("", ""), &origin, now).await
    };
    let (member, secret) = match entered {
        Ok(entered) => entered,
        Err(error) => return again(refused(&handle, error)?, None).await,
    };
    let sent = state.reports.send(&member, &answers, &key(&nonce), &snapshot, now).await;
    let response = match sent {
        Ok(report) => thanks(&report),
        Err(ReportError::Fields(errors)) => again(errors, Some(&member)).await?,
        Err(other) => return Err(other.into()),
    };
    let device = state.members.know_device(&member, &origin, now).await?;
    Ok((remember(&secret, state.insecure_http()), know(&device, state.insecure_http()), response).into_response())
}

fn key(nonce: &str) -> String {
    format!("form:{nonce}")
}

fn thanks(report: &Report) -> Response {
    Redirect::to(&address::sent_report(report.id)).into_response()
}
