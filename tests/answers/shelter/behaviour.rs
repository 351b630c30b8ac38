//! What a shelter does when it is changed, read, or described wrongly.

use serde_json::{Value, json};
use winterfig::jobs::shelter::ShelterAnswer;
use winterfig::units::customary::SQUARE_METRES_PER_SQUARE_FOOT;
use winterfig::units::heat::TRANSMITTANCE_PER_IMPERIAL;

use super::{K_PER_F, answer, close, refusal};

/// evidence/shelter.md §2, common practice without a published source: 8 × 8 ft (6 ft walls), 1.5 kW, one film: 15 °F above outside; with a
/// second cover and boards on the lowest 4 ft about 30 °F; neither alone doubles it. Range 13–18 → 23–35 °F for a cover that is not tight.
#[test]
fn doubling_the_difference_takes_the_second_cover_and_the_boards_together() {
    let m2 = |ft2: f64| ft2 * SQUARE_METRES_PER_SQUARE_FOOT;
    let ft3 = 0.3048f64.powi(3);
    // 8 × 8 ft: 280 ft² of skin, ridge 2 ft above the walls; boards cover 4 ft of a 32 ft run of wall.
    let (skin, boards, volume) = (280.0, 128.0, 64.0 * 7.0);
    let r4 = 4.0 / TRANSMITTANCE_PER_IMPERIAL;
    let a = answer(json!({
        "parts": [{"name": "skin", "area_m2": m2(skin), "u_w_m2k": 1.20 * TRANSMITTANCE_PER_IMPERIAL}],
        "volume_m3": volume * ft3, "air_changes_per_hour": 1.5, "heater_w": 1500, "outside_c": -5,
        "readings": [{"outside_c": -5, "inside_c": -5.0 + 15.0 * K_PER_F, "heater_w": 1500}, {"outside_c": -8, "inside_c": -8.0 + 15.0 * K_PER_F, "heater_w": 1500}],
        "changes": [
            {"name": "second cover, loose", "layers": [{"kind": "second_cover_loose"}], "air_changes_per_hour": 1.0},
            {"name": "boards to 4 ft", "layers": [{"r_m2k_w": r4, "fraction": boards / skin}]}],
    }));
    let f = |k: f64| k / K_PER_F;
    assert!((13.0..=18.0).contains(&f(a.difference_k)), "{}", f(a.difference_k));
    let [cover, board, both] = a.changes.as_slice() else { panic!("three rows") };
    assert!((23.0..=35.0).contains(&f(both.difference_k)), "{}", f(both.difference_k));
    for alone in [cover, board] {
        assert!(alone.difference_k < 1.75 * a.difference_k, "{alone:?}");
        assert!(alone.difference_k > 1.2 * a.difference_k, "{alone:?}");
    }
    // Doubling the difference is halving the conductance: the product is the heat.
    close(both.conductance_w_k * both.difference_k, 1_500.0, 1e-6, "G·ΔT");
    assert!(a.from_readings.as_ref().unwrap().readings == 2);
}

/// The same section: rows of its table for single film (base, sealed cover, boards, both), within 4 % for the rounder second-cover value used.
#[test]
fn the_table_of_small_houses_is_reproduced() {
    for (side, other, area, wanted) in [
        (6.0, 8.0, 231.0, [17.9, 30.9, 29.4, 47.4]),
        (8.0, 8.0, 280.0, [14.7, 25.4, 23.2, 37.7]),
        (8.0, 12.0, 363.0, [11.3, 19.4, 17.3, 28.3]),
        (10.0, 12.0, 423.0, [9.6, 16.6, 14.4, 23.6]),
    ] {
        let run = 2.0 * (side + other);
        let volume = side * other * (6.0 + side / 8.0) * 0.3048f64.powi(3);
        let r4 = json!({"r_m2k_w": 4.0 / TRANSMITTANCE_PER_IMPERIAL, "fraction": 4.0 * run / area});
        let a = answer(json!({
            "parts": [{"area_m2": area * SQUARE_METRES_PER_SQUARE_FOOT, "u_w_m2k": 1.20 * TRANSMITTANCE_PER_IMPERIAL}],
            "volume_m3": volume, "air_changes_per_hour": 1.5, "heater_w": 1500, "outside_c": -5,
            "changes": [{"name": "cover", "layers": [{"kind": "second_cover"}], "air_changes_per_hour": 0.75}, {"name": "boards", "layers": [r4]}],
        }));
        let got = [a.difference_k, a.changes[0].difference_k, a.changes[1].difference_k, a.changes[2].difference_k];
        for (g, w) in got.iter().zip(wanted) {
            close(g / K_PER_F, w, 0.04 * w, &format!("{side} x {other}"));
        }
    }
}

#[test]
fn a_reading_narrows_the_range_visibly() {
    let house = |readings: Value| {
        answer(json!({"parts": [{"area_m2": 34, "u_w_m2k": 6.8}], "heater_w": 1500, "outside_c": -6, "readings": readings}))
    };
    let width = |a: &ShelterAnswer| a.inside_range_c[1] - a.inside_range_c[0];
    let none = house(json!([]));
    let one = house(json!([{"outside_c": -4, "inside_c": 2.5}]));
    let three = house(json!([{"outside_c": -4, "inside_c": 2.5}, {"outside_c": -7, "inside_c": -0.6}, {"outside_c": -2, "inside_c": 4.4}]));
    assert!(width(&one) < 0.95 * width(&none) && width(&three) < width(&one), "{} {} {}", width(&none), width(&one), width(&three));
    assert!(none.from_readings.is_none());
    let learned = three.from_readings.unwrap();
    assert!(learned.interval[0] < learned.conductance_w_k && learned.conductance_w_k < learned.interval[1]);
}

