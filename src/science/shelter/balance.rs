//! The heat balance of the air inside, with a heater that has a limit and a thermostat.
//!
//! `G·(T_in − T_out) = Q_heater + Q_ground + Q_store`, solved for T_in: `T_in = T_out + (Q_heater + Q_ground + Q_store)/G`. Air itself holds
//! almost nothing (a small shelter follows within minutes), so it is taken to be in balance at every moment; what stores heat is a node of its own.
//! Two houses that share a wall are two such balances tied by the wall's conductance.

/// A heater.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Heater {
    /// Most it can give to the air, W.
    pub limit_w: f64,
    /// Air temperature at which it stops, °C; `None`: it runs all night.
    pub thermostat_c: Option<f64>,
}

/// One body of air before it is solved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// Conductance to everything but a neighbour, W/K: outside and stores.
    pub loss_w_k: f64,
    /// Σ conductance × temperature of what it is tied to, plus gains other than the heater, W.
    pub drive_w: f64,
    /// Its heater.
    pub heater: Heater,
}

/// What the balance gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Balanced {
    /// Air temperature, °C.
    pub inside_c: f64,
    /// What the heater gives, W.
    pub heater_w: f64,
}

impl Air {
    /// The balance of one body of air. A loss of zero or less has no balance and is the caller's to refuse (`debug_assert`).
    pub fn balance(&self) -> Balanced {
        debug_assert!(self.loss_w_k > 0.0);
        let heater_w = match self.heater.thermostat_c {
            Some(set) => (self.loss_w_k * set - self.drive_w).clamp(0.0, self.heater.limit_w),
            None => self.heater.limit_w,
        };
        Balanced { inside_c: (self.drive_w + heater_w) / self.loss_w_k, heater_w }
    }

    /// Heat needed from a heater to hold a temperature, W; zero when it holds by itself.
    pub fn needed_w(&self, hold_c: f64) -> f64 {
        (self.loss_w_k * hold_c - self.drive_w).max(0.0)
    }
}

#[derive(Clone, Copy)]
enum Regime {
    Off,
    Holding(f64),
    Full,
}

impl Regime {
    fn of(heater: &Heater) -> Vec<Self> {
        match heater.thermostat_c {
            Some(set) => vec![Self::Off, Self::Holding(set), Self::Full],
            None => vec![Self::Full],
        }
    }

    /// How far an answer breaks the regime's own condition, K or W scaled to K.
    fn breach(self, air: &Air, at: Balanced) -> f64 {
        match (self, air.heater.thermostat_c) {
            (Self::Off, Some(set)) => (set - at.inside_c).max(0.0),
            (Self::Full, Some(set)) => (at.inside_c - set).max(0.0),
            (Self::Holding(_), _) => (-at.heater_w).max(at.heater_w - air.heater.limit_w).max(0.0) / air.loss_w_k,
            _ => 0.0,
        }
    }
}

/// Two bodies of air tied by a shared wall of `wall_w_k` (≥ 0, W/K).
///
/// Each heater is off, holding its thermostat, or at its limit: the nine combinations are linear, and the system is monotone, so exactly one is
/// consistent (up to ties at the borders, where they agree). The least broken one is taken, which makes rounding harmless.
pub fn balance_two(a: &Air, b: &Air, wall_w_k: f64) -> (Balanced, Balanced) {
    let mut best: Option<(f64, (Balanced, Balanced))> = None;
    for ra in Regime::of(&a.heater) {
        for rb in Regime::of(&b.heater) {
            let pair = solve_regimes(a, ra, b, rb, wall_w_k);
            let breach = ra.breach(a, pair.0).max(rb.breach(b, pair.1));
            if best.is_none_or(|(least, _)| breach < least) {
                best = Some((breach, pair));
            }
        }
    }
    best.map_or_else(|| (a.balance(), b.balance()), |(_, pair)| pair)
}

fn solve_regimes(a: &Air, ra: Regime, b: &Air, rb: Regime, wall: f64) -> (Balanced, Balanced) {
    let output = |r: Regime, h: &Heater| if matches!(r, Regime::Full) { h.limit_w } else { 0.0 };
    let (la, lb) = (a.loss_w_k + wall, b.loss_w_k + wall);
    let (qa, qb) = (a.drive_w + output(ra, &a.heater), b.drive_w + output(rb, &b.heater));
    let (ta, tb) = match (ra, rb) {
        (Regime::Holding(sa), Regime::Holding(sb)) => (sa, sb),
        (Regime::Holding(sa), _) => (sa, (qb + wall * sa) / lb),
        (_, Regime::Holding(sb)) => ((qa + wall * sb) / la, sb),
        _ => {
            let determinant = la * lb - wall * wall;
            ((qa * lb + wall * qb) / determinant, (qb * la + wall * qa) / determinant)
        }
    };
    let heat = |r: Regime, h: &Heater, l: f64, t: f64, drive: f64, other: f64| match r {
        Regime::Holding(_) => l * t - drive - wall * other,
        _ => output(r, h),
    };
    (
        Balanced { inside_c: ta, heater_w: heat(ra, &a.heater, la, ta, a.drive_w, tb) },
        Balanced { inside_c: tb, heater_w: heat(rb, &b.heater, lb, tb, b.drive_w, ta) },
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn air(loss: f64, out: f64, gain: f64, limit: f64, set: Option<f64>) -> Air {
        Air { loss_w_k: loss, drive_w: loss * out + gain, heater: Heater { limit_w: limit, thermostat_c: set } }
    }

    proptest! {
        #[test]
        fn heat_in_equals_heat_out_and_the_thermostat_is_obeyed(
            g in 5.0..500.0f64, g2 in 5.0..500.0f64, out in -30.0..15.0f64, q in -200.0..800.0f64, lim in 0.0..5000.0f64,
            lim2 in 0.0..5000.0f64, set in prop::option::of(-2.0..20.0f64), set2 in prop::option::of(-2.0..20.0f64), wall in 0.0..300.0f64,
        ) {
            let (a, b) = (air(g, out, q, lim, set), air(g2, out, 0.0, lim2, set2));
            let (x, y) = balance_two(&a, &b, wall);
            for (it, at, other) in [(&a, x, y), (&b, y, x)] {
                let residual = it.drive_w + at.heater_w - it.loss_w_k * at.inside_c - wall * (at.inside_c - other.inside_c);
                prop_assert!(residual.abs() < 1e-6 * (1.0 + it.drive_w.abs() + it.loss_w_k * 50.0));
                prop_assert!(at.heater_w >= -1e-6 && at.heater_w <= it.heater.limit_w + 1e-6);
                if let Some(s) = it.heater.thermostat_c {
                    prop_assert!(at.inside_c >= s - 1e-9 || (at.heater_w - it.heater.limit_w).abs() < 1e-6);
                    prop_assert!(at.inside_c <= s + 1e-9 || at.heater_w.abs() < 1e-6);
                }
            }
            // Without a shared wall they are strangers.
            let (x0, y0) = balance_two(&a, &b, 0.0);
            prop_assert!((x0.inside_c - a.balance().inside_c).abs() < 1e-9 && (y0.inside_c - b.balance().inside_c).abs() < 1e-9);
        }
    }
}
