//! `/covers`: what a cover buys, before any plan is asked.

use askama::Template;
use askama_web::WebTemplate;
use axum::extract::State;

use crate::jobs::covers::answer::{CoverRow, CoversAnswer, LONG_FROST, answer};
use crate::jobs::shelter::words_cautions::caution_words;
use crate::model::snapshot::Snapshot;
use crate::science::cold_night::covers::CoverGain;
use crate::science::cold_night::stage::{CoverKind, NightKind};
use crate::science::numeric::Gaussian;
use crate::science::shelter::cautions;
use crate::units::Celsius;
use crate::web::degrees::{GainCell, as_written, plain, range, signed};
use crate::web::frame::{Frame, provenance};
use crate::web::state::AppState;

/// The page.
#[derive(Template, WebTemplate)]
#[template(path = "covers/covers.html")]
pub struct CoversPage {
    frame: Frame,
    lead: String,
    nights: Vec<&'static str>,
    over_soil: Vec<Line>,
    over_pot: Vec<Line>,
    to_ground: Vec<(&'static str, String, String)>,
    layers: Vec<[String; 4]>,
    worn: String,
    /// What a prefectural guide counts for a further closed layer.
    each_layer: String,
    sources: Vec<(&'static str, &'static str, String)>,
    pot_share: String,
    cautions: Vec<String>,
}

struct Line {
    name: &'static str,
    cells: Vec<(&'static str, GainCell)>,
}

/// What each further closed layer holds in an unheated house, K. READ: Japanese prefectural sheet (expydoc.com/doc/7111031).
const FURTHER_LAYER_K: f64 = 2.0;

/// Shows it.
pub async fn show(frame: Frame, State(state): State<AppState>) -> CoversPage {
    page(frame, &state.snapshot())
}

/// A kind of night in words for the head of a column.
fn night_words(night: NightKind) -> &'static str {
    match night {
        NightKind::ClearStill => "clear, still",
        NightKind::Windy => "windy",
        NightKind::Cloudy => "cloudy",
    }
}

fn page(frame: Frame, snapshot: &Snapshot) -> CoversPage {
    let answer = answer(snapshot);
    let lines = |of: fn(&CoverGain) -> Gaussian| -> Vec<Line> {
        let cell = |(night, gain): &(NightKind, CoverGain)| (night_words(*night), GainCell::new(&frame, of(gain)));
        answer.rows.iter().map(|row| Line { name: row.kind.label(), cells: row.gains.iter().map(cell).collect() }).collect()
    };
    let source = |row: &CoverRow| (row.kind.label(), provenance(&row.provenance), as_written(&row.note));
    CoversPage {
        lead: lead(&answer, &frame),
        nights: NightKind::ALL.iter().map(|night| night_words(*night)).collect(),
        over_soil: lines(|gain| gain.over_soil),
        over_pot: lines(|gain| gain.over_pot),
        to_ground: answer
            .layers
            .iter()
            .map(|l| (night_words(l.night), signed(&frame, l.to_ground.mean), range(&frame, l.to_ground)))
            .collect(),
        layers: answer
            .layers
            .iter()
            .map(|l| {
                let of = |gain: Gaussian| signed(&frame, gain.mean);
                [night_words(l.night).to_owned(), of(l.fleece), of(l.plastic), format!("{} ({})", of(l.both), range(&frame, l.both))]
            })
            .collect(),
        worn: worn(&answer, &frame),
        each_layer: plain(&frame, FURTHER_LAYER_K),
        sources: answer.rows.iter().map(source).collect(),
        pot_share: format!("{:.0} %", 100.0 * answer.pot_share),
        cautions: cautions::night_work(false, true).into_iter().map(caution_words).collect(),
        frame,
    }
}

fn lead(answer: &CoversAnswer, frame: &Frame) -> String {
    let on = |kind: CoverKind, night: NightKind| {
        let row = answer.rows.iter().find(|row| row.kind == kind);
        row.and_then(|row| row.gains.iter().find(|(n, _)| *n == night)).map_or_else(Gaussian::default, |(_, gain)| gain.over_soil)
    };
    let clear = |kind| on(kind, NightKind::ClearStill);
    let (sheet, sealed, cage) = (clear(CoverKind::Sheet), clear(CoverKind::SheetToGround), clear(CoverKind::LeafCage));
    format!(
        "On a clear still night one sheet over the top buys about {}, and may leave a plant colder than none. Down to the soil all round it buys about {}, a cage of dry leaves about {}. In wind the sheet buys {}.",
        plain(frame, sheet.mean),
        plain(frame, sealed.mean),
        plain(frame, cage.mean),
        match on(CoverKind::Sheet, NightKind::Windy).mean {
            k if k < 0.05 => "nothing to count on".to_owned(),
            k => plain(frame, k),
        }
    )
}

fn worn(answer: &CoversAnswer, frame: &Frame) -> String {
    let (nights, lowest, highest) = LONG_FROST;
    let left = |n: usize| answer.shares.get(n - 1).map_or_else(String::new, |share| format!("{:.0} %", 100.0 * share));
    format!(
        "In a frost of {nights} clear nights at {} with days at {} a cover keeps {} of its first night’s gain on the third night and {} on the last, by the same sum that a plan of several nights uses.",
        frame.short(Celsius::literal(lowest)),
        frame.short(Celsius::literal(highest)),
        left(3),
        left(nights)
    )
}
