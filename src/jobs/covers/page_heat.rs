//! `/small-heat`: bulbs, cables and mats under a cover; the cautions stand first.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::{Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::input::errors::{FieldError, FieldErrors};
use crate::jobs::covers::heat::{Foot, HeatAnswer, HeatKind, HeatQuestion, Skin, TABLE_W, USUAL_HEAP};
use crate::jobs::shelter::words_cautions::caution_words;
use crate::model::snapshot::Snapshot;
use crate::science::cold_night::stage::NightKind;
use crate::science::shelter::cautions;
use crate::science::shelter::small_heat::Heap;
use crate::units::customary::METRES_PER_FOOT;
use crate::web::degrees::{as_written, plain, range, signed};
use crate::web::forms::{Choice, Typed};
use crate::web::frame::{Frame, Scale, provenance};
use crate::web::state::AppState;

#[derive(Template, WebTemplate)]
#[template(path = "covers/small_heat.html")]
struct Page {
    frame: Frame,
    fahrenheit: bool,
    typed: Typed,
    errors: Vec<FieldError>,
    cautions: Vec<String>,
    view: Option<View>,
    skins: Vec<Choice>,
    feet: Vec<Choice>,
    nights: Vec<Choice>,
    kinds: Vec<Choice>,
    usual: Vec<(&'static str, String)>,
    table_of: String,
    table: Vec<(&'static str, String, String, String)>,
    sources: Vec<(String, &'static str, String)>,
}

struct View {
    verdict: String,
    lines: Vec<(&'static str, String)>,
}

/// Shows the cautions, the form and a standing table; the answer once something is asked.
pub async fn show(frame: Frame, State(state): State<AppState>, Query(pairs): Query<Vec<(String, String)>>) -> Response {
    let snapshot = state.snapshot();
    if pairs.iter().all(|(_, value)| value.trim().is_empty()) {
        return page(frame, pairs, FieldErrors::default(), None, &snapshot).into_response();
    }
    let answered = HeatQuestion::parse(&pairs).and_then(|question| Ok((question, snapshot.small_heat(&question)?)));
    match answered {
        Ok((question, answer)) => page(frame, pairs, FieldErrors::default(), Some((question, answer)), &snapshot).into_response(),
        Err(errors) => (StatusCode::UNPROCESSABLE_ENTITY, page(frame, pairs, errors, None, &snapshot)).into_response(),
    }
}

fn page(
    frame: Frame,
    pairs: Vec<(String, String)>,
    errors: FieldErrors,
    answered: Option<(HeatQuestion, HeatAnswer)>,
    snapshot: &Snapshot,
) -> Page {
    let listed = errors.iter().cloned().collect();
    let typed = Typed::new(pairs, errors);
    let watts = answered.as_ref().map_or(0.0, |(_, answer)| answer.watts());
    let row = |skin: &Skin| {
        let gain = |foot, night| {
            let (middle, range) = snapshot.covered(*skin, foot, night, USUAL_HEAP).gain_k(TABLE_W);
            format!("{} ({} to {})", plain(&frame, middle), plain(&frame, range.low), plain(&frame, range.high))
        };
        (
            skin.label(),
            gain(Foot::Sealed, NightKind::ClearStill),
            gain(Foot::Open, NightKind::ClearStill),
            gain(Foot::Open, NightKind::Windy),
        )
    };
    let source = |row: &crate::science::priors::PriorRow| (row.applies_to.clone(), provenance(&row.provenance), as_written(&row.note));
    Page {
        fahrenheit: frame.scale() == Scale::Fahrenheit,
        cautions: cautions::small_heat(watts).into_iter().map(caution_words).collect(),
        view: answered.map(|(question, answer)| View::new(&question, &answer, &frame)),
        skins: typed.words::<Skin>("skin", Skin::Cloth.word()),
        feet: typed.words::<Foot>("foot", Foot::Sealed.word()),
        nights: typed.words::<NightKind>("night", NightKind::ClearStill.word()),
        kinds: typed.words::<HeatKind>("heat", HeatKind::Cable.word()),
        usual: HeatKind::ALL.iter().map(|kind| (kind.label(), format!("{} W", snapshot.usual_watts(*kind)))).collect(),
        table_of: size(&frame, USUAL_HEAP),
        table: Skin::ALL.iter().map(row).collect(),
        sources: snapshot.night_prior_rows.iter().filter(|row| row.key.starts_with("heat_")).map(source).collect(),
        errors: listed,
        typed,
        frame,
    }
}

/// `1.0 m across and 1.2 m high`, in the reader's own units.
fn size(frame: &Frame, heap: Heap) -> String {
    match frame.scale() {
        Scale::Celsius => format!("{:.1} m across and {:.1} m high", heap.across_m, heap.height_m),
        Scale::Fahrenheit => {
            format!("{:.1} ft across and {:.1} ft high", heap.across_m / METRES_PER_FOOT, heap.height_m / METRES_PER_FOOT)
        }
    }
}

impl View {
    fn new(question: &HeatQuestion, answer: &HeatAnswer, frame: &Frame) -> Self {
        let degrees =
            |range: crate::units::Interval<f64>| format!("90 % range {} to {}", plain(frame, range.low), plain(frame, range.high));
        let night = question.night.label();
        let mut said = Vec::new();
        if let Some(gain) = answer.gain {
            said.push(format!("{:.0} W add about {} on a {night} night ({}).", gain.watts, plain(frame, gain.gain_k), degrees(gain.range)));
        }
        if let Some(wish) = answer.wish {
            said.push(format!(
                "For {} it takes about {:.0} W (90 % range {:.0} to {:.0} W): {:.0} {} of {} W.",
                plain(frame, wish.gain_k),
                wish.watts,
                wish.range.low,
                wish.range.high,
                wish.count,
                question.heat.unit(),
                answer.each_w
            ));
        }
        let leak = answer.covered.leak_w_k() / answer.covered.loss_w_k();
        let per_degree = match frame.scale() {
            Scale::Celsius => format!("{:.0} W for each °C", answer.covered.loss_w_k()),
            Scale::Fahrenheit => format!("{:.0} W for each °F", answer.covered.loss_w_k() / 1.8),
        };
        let mut lines = vec![
            ("Covered plant", format!("{}, {}, {}", size(frame, question.heap), question.skin.label(), question.foot.label())),
            ("Cover", frame.area(answer.covered.cover_m2)),
            ("It takes", format!("{per_degree}, {:.0} % of it through the gaps", 100.0 * leak)),
            (
                "The cover alone, over soil",
                format!("{} (90 % range {})", signed(frame, answer.cover_alone.mean), range(frame, answer.cover_alone)),
            ),
        ];
        if let Some(gain) = answer.gain {
            lines.push(("Cover and heat", format!("{} (90 % range {})", signed(frame, gain.together.mean), range(frame, gain.together))));
        }
        Self { verdict: said.join(" "), lines }
    }
}
