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

    /// Ready for any number of steps of the same length.
    pub fn over(&self, seconds: f64) -> LumpStep {
        let kept = |capacity: f64| (-(self.conductance_w_k / capacity) * seconds).exp();
        LumpStep { lump: *self, seconds, kept_thawed: kept(self.thawed_j_k), kept_frozen: kept(self.frozen_j_k) }
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

/// A step of a given length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LumpStep {
    lump: Lump,
    seconds: f64,
    /// Share of the difference to what is around that is left after it, thawed and frozen.
    kept_thawed: f64,
    kept_frozen: f64,
}

impl LumpStep {
    /// Heat after it in surroundings of a constant temperature, as [`Lump::after`] has it.
    #[inline]
    pub fn after(&self, heat_j: f64, around_c: f64) -> f64 {
        let lump = &self.lump;
        if heat_j > 0.0 {
            let end_c = around_c + (heat_j / lump.thawed_j_k - around_c) * self.kept_thawed;
            if end_c > 0.0 {
                return lump.thawed_j_k * end_c;
            }
        } else if heat_j < -lump.latent_j {
            let end_c = around_c + ((heat_j + lump.latent_j) / lump.frozen_j_k - around_c) * self.kept_frozen;
            if end_c < 0.0 {
                return lump.frozen_j_k * end_c - lump.latent_j;
            }
        }
        lump.after(heat_j, around_c, self.seconds)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        // A step made ready is the same step, whichever phases it passes through.
        #[test]
        fn a_step_made_ready_is_the_same_step(start_c in -30.0..30.0f64, frozen in 0.0..=1.0f64, around_c in -40.0..40.0f64, hours in 0.05..40.0f64) {
            let lump = Lump { thawed_j_k: 2.0e6, frozen_j_k: 1.1e6, latent_j: 1.3e8, conductance_w_k: 60.0 };
            let step = lump.over(3_600.0 * hours);
            for heat in [lump.heat_at(start_c), -frozen * lump.latent_j] {
                let (ready, plain) = (step.after(heat, around_c), lump.after(heat, around_c, 3_600.0 * hours));
                prop_assert!((ready - plain).abs() <= 1e-9 * lump.latent_j, "{heat} {ready} {plain}");
            }
        }
    }
}
