//! From a described shelter to its answer.

use crate::catalogue::prior_table;
use crate::input::errors::FieldErrors;
use crate::input::json::Checked;
use crate::jobs::shelter::answer_parts::{learned, mats_answer, pair};
use crate::jobs::shelter::comparisons::{by_money, changes, gains, neighbour_answer, sets, states};
use crate::jobs::shelter::daytime::{covers, day_answer, read_day, sun_answer};
use crate::jobs::shelter::description::Described;
use crate::jobs::shelter::input::ShelterInput;
use crate::jobs::shelter::output::{FromReadings, NightPoint, PartAnswer, PowerFailure, SeasonAnswer, ShelterAnswer, StopGapAnswer};
use crate::jobs::shelter::words;
use crate::jobs::shelter::words_cautions::caution_words;
use crate::science::shelter::beside::assess_together;
use crate::science::shelter::cautions::HeatSource;
use crate::science::shelter::condensation::CLOSED_HUMIDITY;
use crate::science::shelter::envelope::Share;
use crate::science::shelter::night::{House, HouseNight};
use crate::science::shelter::outage::{Contents, Outage, StopGap};
use crate::science::shelter::{Beside, cautions, outage, season};

/// Spare heat over the computed need: the margin a heater seller's worked example adds (25 %).
const SPARE: f64 = 1.25;

