//! A kept shelter by its JSON: states and gains, a neighbour known whole, changes in sets and by money, the day, dripping covers, and what is refused.

use serde_json::{Value, json};
use winterfig::jobs::shelter::ShelterAnswer;

use super::{answer, close, refusal};

fn house(more: Value) -> Value {
    let mut input = json!({
        "parts": [{"name": "walls", "area_m2": 18, "cover": "film_single"}, {"name": "roof", "area_m2": 10, "cover": "film_single"}],
        "volume_m3": 14, "air_changes_per_hour": 1.5, "floor_m2": 7, "heater_w": 1500, "outside_c": -7,
    });
    input.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    input
}

/// As bought, then with a second cover: three nights each, 1500 W.
fn experiment(more: Value) -> Value {
    let mut input = house(json!({
        "states": [
            {"name": "as bought", "readings": [
                {"date": "2026-01-03", "outside_c": -4.0, "inside_c": 3.6}, {"date": "2026-01-04", "outside_c": -6.5, "inside_c": 0.9},
                {"date": "2026-01-07", "outside_c": -2.0, "inside_c": 5.9}]},
            {"name": "second cover", "since": "2026-01-10", "layers": [{"kind": "second_cover"}], "readings": [
                {"date": "2026-01-11", "outside_c": -5.0, "inside_c": 6.7}, {"date": "2026-01-12", "outside_c": -8.0, "inside_c": 3.4},
                {"date": "2026-01-15", "outside_c": -3.0, "inside_c": 9.1}]}],
    }));
    input.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    input
}

#[test]
fn two_states_give_a_gain_with_its_interval_beside_what_the_description_predicts() {
    let a = answer(experiment(json!({})));
    let [gain] = a.gains.as_slice() else { panic!("one gain") };
    assert_eq!((gain.from.as_str(), gain.to.as_str(), gain.readings), ("as bought", "second cover", [3, 3]));
    // Means of 7.6, 7.4, 7.9 and of 11.7, 11.4, 12.1; pooled sd √(0.373 3/4)…: t(4, .95) = 2.131 847 (tables), by hand.
    let (before, after) = ((7.6 + 7.4 + 7.9) / 3.0, (11.7 + 11.4 + 12.1) / 3.0);
    close(gain.difference_k, after - before, 1e-9, "gain");
    let squares: f64 = [7.6, 7.4, 7.9].iter().map(|d| (d - before) * (d - before)).sum::<f64>()
        + [11.7, 11.4, 12.1].iter().map(|d| (d - after) * (d - after)).sum::<f64>();
    let half = 2.131_846_786 * (squares / 4.0 * (2.0 / 3.0)).sqrt();
    close(gain.interval_k[0], after - before - half, 1e-6, "low");
    close(gain.interval_k[1], after - before + half, 1e-6, "high");
    let predicted = 1_500.0 / a.states[1].described_conductance_w_k - 1_500.0 / a.states[0].described_conductance_w_k;
    close(gain.predicted_k, predicted, 1e-9, "description");
    assert!(gain.loss_ratio.unwrap() < 0.75 && gain.described_loss_ratio < 0.75);
}

#[test]
fn the_last_state_stands_and_pooling_is_asked_for_and_said() {
    let apart = answer(experiment(json!({})));
    let pooled = answer(experiment(json!({"pool_states": true})));
    assert_eq!(apart.from_readings.as_ref().unwrap().readings, 3);
    assert_eq!(pooled.from_readings.as_ref().unwrap().readings, 6);
    let says = |a: &ShelterAnswer, words: &str| a.notes.iter().any(|n| n.contains(words));
    assert!(says(&apart, "left out") && says(&pooled, "all states"), "{:?}", apart.notes);
    // What stands now carries the second cover: its line of the loss does.
    close(apart.from_readings.unwrap().described_conductance_w_k, apart.states[1].described_conductance_w_k, 1e-9, "now");
    // A state without a reading is predicted from its description, which is said too.
    let mut fresh = experiment(json!({}));
    fresh["states"].as_array_mut().unwrap().push(json!({"name": "boards", "since": "2026-02-01", "layers": [{"kind": "board_eps", "thickness_mm": 25, "part": "walls", "fraction": 0.6}]}));
    let fresh = answer(fresh);
    assert!(fresh.from_readings.is_none() && says(&fresh, "no reading yet"), "{:?}", fresh.notes);
    assert!(fresh.inside_minimum_c > apart.inside_minimum_c);
}

