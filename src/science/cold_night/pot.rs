//! The root zone of a pot through a night: a lumped heat balance with a freezing plateau, and the wall and the centre beside the mean.
//!
//! `C dT/dt = −U A (T − T_air)`, held at 0 °C until the latent heat is lost. `C = (θ·4.18 + 0.3) MJ/m³K`, latent heat `θ·334 MJ/m³`,
//! `1/U = 1/h + r/(4k)`, k 0.5 W/mK, h 8 W/m²K calm and 20 windy, θ 0.4 (medium values from memory; derivation in `evidence/shelter.md` §4).
//! The pot is a cylinder as tall as wide. On slats all of it loses heat; on the ground its base does not; inside a block only the top does.
//! Wall and centre follow from the same resistance: the flux falls over 1/h at the wall, and a parabola inside puts the mean half way.
//! Lone pots are the fast bound: published pots lie between air temperature by 3 am and a lag of 20 h.

use std::f64::consts::PI;

use super::lump::{Lump, LumpStep};

/// Share of the volume that is water. From memory.
pub const THETA: f64 = 0.4;
/// Heat of thawed medium, J/m³K.
pub const HEAT_J_M3K: f64 = (THETA * 4.18 + 0.3) * 1e6;
/// Heat of frozen medium, J/m³K: ice at 1.93 MJ/m³K.
pub const FROZEN_HEAT_J_M3K: f64 = (THETA * 1.93 + 0.3) * 1e6;
/// Latent heat, J/m³.
pub const LATENT_J_M3: f64 = THETA * 334.0e6;
/// Conductivity of the medium, W/mK. From memory.
const CONDUCTIVITY_W_MK: f64 = 0.5;
/// Film of calm air, W/m²K.
const FILM_CALM_W_M2K: f64 = 8.0;
/// Film of windy air, W/m²K.
const FILM_WINDY_W_M2K: f64 = 20.0;

/// How a pot stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stands {
    /// On slats or feet.
    Raised,
    /// On the ground.
    OnGround,
    /// Inside a block of pots, walls shielded.
    InBlock,
}

/// A pot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pot {
    volume_m3: f64,
    area_m2: f64,
    /// Share of the difference between mean and air that is left at the wall.
    at_wall: f64,
    u_w_m2k: f64,
}

/// Temperatures of a pot, °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PotTemperature {
    /// Against the wall.
    pub wall_c: f64,
    /// Mean of the root zone.
    pub mean_c: f64,
    /// In the middle.
    pub centre_c: f64,
}

impl PotTemperature {
    /// The lower of each.
    #[must_use]
    pub fn lower(self, other: Self) -> Self {
        Self { wall_c: self.wall_c.min(other.wall_c), mean_c: self.mean_c.min(other.mean_c), centre_c: self.centre_c.min(other.centre_c) }
    }
}

impl Pot {
    /// A pot of so many litres (> 0).
    pub fn new(litres: f64, stands: Stands, windy: bool) -> Self {
        let volume_m3 = litres / 1_000.0;
        let width = (4.0 * volume_m3 / PI).cbrt();
        let (side, lid) = (PI * width * width, PI * width * width / 4.0);
        let area_m2 = match stands {
            Stands::Raised => side + 2.0 * lid,
            Stands::OnGround => side + lid,
            Stands::InBlock => lid,
        };
        let film_w_m2k = if windy { FILM_WINDY_W_M2K } else { FILM_CALM_W_M2K };
        let u_w_m2k = 1.0 / (1.0 / film_w_m2k + width / 2.0 / (4.0 * CONDUCTIVITY_W_MK));
        Self { volume_m3, area_m2, at_wall: u_w_m2k / film_w_m2k, u_w_m2k }
    }

    /// U, W/m²K, films and half-way into the medium.
    pub fn u_w_m2k(&self) -> f64 {
        self.u_w_m2k
    }

    /// Loss, W/K.
    pub fn loss_w_k(&self) -> f64 {
        self.u_w_m2k() * self.area_m2
    }

    /// Time constant while thawed, h.
    pub fn time_constant_h(&self) -> f64 {
        HEAT_J_M3K * self.volume_m3 / self.loss_w_k() / 3_600.0
    }

    /// A cubic metre of its medium with the pot's loss.
    fn lump_of_a_cubic_metre(&self) -> Lump {
        Lump {
            thawed_j_k: HEAT_J_M3K,
            frozen_j_k: FROZEN_HEAT_J_M3K,
            latent_j: LATENT_J_M3,
            conductance_w_k: self.loss_w_k() / self.volume_m3,
        }
    }

