//! Share not yet seen to do something by a time, from times some of which only say "not by": the product-limit estimate.
//!
//! S(t) = Π over event times tᵢ ≤ t of (1 − dᵢ/nᵢ) (Kaplan & Meier 1958, JASA 53, 457–481). Variance by Greenwood; the 95 % interval on
//! the scale of log(−log S), which stays within 0..=1 (Kalbfleisch & Prentice 1980).

use crate::units::Interval;

/// Normal point of a 95 % interval.
const Z_95: f64 = 1.959_963_984_540_054;

/// One time that was watched: an event, or the last look without one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Watched {
    /// Time (or heat) of the event or of the last look; at least 0.
    pub at: f64,
    /// Whether the event was seen then.
    pub seen: bool,
}

/// The estimate from one event time to the next.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// Event time.
    pub at: f64,
    /// Still watched just before it.
    pub at_risk: usize,
    /// Events at it.
    pub events: usize,
    /// Share without the event after it.
    pub without: f64,
    /// 95 % interval of that share.
    pub interval: Interval<f64>,
}

/// Steps of the estimate in order of time; times that are not finite or negative are left out. An event and a last look at the same time:
/// the look counts as later.
pub fn kaplan_meier(watched: &[Watched]) -> Vec<Step> {
    let mut sorted: Vec<Watched> = watched.iter().copied().filter(|w| w.at.is_finite() && w.at >= 0.0).collect();
    sorted.sort_by(|a, b| a.at.total_cmp(&b.at));
    let (mut without, mut greenwood) = (1.0, 0.0);
    let mut steps = Vec::new();
    let mut rest = sorted.as_slice();
    while let Some(first) = rest.first() {
        let same = rest.partition_point(|w| w.at <= first.at);
        let (now, later) = rest.split_at(same);
        let events = now.iter().filter(|w| w.seen).count();
        let at_risk = rest.len();
        if events > 0 {
            without *= 1.0 - events as f64 / at_risk as f64;
            greenwood += events as f64 / (at_risk as f64 * (at_risk - events) as f64);
            steps.push(Step { at: first.at, at_risk, events, without, interval: interval(without, greenwood) });
        }
        rest = later;
    }
    steps
}

fn interval(without: f64, greenwood: f64) -> Interval<f64> {
    if without <= 0.0 || !greenwood.is_finite() {
        return Interval { low: 0.0, high: 0.0 };
    }
    let half = Z_95 * greenwood.sqrt() / without.ln().abs();
    Interval::between(without.powf(half.exp()), without.powf((-half).exp()))
}

/// Earliest time by which at least `share` had the event; `None` where the watch ended before.
pub fn time_by_which(steps: &[Step], share: f64) -> Option<f64> {
    steps.iter().find(|s| s.without <= 1.0 - share + 1e-12).map(|s| s.at)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn without_censoring_it_is_the_share_still_to_come(mut times in proptest::collection::vec(0.0..100.0f64, 1..40)) {
            let steps = kaplan_meier(&times.iter().map(|&at| Watched { at, seen: true }).collect::<Vec<_>>());
            times.sort_by(f64::total_cmp);
            for step in &steps {
                let later = times.iter().filter(|&&t| t > step.at).count() as f64 / times.len() as f64;
                prop_assert!((step.without - later).abs() < 1e-9);
                prop_assert!(step.interval.contains(step.without) || step.without < 1e-12);
            }
        }

        #[test]
        fn a_longer_watch_without_growth_never_lowers_the_share_without_it(times in proptest::collection::vec((1.0..50.0f64, any::<bool>()), 2..30)) {
            let watched: Vec<Watched> = times.iter().map(|&(at, seen)| Watched { at, seen }).collect();
            let longer: Vec<Watched> = watched.iter().map(|w| Watched { at: if w.seen { w.at } else { w.at + 60.0 }, ..*w }).collect();
            for (a, b) in kaplan_meier(&watched).iter().zip(kaplan_meier(&longer)) {
                prop_assert!(b.without >= a.without - 1e-12);
            }
        }
    }
}