#[test]
fn readings_and_dates_that_do_not_fit_the_states_are_refused_in_words() {
    let with = |reading: Value| {
        let mut input = experiment(json!({}));
        input["states"][1]["readings"].as_array_mut().unwrap().push(reading);
        refusal(input)
    };
    let early = with(json!({"date": "2026-01-09", "outside_c": -4, "inside_c": 5}));
    assert!(early.contains("states[1].readings[3]") && early.contains("before") && early.contains("2026-01-10"), "{early}");
    let nowhere = refusal(experiment(json!({"readings": [{"outside_c": -4, "inside_c": 5}]})));
    assert!(nowhere.contains("readings[0]") && nowhere.contains("belongs to no state") && nowhere.contains("as bought"), "{nowhere}");
    let named = refusal(experiment(json!({"readings": [{"outside_c": -4, "inside_c": 5, "state": "moon"}]})));
    assert!(named.contains("readings[0].state") && named.contains("second cover"), "{named}");
    let mut backwards = experiment(json!({}));
    backwards["states"][0]["since"] = json!("2026-02-01");
    let backwards = refusal(backwards);
    assert!(backwards.contains("states[1].since"), "{backwards}");
    let stateless = refusal(house(json!({"readings": [{"outside_c": -4, "inside_c": 5, "state": "x"}]})));
    assert!(stateless.contains("readings[0].state"), "{stateless}");
}

#[test]
fn the_loss_learned_beside_a_neighbour_is_the_one_learned_without_it() {
    // The same house, 140.4 W/K of skin and 7.0 of leaks, alone and beside a hoop house. Both readings are what its own balance gives.
    let alone = answer(house(json!({})));
    let beside =
        json!({"name": "hoop house", "shared_area_m2": 6, "shared_u_w_m2k": 6.8, "parts": [{"area_m2": 30, "cover": "film_single"}]});
    let together = answer(house(json!({"beside": beside.clone()})));
    let hoop = together.neighbour.as_ref().unwrap();
    let read = |a: &ShelterAnswer| json!({"outside_c": -7, "inside_c": a.inside_minimum_c});
    let first = answer(house(json!({"readings": [read(&alone), read(&alone)]}))).from_readings.unwrap();
    for known in [json!({}), json!({"beside_c": hoop.inside_minimum_c})] {
        let mut reading = read(&together);
        reading.as_object_mut().unwrap().extend(known.as_object().unwrap().clone());
        let second = answer(house(json!({"neighbour": beside.clone(), "readings": [reading.clone(), reading]}))).from_readings.unwrap();
        close(second.conductance_w_k, first.conductance_w_k, 1e-3 * first.conductance_w_k, "beside and alone");
    }
    // What the wall passes is what the hoop house loses to the outside.
    close(-hoop.wall_heat_w, 30.0 * 6.8 * (hoop.inside_minimum_c + 7.0), 1e-6, "hoop house");
}

#[test]
fn a_neighbour_has_a_heater_mats_leaks_readings_a_range_and_changes_of_its_own() {
    let a = answer(house(json!({
        "price_per_kwh": 0.4,
        "beside": {"name": "bench house", "shared_area_m2": 6, "shared_cover": "twinwall_6mm", "parts": [{"name": "skin", "area_m2": 26, "cover": "glass"}],
            "volume_m3": 15, "air_changes_per_hour": 1.0, "heater_w": 800, "thermostat_c": 6, "mats": {"area_m2": 1.5, "power_w_m2": 110, "thermostat_c": 18},
            "readings": [{"outside_c": -5, "inside_c": -0.5, "heater_w": 800}, {"outside_c": -3, "inside_c": 1.7, "heater_w": 800}],
            "changes": [{"name": "lining", "layers": [{"kind": "bubble_lining"}]}]}
    })));
    let n = a.neighbour.unwrap();
    let [low, high] = n.inside_range_c.unwrap();
    assert!(low < n.inside_minimum_c && n.inside_minimum_c < high);
    assert!(n.mats.unwrap().medium_c > n.inside_minimum_c && n.from_readings.unwrap().readings == 2 && n.cost.unwrap() > 0.0);
    assert!(n.changes[0].gain_k > 0.5 && a.cautions.len() > 3);
}