    /// Its medium through any number of steps of so many seconds.
    pub fn over(&self, seconds: f64) -> LumpStep {
        self.lump_of_a_cubic_metre().over(seconds)
    }

    /// Wall, mean and centre for a mean temperature and the air about it.
    pub fn spread(&self, mean_c: f64, air_c: f64) -> PotTemperature {
        let wall_c = air_c + (mean_c - air_c) * self.at_wall;
        // Parabola: the mean lies half way between wall and centre. While it freezes the middle waits at 0 °C.
        let centre_c = if mean_c == 0.0 { 0.0 } else { 2.0 * mean_c - wall_c };
        PotTemperature { wall_c, mean_c, centre_c }
    }
}

/// Heat content of a pot, J per m³ above thawed medium at 0 °C, and back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Medium {
    enthalpy_j_m3: f64,
}

impl Medium {
    /// Thawed at or above 0 °C, frozen through below.
    pub fn at(temperature_c: f64) -> Self {
        let enthalpy_j_m3 = if temperature_c >= 0.0 { HEAT_J_M3K * temperature_c } else { FROZEN_HEAT_J_M3K * temperature_c - LATENT_J_M3 };
        Self { enthalpy_j_m3 }
    }

    /// °C; 0 all the while it freezes.
    pub fn temperature_c(self) -> f64 {
        let h = self.enthalpy_j_m3;
        if h >= 0.0 {
            h / HEAT_J_M3K
        } else if h >= -LATENT_J_M3 {
            0.0
        } else {
            (h + LATENT_J_M3) / FROZEN_HEAT_J_M3K
        }
    }

    /// Share frozen, 0..=1.
    pub fn frozen_share(self) -> f64 {
        (-self.enthalpy_j_m3 / LATENT_J_M3).clamp(0.0, 1.0)
    }

    /// J/m³ above thawed medium at 0 °C.
    pub fn enthalpy_j_m3(self) -> f64 {
        self.enthalpy_j_m3
    }
}

/// Dusk below which the day cannot have thawed a pot, °C. DESIGN.
const NO_THAW_C: f64 = -3.0;

/// A pot at dusk, by the air: with it above freezing; thawed but ice-cold after a day about freezing; frozen through in a lasting frost.
pub fn at_dusk(evening_c: f64) -> Medium {
    Medium::at(if evening_c > NO_THAW_C { evening_c.max(0.0) } else { evening_c })
}

/// A pot's night.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PotNight {
    /// Coldest the wall, the mean and the centre became, °C (each at its own moment).
    pub coldest: PotTemperature,
    /// The root zone at sunrise.
    pub medium: Medium,
    /// Heat that left, J.
    pub heat_lost_j: f64,
}

/// Follows a pot through `hours`, `air_c(hour)` about it. Inside a step the air is held and the phase's own exact solution is used, split where the
/// phase changes: heat lost and heat content agree to rounding.
pub fn through_the_night(pot: &Pot, start: Medium, hours: f64, steps: usize, air_c: impl Fn(f64) -> f64) -> PotNight {
    let mut medium = start;
    let mut lost = 0.0;
    let mut coldest = pot.spread(medium.temperature_c(), air_c(0.0));
    let seconds = hours * 3_600.0 / steps as f64;
    for index in 0..steps {
        let air = air_c(hours * (index as f64 + 0.5) / steps as f64);
        let next = medium.after(pot, air, seconds);
        lost += (medium.enthalpy_j_m3 - next.enthalpy_j_m3) * pot.volume_m3;
        medium = next;
        coldest = coldest.lower(pot.spread(medium.temperature_c(), air));
    }
    PotNight { coldest, medium, heat_lost_j: lost }
}

impl Medium {
    /// After a step in air of a constant temperature.
    #[must_use]
    pub fn after_step(self, step: &LumpStep, air_c: f64) -> Self {
        Self { enthalpy_j_m3: step.after(self.enthalpy_j_m3, air_c) }
    }

    /// After so many seconds in air of a constant temperature: exact, across changes of phase.
    #[must_use]
    pub fn after(self, pot: &Pot, air_c: f64, seconds: f64) -> Self {
        Self { enthalpy_j_m3: pot.lump_of_a_cubic_metre().after(self.enthalpy_j_m3, air_c, seconds) }
    }
}
