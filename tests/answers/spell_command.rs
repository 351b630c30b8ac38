//! A cold spell by command on files: the house with its two measured states, the plan of eight nights with forty pots, and the plan made again
//! on the third evening. An invented scenario.

use std::path::Path;

use serde_json::{Value, json};

/// What the program prints and says, and its exit code (as a debug text: the type does not compare).
fn command(words: &[&str]) -> (String, String, String) {
    let all = ["winterfig"].iter().chain(words).map(std::ffi::OsString::from);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = winterfig::cli::run(all, &mut out, &mut err);
    (format!("{code:?}"), String::from_utf8(out).unwrap(), String::from_utf8(err).unwrap())
}

fn answer(words: &[&str]) -> Value {
    let (code, out, err) = command(words);
    assert_eq!((code, err.as_str()), (format!("{:?}", std::process::ExitCode::SUCCESS), ""), "{words:?}");
    serde_json::from_str(&out).unwrap()
}

fn house() -> Value {
    let glass = |name: &str, area: f64| json!({"name": name, "area_m2": area, "cover": "glass"});
    let reading = |date: &str, outside: f64, inside: f64| json!({"date": date, "outside_c": outside, "inside_c": inside});
    json!({
        "parts": [glass("walls", 17.0), glass("roof", 9.3)], "volume_m3": 18.0, "air_changes_per_hour": 1.5, "floor_m2": 8.6,
        "heater_w": 1500, "thermostat_c": 4, "price_per_kwh": 0.3,
        "beside": {"shared_area_m2": 5.4, "shared_cover": "glass", "parts": [{"area_m2": 20.0, "cover": "film_single"}], "volume_m3": 12.0,
            "air_changes_per_hour": 2.0},
        "states": [
            {"name": "as bought", "readings": [reading("2026-01-03", -4.0, 4.0), reading("2026-01-05", -6.0, 2.4)]},
            {"name": "second skin", "since": "2026-01-10", "layers": [{"kind": "second_cover"}],
             "readings": [reading("2026-01-12", -5.0, 6.6), reading("2026-01-13", -7.0, 5.0)]},
        ],
    })
}

fn spell(lows: [f64; 8]) -> Value {
    let nights: Vec<Value> = lows.iter().zip(14..).map(|(low, day)| json!({"minimum_c": low, "date": format!("2027-01-{day}")})).collect();
    let pots: Vec<Value> = (0..40)
        .map(|n| {
            let cultivar = ["celeste", "brown-turkey"][n % 2];
            json!({"id": format!("p{n}"), "cultivar": cultivar, "container_l": if n < 20 { 15 } else { 25 }, "value": 20})
        })
        .collect();
    let places = json!([{"id": "house", "room_m2": 4, "shelter": house()}, {"id": "hoop house", "room_m2": 3, "kind": "unheated_house"}]);
    json!({"nights": nights, "plants": pots, "places": places, "covers": [{"kind": "fleece_heavy", "count": 4}], "minutes_available": 60})
}

fn written(folder: &Path, name: &str, value: &Value) -> String {
    let file = folder.join(name);
    std::fs::write(&file, value.to_string()).unwrap();
    file.display().to_string()
}

#[test]
fn eight_nights_with_forty_pots_are_planned_by_command_and_again_on_the_third_evening() {
    let folder = tempfile::tempdir().unwrap();
    // The two states: 11.8 − 8.2 = 3.6 K, with its interval and what the description gives.
    let mut tonight = house();
    tonight["outside_c"] = json!(-8);
    let measured = answer(&["shelter", &written(folder.path(), "house.json", &tonight)]);
    let gain = &measured["gains"][0];
    let of = |value: &Value| value.as_f64().unwrap();
    assert!((of(&gain["difference_k"]) - 3.6).abs() < 1e-9);
    assert!(of(&gain["interval_k"][0]) < 3.6 && of(&gain["interval_k"][1]) > 3.6 && of(&gain["predicted_k"]) > 0.0);

    let file = written(folder.path(), "spell.json", &spell([-5.0, -8.0, -11.0, -12.0, -12.0, -10.0, -6.0, 1.0]));
    let plan = answer(&["cold-night", &file]);
    let carried = |plan: &Value, night: usize| plan["nights"][night]["carry_in"].as_array().unwrap().len();
    assert!(plan["nights"].as_array().unwrap().iter().all(|night| of(&night["minutes"]) <= 60.0 + 1e-6));
    assert!(carried(&plan, 0) + carried(&plan, 1) > 20 && of(&plan["loss_after"]) < of(&plan["loss_before"]) && of(&plan["gap"]) < 0.1);
    let until = |row: &Value| row["until"].as_str().map(str::to_owned);
    assert!(plan["plan"].as_array().unwrap().iter().filter(|row| row["place"].is_string()).all(|row| until(row).is_some()));

    // It turns colder; what went in on the first two evenings stands inside.
    let colder = written(folder.path(), "colder.json", &spell([-5.0, -8.0, -14.0, -15.0, -12.0, -10.0, -6.0, 1.0]));
    let earlier = written(folder.path(), "plan.json", &plan);
    let again = answer(&["cold-night", &colder, "--from", "2027-01-16", "--followed", &earlier]);
    let over: Vec<bool> = again["nights"].as_array().unwrap().iter().map(|night| night["over"].as_bool().unwrap()).collect();
    assert_eq!(over, [true, true, false, false, false, false, false, false]);
    let inside = again["plan"].as_array().unwrap().iter().filter(|row| row["at"] == "house" || row["at"] == "hoop house").count();
    assert_eq!(inside, carried(&plan, 0) + carried(&plan, 1));
    assert_eq!(carried(&again, 0) + carried(&again, 1), 0);
    // An earlier plan of other plants is refused by name, and so is an evening that it does not have.
    let mut fewer = spell([-5.0; 8]);
    fewer["plants"].as_array_mut().unwrap().remove(0);
    let fewer = written(folder.path(), "fewer.json", &fewer);
    for (words, said) in [
        (["cold-night", &fewer, "--from", "2027-01-16", "--followed", &earlier], "the earlier plan has a plant that this file has not"),
        (["cold-night", &colder, "--from", "2027-03-16", "--followed", &earlier], "the earlier plan has no night of this date"),
    ] {
        let (code, out, err) = command(&words);
        assert_eq!((code, out.as_str()), (format!("{:?}", std::process::ExitCode::from(2)), ""));
        assert!(err.contains(said), "{err}");
    }
}