pub(crate) fn answer(input: &ShelterInput, d: &Described) -> Result<ShelterAnswer, FieldErrors> {
    let mut checked = Checked::default();
    let hold_c = checked.maybe("hold_c", "temperature to hold", "°C", input.hold_c, -20.0, 40.0).or(d.shelter.heater.thermostat_c);
    let design_low_c = checked.maybe("design_low_c", "design low", "°C", input.design_low_c, -60.0, 30.0);
    let price = checked.maybe("price_per_kwh", "price", "per kWh", input.price_per_kwh, 0.0, 1e5);
    let pots_litres = checked.maybe("pots_litres", "potting medium", "litres", input.pots_litres, 0.0, 1e6).unwrap_or(0.0);
    let days = season_days(&mut checked, input, hold_c);
    let daylight = read_day(&mut checked, input, d.outside.minimum_c());
    let humidity = checked.maybe("humidity_percent", "humidity inside", "%", input.humidity_percent, 5.0, 100.0);
    checked.finish()?;

    let holds = [hold_c, d.beside.as_ref().and_then(|b| b.hold_c)];
    let together = assess_together(&d.shelter, d.neighbour(), &d.outside, holds, &d.correction);
    let (now, theirs) = (&together.mine, together.theirs.as_ref());
    let factor = d.correction.factor();
    let range = d.correction.one_night();
    let described = d.shelter.envelope.conductance_w_k();
    let house = with_room(d, factor);
    let limit_w = d.shelter.heater.limit_w;
    let mut notes = d.notes.clone();
    if d.correction.readings == 0 {
        notes.push("The range is the 25 to 30 % by which U-values, leaks, wind and sky commonly miss; log a night or two of inside and outside temperatures and it narrows.".to_owned());
    }
    if matches!(d.outside, crate::science::shelter::Outside::Steady { .. })
        && d.shelter.water_litres > 0.0
        && d.shelter.water_start_c.is_none()
    {
        notes.push(
            "Water gives heat only as it cools: with one outside temperature and no water_start_c it starts in balance and gives none."
                .to_owned(),
        );
    }
    if d.shelter.water_litres > 0.0 && now.night.water_minimum_c < -0.01 {
        notes.push("The water freezes through in this night.".to_owned());
    }
    if d.beside.as_ref().is_some_and(|b| matches!(b.beside, Beside::Shelter { .. })) && (days.is_some() || input.volume_m3.is_some()) {
        notes.push(words::NEIGHBOUR_LEFT_OUT.to_owned());
    }
    let power_failure = (input.volume_m3.is_some() && (limit_w > 0.0 || hold_c.is_some())).then(|| {
        let from = hold_c.unwrap_or(now.night.inside_minimum_c).max(now.night.inside_minimum_c);
        let outside_c = input.night.as_ref().map_or(input.outside_c.unwrap_or(0.0), |n| n.minimum_c);
        // A shipped table that does not read has no answer for roots.
        let roots_c = prior_table::priors().map_or(f64::NEG_INFINITY, |priors| priors.roots.young_roots.mean);
        let contents = Contents { volume_m3: d.shelter.envelope.volume_m3, floor_m2: d.shelter.floor_m2, pots_litres };
        let run = |f: f64| outage::after_power_fails(&with_room(d, f), &contents, from, outside_c, roots_c);
        let middle = run(factor);
        let until = |o: &Outage| o.hours_to_green;
        let mut stop_gaps: Vec<StopGapAnswer> = StopGap::ALL
            .iter()
            .map(|&what| {
                let then = outage::with_stop_gap(&with_room(d, factor), &contents, from, outside_c, roots_c, what);
                StopGapAnswer { what: words::stop_gap(what).to_owned(), hours_to_green: until(&then), hours_to_roots: then.hours_to_roots }
            })
            .collect();
        let long = |hours: Option<f64>| hours.unwrap_or(f64::INFINITY);
        stop_gaps.sort_by(|a, b| {
            long(b.hours_to_green).total_cmp(&long(a.hours_to_green)).then(long(b.hours_to_roots).total_cmp(&long(a.hours_to_roots)))
        });
        PowerFailure {
            from_inside_c: from,
            hours_to_freezing: middle.hours_to_freezing,
            range_hours: [run(range.high).hours_to_freezing, run(range.low).hours_to_freezing],
            hours_to_green: middle.hours_to_green,
            pot_litres: outage::POT_L,
            hours_to_pot_freezing: middle.hours_to_pot_freezing,
            hours_to_roots: middle.hours_to_roots,
            stop_gaps,
            settles_c: middle.settles_c,
        }
    });
    Ok(ShelterAnswer {
        conductance_w_k: now.conductance_w_k,
        by_part: d.shelter.envelope.shares().into_iter().map(|s| part(s, described)).collect(),
        inside_minimum_c: now.night.inside_minimum_c,
        inside_range_c: pair(now.inside_range_c),
        difference_k: now.night.difference_k,
        heater_needed_w: now.heater_needed_w.map(|n| n.0),
        heater_needed_range_w: now.heater_needed_w.map(|n| pair(n.1)),
        heater_suggested_w: now.heater_needed_w.map(|n| n.0 * SPARE),
        heater_for_design_low_w: design_low_c.zip(hold_c).map(|(low, hold)| house.heater_needed_w(low, hold)),
        hours_at_full: now.night.hours_at_full,
        energy_kwh: now.night.energy_kwh,
        cost: price.map(|p| p * now.night.energy_kwh),
        from_readings: from_readings(d, described),
        states: states(d),
        gains: gains(d),
        changes: changes(d, hold_c, now),
        sets: sets(d, hold_c, now),
        order: by_money(d),
        neighbour: d.beside.as_ref().map(|b| neighbour_answer(d, b, theirs, holds, price)),
        mats: d.shelter.mats.map(|m| mats_answer(m, now.night.inside_minimum_c)),
        power_failure,
        season: days.map(|(days, hold)| season_answer(d, &days, hold, price)),
        sun: sun_answer(&d.shelter, factor),
        day: daylight.map(|day| day_answer(&d.shelter, factor, &day)),
        light_percent: (d.shelter.floor_m2 > 0.0).then(|| 100.0 * d.shelter.envelope.light()),
        covers: covers(&d.shelter, &now.night, humidity.map_or(CLOSED_HUMIDITY, |h| h / 100.0)),
        damp: words::DAMP.iter().map(|&said| said.to_owned()).collect(),
        night: points(&now.night),
        cautions: all_cautions(input, d, now.heater_needed_w.map_or(0.0, |n| n.0)),
        notes,
    })
}

/// The shelter with a room beside it, at a factor on its loss.
pub(super) fn with_room(d: &Described, factor: f64) -> House {
    let room = match d.neighbour() {
        Some(Beside::Room(room)) => Some(*room),
        _ => None,
    };
    House { room, ..d.shelter.house(factor) }
}

