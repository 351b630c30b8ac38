//! Shelters, pots and places held against the outside: published worked examples, measured covers, traps, a solver's own equation.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test fails by panicking")]
#![allow(clippy::needless_pass_by_value, reason = "JSON written in place reads best by value")]

mod common;

use common::case;
use serde_json::{Value, json};
use winterfig::science::climate::night_curve::night_curve;
use winterfig::science::cold_night::forecast::{FrostNight, MinimumRegression, sd_by_lead_k, sd_from_hit_rate};
use winterfig::science::cold_night::places::{HOUSE_C, StoreKind};
use winterfig::science::cold_night::pot::{HEAT_J_M3K, LATENT_J_M3, Medium, Pot, Stands, through_the_night};
use winterfig::science::shelter::cautions::{HeatSource, combustion_air_opening_cm2};
use winterfig::science::shelter::envelope::{AIR_WH_M3K, sheet_u_w_m2k};
use winterfig::science::shelter::materials::{EDGE_PER_IMPERIAL, find_edge, find_layer};
use winterfig::science::shelter::mats::Mats;
use winterfig::science::shelter::store::WaterStore;
use winterfig::service::json_input;
use winterfig::service::shelter::{ShelterAnswer, ShelterInput, calculate};
use winterfig::units::Celsius;
use winterfig::units::heat::{SQUARE_METRES_PER_SQUARE_FOOT, TRANSMITTANCE_PER_IMPERIAL, WATTS_PER_BTU_PER_HOUR};

/// K per °F.
const K_PER_F: f64 = 5.0 / 9.0;
/// kg per lb, by definition of the pound.
const KG_PER_LB: f64 = 0.453_592_37;

fn load(name: &str) -> Option<Value> {
    case(&format!("shelter/{name}.json")).map(|text| serde_json::from_str(&text).unwrap())
}

fn number(value: &Value, pointer: &str) -> f64 {
    value.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer} in {value}"))
}

fn close(got: f64, wanted: f64, tolerance: f64, what: &str) {
    assert!((got - wanted).abs() <= tolerance, "{what}: got {got}, wanted {wanted} ± {tolerance}");
}

fn answer(input: Value) -> ShelterAnswer {
    let input: ShelterInput = json_input::read(&input.to_string()).unwrap();
    calculate(&input).unwrap()
}

fn refusal(input: Value) -> String {
    let refused = json_input::read::<ShelterInput>(&input.to_string()).and_then(|i| calculate(&i));
    refused.unwrap_err().to_string()
}

/// W from Btu/h.
fn watts(btu_h: f64) -> f64 {
    btu_h * WATTS_PER_BTU_PER_HOUR
}

/// cases/shelter/gh_16mm_15m2_frostfree.json: 15 m² of 16 mm sheet, printed 567 W; 25 % margin.
#[test]
fn the_frost_free_house_of_16_mm_sheet_needs_the_printed_567_watts() {
    let Some(c) = load("gh_16mm_15m2_frostfree") else { return };
    let a = answer(json!({
        "parts": [{"name": "skin", "area_m2": number(&c, "/inputs/area_m2"), "u_w_m2k": number(&c, "/inputs/U_W_m2K")}],
        "outside_c": number(&c, "/inputs/T_out_C"), "hold_c": number(&c, "/inputs/T_in_C"),
    }));
    close(a.heater_needed_w.unwrap(), number(&c, "/published/Q_W"), 1e-9, "need");
    close(a.heater_suggested_w.unwrap(), number(&c, "/recomputed/with_margin_W"), 1e-9, "with margin");
}