#[test]
fn what_cannot_be_is_refused_with_its_path() {
    let part = json!({"area_m2": 20, "u_w_m2k": 6.8});
    for (input, path) in [
        (json!({"parts": [], "outside_c": 0}), "parts"),
        (json!({"parts": [{"area_m2": 20, "u_w_m2k": -1}], "outside_c": 0}), "parts[0].u_w_m2k"),
        (json!({"parts": [{"area_m2": 20, "u_w_m2k": 250}], "outside_c": 0}), "parts[0].u_w_m2k"),
        (json!({"parts": [{"area_m2": 0, "u_w_m2k": 6}], "outside_c": 0}), "parts[0].area_m2"),
        (json!({"parts": [{"area_m2": 20, "cover": "gold"}], "outside_c": 0}), "parts[0].cover"),
        (
            json!({"parts": [{"area_m2": 20, "cover": "glass", "layers": [{"kind": "board_eps"}]}], "outside_c": 0}),
            "parts[0].layers[0].thickness_mm",
        ),
        (json!({"parts": [part.clone()], "volume_m3": 0, "air_changes_per_hour": 1, "outside_c": 0}), "volume_m3"),
        (json!({"parts": [part.clone()], "air_changes_per_hour": 1, "outside_c": 0}), "air_changes_per_hour"),
        (json!({"parts": [part.clone()]}), "outside_c"),
        (
            json!({"parts": [part.clone()], "outside_c": -3, "heater_w": 1000, "readings": [{"outside_c": -3, "inside_c": -6}]}),
            "readings[0]",
        ),
        (json!({"parts": [part.clone()], "outside_c": -3, "readings": [{"outside_c": -3, "inside_c": 6, "heater_w": 0}]}), "readings[0]"),
        (
            json!({"parts": [part.clone()], "outside_c": -3, "changes": [{"name": "x", "layers": [{"part": "moon", "kind": "bubble_lining"}]}]}),
            "changes[0].layers[0].part",
        ),
        (json!({"parts": [part.clone()], "outside_c": -3, "wind": 3}), "wind"),
        (json!({"parts": [{"area_m2": "many", "u_w_m2k": 3}], "outside_c": -3}), "parts[0].area_m2"),
        (json!({"parts": [part.clone()], "night": {"sunset_plus_2h_c": -5, "minimum_c": 2, "hours": 14}}), "night"),
        (json!({"parts": [part], "outside_c": -3, "season": {"daily_minima_c": [1, 2]}}), "hold_c"),
    ] {
        let said = refusal(input.clone());
        assert!(said.contains(path), "{input}: {said}");
    }
}

#[test]
fn a_heated_house_warms_the_hoop_house_beside_it_and_pays_for_it() {
    let beside = |heater: f64| {
        answer(json!({
            "parts": [{"name": "hoop", "area_m2": 40, "cover": "film_single"}], "outside_c": -8,
            "neighbour": {"name": "heated house", "shared_area_m2": 8, "shared_cover": "twinwall_6mm", "parts": [{"area_m2": 30, "cover": "twinwall_10mm"}],
                "heater_w": heater, "thermostat_c": 8},
        }))
    };
    let (cold, warm) = (beside(0.0), beside(4_000.0));
    assert!(warm.inside_minimum_c > cold.inside_minimum_c + 1.0, "{} {}", warm.inside_minimum_c, cold.inside_minimum_c);
    let n = warm.neighbour.unwrap();
    close(n.inside_minimum_c, 8.0, 1e-9, "held by its thermostat");
    close(n.first_inside_minimum_alone_c, -8.0, 1e-9, "alone");
    // Both balances closed by hand: hoop G (T + 8) = wall (8 − T).
    let (g, wall) = (40.0 * 6.8, n.shared_wall_w_k);
    close(warm.inside_minimum_c, (wall * 8.0 - g * 8.0) / (g + wall), 1e-9, "shared wall");
}

#[test]
fn more_insulation_never_raises_the_need_nor_the_cost_of_a_season() {
    let minima: Vec<f64> = (0..90).map(|d| -4.0 + 6.0 * f64::from(d).sin()).collect();
    let house = |layers: Value| {
        answer(
            json!({"parts": [{"area_m2": 34, "u_w_m2k": 6.8, "layers": layers}], "volume_m3": 18, "air_changes_per_hour": 1.0, "floor_m2": 9, "outside_c": -10,
            "heater_w": 3000, "thermostat_c": 4, "price_per_kwh": 0.3, "season": {"daily_minima_c": minima}}),
        )
    };
    let (bare, lined) = (house(json!([])), house(json!([{"kind": "bubble_lining"}])));
    assert!(lined.heater_needed_w < bare.heater_needed_w && lined.energy_kwh < bare.energy_kwh);
    let (a, b) = (bare.season.unwrap(), lined.season.unwrap());
    assert!(b.energy_kwh < a.energy_kwh && a.cost.unwrap() > 0.0 && a.days == 90);
    let (p, q) = (bare.power_failure.unwrap(), lined.power_failure.unwrap());
    assert!(q.hours_to_freezing.unwrap() > p.hours_to_freezing.unwrap());
    assert!(bare.sun.unwrap().february_shut_k > 5.0 && !bare.cautions.is_empty());
}
