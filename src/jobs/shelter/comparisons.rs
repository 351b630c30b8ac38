//! What was changed and what might be: states and their measured gains, changes alone, in sets and in the order of degrees for the money, and
//! the neighbour.

use crate::jobs::shelter::answer_parts::{learned, mats_answer, pair};
use crate::jobs::shelter::beside::DescribedBeside;
use crate::jobs::shelter::description::Described;
use crate::jobs::shelter::experiment::{Experiment, ReadState};
use crate::jobs::shelter::output::{ChangeAnswer, GainAnswer, NeighbourAnswer, OrderAnswer, StateAnswer};
use crate::jobs::shelter::words;
use crate::science::shelter::assess::Assessment;
use crate::science::shelter::beside::assess_together;
use crate::science::shelter::gains::{Contrast, Noted, Scatter, contrast};
use crate::science::shelter::night::through_the_night;
use crate::science::shelter::order::{NOTHING_K, by_degrees_for_money};
use crate::science::shelter::{Beside, Change, Shelter};

pub(super) fn states(d: &Described) -> Vec<StateAnswer> {
    d.experiment.iter().flat_map(|e| &e.states).map(state).collect()
}

fn state(s: &ReadState) -> StateAnswer {
    let described = s.shelter.envelope.conductance_w_k();
    StateAnswer {
        name: s.standing.name.clone(),
        since: s.standing.since,
        described_conductance_w_k: described,
        from_readings: learned(&s.correction, described),
    }
}

/// Gains of each state on the last one before it that has readings, and of the last on the first where more lie between.
pub(super) fn gains(d: &Described) -> Vec<GainAnswer> {
    let Some(experiment) = &d.experiment else { return Vec::new() };
    let read: Vec<usize> = experiment.states.iter().enumerate().filter(|(_, s)| !s.observed.is_empty()).map(|(i, _)| i).collect();
    let mut pairs: Vec<(usize, usize)> = read.windows(2).filter_map(|w| Some((*w.first()?, *w.last()?))).collect();
    if let (Some(&first), Some(&last)) = (read.first(), read.last())
        && read.len() > 2
    {
        pairs.push((first, last));
    }
    pairs.into_iter().filter_map(|(from, to)| gain(experiment, from, to)).collect()
}

fn gain(e: &Experiment, from: usize, to: usize) -> Option<GainAnswer> {
    let (before, after) = (e.states.get(from)?, e.states.get(to)?);
    let noted = |value: fn(&crate::science::shelter::readings::Observed) -> Option<f64>| -> Option<Vec<Noted>> {
        e.states.iter().enumerate().flat_map(|(state, s)| s.observed.iter().map(move |o| Some(Noted { state, value: value(o)? }))).collect()
    };
    let measured = contrast(&noted(|o| Some(o.reading.difference_k()))?, from, to, Scatter::DIFFERENCES)?;
    let ratio = noted(|o| o.log_factor().ok().map(|k| k + o.described_w_k.ln())).and_then(|logs| contrast(&logs, from, to, Scatter::LOGS));
    let mean = |s: &ReadState, value: fn(&crate::science::shelter::readings::Observed) -> f64| {
        s.observed.iter().map(value).sum::<f64>() / s.observed.len() as f64
    };
    let described = |s: &ReadState| mean(s, crate::science::shelter::readings::Observed::described_difference_k);
    let predicted_k = described(after) - described(before);
    let outside_difference_k = mean(after, |o| o.reading.outside_c) - mean(before, |o| o.reading.outside_c);
    Some(GainAnswer {
        from: before.standing.name.clone(),
        to: after.standing.name.clone(),
        readings: measured.counts,
        difference_k: measured.difference,
        interval_k: pair(measured.interval),
        predicted_k,
        predicted_from_before_k: predicted_k / before.correction.factor(),
        loss_ratio: ratio.map(|r| r.difference.exp()),
        loss_ratio_interval: ratio.map(|r| pair(r.interval).map(f64::exp)),
        described_loss_ratio: after.shelter.envelope.conductance_w_k() / before.shelter.envelope.conductance_w_k(),
        outside_difference_k,
        remark: remark(&measured, predicted_k, outside_difference_k),
    })
}