/// cases/shelter/gh_22x96_partial_UA.json: conductance per part of a hoop house.
#[test]
fn conductance_by_part_of_the_22_by_96_hoop_house_is_as_printed() {
    let Some(c) = load("gh_22x96_partial_UA") else { return };
    let m2 = |p: &str| number(&c, p) * SQUARE_METRES_PER_SQUARE_FOOT;
    let u = |p: &str| number(&c, p) * TRANSMITTANCE_PER_IMPERIAL;
    let a = answer(json!({
        "parts": [
            {"name": "ends", "area_m2": m2("/inputs/end_wall_ft2"), "u_w_m2k": u("/inputs/U_end")},
            {"name": "roof", "area_m2": m2("/inputs/roof_ft2"), "u_w_m2k": u("/inputs/U_roof")}],
        "outside_c": 0,
    }));
    let imperial = |w_k: f64| w_k / WATTS_PER_BTU_PER_HOUR * K_PER_F;
    close(imperial(a.by_part[0].conductance_w_k), number(&c, "/published/UA_end"), 0.5, "ends");
    close(imperial(a.by_part[1].conductance_w_k), number(&c, "/published/UA_roof"), 0.5, "roof");
    close(imperial(a.conductance_w_k), number(&c, "/recomputed/UA_total"), 0.5, "all");
}

/// cases/shelter/jp_rooftop_house_faces.json: complete hobby example, with and without a lining; tolerance 0.5 % as stated there.
#[test]
fn the_lean_to_on_a_roof_needs_the_printed_watts_lined_and_bare() {
    let Some(c) = load("jp_rooftop_house_faces") else { return };
    for (u, q) in
        [("/inputs/U_with_inner_lining_W_m2K", "/published/Q_lined_W"), ("/inputs/U_cover_only_W_m2K", "/published/Q_cover_only_W")]
    {
        let parts: Vec<Value> = ["front", "sides", "back", "roof"]
            .iter()
            .map(|face| json!({"name": face, "area_m2": number(&c, &format!("/published/areas_m2/{face}")), "u_w_m2k": number(&c, u)}))
            .collect();
        let a = answer(json!({"parts": parts, "outside_c": number(&c, "/inputs/T_out_C"), "hold_c": number(&c, "/inputs/T_in_C")}));
        let printed = number(&c, q);
        close(a.heater_needed_w.unwrap(), printed, 0.005 * printed, u);
    }
}

/// cases/shelter/gh_8x12_floor_area_trap.json: the published sum takes the floor for the surface; it must be refused, and the true surface give
/// about 3.8 times as much.
#[test]
fn floor_area_given_as_surface_is_refused_with_the_reason() {
    let Some(c) = load("gh_8x12_floor_area_trap") else { return };
    let floor = number(&c, "/inputs/width_ft") * number(&c, "/inputs/length_ft") * SQUARE_METRES_PER_SQUARE_FOOT;
    let u = number(&c, "/inputs/U") * TRANSMITTANCE_PER_IMPERIAL;
    let (out, hold) = ((0.0 - 32.0) * K_PER_F, (65.0 - 32.0) * K_PER_F);
    let house = |area: f64, extra: Value| {
        let mut input = json!({"parts": [{"area_m2": area, "u_w_m2k": u}], "outside_c": out, "hold_c": hold});
        input.as_object_mut().unwrap().extend(extra.as_object().unwrap().clone());
        input
    };
    let said = refusal(house(floor, json!({"floor_m2": floor})));
    assert!(said.contains("parts") && said.contains("walls and roof"), "{said}");
    // The floor not named, but the volume: no shape of 9 m² stands over 19 m³.
    let said = refusal(house(floor, json!({"volume_m3": 19.0, "air_changes_per_hour": 1.0})));
    assert!(said.contains("half sphere"), "{said}");
    let true_surface = 363.0 * SQUARE_METRES_PER_SQUARE_FOOT;
    let a = answer(house(true_surface, json!({"floor_m2": floor})));
    close(a.heater_needed_w.unwrap(), watts(number(&c, "/recomputed/with_true_surface_363_ft2")), 60.0, "true surface");
}

