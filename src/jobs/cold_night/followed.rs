//! An earlier plan of a spell that was followed up to an evening: where its plants stand then, for planning again from there.

use std::collections::{HashMap, HashSet};

use jiff::civil::Date;
use serde::Deserialize;

use crate::input::errors::FieldErrors;
use crate::jobs::cold_night::input::ColdNightInput;

/// Where a plant stands that is in no place.
const OPEN: &str = "open";

/// What is read of an earlier answer; the rest of it is passed over.
#[derive(Debug, Deserialize)]
pub struct EarlierPlan {
    plan: Vec<Row>,
    nights: Vec<Night>,
}

#[derive(Debug, Deserialize)]
struct Row {
    plant: String,
    #[serde(default)]
    place: Option<String>,
    #[serde(default)]
    out: Option<bool>,
    #[serde(default)]
    first_night: Option<usize>,
    #[serde(default)]
    last_night: Option<usize>,
    at: String,
}

#[derive(Debug, Deserialize)]
struct Night {
    number: usize,
    #[serde(default)]
    date: Option<Date>,
}

/// The question asked again from its evening `from`, with each plant where the earlier plan has it by then. A plant that the question already
/// has somewhere else than the earlier plan found it stays where the question says.
///
/// # Errors
/// By the path `from`, or `followed` for what the earlier plan says.
pub fn followed(mut input: ColdNightInput, earlier: &EarlierPlan) -> Result<ColdNightInput, FieldErrors> {
    let mut errors = FieldErrors::default();
    let number = |from: Date| earlier.nights.iter().find(|night| night.date == Some(from)).map(|night| night.number);
    let evening = match input.from.map(|from| (from, number(from))) {
        Some((_, Some(evening))) => evening,
        Some((from, None)) => {
            errors.add("from", &from.to_string(), "the earlier plan has no night of this date");
            return Err(errors);
        }
        None => {
            errors.add("from", "", "from which evening is it planned again? Give the date of that night");
            return Err(errors);
        }
    };
    let places: HashSet<String> = input.places.iter().map(|place| place.id.clone()).collect();
    let mut plants: HashMap<String, _> = input.plants.iter_mut().map(|plant| (plant.id.clone(), plant)).collect();
    for row in &earlier.plan {
        let Some(plant) = plants.get_mut(&row.plant) else {
            errors.add("followed", &row.plant, "the earlier plan has a plant that this file has not");
            continue;
        };
        if plant.at.as_deref().unwrap_or(OPEN) != row.at {
            continue;
        }
        let begun = row.first_night.is_some_and(|first| first < evening);
        let over = row.last_night.is_some_and(|last| last < evening);
        match &row.place {
            Some(place) if begun && !over => {
                if !places.contains(place) {
                    errors.add("followed", place, "the earlier plan has a place that this file has not");
                }
                if row.at != *place {
                    let first = earlier.nights.iter().find(|night| Some(night.number) == row.first_night);
                    plant.at_since = first.and_then(|night| night.date);
                }
                plant.at = Some(place.clone());
            }
            Some(_) if begun => (plant.at, plant.at_since) = (None, None),
            _ if row.out == Some(true) => (plant.at, plant.at_since) = (None, None),
            _ => {}
        }
    }
    errors.into_result()?;
    Ok(input)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::json;

    fn earlier() -> EarlierPlan {
        let rows = r#"[
            {"plant": "a", "place": "shed", "at": "open", "first_night": 1, "last_night": 4},
            {"plant": "b", "place": "shed", "at": "open", "first_night": 1, "last_night": 2},
            {"plant": "c", "place": "shed", "at": "open", "first_night": 3, "last_night": 4},
            {"plant": "d", "stay": true, "at": "open"},
            {"plant": "e", "out": true, "at": "shed"}]"#;
        let nights = (1..=4).map(|n| format!(r#"{{"number": {n}, "date": "2027-01-{}"}}"#, 13 + n)).collect::<Vec<_>>().join(",");
        serde_json::from_str(&format!(r#"{{"plan": {rows}, "nights": [{nights}], "loss_after": 1}}"#)).unwrap()
    }

    fn question(from: &str, more: &str) -> ColdNightInput {
        let plants = ["a", "b", "c", "d"].map(|id| format!(r#"{{"id": "{id}", "cultivar": "celeste", "container_l": 15}}"#)).join(",");
        let from = if from.is_empty() { String::new() } else { format!(r#""from": "{from}","#) };
        let text = format!(
            r#"{{{from} "nights": [{{"minimum_c": -5}}], "places": [{{"id": "shed", "room_m2": 3, "kind": "attached"}}],
            "plants": [{plants}, {{"id": "e", "cultivar": "celeste", "container_l": 15, "at": "shed"}} {more}]}}"#
        );
        json::read(&text).unwrap()
    }

    #[test]
    fn plants_stand_where_the_plan_has_them_by_that_evening() {
        let again = followed(question("2027-01-16", ""), &earlier()).unwrap();
        let at = |id: &str| again.plants.iter().find(|p| p.id == id).map(|p| (p.at.as_deref(), p.at_since.map(|d| d.to_string()))).unwrap();
        assert_eq!(at("a"), (Some("shed"), Some("2027-01-14".to_owned())));
        for (id, why) in [("b", "out at noon before"), ("c", "goes in that evening"), ("d", "stays"), ("e", "came out to make room")] {
            assert_eq!(at(id), (None, None), "{id} {why}");
        }
        // Where the file says that it went otherwise, it did.
        let mut otherwise = question("2027-01-16", "");
        otherwise.plants[0].at = Some("porch".to_owned());
        assert_eq!(followed(otherwise, &earlier()).unwrap().plants[0].at.as_deref(), Some("porch"));
    }

    #[test]
    fn what_does_not_fit_the_file_is_named() {
        assert!(followed(question("", ""), &earlier()).unwrap_err().of("from").is_some());
        assert!(followed(question("2027-02-16", ""), &earlier()).unwrap_err().of("from").is_some());
        let mut fewer = question("2027-01-16", "");
        fewer.plants.remove(0);
        assert!(followed(fewer, &earlier()).unwrap_err().of("followed").is_some());
        let mut elsewhere = question("2027-01-16", "");
        elsewhere.places.clear();
        assert!(followed(elsewhere, &earlier()).unwrap_err().of("followed").is_some());
    }
}
