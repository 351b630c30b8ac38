//! From the JSON-shaped input to the science's types: every slip noted with its path, every assumption with a note.

use crate::catalogue::materials::{Edge, find_edge};
use crate::input::errors::FieldErrors;
use crate::input::json::Checked;
use crate::jobs::shelter::beside::{self, DescribedBeside};
use crate::jobs::shelter::description_parts::{change, mats};
use crate::jobs::shelter::experiment::{self, Experiment};
use crate::jobs::shelter::input::{ChangeInput, ShelterInput};
use crate::jobs::shelter::surfaces::{edge, leaks, parts, volume};
use crate::science::cold_night::stage::NightKind;
use crate::science::shelter::balance::Heater;
use crate::science::shelter::beside::check_wall;
use crate::science::shelter::readings::Correction;
use crate::science::shelter::{Beside, Change, Envelope, Outside, Shelter};

/// Length of a night with one outside temperature, h. DESIGN.
const DEFAULT_HOURS: f64 = 12.0;

/// Most changes put in order by their prices: each of them is asked for at every step.
const MOST_PRICED: usize = 16;
/// Most sets of changes compared at once.
const MOST_SETS: usize = 32;

/// A described shelter, ready for the science.
pub(crate) struct Described {
    /// As it stands now: the last of its states.
    pub shelter: Shelter,
    pub beside: Option<DescribedBeside>,
    pub outside: Outside,
    pub changes: Vec<PricedChange>,
    /// Sets of changes to be compared, as indices.
    pub sets: Vec<Vec<usize>>,
    pub correction: Correction,
    pub experiment: Option<Experiment>,
    pub notes: Vec<String>,
}

impl Described {
    pub(crate) fn neighbour(&self) -> Option<&Beside> {
        self.beside.as_ref().map(|b| &b.beside)
    }
}

/// A change with what its material costs.
pub(crate) struct PricedChange {
    pub change: Change,
    pub cost: Option<f64>,
}

pub(crate) fn describe(input: &ShelterInput) -> Result<Described, FieldErrors> {
    let mut checked = Checked::default();
    let mut notes = Vec::new();
    let first = shelter(&mut checked, &mut notes, input);
    let mut beside = input.neighbour.as_ref().and_then(|n| beside::describe(&mut checked, &mut notes, n));
    let outside = outside(&mut checked, &mut notes, input);
    let states = experiment::states(&mut checked, input, &first);
    let now = states.last().map_or_else(|| first.clone(), |s| s.shelter.clone());
    let changes = changes(&mut checked, input, &now);
    let sets = sets(&mut checked, input);
    if checked.is_clean() {
        for (path, shelter) in std::iter::once(("parts".to_owned(), &first)).chain(states.iter().map(|s| (s.path.clone(), &s.shelter))) {
            checked.take(&path, format!("{:.1} m²", shelter.envelope.area_m2()), shelter.check());
        }
        if let Some(there) = &beside {
            let wall = checked_wall(there, &now);
            checked.take("neighbour.shared_area_m2", there.wall_m2, wall);
            if let Beside::Shelter { shelter, .. } = &there.beside {
                checked.take("neighbour.parts", "", shelter.check());
            }
        }
    }
    checked.is_clean().then(|| beside::learn(&mut checked, input, beside.as_mut(), &now));
    let learned = if checked.is_clean() {
        experiment::learn(&mut checked, &mut notes, input, &first, &states, beside.as_ref().map(|b| &b.beside))
    } else {
        None
    };
    checked.finish()?;
    let (correction, experiment) = learned.unwrap_or_else(|| (Correction::none(), None));
    Ok(Described { shelter: now, beside, outside, changes, sets, correction, experiment, notes })
}

fn checked_wall(there: &DescribedBeside, now: &Shelter) -> Result<(), crate::science::shelter::beside::TooMuchWall> {
    check_wall(there.wall_m2, now.envelope.area_m2(), "the shelter")?;
    match &there.beside {
        Beside::Shelter { shelter, .. } => check_wall(there.wall_m2, shelter.envelope.area_m2(), "the neighbour"),
        Beside::Room(_) => Ok(()),
    }
}

