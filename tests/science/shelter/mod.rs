//! Nights, pots and shelters held against published numbers, a solver's own equation and another program's least squares.

mod experiment;
mod nights_and_pots;
mod spell;
mod spell_plan;

use serde_json::Value;
use winterfig_core::catalogue::{night_prior_table, prior_table};
use winterfig_core::science::cold_night::priors::NightPriors;
use winterfig_core::science::cold_night::risk::Rules;
use winterfig_core::science::hardiness::scale::DamageScale;
use winterfig_core::science::priors::Priors;

use crate::cases::case;

/// K per °F.
pub(crate) const K_PER_F: f64 = 5.0 / 9.0;

pub(crate) fn load(name: &str) -> Option<Value> {
    case(&format!("shelter/{name}.json")).map(|text| serde_json::from_str(&text).unwrap())
}

pub(crate) fn number(value: &Value, pointer: &str) -> f64 {
    value.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer} in {value}"))
}

pub(crate) fn close(got: f64, wanted: f64, tolerance: f64, what: &str) {
    assert!((got - wanted).abs() <= tolerance, "{what}: got {got}, wanted {wanted} ± {tolerance}");
}

/// The starting values that a night is worked out from.
pub(crate) struct Seed {
    pub(crate) priors: Priors,
    pub(crate) scale: DamageScale,
    pub(crate) night_priors: NightPriors,
}

impl Seed {
    pub(crate) fn read() -> Self {
        let priors = prior_table::priors().unwrap();
        let night_priors = NightPriors::from_rows(&night_prior_table::rows().unwrap()).unwrap();
        Self { scale: priors.scale(), priors, night_priors }
    }

    pub(crate) fn rules(&self) -> Rules<'_> {
        Rules { scale: &self.scale, priors: &self.priors, night: &self.night_priors }
    }
}
