//! Speed of the cold night and the shelter, beside one pass over what they cannot avoid. `cargo bench --bench cold_night`
#![allow(clippy::disallowed_methods, clippy::unwrap_used, missing_docs, reason = "a benchmark fails by panicking")]

use std::hint::black_box;
use std::time::Instant;

use serde_json::{Value, json};
use winterfig::input::json as json_input;
use winterfig::jobs::cold_night as plan_night;
use winterfig::jobs::cold_night::ColdNightInput;
use winterfig::jobs::shelter;
use winterfig::jobs::shelter::ShelterInput;
use winterfig::model::snapshot::Snapshot;

/// Least of several runs, s.
fn least(runs: usize, mut work: impl FnMut()) -> f64 {
    (0..runs)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min)
}

fn question(plants: usize) -> Value {
    let plant = |n: usize| {
        let cultivar = ["celeste", "brown-turkey", "unknown"][n % 3];
        json!({
            "id": format!("plant {n}"), "cultivar": cultivar, "years": n % 7,
            "container_l": (!n.is_multiple_of(4)).then_some(5.0 + 5.0 * (n % 8) as f64), "value": 1.0 + (n % 5) as f64,
            "stage": if n.is_multiple_of(6) { "buds" } else { "hard" },
        })
    };
    json!({
        "night": {"minimum_c": -8.0, "lead_hours": 12.0, "kind": "clear_still"},
        "plants": (0..plants).map(plant).collect::<Vec<_>>(),
        "places": [
            {"id": "garage", "room_m2": plants as f64 / 30.0, "inside_a_c": 4.0, "inside_b": 0.5, "sd_k": 1.5},
            {"id": "house", "room_m2": plants as f64 / 90.0, "minimum_c": 5.0},
        ],
        "covers": [{"kind": "fleece", "count": plants / 10, "gain_k": 2.0, "gain_sd_k": 0.8, "minutes": 4.0}],
        "minutes_available": 1.5 * plants as f64,
    })
}

/// As many ways as are accepted: ten nights, sixty plants that differ, three priced shelters.
fn costliest_spell() -> Value {
    let shelter = json!({
        "parts": [{"name": "walls", "area_m2": 22.0, "cover": "glass"}, {"name": "roof", "area_m2": 10.0, "cover": "glass"}],
        "volume_m3": 18.0, "air_changes_per_hour": 1.5, "floor_m2": 9.0, "heater_w": 1500, "thermostat_c": 4, "price_per_kwh": 0.3,
    });
    let plant =
        |n: usize| json!({"id": format!("plant {n}"), "cultivar": "celeste", "years": n % 9, "container_l": 5 + n, "value": 1 + n % 5});
    let place = |n: usize| json!({"id": format!("house {n}"), "room_m2": 0.6, "shelter": shelter});
    json!({
        "nights": (0..10).map(|n| json!({"minimum_c": -9.3 - f64::from(n % 4), "date": format!("2027-01-{}", 14 + n)})).collect::<Vec<_>>(),
        "plants": (0..60).map(plant).collect::<Vec<_>>(),
        "places": (0..3).map(place).collect::<Vec<_>>(),
        "minutes_available": 60,
    })
}

fn main() {
    let snapshot = Snapshot::from_seed().unwrap();
    let costliest: ColdNightInput = json_input::read(&costliest_spell().to_string()).unwrap();
    let spell = least(1, || {
        black_box(plan_night::calculate(&costliest, &snapshot).unwrap());
    });
    println!("the costliest spell {spell:.1} s, of weight {}", plan_night::weight(&costliest));
    println!("{:>7} {:>12} {:>16} {:>9} {:>8}", "plants", "plan ms", "ms, one at a time", "ratio", "gap %");
    for plants in [12, 60, 200, 500] {
        let input: ColdNightInput = json_input::read(&question(plants).to_string()).unwrap();
        let runs = if plants > 100 { 3 } else { 10 };
        let mut gap = 0.0;
        let whole = least(runs, || gap = black_box(plan_night::calculate(&input, &snapshot).unwrap()).gap);
        // What no plan avoids: every plant's chances with nothing to choose.
        let alone = ColdNightInput { places: Vec::new(), covers: Vec::new(), ..input.clone() };
        let chances = least(runs, || {
            black_box(plan_night::calculate(&alone, &snapshot).unwrap());
        });
        println!("{plants:>7} {:>12.2} {:>16.2} {:>9.1} {:>8.2}", whole * 1e3, chances * 1e3, whole / chances, gap * 100.0);
    }
    let shelter: ShelterInput = json_input::read(
        &json!({
            "parts": [{"name": "walls", "area_m2": 20.0, "u_w_m2k": 6.8}, {"name": "roof", "area_m2": 12.0, "u_w_m2k": 6.8}],
            "volume_m3": 20.0, "air_changes_per_hour": 1.0, "floor_m2": 9.0, "water_litres": 200.0, "heater_w": 1500.0, "thermostat_c": 4.0,
            "night": {"sunset_plus_2h_c": 0.0, "minimum_c": -8.0, "hours": 14.0}, "hold_c": 4.0,
            "changes": [{"name": "second skin", "layers": [{"r_m2k_w": 0.2}]}],
        })
        .to_string(),
    )
    .unwrap();
    let bare = ShelterInput { changes: Vec::new(), water_litres: None, ..shelter.clone() };
    let (whole, steady) = (
        least(50, || {
            black_box(shelter::calculate(&shelter).unwrap());
        }),
        least(50, || {
            black_box(shelter::calculate(&bare).unwrap());
        }),
    );
    println!("shelter with water and two changes {:.2} ms, bare {:.2} ms, ratio {:.1}", whole * 1e3, steady * 1e3, whole / steady);
}