#[test]
fn a_house_behind_the_wall_is_a_room_of_its_own_temperature() {
    let garage = |beside: Value| {
        answer(
            json!({"parts": [{"name": "walls", "area_m2": 50, "cover": "brick_240mm"}, {"name": "door", "area_m2": 5, "cover": "sheet_metal"}], "outside_c": -10, "beside": beside}),
        )
    };
    let wall = |more: Value| {
        let mut w = json!({"shared_area_m2": 15, "shared_cover": "house_wall"});
        w.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        w
    };
    let a = garage(wall(json!({"holds_c": 20})));
    let (g, w) = (a.conductance_w_k, 15.0 * 0.6);
    close(a.inside_minimum_c, (w * 20.0 - g * 10.0) / (g + w), 1e-9, "balance");
    assert!(a.sun.is_none(), "no light comes into a garage of brick");
    let refused = refusal(json!({"parts": [{"area_m2": 10, "cover": "glass"}], "outside_c": 0, "beside": wall(json!({"holds_c": 20}))}));
    assert!(refused.contains("neighbour.shared_area_m2") && refused.contains("15.0 m²"), "{refused}");
}

#[test]
fn any_set_of_changes_is_compared_and_prices_put_them_in_order() {
    let a = answer(house(json!({
        "changes": [
            {"name": "skin", "layers": [{"kind": "second_cover"}], "cost_per_m2": 2.0},
            {"name": "boards", "layers": [{"kind": "board_eps", "thickness_mm": 25, "part": "walls", "fraction": 0.5}], "cost": 90},
            {"name": "seal", "air_changes_per_hour": 0.75, "cost": 8}],
        "sets": [["skin", "boards"], ["seal"]],
    })));
    let [pair, one] = a.sets.as_slice() else { panic!("two sets") };
    assert_eq!(pair.made, ["skin", "boards"]);
    close(pair.material_cost.unwrap(), 2.0 * 28.0 + 90.0, 1e-9, "28 m² of skin and boards");
    close(one.gain_k, a.changes[2].gain_k, 1e-9, "alone");
    assert!(pair.gain_k > a.changes[0].gain_k && pair.gain_k < a.changes[3].gain_k);
    // A skin keeps 87 % of the light; boards take that of half the walls, 9 of 28 m².
    close(a.changes[0].light_kept_percent.unwrap(), 87.0, 1e-9, "skin");
    close(a.changes[1].light_kept_percent.unwrap(), 100.0 * 19.0 / 28.0, 1e-9, "boards");
    let first = &a.order[0];
    let best = a.changes[..3].iter().map(|c| c.gain_k / c.material_cost.unwrap()).fold(0.0, f64::max);
    close(1.0 / first.cost_per_k.unwrap(), best, 1e-9, "the cheapest degree comes first");
    close(a.order[2].gain_so_far_k, a.changes[3].gain_k, 1e-9, "in the end all together");
    let said = refusal(house(json!({"changes": [{"name": "skin", "layers": [{"kind": "second_cover"}]}], "sets": [["skin", "moon"]]})));
    assert!(said.contains("sets[0][1]") && said.contains("skin"), "{said}");
}

#[test]
fn a_clear_day_is_vented_and_a_dripping_skin_says_how_cold_it_is() {
    let a = answer(house(json!({"day": {"maximum_c": 4}})));
    let day = a.day.unwrap();
    let [from, to] = day.vent_hours.unwrap();
    assert!(day.shut_maximum_c > day.vent_above_c && from < to && day.vent_opening_m2 > 0.0);
    close(day.vent_rule_m2[0], 0.15 * 7.0, 1e-9, "15 % of the floor (ASABE, as quoted by Bartok)");
    let roof = a.covers.iter().find(|c| c.name == "roof").unwrap();
    assert!(roof.drips && roof.freezes && roof.face_c < a.inside_minimum_c && roof.face_c > -7.0);
    let dry = answer(house(json!({"humidity_percent": 20})));
    assert!(dry.covers.iter().all(|c| !c.drips) && !dry.damp.is_empty());
    let said = refusal(json!({"parts": [{"area_m2": 28, "cover": "glass"}], "outside_c": 0, "day": {"maximum_c": 4}}));
    assert!(said.contains("floor_m2"), "{said}");
}
