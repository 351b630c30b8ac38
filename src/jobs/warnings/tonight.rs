//! What the coming night does to a member's plants at one place, by the function that makes the night's plan.

use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp};

use crate::address;
use crate::input::errors::FieldErrors;
use crate::jobs::cold_night::field::{Field, FigField, NightField};
use crate::jobs::cold_night::forecast::{ComingNight, filled};
use crate::jobs::cold_night::garden_form::{GARDEN, LOOKS, garden_form};
use crate::jobs::cold_night::sent_form::SentForm;
use crate::jobs::cold_night::{ColdNightAnswer, PlanRow, calculate, form};
use crate::jobs::places::winters::PlaceWinters;
use crate::jobs::warnings::stage;
use crate::model::snapshot::Snapshot;
use crate::records::{HeldPoint, Plant, Setup, SetupKind, WarningChoice, WarningMeasure};
use crate::science::climate::kind::ClimateKind;
use crate::science::cold_night::stage::Stage;
use crate::science::site::Culture;

/// At a forecast lowest above this no fig is in danger of frost, and nothing is worked out, °C. DESIGN: three spreads of a forecast.
pub const SAFE_C: f64 = 5.0;
/// A pot of unknown size is taken for so large, litres: a small one, whose roots are soon cold. DESIGN.
const UNKNOWN_POT_L: &str = "10";
/// A night that was told is told again where the chance is this many times what it was, or higher by [`WORSE_BY`]; minutes by the first. DESIGN.
const WORSE_TIMES: f64 = 2.0;
const WORSE_BY: f64 = 0.2;

/// Spread of a night that is over and was read, K.
const AS_IT_WAS_K: f64 = 0.05;

/// A member's garden at one place.
#[derive(Debug, Clone)]
pub struct Garden {
    /// Where.
    pub at: HeldPoint,
    /// Its plants that are looked after.
    pub plants: Vec<Plant>,
    /// Places, shelters and thermometer of the member.
    pub setups: Vec<Setup>,
}

/// What a night does to it.
#[derive(Debug, Clone)]
pub struct AtRisk {
    /// Where.
    pub at: HeldPoint,
    /// In the member's words, else coordinates.
    pub place: String,
    /// What the member's measure comes to: the chance for the plant most at risk, or minutes.
    pub harm: f64,
    /// Evening on which the night begins.
    pub night: Date,
    /// Lowest as forecast, °C.
    pub minimum_c: f64,
    /// The night's plan.
    pub answer: ColdNightAnswer,
    /// A name for each plant of the plan, in its order.
    pub names: Vec<String>,
    /// The stage that the plants were taken to be in.
    pub stage: Option<Stage>,
    /// Address that opens the plan filled in.
    pub path: String,
    /// Further nights of frost that the forecast holds.
    pub nights_after: usize,
}

/// The evening on which a night begins.
pub fn evening_of(night: &ComingNight) -> Date {
    night.lowest_at.checked_sub(SignedDuration::from_hours(12)).unwrap_or(night.lowest_at).date()
}

/// Whether a place is near the sea, where the lows of forecasts miss by more.
pub fn near_the_sea(at: HeldPoint) -> bool {
    let winters = PlaceWinters::of(&format!("{:.2}, {:.2}", at.latitude(), at.longitude()));
    winters.is_ok_and(|winters| winters.climate() == ClimateKind::Coast)
}

/// What a row of a plan comes to if it is left, by a level of damage or worse.
pub fn chance(row: &PlanRow, measure: WarningMeasure) -> f64 {
    let Some(level) = measure.level() else { return 0.0 };
    row.chance_if_left.to_array().iter().skip(level.index()).sum()
}

/// What a member's measure of a plan comes to.
fn harm(answer: &ColdNightAnswer, measure: WarningMeasure) -> f64 {
    if measure == WarningMeasure::Minutes {
        return answer.minutes_used;
    }
    answer.plan.iter().map(|row| chance(row, measure)).fold(0.0, f64::max)
}

/// Whether a night that was told is told once more.
pub fn is_worse(measure: WarningMeasure, told: f64, now: f64) -> bool {
    now >= told * WORSE_TIMES || (measure != WarningMeasure::Minutes && now >= told + WORSE_BY)
}

/// The form of the night: the garden, and the first of the nights.
fn night_form(
    garden: &Garden,
    nights: &[ComingNight],
    stage: Option<Stage>,
    snapshot: &Snapshot,
    now: Timestamp,
    places: bool,
) -> SentForm {
    let setups: Vec<Setup> = garden.setups.iter().filter(|setup| places || setup.kind == SetupKind::Thermometer).cloned().collect();
    let mut form = garden_form(&garden.plants, &setups, snapshot, false, now, stage);
    for row in 1..=form.fig_rows() {
        let (pot, grows) = (Field::Fig(row, FigField::Pot), Field::Fig(row, FigField::Grows));
        if form.text(grows) == Some(form::POT) && form.text(pot).is_none() {
            form.set(pot, UNKNOWN_POT_L);
        }
    }
    filled::fill_in(&mut form, nights.get(..1).unwrap_or_default(), false);
    form
}

