//! A described shelter as a place of a plan, other plants than figs, and cloth over rows.

use serde_json::{Value, json};
use winterfig::input::json as json_input;
use winterfig::jobs::cold_night::{ColdNightAnswer, ColdNightInput, calculate};
use winterfig::model::snapshot::Snapshot;

use super::{answer, close};

fn asked(input: Value) -> Result<ColdNightAnswer, winterfig::input::errors::FieldErrors> {
    let snapshot = Snapshot::from_seed().unwrap();
    json_input::read::<ColdNightInput>(&input.to_string()).and_then(|input| calculate(&input, &snapshot))
}

fn plan(input: Value) -> ColdNightAnswer {
    asked(input).unwrap()
}

/// A glass house of 9 m² with 1.5 kW that stops at 4 °C.
fn house(more: Value) -> Value {
    let mut house = json!({
        "parts": [{"name": "walls", "area_m2": 22.0, "cover": "glass"}, {"name": "roof", "area_m2": 10.0, "cover": "glass"}],
        "volume_m3": 18.0, "air_changes_per_hour": 1.5, "floor_m2": 9.0, "ground_w_m2": 10.0, "heater_w": 1500, "thermostat_c": 4,
    });
    house.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
    house
}

fn two_nights(shelter: Value, plants: Value) -> Value {
    json!({
        "nights": [
            {"minimum_c": -6, "sunset_plus_2h_c": 0, "night_hours": 14, "sd_k": 1.5, "date": "2027-01-14"},
            {"minimum_c": -9, "sunset_plus_2h_c": -3, "night_hours": 14, "sd_k": 1.5, "day_maximum_c": 0, "date": "2027-01-15"},
        ],
        "plants": plants, "places": [{"id": "house", "shelter": shelter}],
    })
}

fn pots() -> Value {
    json!([{"id": "a", "cultivar": "celeste", "container_l": 15, "value": 20}, {"id": "b", "cultivar": "celeste", "container_l": 15, "value": 20}])
}

#[test]
fn a_shelter_holds_in_the_plan_what_its_own_page_says_of_each_night() {
    let a = plan(two_nights(house(json!({})), pots()));
    let place = &a.places[0];
    let hours = a.night.night_hours;
    for (n, (minimum, evening)) in [(-6.0, 0.0), (-9.0, -3.0)].into_iter().enumerate() {
        let night = json!({"night": {"sunset_plus_2h_c": evening, "minimum_c": minimum, "hours": hours, "kind": "clear_still"}});
        let own = answer(house(night));
        close(place.minima_c[n], own.inside_minimum_c, 1e-6, "lowest inside");
        close(place.heat.as_ref().unwrap().energy_kwh[n], own.energy_kwh, 1e-6, "energy");
        // The range of the plan holds that of the shelter, and what the forecast misses beside it.
        let [low, high] = place.ranges_c[n];
        assert!(
            low <= own.inside_range_c[0] + 0.05 && high >= own.inside_range_c[1] - 0.05,
            "{low} to {high} against {:?}",
            own.inside_range_c
        );
        let cold =
            json!({"heater_w": 0, "night": {"sunset_plus_2h_c": evening, "minimum_c": minimum, "hours": hours, "kind": "clear_still"}});
        close(place.heat.as_ref().unwrap().without_heat_c[n], answer(house(cold)).inside_minimum_c, 1e-6, "without heat");
    }
    assert_eq!(place.room_m2, Some(9.0), "its floor is its room where none is given");
    assert!(a.plan.iter().all(|row| row.place.as_deref() == Some("house")) && place.used_m2 > 0.0);
}

#[test]
fn a_power_failure_falls_on_the_worst_night_and_costs_more_than_the_plan() {
    let a = plan(two_nights(house(json!({})), pots()));
    let heat = a.places[0].heat.as_ref().unwrap();
    let fails = heat.power_fails.unwrap();
    assert_eq!((fails.night, fails.plants), (2, 2));
    close(fails.minimum_c, heat.without_heat_c[1], 1e-6, "as cold as without heat");
    assert!(fails.loss > fails.loss_planned);
    close(fails.loss_planned, a.plan.iter().map(|row| row.loss_planned).sum(), 1e-9, "what stands there is all there is");
}

#[test]
fn heat_is_bought_where_it_spares_more_than_it_costs_and_not_otherwise() {
    let at = |price: Option<f64>| plan(two_nights(house(json!({ "price_per_kwh": price })), pots()));
    let (free, cheap, dear) = (at(None), at(Some(0.01)), at(Some(1_000.0)));
    let heated = |a: &ColdNightAnswer| a.places[0].heat.as_ref().unwrap().heated;
    assert!(heated(&free) && heated(&cheap) && !heated(&dear));
    assert_eq!((free.heating_cost, dear.heating_cost), (None, Some(0.0)));
    let energy: f64 = cheap.places[0].heat.as_ref().unwrap().energy_kwh.iter().sum();
    close(cheap.heating_cost.unwrap(), 0.01 * energy, 1e-9, "price times energy");
    close(cheap.loss_after, free.loss_after + 0.01 * energy, 1e-9, "the cost stands beside the loss");
    // Leaving it cold is what no price can make worse.
    assert!(dear.loss_after >= cheap.loss_after && dear.optimal);
    close(at(Some(2_000.0)).loss_after, dear.loss_after, 1e-9, "a dearer heat that is not bought changes nothing");
}