/// cases/shelter/btu_per_day_trap.json: output is a rate; a better insulated house never needs more.
#[test]
fn heat_per_day_is_refused_and_the_hourly_need_is_the_recomputed_one() {
    let Some(c) = load("btu_per_day_trap") else { return };
    let said = refusal(json!({"parts": [{"area_m2": 20, "u_w_m2k": 5}], "outside_c": 0, "heater_btu_per_day": 6000}));
    assert!(said.contains("heater_btu_per_day") && said.contains("rates"), "{said}");
    let need = |factor: f64| {
        let area = number(&c, "/inputs/area_ft2") * SQUARE_METRES_PER_SQUARE_FOOT;
        let a = answer(json!({"parts": [{"area_m2": area, "u_w_m2k": factor * TRANSMITTANCE_PER_IMPERIAL}],
            "outside_c": 0, "hold_c": number(&c, "/inputs/dT_F") * K_PER_F}));
        a.heater_needed_w.unwrap() / WATTS_PER_BTU_PER_HOUR
    };
    close(need(1.0), number(&c, "/recomputed/Btu_per_h_with_1.0"), 1e-6, "factor 1.0, per hour");
    close(need(1.5), number(&c, "/recomputed/Btu_per_h_with_1.5"), 1e-6, "factor 1.5, per hour");
    assert!(need(1.0) < need(1.5), "a smaller U is the better insulated house");
}

/// cases/shelter/water_drums_trap.json: 55 gallons weigh 459 lb; the heat is 41 308 Btu, not the printed 59 590.
#[test]
fn ten_drums_give_the_heat_of_their_true_weight() {
    let Some(c) = load("water_drums_trap") else { return };
    // 55 US gallons of 3.785411784 L by definition.
    let litres = number(&c, "/inputs/drums") * number(&c, "/inputs/gal_each") * 3.785_411_784;
    let celsius = |f: f64| (f - 32.0) * K_PER_F;
    let heat = WaterStore::new(litres, celsius(number(&c, "/inputs/T_start_F"))).heat_j()
        - WaterStore::new(litres, celsius(number(&c, "/inputs/T_end_F"))).heat_j();
    let btu = heat / 3_600.0 / WATTS_PER_BTU_PER_HOUR;
    let wanted = number(&c, "/recomputed/true_Btu");
    close(btu, wanted, 0.005 * wanted, "heat of the drums");
    assert!(btu < 0.75 * number(&c, "/published/Btu"));
}

/// cases/shelter/second_cover_glass_measured.json: measured cuts of 37 % and 33 %; the table's sealed second skin lies in that range.
#[test]
fn a_second_skin_cuts_the_loss_of_glass_as_measured() {
    let Some(c) = load("second_cover_glass_measured") else { return };
    // kcal/m²hK to W/m²K: 4186.8 J / 3600 s.
    let kcal = 4_186.8 / 3_600.0;
    let w = number(&c, "/inputs/w_m_s");
    let (bare, pvc, pe) = ((4.41 + 0.40 * w) * kcal, (2.93 + 0.10 * w) * kcal, (3.00 + 0.16 * w) * kcal);
    close(100.0 * (1.0 - pvc / bare), number(&c, "/published/cut_PVC_pct"), 1.5, "PVC");
    close(100.0 * (1.0 - pe / bare), number(&c, "/published/cut_PE_pct"), 1.5, "PE");
    let a = answer(json!({"parts": [{"area_m2": 10, "u_w_m2k": bare, "layers": [{"kind": "second_cover"}]}], "outside_c": 0}));
    let cut = 100.0 * (1.0 - a.conductance_w_k / (10.0 * bare));
    assert!((32.0..=38.0).contains(&cut), "{cut}");
    // Added resistance recomputed there: 0.53 to 0.60 ft²h°F/Btu.
    let winterfig::science::shelter::materials::Adds::Resistance(r) = find_layer("second_cover").unwrap().adds else {
        panic!("a resistance")
    };
    assert!((0.53..=0.60).contains(&(r * TRANSMITTANCE_PER_IMPERIAL)));
}

