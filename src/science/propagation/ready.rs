//! When a batch has roots and when it is ready: heat above a base temperature, counted day by day.
//!
//! Roots come by the temperature of the medium: that of the bottom heat where there is any, else of the air about it. A rooted plant then
//! grows on in the air of its place. Both sums are uncertain; the range of days is that of their 5 % and 95 % quantiles.

use super::priors::PropagationPriors;
use crate::science::numeric::{Gaussian, Z_90};

/// Days after which nothing is said any more.
pub const LONGEST_DAYS: usize = 730;

/// Days from sticking: early, middle and late; `None` where it is not reached within [`LONGEST_DAYS`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ReadyDays {
    /// With the heat that one batch in twenty needs less than.
    pub early: Option<usize>,
    /// With the usual heat.
    pub middle: Option<usize>,
    /// With the heat that one batch in twenty needs more than.
    pub late: Option<usize>,
}

/// When a batch gets there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ready {
    /// Roots that can be seen.
    pub rooted: ReadyDays,
    /// A plant in its own pot, established.
    pub ready: ReadyDays,
}

/// Heat of a day, degree-days.
fn heat(mean_c: f64, priors: &PropagationPriors) -> f64 {
    (mean_c.min(priors.rooting_cap_c) - priors.rooting_base_c).max(0.0)
}

/// Days until the heat of the days is `sum`.
fn day_reaching(sum: f64, days: impl Iterator<Item = f64>) -> Option<usize> {
    let mut total = 0.0;
    days.take(LONGEST_DAYS)
        .position(|heat| {
            total += heat;
            total >= sum
        })
        .map(|day| day + 1)
}

/// When a batch is rooted and ready; `air_c` is the mean air of its place on the n-th day from sticking, °C, `bottom_heat_c` the medium's
/// temperature until it has roots, where it is heated.
pub fn ready(bottom_heat_c: Option<f64>, air_c: impl Fn(usize) -> f64, priors: &PropagationPriors) -> Ready {
    let medium = |day: usize| bottom_heat_c.map_or_else(|| air_c(day), |heated| heated.max(air_c(day)));
    let at = |z: f64| {
        let of = |sum: Gaussian| (sum.mean + z * sum.sd).max(0.0);
        let rooted = day_reaching(of(priors.rooting_degree_days), (0..).map(|day| heat(medium(day), priors)));
        let on = rooted.and_then(|from| {
            let days = (from..).map(|day| heat(air_c(day), priors));
            day_reaching(of(priors.growing_on_degree_days), days).map(|more| from + more).filter(|&day| day <= LONGEST_DAYS)
        });
        (rooted, on)
    };
    let [early, middle, late] = [-Z_90, 0.0, Z_90].map(at);
    Ready {
        rooted: ReadyDays { early: early.0, middle: middle.0, late: late.0 },
        ready: ReadyDays { early: early.1, middle: middle.1, late: late.1 },
    }
}

/// When plants that have roots on day 0 are established in their own pots; days are counted from then.
pub fn grown_on(air_c: impl Fn(usize) -> f64, priors: &PropagationPriors) -> ReadyDays {
    let at = |z: f64| {
        let sum = (priors.growing_on_degree_days.mean + z * priors.growing_on_degree_days.sd).max(0.0);
        day_reaching(sum, (0..).map(|day| heat(air_c(day), priors)))
    };
    let [early, middle, late] = [-Z_90, 0.0, Z_90].map(at);
    ReadyDays { early, middle, late }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::prior_table::propagation_priors;

    // By hand: 310 degree-days above 10 °C at 24 °C are 22.1 days, 420 at 20 °C are 42 days.
    #[test]
    fn a_heated_batch_roots_by_its_mat_and_grows_on_by_its_air() {
        let priors = propagation_priors().unwrap();
        let ready = ready(Some(24.0), |_| 20.0, &priors);
        assert_eq!((ready.rooted.middle, ready.ready.middle), (Some(23), Some(23 + 42)));
        // From the day that roots are seen on nothing of the mat is counted.
        assert_eq!(grown_on(|_| 20.0, &priors).middle, Some(42));
        assert!(ready.rooted.early < ready.rooted.middle && ready.rooted.middle < ready.rooted.late);
        assert!(ready.ready.early < ready.ready.middle && ready.ready.middle < ready.ready.late);
    }

    #[test]
    fn below_the_base_nothing_roots_and_above_the_cap_nothing_roots_faster() {
        let priors = propagation_priors().unwrap();
        assert_eq!(ready(None, |_| 9.0, &priors).rooted.early, None);
        // Rooted on its mat in a cold place it waits for warmth: day 100 on.
        let cold = ready(Some(22.0), |day| if day < 100 { 4.0 } else { 18.0 }, &priors);
        assert!(cold.rooted.late.unwrap() < 60 && cold.ready.early.unwrap() > 100);
        assert_eq!(ready(Some(28.0), |_| 20.0, &priors), ready(Some(34.0), |_| 20.0, &priors));
        // A mat that is set lower than the air changes nothing.
        assert_eq!(ready(Some(15.0), |_| 20.0, &priors), ready(None, |_| 20.0, &priors));
    }
}
