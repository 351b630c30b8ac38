//! States of a shelter and the readings that belong to them, from the JSON-shaped input.

use crate::input::json::Checked;
use crate::jobs::shelter::description_parts::change;
use crate::jobs::shelter::input::{ChangeInput, ReadingInput, ShelterInput, StateInput};
use crate::jobs::shelter::surfaces::parts;
use crate::science::shelter::readings::{Correction, Observed, Reading};
use crate::science::shelter::states::{self, Pooling, Standing};
use crate::science::shelter::{Beside, Shelter};

/// Most states of one shelter.
const MOST_STATES: usize = 12;

/// A state as described, with the path of what describes it.
pub(super) struct State {
    pub path: String,
    pub standing: Standing,
    pub shelter: Shelter,
}

/// What the states and their readings came to.
pub(crate) struct Experiment {
    pub states: Vec<ReadState>,
}

/// A state with its readings.
pub(crate) struct ReadState {
    pub standing: Standing,
    pub shelter: Shelter,
    pub observed: Vec<Observed>,
    /// What its own readings say of it.
    pub correction: Correction,
}

/// Each state starts from the one before it (the first from the shelter as described); what it names is different.
pub(super) fn states(checked: &mut Checked, input: &ShelterInput, first: &Shelter) -> Vec<State> {
    if input.states.len() > MOST_STATES {
        checked.wrong("states", input.states.len(), format!("at most {MOST_STATES} states of one shelter"));
        return Vec::new();
    }
    let mut all: Vec<State> = Vec::with_capacity(input.states.len());
    for (i, given) in input.states.iter().enumerate() {
        let path = format!("states[{i}]");
        let before = all.last().map_or(first, |s| &s.shelter);
        let shelter = changed(checked, &path, given, before);
        if given.name.trim().is_empty() {
            checked.wrong(&format!("{path}.name"), "", "give the state a name, such as “as bought” or “second cover”");
        }
        all.push(State { path, standing: Standing { name: given.name.clone(), since: given.since }, shelter });
    }
    let standing: Vec<Standing> = all.iter().map(|s| s.standing.clone()).collect();
    if let Err((index, error)) = states::check(&standing) {
        let key = if matches!(error, states::StateError::SameName { .. }) { "name" } else { "since" };
        let read = standing.get(index).map_or_else(String::new, |s| s.since.map_or_else(|| s.name.clone(), |d| d.to_string()));
        checked.wrong(&format!("states[{index}].{key}"), read, error);
    }
    all
}

fn changed(checked: &mut Checked, path: &str, given: &StateInput, before: &Shelter) -> Shelter {
    let mut shelter = before.clone();
    if let Some(given) = &given.parts {
        shelter.envelope.parts = parts(checked, &format!("{path}.parts"), given);
    }
    let names: Vec<&str> = shelter.envelope.parts.iter().map(|p| p.name.as_str()).collect();
    let as_change = ChangeInput {
        name: given.name.clone(),
        layers: given.layers.clone(),
        air_changes_per_hour: given.air_changes_per_hour,
        perimeter_w_mk: given.perimeter_w_mk,
        perimeter_edge: given.perimeter_edge.clone(),
        water_litres: given.water_litres,
        ground_w_m2: given.ground_w_m2,
        heater_w: given.heater_w,
        thermostat_c: given.thermostat_c,
        mats: given.mats.clone(),
        ..ChangeInput::default()
    };
    let change = change(checked, path, &as_change, &names);
    shelter.changed(&change)
}

/// A reading with its numbers checked; the heater's limit where it does not say what the heater gave.
pub(super) fn reading(checked: &mut Checked, path: &str, r: &ReadingInput, shelter: &Shelter) -> Option<Reading> {
    let clean = checked.is_clean();
    let outside_c = checked.number(&format!("{path}.outside_c"), "temperature", "°C", r.outside_c, -70.0, 60.0);
    let inside_c = checked.number(&format!("{path}.inside_c"), "temperature", "°C", r.inside_c, -70.0, 60.0);
    checked.maybe(&format!("{path}.beside_c"), "temperature beside", "°C", r.beside_c, -70.0, 60.0);
    let heater_w = checked.maybe(&format!("{path}.heater_w"), "heater", "W", r.heater_w, 0.0, 500_000.0).unwrap_or(shelter.heater.limit_w);
    // Contradiction is judged on the heater alone; mats warm the air like it.
    let mats_w = shelter.mats.map_or(0.0, |m| m.power_w(inside_c));
    (!clean || checked.is_clean()).then_some(Reading { outside_c, inside_c, heater_w: heater_w + mats_w })
}