#[test]
fn a_slip_in_the_shelter_is_named_by_its_path() {
    let said = asked(two_nights(house(json!({"air_changes_per_hour": -1})), pots())).unwrap_err().to_string();
    assert!(said.contains("places[0].shelter.air_changes_per_hour"), "{said}");
}

#[test]
fn other_plants_set_what_a_place_must_hold_and_go_where_it_is_warm() {
    let tenants = json!([
        {"id": "p1", "other": "peppers", "hurt_c": 3, "dead_c": 0, "container_l": 10, "value": 5},
        {"id": "g1", "other": "greens", "hurt_c": -3, "dead_c": -6, "container_l": 10, "value": 2},
        {"id": "f1", "cultivar": "celeste", "container_l": 15},
    ]);
    let a = plan(two_nights(house(json!({})), tenants));
    let row = |id: &str| a.plan.iter().find(|r| r.plant == id).unwrap();
    assert_eq!((row("p1").cultivar.as_str(), row("p1").place.as_deref()), ("peppers", Some("house")));
    assert!(row("p1").loss_if_left > 4.9 && row("p1").loss_planned < row("p1").loss_if_left);
    assert!(row("p1").chance_if_left.dead > 0.99 && row("p1").chance_if_left.tips.abs() < 1e-12);
    assert_eq!(a.places[0].must_hold_c, Some(3.0), "the tenderest of those inside");
    assert!(a.notes.iter().any(|n| n.contains("Other plants than figs")));
}

#[test]
fn what_fits_nowhere_is_said_and_what_cannot_be_is_refused() {
    let citrus = json!([{"id": "c1", "other": "citrus", "hurt_c": -2, "dead_c": -5, "container_l": 200, "footprint_m2": 12, "value": 9}]);
    let a = plan(two_nights(house(json!({})), citrus));
    assert!(
        a.notes.iter().any(|n| n.contains("c1 (citrus) needs 12.00 m² and fits nowhere: the largest place has 9.00 m²")),
        "{:?}",
        a.notes
    );
    assert_eq!(a.left_out[0].plant, "c1");
    for (plant, path, said) in [
        (json!({"id": "x", "other": "greens", "hurt_c": -6, "dead_c": -3}), "plants[0].dead_c", "cannot die at a warmer temperature"),
        (json!({"id": "x", "other": "greens", "hurt_c": -6}), "plants[0].dead_c", "needs both"),
        (
            json!({"id": "x", "other": "greens", "cultivar": "celeste", "hurt_c": -3, "dead_c": -6}),
            "plants[0].cultivar",
            "give one of them",
        ),
        (json!({"id": "x", "other": "greens", "hurt_c": -300, "dead_c": -600}), "plants[0].hurt_c", "°C"),
    ] {
        let errors = asked(two_nights(house(json!({})), json!([plant]))).unwrap_err();
        assert!(errors.of(path).is_some_and(|e| e.contains(said)), "{errors}");
    }
}

#[test]
fn cloth_over_rows_takes_ground_and_says_the_degrees_it_buys_each_night() {
    let row = |id: &str| json!({"id": id, "other": "greens", "hurt_c": -3, "dead_c": -6, "footprint_m2": 4.0, "value": 3});
    let mut night = json!({"minimum_c": -4, "kind": "cloudy", "sd_k": 1.5});
    let asked_with = |night: &Value, count: u32| {
        plan(
            json!({"night": night, "plants": [row("r1"), row("r2"), row("r3")], "covers": [{"kind": "fleece_heavy", "count": count, "area_m2": 9.0}]}),
        )
    };
    let a = asked_with(&night, 1);
    // Nine square metres reach over two rows of four.
    assert_eq!(a.plan.iter().filter(|r| r.cover.is_some()).count(), 2);
    close(a.covers[0].used, 8.0, 1e-9, "ground covered");
    assert_eq!(asked_with(&night, 2).plan.iter().filter(|r| r.cover.is_some()).count(), 3);
    assert!(a.covers[0].gains_k[0] > a.covers[0].gains_over_pot_k[0] && a.covers[0].gains_k.len() == 1);
    night["kind"] = json!("windy");
    assert!(asked_with(&night, 1).covers[0].gains_k[0] < a.covers[0].gains_k[0], "wind leaves less of it");
}