/// cases/shelter/slab_edge_F_factors.json: all rows of the code's table that are shipped, and the worked 8 × 12 ft house.
#[test]
fn edges_of_slabs_are_the_energy_codes() {
    let Some(c) = load("slab_edge_F_factors") else { return };
    let f = &c["published"]["F_unheated"];
    let rows = [
        ("bare", &f["uninsulated"]),
        ("vertical_2ft_r5", &f["2ft_vertical"]["R5"]),
        ("vertical_2ft_r10", &f["2ft_vertical"]["R10"]),
        ("vertical_2ft_r15", &f["2ft_vertical"]["R15"]),
        ("vertical_4ft_r5", &f["4ft_vertical"]["R5"]),
        ("vertical_4ft_r10", &f["4ft_vertical"]["R10"]),
        ("vertical_4ft_r15", &f["4ft_vertical"]["R15"]),
        ("horizontal_2ft_r5", &f["2ft_horizontal"]["R5"]),
        ("horizontal_2ft_r10", &f["2ft_horizontal"]["R10"]),
        ("horizontal_4ft_r10", &f["4ft_horizontal"]["R10"]),
        ("full_r10", &f["fully_insulated"]["R10"]),
        ("full_r15", &f["fully_insulated"]["R15"]),
        ("full_r20", &f["fully_insulated"]["R20"]),
        ("full_r30", &f["fully_insulated"]["R30"]),
    ];
    for (key, printed) in rows {
        close(find_edge(key).unwrap().f_imperial, printed.as_f64().unwrap(), 0.0, key);
    }
    let q =
        |key: &str| find_edge(key).unwrap().w_mk() / EDGE_PER_IMPERIAL * number(&c, "/inputs/perimeter_ft") * number(&c, "/inputs/dT_F");
    close(q("bare"), number(&c, "/recomputed/Q_uninsulated_Btu_h"), 1e-9, "bare");
    close(q("vertical_2ft_r10"), number(&c, "/recomputed/Q_2ft_vertical_R10_Btu_h"), 1e-9, "2 ft");
    close(q("vertical_4ft_r10"), number(&c, "/recomputed/Q_4ft_vertical_R10_Btu_h"), 1e-9, "4 ft");
}

/// cases/shelter/exam_greenhouse_per_m2.json: U from films and glass, soil as a loss, ventilation; 1 % as stated there.
#[test]
fn the_examination_greenhouse_loses_what_its_inputs_say() {
    let Some(c) = load("exam_greenhouse_per_m2") else { return };
    let i = |k: &str| number(&c, &format!("/inputs/{k}"));
    let u = sheet_u_w_m2k(i("h_in"), &[(i("glass_mm_assumed") / 1_000.0, i("lambda_glass"))], i("h_out"));
    close(u, number(&c, "/recomputed/U_W_m2K"), 0.0508, "U");
    let dt = i("T_in_C") - i("T_out_C");
    let air = AIR_WH_M3K * i("vent_m3_s_per_m2_floor") * 3_600.0 * dt;
    let wanted = number(&c, "/recomputed/vent_W_m2_floor");
    // 0.34 there against 0.335 here: 1.5 %.
    close(air, wanted, 0.016 * wanted, "ventilation");
    // Soil colder than the air takes heat: a negative flux raises the need by exactly that much.
    let soil = -i("h_in") * (i("T_in_C") - i("soil_surface_C"));
    let need = |ground: f64| {
        answer(json!({"parts": [{"area_m2": 30, "u_w_m2k": u}], "floor_m2": 10, "ground_w_m2": ground, "outside_c": i("T_out_C"), "hold_c": i("T_in_C")})).heater_needed_w.unwrap()
    };
    close(need(soil) - need(0.0), 10.0 * number(&c, "/recomputed/soil_loss_W_m2_floor"), 1e-6, "soil");
}