/// Learns the loss from all readings, each with the state it belongs to.
pub(super) fn learn(
    checked: &mut Checked,
    notes: &mut Vec<String>,
    input: &ShelterInput,
    first: &Shelter,
    described: &[State],
    beside: Option<&Beside>,
) -> Option<(Correction, Option<Experiment>)> {
    let standing: Vec<Standing> = described.iter().map(|s| s.standing.clone()).collect();
    // Without states there is one, the shelter as described.
    let shelters: Vec<&Shelter> = if described.is_empty() { vec![first] } else { described.iter().map(|s| &s.shelter).collect() };
    let mut observed: Vec<Vec<Observed>> = vec![Vec::new(); shelters.len()];
    let mut paths: Vec<Vec<String>> = vec![Vec::new(); shelters.len()];
    let of_states = input
        .states
        .iter()
        .enumerate()
        .flat_map(|(i, s)| s.readings.iter().enumerate().map(move |(j, r)| (format!("states[{i}].readings[{j}]"), Some(i), r)));
    let on_top = input.readings.iter().enumerate().map(|(i, r)| (format!("readings[{i}]"), None, r));
    for (path, within, r) in on_top.chain(of_states) {
        let Some(state) = state_of(checked, &path, &standing, within, r) else { continue };
        let Some(shelter) = shelters.get(state) else { continue };
        let Some(reading) = reading(checked, &path, r, shelter) else { continue };
        let through_wall = beside.map_or(0.0, |b| b.heat_w(reading.outside_c, reading.inside_c, r.beside_c));
        if let (Some(row), Some(names)) = (observed.get_mut(state), paths.get_mut(state)) {
            row.push(Observed {
                reading,
                other_heat_w: shelter.ground_w_m2 * shelter.floor_m2 + through_wall,
                described_w_k: shelter.envelope.conductance_w_k(),
            });
            names.push(path);
        }
    }
    if !checked.is_clean() {
        return None;
    }
    let pooling = if input.pool_states == Some(true) { Pooling::Together } else { Pooling::LastAlone };
    let (correction, agreement) = match states::correction(&observed, pooling) {
        Ok(learned) => learned,
        Err((state, index, error)) => {
            let at = observed.get(state).and_then(|row| row.get(index)).map(|o| o.reading);
            let read = at.map_or_else(String::new, |r| format!("{} °C outside, {} °C inside", r.outside_c, r.inside_c));
            let path = paths.get(state).and_then(|row| row.get(index)).map_or("readings", String::as_str);
            checked.wrong(path, read, error);
            return None;
        }
    };
    if described.is_empty() {
        return Some((correction, None));
    }
    say_pooling(notes, input, &observed, &standing);
    if let Some(apart) = agreement.filter(|a| a.apart) {
        notes.push(format!(
            "The states disagree about how far the description is wrong (by a factor of {:.1}): a change did more or less than its description says. One correction for all of them is then a compromise.",
            apart.ratio
        ));
    }
    let states = described
        .iter()
        .zip(observed)
        .map(|(s, observed)| {
            let correction = Correction::learned_from(&observed).unwrap_or_else(|_| Correction::none());
            ReadState { standing: s.standing.clone(), shelter: s.shelter.clone(), observed, correction }
        })
        .collect();
    Some((correction, Some(Experiment { states })))
}

fn state_of(checked: &mut Checked, path: &str, standing: &[Standing], within: Option<usize>, r: &ReadingInput) -> Option<usize> {
    if standing.is_empty() {
        if let Some(name) = &r.state {
            checked.wrong(&format!("{path}.state"), name, "there are no states: give states, or leave this out");
        }
        return Some(0);
    }
    let named = match (&r.state, within) {
        (Some(name), _) => {
            let found = standing.iter().position(|s| s.name == *name);
            if found.is_none() || within.is_some_and(|w| Some(w) != found) {
                let accepted = standing.iter().map(|s| s.name.as_str()).collect::<Vec<_>>().join(", ");
                checked.wrong(&format!("{path}.state"), name, format!("not the state this reading belongs to; accepted: {accepted}"));
                return None;
            }
            found
        }
        (None, within) => within,
    };
    let read = r.date.map_or_else(|| format!("{} °C outside, {} °C inside", r.outside_c, r.inside_c), |d| d.to_string());
    checked.take(path, read, states::state_of(standing, named, r.date))
}

/// Which readings correct what stands now is said, never silent.
fn say_pooling(notes: &mut Vec<String>, input: &ShelterInput, observed: &[Vec<Observed>], standing: &[Standing]) {
    let (Some(last), Some(now)) = (observed.last(), standing.last()) else { return };
    let earlier: usize = observed.iter().map(Vec::len).sum::<usize>() - last.len();
    if earlier == 0 {
        return;
    }
    notes.push(match (input.pool_states, last.is_empty()) {
        (Some(true), _) => format!("The readings of all states correct what stands now, “{}”: one factor for all descriptions.", now.name),
        (_, true) => format!(
            "“{}” has no reading yet, so it is predicted from its description alone; pool_states true lets the {earlier} readings of earlier states correct it.",
            now.name
        ),
        (_, false) => format!(
            "Only the readings of “{}” correct what stands now; {earlier} of earlier states are left out of that (pool_states true takes them in).",
            now.name
        ),
    });
}
