//! A whole shelter put together, checked for slips of geometry, with the changes that can be made to it.

use super::balance::Heater;
use super::envelope::{Envelope, Layer};
use super::mats::Mats;
use super::night::{House, HouseNight};
use crate::units::{Interval, OutOfRange};

/// A shelter as its grower describes it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shelter {
    /// Surfaces, edge, leaks.
    pub envelope: Envelope,
    /// Floor, m²; 0: not given.
    pub floor_m2: f64,
    /// Heat from the soil, W/m² of floor: 10 to 30 inside a house (from memory of clear-night balances); negative where soil is colder than air.
    pub ground_w_m2: f64,
    /// Water in drums, litres.
    pub water_litres: f64,
    /// Its temperature at dusk, °C.
    pub water_start_c: Option<f64>,
    /// The heater.
    pub heater: Heater,
    /// Heated benches.
    pub mats: Option<Mats>,
    /// Leans on a building or another shelter, so that its own surfaces need not close over its volume.
    pub attached: bool,
}

/// A description that cannot be.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ShelterError {
    /// No surface at all, or one with no loss.
    #[error("there is nothing through which heat leaves: give at least one part with an area and a U-value or cover")]
    NoLoss,
    /// Floor area given as surface.
    #[error(
        "the parts add up to {area_m2:.1} m², no more than the floor of {floor_m2:.1} m²; heat leaves through walls and roof, which are always more than the floor (a small house with 1.8 m walls has three to four times as much). Give the surface of each wall and roof slope"
    )]
    FloorAsSurface {
        /// m² of all parts.
        area_m2: f64,
        /// m² of floor.
        floor_m2: f64,
    },
    /// Less surface than any shape over that volume.
    #[error(
        "parts of {area_m2:.1} m² cannot enclose {volume_m3:.1} m³ over the ground (a half sphere, the least of all shapes, needs {least_m2:.1} m²); was the floor area given as surface? If it leans on a building set attached to true"
    )]
    TooLittleSurface {
        /// m² of all parts.
        area_m2: f64,
        /// m³.
        volume_m3: f64,
        /// m².
        least_m2: f64,
    },
    /// A quantity out of its range.
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
}

impl Shelter {
    /// Refuses what cannot stand: no loss, a floor taken for the surface, less surface than any shape over the volume.
    pub fn check(&self) -> Result<(), ShelterError> {
        let area_m2 = self.envelope.area_m2();
        if self.envelope.parts.is_empty() || self.envelope.conductance_w_k() <= 0.0 {
            return Err(ShelterError::NoLoss);
        }
        // Two per cent for rounding of typed areas.
        if !self.attached && self.floor_m2 > 0.0 && area_m2 <= 1.02 * self.floor_m2 {
            return Err(ShelterError::FloorAsSurface { area_m2, floor_m2: self.floor_m2 });
        }
        let least_m2 = Envelope::least_surface_m2(self.envelope.volume_m3);
        if !self.attached && area_m2 < 0.98 * least_m2 {
            return Err(ShelterError::TooLittleSurface { area_m2, volume_m3: self.envelope.volume_m3, least_m2 });
        }
        Ok(())
    }

    /// Ready to be stepped, its conductance multiplied by a factor.
    pub fn house(&self, factor: f64) -> House {
        House {
            conductance_w_k: self.envelope.conductance_w_k() * factor,
            ground_w: self.ground_w_m2 * self.floor_m2,
            water_litres: self.water_litres,
            water_start_c: self.water_start_c,
            heater: self.heater,
            mats: self.mats,
            room: None,
        }
    }

    /// The same with a change made.
    #[must_use]
    pub fn changed(&self, change: &Change) -> Self {
        let mut after = self.clone();
        for (part, layer) in &change.layers {
            for surface in after.envelope.parts.iter_mut().filter(|p| part.as_ref().is_none_or(|name| *name == p.name)) {
                *surface = surface.clone().with(*layer);
            }
        }
        let set = |slot: &mut f64, new: Option<f64>| {
            if let Some(value) = new {
                *slot = value;
            }
        };
        set(&mut after.envelope.air_changes_per_hour, change.air_changes_per_hour);
        set(&mut after.envelope.perimeter_w_mk, change.perimeter_w_mk);
        set(&mut after.water_litres, change.water_litres);
        set(&mut after.ground_w_m2, change.ground_w_m2);
        set(&mut after.heater.limit_w, change.heater_w);
        if change.thermostat_c.is_some() {
            after.heater.thermostat_c = change.thermostat_c;
        }
        if change.mats.is_some() {
            after.mats = change.mats;
        }
        after
    }
}

/// Something that could be done to a shelter. What is `None` stays as it is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Change {
    /// What the grower calls it.
    pub name: String,
    /// Layers laid on a part by name, or on all of them.
    pub layers: Vec<(Option<String>, Layer)>,
    /// Leaks afterwards, 1/h.
    pub air_changes_per_hour: Option<f64>,
    /// Edge of the floor afterwards, W/mK.
    pub perimeter_w_mk: Option<f64>,
    /// Water afterwards, litres.
    pub water_litres: Option<f64>,
    /// Heat from the soil afterwards, W/m².
    pub ground_w_m2: Option<f64>,
    /// Heater afterwards, W.
    pub heater_w: Option<f64>,
    /// Thermostat afterwards, °C.
    pub thermostat_c: Option<f64>,
    /// Heated benches afterwards.
    pub mats: Option<Mats>,
}

impl Change {
    /// All of several, in their order: where two set the same thing the smaller leak, edge and the later of the rest hold.
    pub fn together(changes: &[Self]) -> Self {
        let least = |a: Option<f64>, b: Option<f64>| match (a, b) {
            (Some(x), Some(y)) => Some(f64::min(x, y)),
            (x, y) => x.or(y),
        };
        changes.iter().fold(Self { name: "all together".to_owned(), ..Self::default() }, |mut all, c| {
            all.layers.extend(c.layers.iter().cloned());
            all.air_changes_per_hour = least(all.air_changes_per_hour, c.air_changes_per_hour);
            all.perimeter_w_mk = least(all.perimeter_w_mk, c.perimeter_w_mk);
            all.water_litres = c.water_litres.or(all.water_litres);
            all.ground_w_m2 = c.ground_w_m2.or(all.ground_w_m2);
            all.heater_w = c.heater_w.or(all.heater_w);
            all.thermostat_c = c.thermostat_c.or(all.thermostat_c);
            all.mats = c.mats.or(all.mats);
            all
        })
    }
}

/// A shelter's night in numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessment {
    /// G as corrected by readings (as described without any), W/K.
    pub conductance_w_k: f64,
    /// The night at that conductance.
    pub night: HouseNight,
    /// Lowest inside on nine nights in ten like this one, °C.
    pub inside_range_c: Interval<f64>,
    /// Heat to hold the wanted temperature at the coldest moment, W, with its range; `None` without a wanted temperature.
    pub heater_needed_w: Option<(f64, Interval<f64>)>,
}

/// What no conductance explains: sky seen through film, corners colder than the middle, K either way (90 %). DESIGN: an unheated tunnel ends
/// clear nights between 2 K below and 3 K above the outside, its edge 2 K below its centre (`evidence/shelter.md` §3, §12).
pub(super) const SKY_AND_CORNERS_K: f64 = 1.0;
