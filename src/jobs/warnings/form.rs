//! The form of a member's warnings: what was sent as a choice, and a choice as fields.

use std::collections::HashSet;

use jiff::{SignedDuration, Timestamp};

use crate::input::errors::FieldErrors;
use crate::input::fields::Fields;
use crate::records::{Plant, PlantId, QuietHours, WarningChoice, WarningMeasure};
use crate::units::within;

/// Chances that may be chosen, %.
pub const CHANCES: [u8; 6] = [2, 5, 10, 20, 30, 50];
/// Days for which warnings may pause.
pub const PAUSES: [i64; 5] = [1, 3, 7, 14, 30];
/// Chance that is chosen at first, %. DESIGN: of nights that harm it misses some one in twenty, and about half of its warnings are in vain
/// (`cargo bench --bench warnings`).
const USUAL_CHANCE: u8 = 10;
/// Minutes that are chosen at first.
const USUAL_MINUTES: f64 = 15.0;
/// Most minutes of work that can be chosen.
const MOST_MINUTES: f64 = 600.0;

/// What a member begins with.
pub fn usual() -> WarningChoice {
    WarningChoice {
        measure: WarningMeasure::Wood,
        threshold: f64::from(USUAL_CHANCE) / 100.0,
        quiet: Some(QuietHours { from: 22, until: 7 }),
        paused_until: None,
        first_freeze: true,
        morning: true,
        stage: None,
        left_out: Vec::new(),
    }
}

fn hour(fields: &mut Fields<'_>, name: &str) -> Option<i8> {
    fields.whole(name, "an hour of the day", 0..=23).and_then(|hour| i8::try_from(hour).ok())
}

/// Reads a choice; plants are watched where they are ticked.
///
/// # Errors
/// By field, in words.
pub fn read(pairs: &[(String, String)], plants: &[Plant], now: Timestamp) -> Result<WarningChoice, FieldErrors> {
    let mut fields = Fields::lenient(pairs, &[]);
    let measure: Option<WarningMeasure> = fields.needed_word("measure", "choose what to be warned of");
    let chance = fields.number("chance", |percent| within("chance", "%", percent, 1.0, 90.0)).unwrap_or(f64::from(USUAL_CHANCE));
    let minutes = fields.number("minutes", |minutes| within("minutes", "min", minutes, 1.0, MOST_MINUTES)).unwrap_or(USUAL_MINUTES);
    let stage = fields.word("stage");
    let quiet = match (fields.tick("quiet"), hour(&mut fields, "quiet_from"), hour(&mut fields, "quiet_until")) {
        (true, Some(from), Some(until)) => Some(QuietHours { from, until }),
        (true, ..) if fields.errors.is_empty() => {
            fields.errors.add("quiet_from", "", "say from which hour to which, 0 to 23");
            None
        }
        _ => None,
    };
    let pause = fields.whole("pause", "days to pause", 0..=366).filter(|days| *days > 0);
    let ticked: HashSet<&str> = pairs.iter().filter(|(name, _)| name == "plant").map(|(_, id)| id.as_str()).collect();
    let left_out: Vec<PlantId> = plants.iter().map(|plant| plant.id).filter(|id| !ticked.contains(id.to_string().as_str())).collect();
    if !plants.is_empty() && left_out.len() == plants.len() {
        fields.errors.add("plant", "", "choose at least one plant, or stop the warnings below");
    }
    let (first_freeze, morning) = (fields.tick("first_freeze"), fields.tick("morning"));
    fields.errors.into_result()?;
    let measure = measure.unwrap_or(WarningMeasure::Wood);
    let threshold = if measure == WarningMeasure::Minutes { minutes } else { chance / 100.0 };
    let paused_until = pause.map(|days| now + SignedDuration::from_hours(24 * i64::from(days)));
    Ok(WarningChoice { measure, threshold, quiet, paused_until, first_freeze, morning, stage, left_out })
}

/// A choice as the fields of the form.
pub fn pairs(choice: &WarningChoice, plants: &[Plant]) -> Vec<(String, String)> {
    let minutes = choice.measure == WarningMeasure::Minutes;
    let mut pairs = vec![
        ("measure", choice.measure.word().to_owned()),
        ("chance", if minutes { USUAL_CHANCE.to_string() } else { format!("{:.0}", 100.0 * choice.threshold) }),
        ("minutes", format!("{:.0}", if minutes { choice.threshold } else { USUAL_MINUTES })),
        ("stage", choice.stage.map(|stage| stage.word().to_owned()).unwrap_or_default()),
    ];
    let quiet = choice.quiet.unwrap_or(QuietHours { from: 22, until: 7 });
    pairs.extend([("quiet_from", quiet.from.to_string()), ("quiet_until", quiet.until.to_string())]);
    for (name, on) in [("quiet", choice.quiet.is_some()), ("first_freeze", choice.first_freeze), ("morning", choice.morning)] {
        pairs.extend(on.then(|| (name, "yes".to_owned())));
    }
    let watched = plants.iter().filter(|plant| !choice.left_out.contains(&plant.id));
    pairs.extend(watched.map(|plant| ("plant", plant.id.to_string())));
    pairs.into_iter().map(|(name, value)| (name.to_owned(), value)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::records::sample;

    fn now() -> Timestamp {
        "2026-11-28T14:00:00Z".parse().unwrap()
    }

    #[test]
    fn a_choice_comes_back_from_its_own_fields() {
        let minutes = WarningChoice {
            measure: WarningMeasure::Minutes,
            threshold: 40.0,
            quiet: None,
            morning: false,
            stage: Some(crate::science::cold_night::stage::Stage::Buds),
            ..usual()
        };
        for choice in [usual(), minutes] {
            assert_eq!(read(&pairs(&choice, &[]), &[], now()).unwrap(), choice);
        }
    }

    #[test]
    fn what_is_wrong_is_named_by_its_field_and_a_pause_has_an_end() {
        let sent = |list: &[(&str, &str)]| list.iter().map(|(k, v)| ((*k).to_owned(), (*v).to_owned())).collect::<Vec<_>>();
        let errors = read(&sent(&[("chance", "200"), ("minutes", "x"), ("quiet", "yes"), ("quiet_from", "25")]), &[], now()).unwrap_err();
        for field in ["measure", "chance", "minutes", "quiet_from"] {
            assert!(errors.of(field).is_some(), "{field}");
        }
        let paused = read(&sent(&[("measure", "wood"), ("pause", "3")]), &[], now()).unwrap();
        assert_eq!(paused.paused_until, Some("2026-12-01T14:00:00Z".parse().unwrap()));
        let none = read(&sent(&[("measure", "wood")]), &[sample::report().plant], now()).unwrap_err();
        assert!(none.of("plant").is_some());
    }
}
