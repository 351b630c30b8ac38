//! `/vents`: openings and shade for a sunny day.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::shelter::vents::{ShadeAt, Sky, USUAL_COVER, VentsAnswer, VentsQuestion, Wind, clear_covers};
use crate::science::shelter::shape::ShapeKind;
use crate::units::customary::CUBIC_METRES_PER_CUBIC_FOOT;
use crate::units::{Celsius, Interval};
use crate::web::degrees::plain;
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, Scale};
use crate::web::state::AppState;

#[derive(Template, WebTemplate)]
#[template(path = "shelter/vents.html")]
struct Page {
    frame: Frame,
    fahrenheit: bool,
    typed: Typed,
    errors: Vec<FieldError>,
    view: Option<View>,
    shapes: Vec<Choice>,
    covers: Vec<Choice>,
    skies: Vec<Choice>,
    winds: Vec<Choice>,
    shade_ats: Vec<Choice>,
    hot: String,
}

/// Inside a shelter leaves scorch and figs drop above this. COMMON_PRACTICE, no source.
const HOT: Celsius = Celsius::literal(40.0);

struct View {
    verdict: String,
    lines: Vec<(&'static str, String)>,
    table: Vec<(String, String, String)>,
    rise: String,
    example: bool,
}

/// Answers for a usual garden house before anything is asked; the reader’s own once something is.
pub async fn show(frame: Frame, State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Response {
    match VentsQuestion::parse(&pairs) {
        Ok(question) => {
            let example = pairs.iter().all(|(_, value)| value.trim().is_empty());
            let view = View::new(&question, &state.snapshot().vents(&question), &frame, example);
            page(frame, pairs, FieldErrors::default(), Some(view)).into_response()
        }
        Err(errors) => (StatusCode::UNPROCESSABLE_ENTITY, page(frame, pairs, errors, None)).into_response(),
    }
}

fn page(frame: Frame, pairs: Vec<(String, String)>, errors: FieldErrors, view: Option<View>) -> Page {
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    Page {
        fahrenheit: frame.scale() == Scale::Fahrenheit,
        shapes: typed.words::<ShapeKind>("shape", ShapeKind::Gable.word()),
        covers: typed.choices("cover", USUAL_COVER, clear_covers().map(|cover| (cover.key.to_owned(), cover.name.to_owned()))),
        skies: typed.words::<Sky>("sky", Sky::Summer.word()),
        winds: typed.words::<Wind>("wind", Wind::Still.word()),
        shade_ats: typed.words::<ShadeAt>("shade_at", ShadeAt::Outside.word()),
        hot: frame.temperature(HOT),
        errors: listed,
        view,
        typed,
        frame,
    }
}

impl View {
    fn new(question: &VentsQuestion, answer: &VentsAnswer, frame: &Frame, example: bool) -> Self {
        let area = |m2: f64| frame.area(m2);
        let between = |range: Interval<f64>| format!("{} to {}", area(range.low), area(range.high));
        let (each, range) = answer.each_m2;
        let rise = plain(frame, question.rise_k);
        let verdict = if each <= 0.0 {
            format!("Shut it stays within {rise} of the outside: no vent is needed for that.")
        } else {
            format!(
                "To stay within {rise} of the outside it needs about {} low down and as much at the top ({} each), {:.0} % of the floor each.",
                area(each),
                between(range),
                100.0 * each / answer.floor_m2
            )
        };
        let mut lines = vec![
            ("Shut, without shade", format!("{} above outside", plain(frame, answer.shut_bare_k))),
            ("Air that has to pass", air_words(answer, frame)),
            (
                "The trade’s rule of thumb",
                format!("{} to {} on the sides, and as much in the roof", area(answer.rule_m2[0]), area(answer.rule_m2[1])),
            ),
        ];
        if question.shade > 0.0 {
            lines.insert(1, ("Shut, shaded as you said", format!("{} above outside", plain(frame, answer.shut_k))));
        }
        if let Some(k) = answer.with_own_k {
            lines.insert(0, ("With the openings you have", format!("{} above outside", plain(frame, k))));
        }
        let row = |row: &crate::jobs::shelter::vents::Needed| {
            let cell = |(each, range): (f64, Interval<f64>)| {
                if each <= 0.0 { "none needed".to_owned() } else { format!("{} ({})", area(each), between(range)) }
            };
            let shade = if row.shade_percent == 0.0 { "no shade".to_owned() } else { format!("{:.0} % cloth", row.shade_percent) };
            (shade, cell(row.still), cell(row.light))
        };
        Self { verdict, lines, table: answer.table.iter().map(row).collect(), rise, example }
    }
}

/// `1,450 m³ an hour, 79 changes an hour`, in the reader's own units.
fn air_words(answer: &VentsAnswer, frame: &Frame) -> String {
    let (m3_h, changes) = answer.air;
    match frame.scale() {
        Scale::Celsius => format!("{m3_h:.0} m³ an hour, {changes:.0} changes of its air"),
        Scale::Fahrenheit => {
            let per_minute = m3_h / CUBIC_METRES_PER_CUBIC_FOOT / 60.0;
            format!("{per_minute:.0} cubic feet a minute, {changes:.0} changes of its air an hour")
        }
    }
}