/// cases/shelter/{wall_U_0235,foam_board_conduction,ventilation_load,gh_volume_method_20x6x4,shelter_tent_building_factor}.json.
#[test]
fn walls_boards_air_and_volume_rules_come_out_as_printed() {
    if let Some(c) = load("wall_U_0235") {
        let a = answer(json!({"parts": [{"area_m2": number(&c, "/inputs/area_m2"), "u_w_m2k": number(&c, "/inputs/U_W_m2K")}],
            "outside_c": 0, "hours": 24, "heater_w": 1000, "thermostat_c": number(&c, "/inputs/dT_K")}));
        close(a.heater_needed_w.unwrap(), number(&c, "/published/Q_W"), 1e-9, "wall");
        close(a.energy_kwh, number(&c, "/published/kWh_per_day"), 1e-9, "kWh per day");
    }
    if let Some(c) = load("foam_board_conduction") {
        let i = |k: &str| number(&c, &format!("/inputs/{k}"));
        let board = i("lambda_W_mK") / i("thickness_m");
        let a =
            answer(json!({"parts": [{"area_m2": i("area_m2"), "u_w_m2k": board}, {"area_m2": i("window_m2"), "u_w_m2k": i("window_U")}],
            "outside_c": 0, "hold_c": i("dT_K")}));
        close(a.heater_needed_w.unwrap(), number(&c, "/published/total_W"), 1e-9, "board and window");
    }
    if let Some(c) = load("ventilation_load") {
        let i = |k: &str| number(&c, &format!("/inputs/{k}"));
        let cfm = i("cfm_per_ft2") * i("area_ft2") + i("people") * i("cfm_per_person");
        // The printed coefficient is 1.1 Btu/h per cfm and °F; that of dry air at 1.2 kg/m³ is 1.08 (evidence/shelter.md §1).
        let ours = AIR_WH_M3K * cfm * 60.0 * 0.3048f64.powi(3) * i("dT_F") * K_PER_F / WATTS_PER_BTU_PER_HOUR;
        close(ours, number(&c, "/published/Q_Btu_h"), 0.025 * number(&c, "/published/Q_Btu_h"), "ventilation");
        // 0.018 Btu per ft³ and °F for the same air (Gould).
        close(AIR_WH_M3K * 0.3048f64.powi(3) * K_PER_F / WATTS_PER_BTU_PER_HOUR, 0.018, 0.0005, "0.018");
    }
    if let Some(c) = load("gh_volume_method_20x6x4") {
        // A rule per volume is no law of this model: it must come out as a conservative U on the true surface, as the case notes (about 8 W/m²K).
        let q = number(&c, "/published/Q_kcal_h") * 4_186.8 / 3_600.0;
        close(q, number(&c, "/recomputed/Q_W"), 0.5, "watts");
        let implied = q / number(&c, "/published/dT_C") / 285.0;
        assert!((7.0..9.0).contains(&implied), "{implied}");
    }
    if let Some(c) = load("shelter_tent_building_factor") {
        let i = |k: &str| number(&c, &format!("/inputs/{k}"));
        let q = i("floor_ft2") * i("height_ft") * (i("T_in_F") - i("T_out_F")) * i("factor_Btu_h_ft3_F");
        close(q, number(&c, "/published/Q_Btu_h"), 1e-6, "factor rule");
    }
}

/// cases/shelter/combustion_air_opening.json and unvented_heater_moisture.json.
#[test]
fn burners_get_their_opening_and_unvented_ones_lose_their_tenth() {
    if let Some(c) = load("combustion_air_opening") {
        let cm2 = combustion_air_opening_cm2(watts(number(&c, "/inputs/heater_Btu_h")));
        close(cm2 / 6.4516, number(&c, "/published/opening_in2"), 1e-6, "opening");
    }
    if let Some(c) = load("unvented_heater_moisture") {
        let vapour_lb_per_h = number(&c, "/recomputed/lb_per_1000_Btu") * number(&c, "/inputs/heater_Btu_h") / 1_000.0;
        // Latent heat of water near 20 °C 2.45 MJ/kg (from memory).
        let share = vapour_lb_per_h * KG_PER_LB * 2.45e6 / 3_600.0 / watts(number(&c, "/inputs/heater_Btu_h"));
        close(share, number(&c, "/recomputed/latent_share"), 0.01, "share as vapour");
        close(1.0 - HeatSource::Unvented.felt_share(), share, 0.01, "felt share");
    }
}

