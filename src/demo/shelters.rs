//! Invented shelters of the demonstration, each with nights before and after a change: drawn about what its own description predicts, and
//! labelled as simulated in their words.

use jiff::civil::Date;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use uuid::Uuid;

use crate::jobs::measured_shelters::sending::content;
use crate::jobs::shelter::field::{Field, MadeField, ReadingField};
use crate::jobs::shelter::{ShelterAnswer, calculate, form};
use crate::records::{MemberId, Setup, SetupId, SetupKind, ShelterContent, SiteName};
use crate::science::hardiness::simulate::normal;
use crate::science::numeric::Gaussian;

/// Shape, length, width, walls and top in m, covers of walls and roof, heater in W, what was changed, what it cost.
type Row = (&'static str, [&'static str; 4], &'static str, &'static str, &'static str, &'static str, Option<f64>);

/// Invented; every kind that stands twice shows a range.
const ROWS: [Row; 9] = [
    ("gable", ["3.0", "2.4", "1.8", "2.4"], "glass", "glass", "1500", "second", Some(75.0)),
    ("gable", ["3.6", "2.4", "1.7", "2.3"], "glass", "glass", "2000", "second", Some(92.0)),
    ("hoop", ["5.0", "3.0", "", "2.1"], "film_single", "film_single", "2000", "second", Some(60.0)),
    ("gable", ["2.5", "1.9", "1.6", "2.1"], "glass", "glass", "1000", "bubble", Some(48.0)),
    ("gable", ["3.0", "2.0", "1.7", "2.2"], "glass", "glass", "1500", "bubble", None),
    ("gable", ["4.2", "2.4", "1.8", "2.5"], "glass", "glass", "2000", "boards_to_bench", Some(110.0)),
    ("gable", ["3.0", "2.4", "1.8", "2.4"], "film_single", "film_single", "1500", "boards_to_bench", Some(84.0)),
    ("hoop", ["4.0", "2.5", "", "2.0"], "film_single", "film_single", "1500", "seal", Some(9.5)),
    ("gable", ["3.6", "2.4", "1.8", "2.4"], "glass", "glass", "2000", "seal", Some(12.0)),
];

/// Nights before a change, and after it.
const NIGHTS: usize = 4;
/// Outside on those nights, °C.
const OUTSIDE: Gaussian = Gaussian::new(-6.0, 2.5);
/// How far a shelter is off its description, as a factor of what it holds, and how far a gain is.
const OFF_DESCRIPTION: Gaussian = Gaussian::new(1.0, 0.1);
/// Two thermometers and a night of one's own, K.
const SCATTER: Gaussian = Gaussian::new(0.0, 0.4);

/// A shelter drawn: whose by number, and what is published of it.
#[derive(Debug, Clone, PartialEq)]
pub struct DemoShelter {
    /// Whose, counted from 0.
    pub gardener: u32,
    /// What is said of it.
    pub content: ShelterContent,
}

/// Draws the shelters, measured in the winter that ended in `year`. The same seed gives the same.
///
/// # Errors
/// In words, when one of them cannot be worked out: a defect.
pub fn demo_shelters(seed: u64, year: i16) -> Result<Vec<DemoShelter>, String> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x5E17);
    (0..).zip(&ROWS).map(|(nth, row)| drawn(&mut rng, row, year, nth * 3)).collect()
}