fn shelter(checked: &mut Checked, notes: &mut Vec<String>, input: &ShelterInput) -> Shelter {
    let felt = input.heater_kind.unwrap_or_default().felt_share();
    let envelope = Envelope {
        parts: parts(checked, "parts", &input.parts),
        perimeter_m: checked.maybe("perimeter_m", "length of the edge", "m", input.perimeter_m, 0.0, 2_000.0).unwrap_or(0.0),
        perimeter_w_mk: edge(checked, "", input.perimeter_w_mk, input.perimeter_edge.as_deref()).unwrap_or_else(|| {
            if input.perimeter_m.is_some() {
                notes.push("The edge of the floor is taken as uninsulated (1.26 W/mK, a slab's value).".to_owned());
                find_edge("bare").map_or(0.0, Edge::w_mk)
            } else {
                0.0
            }
        }),
        volume_m3: volume(checked, "volume_m3", input.volume_m3),
        air_changes_per_hour: leaks(checked, notes, "", input.volume_m3, input.air_changes_per_hour),
    };
    let shelter = Shelter {
        envelope,
        floor_m2: checked.maybe("floor_m2", "floor", "m²", input.floor_m2, 0.1, 20_000.0).unwrap_or(0.0),
        ground_w_m2: checked.maybe("ground_w_m2", "heat from the soil", "W/m²", input.ground_w_m2, -100.0, 100.0).unwrap_or(0.0),
        water_litres: checked.maybe("water_litres", "water", "litres", input.water_litres, 0.0, 1e6).unwrap_or(0.0),
        water_start_c: checked.maybe("water_start_c", "temperature of the water", "°C", input.water_start_c, -30.0, 60.0),
        heater: Heater {
            limit_w: felt * checked.maybe("heater_w", "heater", "W", input.heater_w, 0.0, 500_000.0).unwrap_or(0.0),
            thermostat_c: checked.maybe("thermostat_c", "thermostat", "°C", input.thermostat_c, -20.0, 40.0),
        },
        mats: input.mats.as_ref().map(|m| mats(checked, "mats", m)),
        attached: input.attached || input.neighbour.is_some(),
    };
    if input.ground_w_m2.is_some_and(|g| g != 0.0) && input.floor_m2.is_none() {
        checked.wrong("floor_m2", "", "ground_w_m2 needs floor_m2: heat from the soil is per m² of floor");
    }
    if input.ground_w_m2.is_none() && input.floor_m2.is_some() {
        notes.push("No heat from the soil is counted; 10 to 30 W/m² is common inside a house, more from wet soil than from dry, less after days of cold.".to_owned());
    }
    if input.heater_w.is_some_and(|w| w > 0.0) && input.thermostat_c.is_none() {
        notes.push("Without thermostat_c the heater is taken to run at full output all night.".to_owned());
    }
    if input.heater_w.is_none() && input.thermostat_c.is_some() {
        notes.push("thermostat_c has no heater to act on: heater_w is not given.".to_owned());
    }
    shelter
}

