//! How good probability forecasts of damage were: log score, ranked probability score, PIT, reliability, coverage.
//!
//! - **Log score** −log p(what happened), lower is better; for a range of levels p is their sum.
//! - **Ranked probability score** Σ_{k<4} (P(y ≤ k) − 1{y ≤ k})², not divided by 4 (Epstein 1969); exact outcomes only.
//! - **PIT**, non-randomised (Czado, Gneiting & Held 2009): the mean over records of a function that rises from 0 to 1 between P(y − 1)
//!   and P(y), differenced over tenths; flat when calibrated, U-shaped when too narrow.
//! - **Reliability** of P(y ≥ k): isotonic regression of the event on the forecast (Dimitriadis, Gneiting & Jordan 2021).
//! - **Coverage** of the central 90 % of levels, with the probability those sets were given (a set of whole levels holds more than 90 %).

use super::observation::DamageRange;

/// Number of levels.
const LEVELS: usize = 5;
/// Probability below which a log score is capped, so that one impossible record does not make the mean infinite; it is counted.
const LEAST_PROBABILITY: f64 = 1e-12;

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
    events: [Vec<(f32, bool)>; LEVELS - 1],
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
            self.events[k].push((((1.0 - below[k + 1]).clamp(0.0, 1.0)) as f32, !came));
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
            mine.extend(theirs);
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
fn isotonic(mut events: Vec<(f32, bool)>) -> Vec<ReliabilityStep> {
    events.sort_by(|a, b| a.0.total_cmp(&b.0));
    // Pools of (records, sum of forecasts, events); equal forecasts are one pool from the start.
    let mut pools: Vec<(f64, f64, f64)> = Vec::new();
    let mut last = f32::NAN;
    for (forecast, came) in events {
        let new = (1.0, f64::from(forecast), f64::from(u8::from(came)));
        match pools.last_mut() {
            Some(pool) if forecast == last => *pool = (pool.0 + new.0, pool.1 + new.1, pool.2 + new.2),
            _ => {
                settle(&mut pools);
                pools.push(new);
            }
        }
        last = forecast;
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

    #[test]
    fn reliability_never_falls() {
        let events = vec![(0.1, false), (0.2, true), (0.3, false), (0.3, false), (0.6, true), (0.7, true)];
        let steps = isotonic(events);
        assert!(steps.windows(2).all(|w| w[0].observed <= w[1].observed));
        assert_eq!(steps.iter().map(|s| s.records).sum::<usize>(), 6);
        // 0.2, 0.3, 0.3 pool to one third.
        assert!((steps[1].observed - 1.0 / 3.0).abs() < 1e-12);
    }
}