/// cases/shelter/soil_cable_density.json: two kits, 86 and 111 W/m², 11 to 13 K above a 7 °C house.
#[test]
fn a_heated_bed_stands_as_far_above_the_air_as_the_kits_say() {
    let Some(c) = load("soil_cable_density") else { return };
    let house = number(&c, "/inputs/greenhouse_C");
    for (i, density) in c["recomputed"]["W_m2"].as_array().unwrap().iter().enumerate() {
        let (w, m2) = (number(&c, &format!("/inputs/W/{i}")), number(&c, &format!("/inputs/area_m2/{i}")));
        close(w / m2, density.as_f64().unwrap(), 0.02 * w / m2, "density");
        let mats = Mats { area_m2: m2, power_w_m2: w / m2, thermostat_c: None };
        let (rise, range) = {
            let (m, r) = mats.medium_c(house);
            (m - house, r)
        };
        // The two kits differ by more than their printed range, so each must lie in ours.
        assert!(range.low - house <= 13.0 && range.high - house >= 11.0 && (9.5..14.5).contains(&rise), "{rise} {range:?}");
    }
}

/// cases/shelter/night_trend_F.json: the published digits, tolerance 1e-4 °F as stated there.
#[test]
fn the_night_falls_along_the_published_curve() {
    let Some(c) = load("night_trend_F") else { return };
    let celsius = |f: f64| Celsius::from_fahrenheit(f).unwrap();
    let (t2, low, n) = (celsius(number(&c, "/inputs/T2_F")), celsius(number(&c, "/inputs/Tmin_F")), number(&c, "/inputs/night_hours"));
    let hours = c["published"]["hour"].as_array().unwrap();
    assert_eq!(hours.len(), 13);
    for (hour, wanted) in hours.iter().zip(c["published"]["T_F"].as_array().unwrap()) {
        close(night_curve(t2, low, n, hour.as_f64().unwrap()).fahrenheit(), wanted.as_f64().unwrap(), number(&c, "/tolerance"), "curve");
    }
}

/// cases/shelter/fao_min_temp_regression.json: two-stage regression, coefficients and the prediction, 1e-6 as stated there.
#[test]
fn the_two_stage_regression_gives_the_published_prediction() {
    let Some(c) = load("fao_min_temp_regression") else { return };
    let column = |k: &str| -> Vec<f64> { c["inputs"][k].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect() };
    let nights: Vec<FrostNight> = column("T_2h_after_sunset_C")
        .iter()
        .zip(column("dewpoint_2h_C"))
        .zip(column("Tmin_C"))
        .map(|((&evening_c, dew_point_c), minimum_c)| FrostNight { evening_c, dew_point_c, minimum_c })
        .collect();
    let fit = MinimumRegression::fit(&nights).unwrap();
    close(fit.a, number(&c, "/recomputed/a"), 1e-6, "a");
    close(fit.b, number(&c, "/recomputed/b"), 1e-6, "b");
    close(fit.c, number(&c, "/recomputed/c"), 1e-6, "c");
    close(
        fit.predict_c(number(&c, "/inputs/predict_for/T"), number(&c, "/inputs/predict_for/Td")),
        number(&c, "/published/pred_C"),
        1e-6,
        "prediction",
    );
    close(fit.residual_sd_k, number(&c, "/recomputed/resid_sd_C"), 5e-4, "residual sd");
    assert!(MinimumRegression::fit(&nights[..3]).is_err());
}

/// cases/shelter/forecast_sigma_from_hit_rate.json.
#[test]
fn a_hit_rate_becomes_the_stated_spread() {
    let Some(c) = load("forecast_sigma_from_hit_rate") else { return };
    close(
        sd_from_hit_rate(2.0, number(&c, "/inputs/pct_min_within_2C_first_night") / 100.0),
        number(&c, "/recomputed/sigma_min_C"),
        0.01,
        "minimum",
    );
    close(
        sd_from_hit_rate(2.0, number(&c, "/inputs/pct_max_within_2C_first_day") / 100.0),
        number(&c, "/recomputed/sigma_max_C"),
        0.01,
        "maximum",
    );
}