fn planned(form: &SentForm, garden: &Garden, coast: bool, snapshot: &Snapshot) -> Result<(ColdNightAnswer, Vec<usize>), FieldErrors> {
    let mut night = form::read(form)?;
    night.with_shelters(|id| {
        let found = garden.setups.iter().find(|setup| setup.id.to_string() == id)?;
        Some((found.name.as_str(), found.answers.as_slice()))
    })?;
    if coast {
        for night in &mut night.input.nights {
            night.climate = Some(ClimateKind::Coast);
        }
    }
    Ok((calculate(&night.input, snapshot)?, night.row_of))
}

/// How a plant is called in a message.
fn name(plant: &Plant) -> String {
    match plant.culture {
        Culture::Ground => plant.name_written.clone(),
        Culture::Container(Some(volume)) => format!("{} (pot, {:.0} l)", plant.name_written, volume.litres()),
        Culture::Container(None) => format!("{} (pot)", plant.name_written),
    }
}

/// The address of the plan of these nights in the member's own garden.
fn path(nights: &[ComingNight], stage: Option<Stage>, coast: bool) -> String {
    let mut form = SentForm::default();
    form.set(Field::Scale, "c");
    filled::fill_in(&mut form, nights, false);
    if coast {
        form.set(Field::Coast, "yes");
    }
    let asked = [(GARDEN, Some("1")), (LOOKS, stage.map(Stage::word))];
    let asked = asked.iter().filter_map(|(name, value)| Some(((*name).to_owned(), (*value)?.to_owned())));
    address::COLD_NIGHT.with(asked.chain(form.into_pairs()))
}

/// Chance for the plant most at risk in a garden, left in the open and in one stage, at nights as they were with these lowest temperatures, °C;
/// `None` where the plants cannot be planned for as they are kept.
pub fn harm_by_lowest(
    garden: &Garden,
    stage: Stage,
    coast: bool,
    lows: &[f64],
    measure: WarningMeasure,
    snapshot: &Snapshot,
    now: Timestamp,
) -> Option<Vec<f64>> {
    // Minutes are no chance: what they are spent against is wood.
    let measure = if measure == WarningMeasure::Minutes { WarningMeasure::Wood } else { measure };
    let mut form = night_form(garden, &[], Some(stage), snapshot, now, false);
    form.set(Field::Scale, "c");
    form.set(Field::Night(1, NightField::Minimum), "0");
    let mut input = form::read(&form).ok()?.input;
    let mut harm = Vec::with_capacity(lows.len());
    for low in lows {
        for night in input.night.iter_mut().chain(&mut input.nights) {
            (night.minimum_c, night.sd_k, night.climate) = (*low, Some(AS_IT_WAS_K), coast.then_some(ClimateKind::Coast));
        }
        harm.push(self::harm(&calculate(&input, snapshot).ok()?, measure));
    }
    Some(harm)
}

/// What the first of the coming nights does to a garden; `None` where it is too warm for any frost, or no plant stands there.
///
/// # Errors
/// Where the plants cannot be planned for as they are kept, by field of the plan's form.
pub fn at_risk(
    garden: &Garden,
    nights: &[ComingNight],
    choice: &WarningChoice,
    snapshot: &Snapshot,
    now: Timestamp,
) -> Result<Option<AtRisk>, FieldErrors> {
    let Some(first) = nights.first().filter(|night| night.minimum.degrees() <= SAFE_C && !garden.plants.is_empty()) else {
        return Ok(None);
    };
    let night = evening_of(first);
    let stage = choice.stage.or_else(|| stage::usual(snapshot, garden.at, night));
    let coast = near_the_sea(garden.at);
    // A place that cannot be read as it is kept leaves the warning standing, without it.
    let with_places = night_form(garden, nights, stage, snapshot, now, true);
    let (answer, rows) = planned(&with_places, garden, coast, snapshot)
        .or_else(|_| planned(&night_form(garden, nights, stage, snapshot, now, false), garden, coast, snapshot))?;
    let one_row_each = garden.plants.len() == rows.len();
    let names = answer
        .plan
        .iter()
        .zip(&rows)
        .map(|(row, number)| {
            let plant = number.checked_sub(1).and_then(|index| garden.plants.get(index)).filter(|_| one_row_each);
            plant.map_or_else(|| row.cultivar.clone(), name)
        })
        .collect();
    let words = garden.plants.iter().find_map(|plant| plant.place.words.clone());
    Ok(Some(AtRisk {
        at: garden.at,
        place: words.unwrap_or_else(|| format!("{:.2}, {:.2}", garden.at.latitude(), garden.at.longitude()).replace('-', "−")),
        harm: harm(&answer, choice.measure),
        night,
        minimum_c: first.minimum.degrees(),
        answer,
        names,
        stage,
        path: path(nights, stage, coast),
        nights_after: nights.iter().skip(1).take_while(|night| night.minimum.degrees() <= 0.0).count(),
    }))
}