fn remark(measured: &Contrast, predicted_k: f64, outside_k: f64) -> Option<String> {
    let mut said = Vec::new();
    if measured.freedom == 0 {
        said.push(words::ONE_NIGHT_EACH.to_owned());
    } else if !measured.interval.contains(predicted_k) {
        said.push(words::unlike_described(predicted_k, measured.difference));
    }
    if outside_k.abs() > words::OTHER_WEATHER_K {
        said.push(words::other_weather(outside_k));
    }
    (!said.is_empty()).then(|| said.join(" "))
}

fn together(d: &Described, shelter: &Shelter, hold_c: Option<f64>) -> Assessment {
    assess_together(shelter, d.neighbour(), &d.outside, [hold_c, None], &d.correction).mine
}

fn light_kept(before: &Shelter, after: &Shelter) -> Option<f64> {
    let now = before.envelope.light();
    (before.floor_m2 > 0.0 && now > 0.0).then(|| 100.0 * after.envelope.light() / now)
}

fn row(
    name: String,
    made: Vec<String>,
    cost: Option<f64>,
    before: (&Shelter, &Assessment),
    after: (&Shelter, &Assessment),
) -> ChangeAnswer {
    let (now, then) = (before.1, after.1);
    ChangeAnswer {
        name,
        conductance_w_k: then.conductance_w_k,
        inside_minimum_c: then.night.inside_minimum_c,
        inside_range_c: pair(then.inside_range_c),
        difference_k: then.night.difference_k,
        gain_k: then.night.inside_minimum_c - now.night.inside_minimum_c,
        heater_needed_w: then.heater_needed_w.map(|n| n.0),
        energy_kwh: then.night.energy_kwh,
        light_kept_percent: light_kept(before.0, after.0),
        material_cost: cost,
        made,
    }
}

/// Changes by index, made together, and what they cost.
fn set(d: &Described, indices: &[usize]) -> (Shelter, Vec<String>, Option<f64>) {
    let picked: Vec<_> = indices.iter().filter_map(|&i| d.changes.get(i)).collect();
    let changes: Vec<Change> = picked.iter().map(|p| p.change.clone()).collect();
    let cost = picked.iter().map(|p| p.cost).sum::<Option<f64>>();
    (d.shelter.changed(&Change::together(&changes)), changes.into_iter().map(|c| c.name).collect(), cost)
}

/// Each change alone, then all together.
pub(super) fn changes(d: &Described, hold_c: Option<f64>, now: &Assessment) -> Vec<ChangeAnswer> {
    let mut rows: Vec<ChangeAnswer> = d
        .changes
        .iter()
        .map(|p| {
            let after = d.shelter.changed(&p.change);
            let then = together(d, &after, hold_c);
            row(p.change.name.clone(), Vec::new(), p.cost, (&d.shelter, now), (&after, &then))
        })
        .collect();
    if d.changes.len() > 1 {
        let every: Vec<usize> = (0..d.changes.len()).collect();
        let (after, _, cost) = set(d, &every);
        let then = together(d, &after, hold_c);
        rows.push(row("all together".to_owned(), Vec::new(), cost, (&d.shelter, now), (&after, &then)));
    }
    rows
}

/// The sets asked for.
pub(super) fn sets(d: &Described, hold_c: Option<f64>, now: &Assessment) -> Vec<ChangeAnswer> {
    d.sets
        .iter()
        .map(|indices| {
            let (after, made, cost) = set(d, indices);
            let then = together(d, &after, hold_c);
            row(made.join(" + "), made, cost, (&d.shelter, now), (&after, &then))
        })
        .collect()
}