/// cases/shelter/nws_low_error_winter.json: spread and tails of three sets at four leads, from their histograms.
#[test]
fn forecast_spread_by_lead_covers_the_measured_histograms() {
    let Some(c) = load("nws_low_error_winter") else { return };
    for (set, inland) in [("all", false), ("freezing", true), ("coastal", false)] {
        for lead in [12.0, 24.0, 36.0, 48.0] {
            let block = &c["recomputed"][set][format!("{lead}h")];
            let bins: Vec<(f64, f64)> = block["histogram_actual_minus_forecast_F"]
                .as_object()
                .unwrap()
                .iter()
                .map(|(k, v)| (k.parse().unwrap(), v.as_f64().unwrap()))
                .collect();
            // The end bins hold everything beyond, so the histogram's own spread is a little below the printed one.
            let n: f64 = bins.iter().map(|b| b.1).sum();
            let mean = bins.iter().map(|b| b.0 * b.1).sum::<f64>() / n;
            let sd = (bins.iter().map(|b| (b.0 - mean).powi(2) * b.1).sum::<f64>() / n).sqrt();
            close(sd, block["sd_F"].as_f64().unwrap(), 0.15, &format!("{set} {lead} h histogram"));
            let ours = sd_by_lead_k(lead, inland) / K_PER_F;
            assert!((ours / sd - 1.0).abs() < 0.16, "{set} {lead} h: {ours} against {sd}");
            // Nine in ten of the measured errors lie within ours.
            let within: f64 = bins.iter().filter(|b| (b.0 - mean).abs() <= 1.645 * ours + 0.5).map(|b| b.1).sum::<f64>() / n;
            assert!((0.87..=0.97).contains(&within), "{set} {lead} h: {within}");
        }
    }
}

/// cases/shelter/garage_pairs_a.json: f from growers' pairs; attached about 0.3, detached 0.1 to 0.2.
#[test]
fn garages_keep_the_share_that_growers_pairs_show() {
    let Some(c) = load("garage_pairs_a") else { return };
    let house_f = number(&c, "/inputs/assumed_house_F");
    for (pair, wanted) in c["inputs"]["pairs_F"].as_array().unwrap().iter().zip(c["recomputed"]["f"].as_array().unwrap()) {
        let (out, inside) = (number(pair, "/out"), number(pair, "/in"));
        let f = (inside - out) / (house_f - out);
        close(f, wanted.as_f64().unwrap(), 0.01, "share");
        let place = pair["place"].as_str().unwrap();
        let kind = if place.contains("attached") {
            StoreKind::Attached
        } else if place.contains("detached") || place.contains("barn") {
            StoreKind::Detached
        } else {
            continue;
        };
        let ours = kind.share();
        assert!((f - ours.mean).abs() <= 1.645 * ours.sd, "{place}: {f} against {ours:?}");
    }
    close(HOUSE_C, (house_f - 32.0) * K_PER_F, 0.01, "house");
}

/// cases/shelter/container_pairs.json: the Kentucky pair lies between the air and a lone pot's own lag; the case calls lone pots the fast bound.
#[test]
fn a_lone_pot_is_the_fast_bound_of_the_measured_one() {
    let Some(c) = load("container_pairs") else { return };
    let air = number(&c, "/inputs/kentucky_16_Jan/air_C");
    let measured = number(&c, "/published/kentucky_pot_C");
    let litres = number(&c, "/inputs/ithaca_1973_74/pot_L");
    // A fall of 14 h from −12 °C, as in the case: a lone pot frozen through gets colder than the measured one, one in a block that still
    // freezes stays warmer.
    let fall = |hour: f64| -12.0 + (air + 12.0) * hour / 14.0;
    let lone = through_the_night(&Pot::new(litres, Stands::Raised, false), Medium::at(-12.0), 14.0, 200, fall).medium.temperature_c();
    let block = through_the_night(&Pot::new(litres, Stands::InBlock, false), Medium::at(0.0), 14.0, 200, fall).medium.temperature_c();
    assert!(air < lone && lone < measured && measured < block, "{air} {lone} {measured} {block}");
}