fn drawn(rng: &mut ChaCha8Rng, row: &Row, year: i16, gardener: u32) -> Result<DemoShelter, String> {
    let (_, _, _, _, heater, changed, cost) = *row;
    let changed_on =
        Date::new(year, 1, 10).map_err(|error| error.to_string())?.saturating_add(jiff::Span::new().days(rng.random_range(0..12)));
    let night = |nth: usize| {
        // A week to three days before the change, and from the second night after it.
        let days = i64::try_from(nth).unwrap_or_default() - if nth < NIGHTS { 7 } else { 2 };
        changed_on.saturating_add(jiff::Span::new().days(days))
    };
    let outside: Vec<f64> = (0..2 * NIGHTS).map(|_| tenth(normal(rng, OUTSIDE))).collect();
    // First as described: what it holds, and what the change gains.
    let as_described = worked_out(&answers(row, changed_on, &[]))?;
    let (holds, gained) = as_described.states.first().zip(as_described.states.last()).map_or((0.0, 0.0), |(before, after)| {
        let heat = heater.parse::<f64>().unwrap_or_default();
        (heat / before.described_conductance_w_k, heat / after.described_conductance_w_k - heat / before.described_conductance_w_k)
    });
    let (off, gain_off) = (normal(rng, OFF_DESCRIPTION), normal(rng, OFF_DESCRIPTION));
    let readings: Vec<(Date, f64, f64)> = outside
        .iter()
        .enumerate()
        .map(|(nth, &out)| {
            let after = if nth < NIGHTS { 0.0 } else { gained * gain_off };
            (night(nth), out, tenth(out + holds * off + after + normal(rng, SCATTER)))
        })
        .collect();
    let setup = Setup {
        id: SetupId(Uuid::nil()),
        member: MemberId(Uuid::nil()),
        kind: SetupKind::Shelter,
        name: SiteName::new("Simulated").map_err(|error| error.to_string())?.ok_or("a shelter without a name")?,
        answers: answers(row, changed_on, &readings),
        made: jiff::Timestamp::UNIX_EPOCH,
    };
    let mut content = content(&setup).map_err(|error| format!("{changed}: {error}"))?;
    if let (Some(change), Some(cost)) = (content.changes.first_mut(), cost) {
        change.cost = Some(cost);
        content.currency = Some("EUR".to_owned());
    }
    content.words = Some("Simulated: an invented shelter with drawn readings.".to_owned());
    Ok(DemoShelter { gardener, content })
}

fn worked_out(answers: &[(String, String)]) -> Result<ShelterAnswer, String> {
    let input = form::read(answers).map_err(|errors| errors.to_string())?;
    calculate(&input).map_err(|errors| errors.to_string())
}

/// The form as its invented member would have filled it in.
fn answers(row: &Row, changed_on: Date, readings: &[(Date, f64, f64)]) -> Vec<(String, String)> {
    let (shape, [length, width, wall, top], walls, roof, heater, changed, _) = *row;
    let mut pairs: Vec<(String, String)> = [
        (Field::Scale, "c"),
        (Field::Shape, shape),
        (Field::Length, length),
        (Field::Width, width),
        (Field::Wall, wall),
        (Field::Top, top),
        (Field::WallCover, walls),
        (Field::RoofCover, roof),
        (Field::Heater, heater),
        (Field::Minimum, "-8"),
        (Field::Made(1, MadeField::What), changed),
    ]
    .map(|(field, value)| (field.into(), value.to_owned()))
    .into();
    pairs.push((Field::Made(1, MadeField::Since).into(), changed_on.to_string()));
    for (nth, (date, outside, inside)) in (1..).zip(readings) {
        let typed = [
            (ReadingField::Date, date.to_string()),
            (ReadingField::Outside, outside.to_string()),
            (ReadingField::Inside, inside.to_string()),
            (ReadingField::Heater, heater.to_owned()),
        ];
        pairs.extend(typed.map(|(field, value)| (Field::Reading(nth, field).into(), value)));
    }
    pairs
}

fn tenth(degrees: f64) -> f64 {
    (degrees * 10.0).round() / 10.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_invented_shelter_has_a_measured_gain_and_says_that_it_is_simulated() {
        let shelters = demo_shelters(7, 2026).unwrap();
        assert_eq!(shelters, demo_shelters(7, 2026).unwrap());
        assert_eq!(shelters.len(), ROWS.len());
        for shelter in &shelters {
            let change = &shelter.content.changes[0];
            assert_eq!(change.nights, [NIGHTS, NIGHTS]);
            assert!(change.interval_k[0] < change.difference_k && change.difference_k < change.interval_k[1], "{change:?}");
            assert!(shelter.content.words.as_deref().is_some_and(|words| words.starts_with("Simulated")));
        }
    }
}