/// The order by degrees for the money; empty with fewer than two changes or no price at all.
pub(super) fn by_money(d: &Described) -> Vec<OrderAnswer> {
    let prices: Vec<Option<f64>> = d.changes.iter().map(|c| c.cost).collect();
    if prices.len() < 2 || prices.iter().all(Option::is_none) {
        return Vec::new();
    }
    let factor = d.correction.factor();
    let minimum_c = |made: &[usize]| {
        let after = set(d, made).0;
        match d.neighbour() {
            None => through_the_night(&after.house(factor), &d.outside).inside_minimum_c,
            Some(_) => together(d, &after, None).night.inside_minimum_c,
        }
    };
    by_degrees_for_money(&prices, minimum_c)
        .into_iter()
        .filter_map(|rung| {
            let priced = d.changes.get(rung.change)?;
            Some(OrderAnswer {
                name: priced.change.name.clone(),
                gain_k: rung.gain_k,
                gain_so_far_k: rung.gain_so_far_k,
                material_cost: priced.cost,
                cost_so_far: rung.cost_so_far,
                cost_per_k: priced.cost.filter(|_| rung.gain_k > NOTHING_K).map(|c| c / rung.gain_k),
            })
        })
        .collect()
}

/// The neighbour through the same night.
pub(super) fn neighbour_answer(
    d: &Described,
    described: &DescribedBeside,
    theirs: Option<&Assessment>,
    holds: [Option<f64>; 2],
    price: Option<f64>,
) -> NeighbourAnswer {
    let alone = |s: &Shelter, f: f64| through_the_night(&s.house(f), &d.outside).inside_minimum_c;
    let first = assess_together(&d.shelter, d.neighbour(), &d.outside, holds, &d.correction).mine;
    let beside = &described.beside;
    let first_alone = alone(&d.shelter, d.correction.factor());
    let mut answer = NeighbourAnswer {
        name: described.name.clone(),
        conductance_w_k: 0.0,
        shared_wall_w_k: beside.wall_w_k(),
        inside_minimum_c: beside.temperature_c(d.outside.minimum_c(), first.night.inside_minimum_c),
        inside_minimum_alone_c: beside.temperature_c(d.outside.minimum_c(), first.night.inside_minimum_c),
        first_inside_minimum_alone_c: first_alone,
        energy_kwh: 0.0,
        inside_range_c: None,
        wall_heat_w: 0.0,
        hours_at_full: 0.0,
        heater_needed_w: None,
        cost: None,
        from_readings: None,
        mats: None,
        changes: Vec::new(),
    };
    if let (Beside::Shelter { shelter, correction, .. }, Some(there)) = (beside, theirs) {
        answer.conductance_w_k = there.conductance_w_k;
        answer.inside_minimum_c = there.night.inside_minimum_c;
        answer.inside_minimum_alone_c = alone(shelter, correction.factor());
        answer.energy_kwh = there.night.energy_kwh;
        answer.inside_range_c = Some(pair(there.inside_range_c));
        answer.hours_at_full = there.night.hours_at_full;
        answer.heater_needed_w = there.heater_needed_w.map(|n| n.0);
        answer.cost = price.map(|p| p * there.night.energy_kwh);
        answer.from_readings = learned(correction, shelter.envelope.conductance_w_k());
        answer.mats = shelter.mats.map(|m| mats_answer(m, there.night.inside_minimum_c));
        answer.changes = their_changes(d, described, there, holds);
    }
    answer.wall_heat_w = answer.shared_wall_w_k * (answer.inside_minimum_c - first.night.inside_minimum_c);
    answer
}

fn their_changes(d: &Described, described: &DescribedBeside, now: &Assessment, holds: [Option<f64>; 2]) -> Vec<ChangeAnswer> {
    let Beside::Shelter { shelter, wall_w_k, correction } = &described.beside else { return Vec::new() };
    let with = |change: &Change| -> Option<ChangeAnswer> {
        let after = shelter.changed(change);
        let beside = Beside::Shelter { shelter: Box::new(after.clone()), wall_w_k: *wall_w_k, correction: correction.clone() };
        let then = assess_together(&d.shelter, Some(&beside), &d.outside, holds, &d.correction).theirs?;
        Some(row(change.name.clone(), Vec::new(), None, (shelter.as_ref(), now), (&after, &then)))
    };
    let mut rows: Vec<ChangeAnswer> = described.changes.iter().filter_map(with).collect();
    if described.changes.len() > 1 {
        rows.extend(with(&Change::together(&described.changes)));
    }
    rows
}