/// evidence/shelter.md §4: time constants (calm; raised, on the ground; windy raised) and hours to freeze through at −5 °C. Derived there with
/// another shape of pot, so 20 %.
#[test]
fn pots_of_every_size_lag_as_the_derived_table_says() {
    for (litres, raised, ground, windy, freeze) in [
        (3.0, 2.1, 2.6, 1.2, 29.0),
        (11.0, 3.7, 4.5, 2.3, 50.0),
        (15.0, 4.3, 5.2, 2.7, 58.0),
        (26.0, 5.7, 7.0, 3.7, 77.0),
        (50.0, 7.9, 9.7, 5.4, 107.0),
        (95.0, 11.0, 14.0, 8.0, 152.0),
    ] {
        let tau = |s, w| Pot::new(litres, s, w).time_constant_h();
        for (got, wanted) in [
            (tau(Stands::Raised, false), raised),
            (tau(Stands::OnGround, false), ground),
            (tau(Stands::Raised, true), windy),
            (Pot::new(litres, Stands::Raised, false).hours_to_freeze_through(-5.0), freeze),
        ] {
            assert!((got / wanted - 1.0).abs() < 0.2, "{litres} L: {got} against {wanted}");
        }
    }
}

/// The analytic solution of the pot's own equation without freezing: T = T_air + (T0 − T_air)·e^(−t/τ).
#[test]
fn a_pot_that_does_not_freeze_follows_the_exponential() {
    let pot = Pot::new(11.0, Stands::OnGround, false);
    for hours in [0.5, 4.0, 14.0] {
        let night = through_the_night(&pot, Medium::at(18.0), hours, 7, |_| 2.0);
        close(night.medium.temperature_c(), 2.0 + 16.0 * (-hours / pot.time_constant_h()).exp(), 1e-9, "exponential");
    }
}

/// Energy: heat that left equals the change of heat content; through freezing it is sensible plus latent heat of the frozen share.
#[test]
fn a_freezing_pot_loses_exactly_the_heat_it_gave() {
    let litres = 11.0;
    let pot = Pot::new(litres, Stands::Raised, false);
    let start = Medium::at(6.0);
    let night = through_the_night(&pot, start, 30.0, 60, |h| 4.0 - h / 2.0);
    assert!(night.medium.frozen_share() > 0.0 && night.medium.frozen_share() < 1.0);
    let volume = litres / 1_000.0;
    let wanted = volume * (HEAT_J_M3K * 6.0 + LATENT_J_M3 * night.medium.frozen_share());
    close(night.heat_lost_j, wanted, 1e-6 * wanted, "heat");
    // Frozen through and thawed again it is back where it was.
    let frozen = through_the_night(&pot, start, 300.0, 3_000, |_| -8.0);
    assert!(frozen.medium.temperature_c() < -7.9 && frozen.coldest.wall_c <= frozen.coldest.mean_c);
    let thawed = through_the_night(&pot, frozen.medium, 600.0, 3_000, |_| 6.0);
    close(thawed.medium.temperature_c(), 6.0, 1e-3, "thawed");
    close(frozen.heat_lost_j + thawed.heat_lost_j, 0.0, 1e-3 * frozen.heat_lost_j, "there and back");
}

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

/// cases/shelter/root_thresholds.json: no value for a fig exists; what is shipped must say so and lie inside growers' 15 to 25 °F.
#[test]
fn root_limits_are_marked_as_unknown_and_lie_in_growers_range() {
    let rows = winterfig::catalogue::night_prior_table::rows().unwrap();
    let row = |key: &str| rows.iter().find(|r| r.key == key).unwrap();
    for key in ["root_young", "root_death"] {
        assert_eq!(row(key).provenance, "MEMORY");
        assert!(row(key).note.contains("no measured fig value"), "{key}");
        let f = row(key).value.parse::<f64>().unwrap() * 1.8 + 32.0;
        assert!((15.0..=25.0).contains(&f), "{key} {f}");
    }
    let Some(c) = load("root_thresholds") else { return };
    assert!(c["notes"].as_str().unwrap().contains("No root value for Ficus carica"));
    for r in c["inputs"]["rows"].as_array().unwrap() {
        let taxon = r["taxon"].as_str().unwrap();
        assert!(!taxon.contains("carica") || taxon.contains("not F. carica"), "{taxon}");
    }
}
