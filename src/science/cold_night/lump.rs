//! One body of one temperature that stores heat and freezes at 0 °C: pots, soil and water through nights and days.
//!
//! `C dT/dt = −G (T − T_around)`, held at 0 °C until its latent heat is lost or regained. In surroundings held constant each phase has its
//! own exact solution (an exponential, or a straight loss of latent heat); a step is split where the phase changes, so that the heat that
//! left and the heat that is gone agree to rounding whatever the length of the step.

/// A body: heat capacities above and below freezing and latent heat, all for the same amount of it (a cubic metre, or the whole).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lump {
    /// Heat capacity while thawed, J/K.
    pub thawed_j_k: f64,
    /// Heat capacity while frozen, J/K.
    pub frozen_j_k: f64,
    /// Heat of freezing, J.
    pub latent_j: f64,
    /// Conductance to what is around it, W/K.
    pub conductance_w_k: f64,
}

impl Lump {
    /// Heat held at a temperature, J above thawed at 0 °C: thawed at or above 0 °C, frozen through below.
    pub fn heat_at(&self, temperature_c: f64) -> f64 {
        if temperature_c >= 0.0 { self.thawed_j_k * temperature_c } else { self.frozen_j_k * temperature_c - self.latent_j }
    }

    /// Temperature at a heat, °C; 0 all the while it freezes.
    pub fn temperature_c(&self, heat_j: f64) -> f64 {
        if heat_j >= 0.0 {
            heat_j / self.thawed_j_k
        } else if heat_j >= -self.latent_j {
            0.0
        } else {
            (heat_j + self.latent_j) / self.frozen_j_k
        }
    }

    /// Heat after so many seconds in surroundings of a constant temperature: exact, across changes of phase.
    pub fn after(&self, heat_j: f64, around_c: f64, seconds: f64) -> f64 {
        let (mut heat, mut left) = (heat_j, seconds);
        // At most thawed → freezing → frozen, or back: three phases in a step.
        for _ in 0..4 {
            if left <= 0.0 {
                break;
            }
            let plateau = (-self.latent_j..=0.0).contains(&heat);
            let cooling = around_c < self.temperature_c(heat) || (around_c < 0.0 && plateau);
            let thawed = heat > 0.0 || (heat == 0.0 && !cooling);
            let frozen = heat < -self.latent_j || (heat == -self.latent_j && cooling);
            if thawed || frozen {
                let (capacity, edge) = if thawed { (self.thawed_j_k, 0.0) } else { (self.frozen_j_k, -self.latent_j) };
                let t = (heat - edge) / capacity;
                let rate = self.conductance_w_k / capacity;
                let end = around_c + (t - around_c) * (-rate * left).exp();
                if t != 0.0 && end * t < 0.0 {
                    // Passes 0 °C within the step.
                    left -= ((t - around_c) / -around_c).ln() / rate;
                    heat = edge;
                } else {
                    return edge + capacity * end;
                }
            } else {
                let flow = self.conductance_w_k * -around_c;
                let end = heat - flow * left;
                if end > 0.0 {
                    left -= heat / flow;
                    heat = 0.0;
                } else if end < -self.latent_j {
                    left -= (heat + self.latent_j) / flow;
                    heat = -self.latent_j;
                } else {
                    return end;
                }
            }
        }
        heat
    }
}