/// The changes with their prices: given whole, or per m² of what their layers cover.
fn changes(checked: &mut Checked, input: &ShelterInput, now: &Shelter) -> Vec<PricedChange> {
    if input.changes.len() > MOST_PRICED && input.changes.iter().any(|c| c.cost.is_some() || c.cost_per_m2.is_some()) {
        checked.wrong("changes", input.changes.len(), format!("at most {MOST_PRICED} changes are put in order by their prices"));
        return Vec::new();
    }
    let names: Vec<&str> = now.envelope.parts.iter().map(|p| p.name.as_str()).collect();
    let priced = |checked: &mut Checked, i: usize, given: &ChangeInput| {
        let path = format!("changes[{i}]");
        if !input.sets.is_empty() && input.changes.iter().take(i).any(|earlier| earlier.name == given.name) {
            checked.wrong(&format!("{path}.name"), &given.name, "two changes have this name; give each its own");
        }
        let change = change(checked, &path, given, &names);
        let whole = checked.maybe(&format!("{path}.cost"), "what it costs", "", given.cost, 0.0, 1e7);
        let per_m2 = checked.maybe(&format!("{path}.cost_per_m2"), "what a square metre of it costs", "", given.cost_per_m2, 0.0, 1e5);
        let cost = match (whole, per_m2) {
            (Some(_), Some(_)) => {
                checked.wrong(&format!("{path}.cost_per_m2"), "", "give cost or cost_per_m2, not both");
                None
            }
            (None, Some(per)) if given.layers.is_empty() => {
                checked.wrong(&format!("{path}.cost_per_m2"), per, "this change lays nothing on a surface: give its cost");
                None
            }
            (whole, per) => whole.or_else(|| per.map(|p| p * covered_m2(given, now))),
        };
        PricedChange { change, cost }
    };
    input.changes.iter().enumerate().map(|(i, given)| priced(checked, i, given)).collect()
}

/// m² that a change's layers cover.
fn covered_m2(given: &ChangeInput, now: &Shelter) -> f64 {
    let area = |part: Option<&String>| -> f64 {
        now.envelope.parts.iter().filter(|p| part.is_none_or(|name| *name == p.name)).map(crate::science::shelter::Part::area_m2).sum()
    };
    given.layers.iter().map(|l| l.fraction.unwrap_or(1.0) * area(l.part.as_ref())).sum()
}

/// The sets of changes asked for, by name.
fn sets(checked: &mut Checked, input: &ShelterInput) -> Vec<Vec<usize>> {
    if input.sets.len() > MOST_SETS {
        checked.wrong("sets", input.sets.len(), format!("at most {MOST_SETS} sets of changes are compared at once"));
        return Vec::new();
    }
    let accepted = || input.changes.iter().map(|c| c.name.as_str()).collect::<Vec<_>>().join(", ");
    let mut all = Vec::with_capacity(input.sets.len());
    for (i, names) in input.sets.iter().enumerate() {
        let mut set = Vec::with_capacity(names.len());
        for (j, name) in names.iter().enumerate() {
            match input.changes.iter().position(|c| c.name == *name) {
                Some(index) if !set.contains(&index) => set.push(index),
                Some(_) => {}
                None => checked.wrong(&format!("sets[{i}][{j}]"), name, format!("no change of that name; accepted: {}", accepted())),
            }
        }
        if names.is_empty() {
            checked.wrong(&format!("sets[{i}]"), "", "name at least one change");
        }
        all.push(set);
    }
    all
}

fn outside(checked: &mut Checked, notes: &mut Vec<String>, input: &ShelterInput) -> Outside {
    let fallback = Outside::Steady { outside_c: 0.0, hours: DEFAULT_HOURS };
    let (path, outside) = match (input.outside_c, &input.night) {
        (Some(outside_c), None) => {
            if input.hours.is_none() {
                notes.push(format!("One outside temperature for {DEFAULT_HOURS:.0} hours; give hours, or a night, for its true length."));
            }
            ("outside_c", Outside::Steady { outside_c, hours: input.hours.unwrap_or(DEFAULT_HOURS) })
        }
        (None, Some(n)) => (
            "night",
            Outside::Falling {
                evening_c: n.sunset_plus_2h_c,
                minimum_c: n.minimum_c,
                hours: n.hours,
                clear_still: n.kind.unwrap_or(NightKind::ClearStill) == NightKind::ClearStill,
            },
        ),
        (Some(_), Some(_)) => {
            checked.wrong("night", "", "give outside_c or night, not both");
            return fallback;
        }
        (None, None) => {
            checked.wrong("outside_c", "", "give outside_c (one temperature) or night (sunset_plus_2h_c, minimum_c, hours)");
            return fallback;
        }
    };
    checked.take(path, "", outside.checked()).unwrap_or(fallback)
}
