//! Shelters, pots and places held against the outside: published worked examples, measured covers, traps, a solver's own equation.

mod behaviour;
mod kept;
mod shelter_in_plan;
mod worked_examples;

use crate::cases::case;
use serde_json::Value;
use winterfig::input::json as json_input;
use winterfig::jobs::shelter::{ShelterAnswer, ShelterInput, calculate};
use winterfig::units::heat::WATTS_PER_BTU_PER_HOUR;

/// K per °F.
pub(crate) const K_PER_F: f64 = 5.0 / 9.0;
/// kg per lb, by definition of the pound.
pub(crate) const KG_PER_LB: f64 = 0.453_592_37;

pub(crate) fn load(name: &str) -> Option<Value> {
    case(&format!("shelter/{name}.json")).map(|text| serde_json::from_str(&text).unwrap())
}

pub(crate) fn number(value: &Value, pointer: &str) -> f64 {
    value.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer} in {value}"))
}

pub(crate) fn close(got: f64, wanted: f64, tolerance: f64, what: &str) {
    assert!((got - wanted).abs() <= tolerance, "{what}: got {got}, wanted {wanted} ± {tolerance}");
}

pub(crate) fn answer(input: Value) -> ShelterAnswer {
    let input: ShelterInput = json_input::read(&input.to_string()).unwrap();
    calculate(&input).unwrap()
}

pub(crate) fn refusal(input: Value) -> String {
    let refused = json_input::read::<ShelterInput>(&input.to_string()).and_then(|i| calculate(&i));
    refused.unwrap_err().to_string()
}

/// W from Btu/h.
pub(crate) fn watts(btu_h: f64) -> f64 {
    btu_h * WATTS_PER_BTU_PER_HOUR
}
