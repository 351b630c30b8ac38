//! How good probability forecasts of damage were: log score, ranked probability score, PIT, reliability, coverage.
//!
//! - **Log score** −log p(what happened), lower is better; for a range of levels p is their sum.
//! - **Ranked probability score** Σ_{k<4} (P(y ≤ k) − 1{y ≤ k})², not divided by 4 (Epstein 1969); exact outcomes only.
//! - **PIT**, non-randomised (Czado, Gneiting & Held 2009): the mean over records of a function that rises from 0 to 1 between P(y − 1)
//!   and P(y), differenced over tenths; flat when calibrated, U-shaped when too narrow.
//! - **Reliability** of P(y ≥ k): isotonic regression of the event on the forecast (Dimitriadis, Gneiting & Jordan 2021).
//! - **Coverage** of the central 90 % of levels, with the probability those sets were given (a set of whole levels holds more than 90 %).

use std::collections::BTreeMap;

use super::observation::DamageRange;

/// Number of levels.
const LEVELS: usize = 5;
/// Probability below which a log score is capped, so that one impossible record does not make the mean infinite; it is counted.
const LEAST_PROBABILITY: f64 = 1e-12;

/// Steps of a forecast in which events are counted: far finer than a reliability curve is drawn, and what is held stays small however many are
/// scored. Source: DESIGN.
const STEPS: f32 = 8192.0;

/// Forecasts of one threshold that lie within a step of each other, and what came.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct Near {
    records: u32,
    came: u32,
    /// Sum of the forecasts.
    forecasts: f64,
}

impl Near {
    fn add(&mut self, other: Self) {
        self.records += other.records;
        self.came += other.came;
        self.forecasts += other.forecasts;
    }
}

/// Events of one threshold by their forecast.
#[derive(Debug, Clone, Default)]
struct Events(BTreeMap<u16, Near>);

impl Events {
    fn add(&mut self, forecast: f32, came: bool) {
        let near = Near { records: 1, came: u32::from(came), forecasts: f64::from(forecast) };
        self.0.entry((forecast * STEPS) as u16).or_default().add(near);
    }
}

/// Gathers forecasts with what happened.
#[derive(Debug, Clone, Default)]
pub struct Tally {
    records: usize,
    exact: usize,
    log: f64,
    rps: f64,
    pit: [f64; 10],
    covered: usize,
    claimed: f64,
    capped: usize,
    /// Forecast P(y ≥ k) and whether it came, per threshold.
    events: [Events; LEVELS - 1],
}

/// A piece of a reliability curve on which the calibrated probability is constant.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct ReliabilityStep {
    /// Mean forecast over the piece.
    pub forecast: f64,
    /// Share of its records in which the event came.
    pub observed: f64,
    /// Its records.
    pub records: usize,
}

/// Mean scores.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Scores {
    /// Forecasts scored.
    pub records: usize,
    /// Mean log score.
    pub log_score: f64,
    /// Mean ranked probability score over exact outcomes.
    pub ranked_probability_score: f64,
    /// Share of PIT mass in each tenth.
    pub pit: [f64; 10],
    /// Share of exact outcomes within the central 90 % of levels.
    pub coverage: f64,
    /// Probability that those sets were given on average.
    pub claimed_coverage: f64,
    /// Records whose probability was below what the log score can take.
    pub nearly_impossible: usize,
    /// Reliability of P(y ≥ k), k = tips … dead.
    pub reliability: [Vec<ReliabilityStep>; LEVELS - 1],
}

impl Tally {
    /// Takes one forecast.
    pub fn add(&mut self, forecast: &[f64; LEVELS], outcome: DamageRange) {
        let (low, high) = (outcome.low().index(), outcome.high().index());
        self.records += 1;
        let probability: f64 = forecast[low..=high].iter().sum();
        self.capped += usize::from(probability < LEAST_PROBABILITY);
        self.log -= probability.max(LEAST_PROBABILITY).ln();
        if low != high {
            return;
        }
        self.exact += 1;
        let mut below = [0.0; LEVELS + 1];
        for k in 0..LEVELS {
            below[k + 1] = below[k] + forecast[k];
        }
        for k in 0..LEVELS - 1 {
            let came = low <= k;
            self.rps += (below[k + 1] - f64::from(u8::from(came))).powi(2);
            self.events[k].add((1.0 - below[k + 1]).clamp(0.0, 1.0) as f32, !came);
        }
        let (from, to) = (below[low], below[low + 1]);
        let reached = |u: f64| if to > from { ((u - from) / (to - from)).clamp(0.0, 1.0) } else { f64::from(u8::from(u >= to)) };
        for (tenth, mass) in self.pit.iter_mut().enumerate() {
            *mass += reached((tenth as f64 + 1.0) / 10.0) - reached(tenth as f64 / 10.0);
        }
        let first = (0..LEVELS).find(|k| below[k + 1] > 0.05).unwrap_or(0);
        let last = (0..LEVELS).find(|k| below[k + 1] >= 0.95).unwrap_or(LEVELS - 1);
        self.covered += usize::from((first..=last).contains(&low));
        self.claimed += below[last + 1] - below[first];
    }