/// Cautions for every heater and mat that stands or is advised, on both sides of the wall, each once.
fn all_cautions(input: &ShelterInput, d: &Described, needed_w: f64) -> Vec<String> {
    let most = d.changes.iter().filter_map(|c| c.change.heater_w).fold(input.heater_w.unwrap_or(0.0).max(needed_w), f64::max);
    let with_mats = d.shelter.mats.is_some() || d.changes.iter().any(|c| c.change.mats.is_some());
    let mut all = cautions::heating(input.heater_kind.unwrap_or_default(), most.max(d.shelter.heater.limit_w), with_mats);
    if let Some(n) = &input.neighbour {
        let source: HeatSource = n.heater_kind.unwrap_or_default();
        for caution in cautions::heating(source, n.heater_w.unwrap_or(0.0), n.mats.is_some()) {
            if !all.contains(&caution) {
                all.push(caution);
            }
        }
    }
    all.into_iter().map(caution_words).collect()
}

fn part(share: Share, whole: f64) -> PartAnswer {
    PartAnswer {
        share: share.conductance_w_k / whole,
        name: words::share_name(share.of),
        u_w_m2k: share.u_w_m2k,
        area_m2: share.area_m2,
        conductance_w_k: share.conductance_w_k,
    }
}

fn points(night: &HouseNight) -> Vec<NightPoint> {
    // Every sixth step of five minutes is a half hour.
    night
        .steps
        .iter()
        .step_by(6)
        .map(|s| NightPoint { hour: s.hour, outside_c: s.outside_c, inside_c: s.inside_c, heater_w: s.heater_w })
        .collect()
}

fn from_readings(d: &Described, described: f64) -> Option<FromReadings> {
    learned(&d.correction, described)
}

fn season_days(checked: &mut Checked, input: &ShelterInput, hold_c: Option<f64>) -> Option<(Vec<season::Day>, f64)> {
    let given = input.season.as_ref()?;
    let Some(hold) = hold_c else {
        checked.wrong("hold_c", "", "a season's cost needs the temperature to hold: give hold_c or thermostat_c");
        return None;
    };
    let (low, high) = (&given.daily_minima_c, &given.daily_maxima_c);
    if low.is_empty() || low.len() > 20_000 {
        checked.wrong("season.daily_minima_c", low.len(), "give 1 to 20 000 daily minima");
    }
    if !high.is_empty() && high.len() != low.len() {
        checked.wrong("season.daily_maxima_c", high.len(), format!("give as many maxima as minima ({}), or none", low.len()));
        return None;
    }
    let days = low
        .iter()
        .enumerate()
        .map(|(i, &minimum)| {
            let minimum_c = checked.number(&format!("season.daily_minima_c[{i}]"), "temperature", "°C", minimum, -90.0, 50.0);
            let maximum_c = checked.maybe(
                &format!("season.daily_maxima_c[{i}]"),
                "maximum (not below the minimum)",
                "°C",
                high.get(i).copied(),
                minimum_c,
                60.0,
            );
            season::Day { minimum_c, maximum_c }
        })
        .collect();
    Some((days, hold))
}

fn season_answer(d: &Described, days: &[season::Day], hold_c: f64, price: Option<f64>) -> SeasonAnswer {
    let limit = (d.shelter.heater.limit_w > 0.0).then_some(d.shelter.heater.limit_w);
    let run = |f: f64| season::season(&with_room(d, f), hold_c, limit, days);
    // Nights average out over a season; what stays uncertain is the lasting part.
    let lasting = d.correction.interval();
    let (middle, low, high) = (run(d.correction.factor()), run(lasting.low), run(lasting.high));
    SeasonAnswer {
        days: middle.days,
        hold_c,
        energy_kwh: middle.energy_kwh,
        energy_range_kwh: [low.energy_kwh, high.energy_kwh],
        cost: price.map(|p| p * middle.energy_kwh),
        days_short: middle.days_short,
        largest_need_w: middle.largest_need_w,
    }
}
