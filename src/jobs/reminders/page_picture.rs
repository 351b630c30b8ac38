//! The picture of a garden's year: each reported winter of a fig by the cold it met and what became of it, as PNG for a letter.

use std::sync::Arc;

use askama::Template;

use crate::jobs::accounts::mail::Mail;
use crate::jobs::reminders::garden_year::{GardenYear, Met};
use crate::jobs::reminders::season_letters::SeasonLetters;
use crate::records::FirstScale;
use crate::science::hardiness::level::DamageLevel;
use crate::units::Celsius;
use crate::web::charts::axis::{TemperatureAxis, Tick};
use crate::web::palette::Palette;
use crate::web::picture::{NoPicture, png};
use crate::web::state::AppState;

/// How classes of the drawing are drawn.
const STYLE: &str = concat!(include_str!("../../../templates/sharing/preview.css"), include_str!("../../../templates/reminders/year.css"));
/// Distance of rows, and of dots that would lie on each other, in the drawing's units; and how many of those stand beside each other.
const ROW: usize = 78;
const APART: usize = 12;
const BESIDE: usize = 5;
/// Room on each side of what was met, K.
const MARGIN_K: f64 = 2.0;

#[derive(Template)]
#[template(path = "reminders/year.svg", escape = "html")]
struct YearDrawing {
    fahrenheit: bool,
    simulated: bool,
    winter: String,
    rows: Vec<(usize, &'static str)>,
    dots: Vec<Dot>,
    ticks_c: Vec<Tick>,
    ticks_f: Vec<Tick>,
    foot: usize,
}

/// One reported winter.
struct Dot {
    x: String,
    y: usize,
    class: &'static str,
    this_year: bool,
}

fn dots(met: &[Met], axis: &TemperatureAxis) -> Vec<Dot> {
    let mut placed: Vec<(DamageLevel, i64)> = Vec::with_capacity(met.len());
    met.iter()
        .map(|met| {
            let spot = (met.level, met.coldest.degrees().round() as i64);
            let before = placed.iter().filter(|other| **other == spot).count();
            placed.push(spot);
            // The first on the line, the next above and below it.
            let (steps, above) = ((before % BESIDE).div_ceil(2), before % 2 == 1);
            let middle = ROW * met.level.index() + ROW / 2;
            let y = if above { middle - APART * steps } else { middle + APART * steps };
            Dot { x: axis.x(met.coldest), y, class: met.level.word(), this_year: met.this_year }
        })
        .collect()
}

/// The picture; `None` where no report says both how cold it was and what became of the plant.
///
/// # Errors
/// When the drawing cannot be made a picture.
pub(crate) fn picture(year: &GardenYear, scale: FirstScale, simulated: bool) -> Result<Option<Vec<u8>>, NoPicture> {
    let degrees = || year.met.iter().map(|met| met.coldest.degrees());
    let (Some(low), Some(high)) = (degrees().min_by(f64::total_cmp), degrees().max_by(f64::total_cmp)) else { return Ok(None) };
    let axis = TemperatureAxis::of_reports(Celsius::literal(low - MARGIN_K), Celsius::literal(high + MARGIN_K));
    let drawing = YearDrawing {
        fahrenheit: scale == FirstScale::Fahrenheit,
        simulated,
        winter: year.winter.to_string(),
        rows: DamageLevel::ALL.iter().map(|level| (level.index(), level.label())).collect(),
        dots: dots(&year.met, &axis),
        ticks_c: axis.ticks_c(),
        ticks_f: axis.ticks_f(),
        foot: ROW * DamageLevel::ALL.len(),
    };
    let svg = drawing.render().unwrap_or_default();
    Ok(Some(png(&svg, Palette::light().resolved(STYLE))?.to_vec()))
}

/// What letters of the season of this service are made from.
pub fn letters_of(state: &AppState, mail: Mail) -> SeasonLetters {
    let simulated = state.snapshot().simulated;
    let draw = move |year: &GardenYear, scale: FirstScale| {
        picture(year, scale, simulated).inspect_err(|error| tracing::warn!(%error, "a garden's year was not drawn")).ok().flatten()
    };
    SeasonLetters { store: Arc::clone(&state.store), mail, ids: state.ids.clone(), asked: state.asked.clone(), draw: Arc::new(draw) }
}