    /// Joins two.
    pub fn merge(&mut self, other: Self) {
        self.records += other.records;
        self.exact += other.exact;
        self.log += other.log;
        self.rps += other.rps;
        self.covered += other.covered;
        self.claimed += other.claimed;
        self.capped += other.capped;
        for (mine, theirs) in self.pit.iter_mut().zip(other.pit) {
            *mine += theirs;
        }
        for (mine, theirs) in self.events.iter_mut().zip(other.events) {
            for (step, near) in theirs.0 {
                mine.0.entry(step).or_default().add(near);
            }
        }
    }

    /// The means; `None` when nothing was scored.
    pub fn scores(self) -> Option<Scores> {
        if self.records == 0 || self.exact == 0 {
            return None;
        }
        let exact = self.exact as f64;
        Some(Scores {
            records: self.records,
            log_score: self.log / self.records as f64,
            ranked_probability_score: self.rps / exact,
            pit: self.pit.map(|m| m / exact),
            coverage: self.covered as f64 / exact,
            claimed_coverage: self.claimed / exact,
            nearly_impossible: self.capped,
            reliability: self.events.map(isotonic),
        })
    }
}

/// Isotonic regression by pooling adjacent violators.
fn isotonic(events: Events) -> Vec<ReliabilityStep> {
    // Pools of (records, sum of forecasts, events).
    let mut pools: Vec<(f64, f64, f64)> = Vec::new();
    for near in events.0.into_values() {
        settle(&mut pools);
        pools.push((f64::from(near.records), near.forecasts, f64::from(near.came)));
    }
    settle(&mut pools);
    pools.into_iter().map(|(n, f, e)| ReliabilityStep { forecast: f / n, observed: e / n, records: n as usize }).collect()
}

fn settle(pools: &mut Vec<(f64, f64, f64)>) {
    while let [.., a, b] = pools.as_mut_slice() {
        if a.2 / a.0 < b.2 / b.0 {
            break;
        }
        *a = (a.0 + b.0, a.1 + b.1, a.2 + b.2);
        pools.pop();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::hardiness::level::DamageLevel;

    fn exactly(level: DamageLevel) -> DamageRange {
        DamageRange::exactly(level)
    }

    #[test]
    fn scores_of_one_forecast_are_those_worked_by_hand() {
        let mut tally = Tally::default();
        tally.add(&[0.5, 0.25, 0.25, 0.0, 0.0], exactly(DamageLevel::Tips));
        let scores = tally.scores().unwrap();
        assert!((scores.log_score - 4.0f64.ln()).abs() < 1e-12);
        // (0.5 − 0)² + (0.75 − 1)² + 0 + 0.
        assert!((scores.ranked_probability_score - 0.3125).abs() < 1e-12);
        // All PIT mass between 0.5 and 0.75.
        assert!((scores.pit[5] - 0.4).abs() < 1e-12 && (scores.pit[7] - 0.2).abs() < 1e-12);
        assert_eq!((scores.coverage, scores.claimed_coverage), (1.0, 1.0));
    }

    #[test]
    fn a_range_counts_for_the_log_score_alone() {
        let mut tally = Tally::default();
        tally.add(&[0.2; 5], exactly(DamageLevel::Dead));
        tally.add(&[0.2; 5], DamageRange::between(DamageLevel::Wood, DamageLevel::Dead));
        let scores = tally.scores().unwrap();
        assert_eq!(scores.records, 2);
        assert!((scores.log_score + f64::midpoint(0.2f64.ln(), 0.6f64.ln())).abs() < 1e-12);
    }

    // A million forecasts and ten million take the same room: what is pooled lies within a step, its mean and its events kept.
    #[test]
    fn events_take_room_by_their_forecasts_and_not_by_their_number() {
        let mut events = Events::default();
        for n in 0..50_000_u32 {
            events.add((f64::from(n).sin() * 0.5 + 0.5) as f32, n.is_multiple_of(3));
        }
        assert!(events.0.len() <= STEPS as usize + 1, "{}", events.0.len());
        let all = events.0.values().fold(Near::default(), |mut sum, near| {
            sum.add(*near);
            sum
        });
        assert_eq!((all.records, all.came), (50_000, 16_667));
        for (step, near) in &events.0 {
            let mean = near.forecasts / f64::from(near.records) * f64::from(STEPS);
            assert!((0.0..=1.0).contains(&(mean - f64::from(*step))), "{step} {mean}");
        }
    }

    #[test]
    fn reliability_never_falls() {
        let mut events = Events::default();
        for (forecast, came) in [(0.1, false), (0.2, true), (0.3, false), (0.3, false), (0.6, true), (0.7, true)] {
            events.add(forecast, came);
        }
        let steps = isotonic(events);
        assert!(steps.windows(2).all(|w| w[0].observed <= w[1].observed));
        assert_eq!(steps.iter().map(|s| s.records).sum::<usize>(), 6);
        // 0.2, 0.3, 0.3 pool to one third.
        assert!((steps[1].observed - 1.0 / 3.0).abs() < 1e-12);
    }
}
