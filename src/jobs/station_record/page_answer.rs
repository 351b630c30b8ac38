//! The answer page of a record and its form, shared by a record just sent and one that is kept.

use askama::Template;
use askama_web::WebTemplate;

use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::shortlist::page_site_form::SiteForm;
use crate::jobs::station_record::page_view::View;
use crate::jobs::station_record::read::Reading;
use crate::jobs::station_record::{answer, asked, periods, read};
use crate::model::snapshot::Snapshot;
use crate::records::NamedSite;
use crate::science::climate::site_climate::Question as Beside;
use crate::web::forms::Choice;
use crate::web::frame::{Frame, Scale};

/// A kept record in a list or above its page.
pub struct SiteView {
    /// Id.
    pub id: String,
    /// Name.
    pub name: String,
    /// Day it was kept.
    pub made: String,
}

impl SiteView {
    /// From a site.
    pub fn new(site: &NamedSite) -> Self {
        Self { id: site.id.to_string(), name: site.name.as_str().to_owned(), made: site.made.strftime("%-d %B %Y").to_string() }
    }
}

/// The answer.
#[derive(Template, WebTemplate)]
#[template(path = "station_record/record.html")]
pub(crate) struct AnswerPage {
    pub(crate) frame: Frame,
    pub(crate) form: RecordForm,
    pub(crate) view: Box<View>,
    /// What is wrong with a question about a kept record.
    pub(crate) errors: Vec<FieldError>,
    /// The kept record that this is.
    pub(crate) site: Option<SiteView>,
}

/// What was typed, ready to be written again.
pub struct RecordForm {
    /// The part about the planting, shared with the front page.
    pub site: SiteForm,
    /// Units.
    pub units: Vec<Choice>,
    /// Pasted text.
    pub pasted: String,
    /// Pairs of the own thermometer.
    pub pairs: String,
    /// Nights of the own thermometer that may count in place of a setting, their scale, and whether they do.
    pub own_pairs: String,
    /// `c` or `f`.
    pub own_scale: String,
    /// The box is ticked.
    pub use_own: bool,
    /// Whether a member is there who may keep the record.
    pub may_keep: bool,
}

impl RecordForm {
    /// From what was typed, with what is wrong with it.
    pub fn new(pairs: Vec<(String, String)>, errors: FieldErrors, pasted: String, thermometer: String, frame: &Frame) -> Self {
        let given = |name: &str| pairs.iter().find(|(key, _)| key == name).map(|(_, text)| text.clone()).unwrap_or_default();
        let scale = if frame.scale() == Scale::Fahrenheit { "f" } else { "c" };
        // Nights just compared, else those that came with the question.
        let (own_pairs, own_scale) =
            if thermometer.is_empty() { (given("own_pairs"), given("own_scale")) } else { (thermometer.clone(), scale.to_owned()) };
        let use_own = given("use_own") == "yes";
        let site = SiteForm::new(pairs, errors, frame, "Show its climate");
        let units = [("", "Find out from the file"), ("c", "°C"), ("f", "°F"), ("tenths_c", "Tenths of °C")];
        let units = site.typed.choices("units", "", units.map(|(value, words)| (value.to_owned(), words.to_owned())));
        Self { site, units, pasted, pairs: thermometer, own_pairs, own_scale, use_own, may_keep: false }
    }

    /// The same, for a member or for nobody in particular.
    #[must_use]
    pub fn for_member(self, may_keep: bool) -> Self {
        Self { may_keep, ..self }
    }

    /// Nothing typed yet.
    pub fn blank(frame: &Frame) -> Self {
        Self::new(Vec::new(), FieldErrors::default(), String::new(), String::new(), frame)
    }
}

/// The page of a record.
pub(crate) fn worked_out(
    frame: &Frame,
    snapshot: &Snapshot,
    bytes: &[u8],
    pairs: &[(String, String)],
    now: jiff::Timestamp,
) -> Result<View, FieldErrors> {
    let refused = |why: &dyn std::fmt::Display| {
        let mut errors = FieldErrors::default();
        errors.add("record", "", why);
        errors
    };
    let options = read::options(pairs, now)?;
    let beside = asked::question(pairs)?;
    if bytes.is_empty() {
        return Err(refused(&"choose a file, or paste the lines of a daily record"));
    }
    let reading = read::from_bytes(bytes, &options).map_err(|why| asked::refused(&why, pairs))?;
    let beside = if beside.periods.is_empty() {
        // Nobody asked: 1961–1990 and since, where the record holds them.
        Beside { periods: periods::two(&reading.climate).map(Vec::from).unwrap_or_default(), ..beside }
    } else {
        beside
    };
    let reading = asked::answered(reading, &beside).map_err(|why| asked::refused(&why, pairs))?;
    // A record too short for a distribution still has a climate worth showing, without a shortlist.
    if reading.climate.winter_minimum().is_none() {
        return Ok(View::new(&reading, None, pairs, frame));
    }
    let climate = reading.climate_by(&snapshot.priors).into_owned();
    let reading = Reading { climate, ..reading };
    let question = answer::question(&reading.climate, pairs, false)?.on_a_page();
    let own = answer::recommend(snapshot, &question, &reading);
    Ok(View::new(&reading, Some(&own), pairs, frame))
}
