//! Regression calibration: what a thermometer reading says of the true temperature.
//!
//! A reading scatters around the truth, so the coldest readings overstate the cold; used as they are, they flatten the slope and pull
//! hardy cultivars too hardy (measured on simulated reports: T50 error 0.59 K instead of 0.34 K). With temperatures of a reporter's
//! winters T ~ N(m_j, τ²) and reading = T + N(0, s²),
//!
//! > T | reading ~ N(ω·reading + (1 − ω)·m_j, ω·s² + (1 − ω)²·var m_j),  ω = τ²/(τ² + s²)
//!
//! τ² and the spread of m_j come from the readings themselves by moments; m_j is shrunk to the mean of all. A value *assigned* to a
//! garden (nearest station, forecast, zone) is the other way round, the truth scatters around it, and is left alone. Where thermometers err
//! by more than is stated of them, that is in s² too ([`super::thermometer`]).
//! Source: Carroll, Ruppert, Stefanski & Crainiceanu, Measurement Error in Nonlinear Models (2006); formulas from memory, effect measured.

use super::observation::{ExposureError, WinterObservation};
use crate::science::numeric::Gaussian;

/// Smallest variance of a reporter's winters believed, K²: winters differ by at least a few tenths of a kelvin anywhere.
const LEAST_VARIANCE: f64 = 0.25;

/// How a reporter's winters scatter, learned from readings.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Calibration {
    /// τ², K².
    within: f64,
    /// Mean over reporters and its spread between them.
    between: Gaussian,
    /// m_j.
    reporters: Vec<Gaussian>,
    /// Variance of a thermometer's error beyond what is stated of it, K².
    unstated: f64,
}

#[derive(Clone, Copy, Default)]
struct Tally {
    count: f64,
    sum: f64,
    squares: f64,
    error: f64,
}

impl Tally {
    fn add(&mut self, reading: f64, error: f64) {
        self.count += 1.0;
        self.sum += reading;
        self.squares += reading * reading;
        self.error += error;
    }
}

/// A reading that the plants of a garden share with others of its winter.
struct Shared {
    reporter: u32,
    event: u32,
    reading: f64,
    error: f64,
}

/// What a report met: mean °C, the part of the error that is its own and the part that its garden's winter shares, K.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Exposed {
    pub mean: f64,
    pub own: f64,
    pub shared: f64,
}

impl Calibration {
    /// From all readings with an error among so many reports of so many reporters, each `unstated_k` larger than is stated (in quadrature); `None`
    /// when there are none. The plants of a garden that share a thermometer count as one reading a winter.
    pub fn learn(
        (reporters, reports): (usize, usize),
        observations: impl Iterator<Item = WinterObservation>,
        unstated_k: f64,
    ) -> Option<Self> {
        let unstated = unstated_k * unstated_k;
        let mut tallies = vec![Tally::default(); reporters];
        // Room is made once: to make more on the way takes half as much again. What is not used is not held.
        let mut shared: Vec<Shared> = Vec::with_capacity(reports);
        for o in observations.filter(needs) {
            let (reading, error) = (o.exposure.degrees(), error_of(&o).powi(2) + unstated);
            if o.shared_sd.kelvin() > 0.0 {
                shared.push(Shared { reporter: o.reporter, event: o.event(), reading, error });
            } else if let Some(t) = tallies.get_mut(o.reporter as usize) {
                t.add(reading, error);
            }
        }
        // Those of one winter in one order, so that sums are always the same, and no copy of them to sort by.
        shared.sort_unstable_by(|a, b| {
            let (of_a, of_b) = ((a.reporter, a.event), (b.reporter, b.event));
            of_a.cmp(&of_b).then(a.reading.total_cmp(&b.reading)).then(a.error.total_cmp(&b.error))
        });
        for winter in shared.chunk_by(|a, b| (a.reporter, a.event) == (b.reporter, b.event)) {
            if let Some(t) = winter.first().and_then(|s| tallies.get_mut(s.reporter as usize)) {
                let count = winter.len() as f64;
                let sums = winter.iter().fold((0.0, 0.0), |(x, e), s| (x + s.reading, e + s.error));
                t.add(sums.0 / count, sums.1 / count);
            }
        }
        drop(shared);
        let seen = || tallies.iter().filter(|t| t.count > 0.0);
        let count: f64 = seen().map(|t| t.count).sum();
        if count == 0.0 {
            return None;
        }
        let groups = seen().count() as f64;
        let error = seen().map(|t| t.error).sum::<f64>() / count;
        let scatter: f64 = seen().map(|t| t.squares - t.sum * t.sum / t.count).sum();
        let mean = seen().map(|t| t.sum).sum::<f64>() / count;
        let total = seen().map(|t| t.squares).sum::<f64>() / count - mean * mean;
        // One report per reporter leaves nothing within: winters and places are then told apart by the total alone.
        let within = if count > groups { scatter / (count - groups) - error } else { 0.5 * total };
        let within = within.max(LEAST_VARIANCE);
        let of_means = seen().map(|t| (t.sum / t.count - mean).powi(2) - (within + error) / t.count).sum::<f64>() / groups;
        let between = Gaussian::new(mean, of_means.max(LEAST_VARIANCE).sqrt());
        let reporters = tallies
            .iter()
            .map(|t| {
                let prior = 1.0 / between.variance();
                let data = if t.count > 0.0 { t.count / (within + t.error / t.count) } else { 0.0 };
                let own = if t.count > 0.0 { t.sum / t.count } else { 0.0 };
                Gaussian::new((mean * prior + own * data) / (prior + data), (1.0 / (prior + data)).sqrt())
            })
            .collect();
        Some(Self { within, between, reporters, unstated })
    }

    /// Expected exposure and its standard deviations given what was reported.
    pub fn apply(this: Option<&Self>, o: &WinterObservation) -> Exposed {
        let read = Exposed { mean: o.exposure.degrees(), own: o.exposure_sd.kelvin(), shared: o.shared_sd.kelvin() };
        let Some(calibration) = this.filter(|_| needs(o)) else { return read };
        let own = calibration.reporters.get(o.reporter as usize).copied().unwrap_or(calibration.between);
        let variance = error_of(o).powi(2) + calibration.unstated;
        let trust = calibration.within / (calibration.within + variance);
        let rest = 1.0 - trust;
        let mean = trust * read.mean + rest * own.mean;
        let sd = (trust * variance + rest * rest * own.variance()).sqrt();
        if read.shared > 0.0 { Exposed { mean, own: read.own, shared: sd } } else { Exposed { mean, own: sd, shared: 0.0 } }
    }
}

/// Error of the reading, K: what a garden's winter shares where that is known apart, all of it otherwise.
fn error_of(o: &WinterObservation) -> f64 {
    if o.shared_sd.kelvin() > 0.0 { o.shared_sd.kelvin() } else { o.exposure_sd.kelvin() }
}

fn needs(o: &WinterObservation) -> bool {
    o.exposure_error == ExposureError::Reading && error_of(o) > 0.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::hardiness::level::DamageLevel;
    use crate::science::hardiness::observation::DamageRange;
    use crate::units::{Celsius, TemperatureDelta};
    use std::f64::consts::SQRT_2;

    fn reading(reporter: u32, winter: i16, celsius: f64, own: f64, shared: f64) -> WinterObservation {
        WinterObservation {
            exposure_sd: TemperatureDelta::literal(own),
            shared_sd: TemperatureDelta::literal(shared),
            ..WinterObservation::new(0, reporter, winter, Celsius::literal(celsius), DamageRange::exactly(DamageLevel::Tips))
        }
    }

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-9, "{a} against {b}");
    }

    /// Two reporters, winters of −10 and −6 °C and of −2 and 0 °C, readings with a variance of 2 K². Worked by hand from the formulas at the head:
    /// scatter within 8 + 2 over 2 degrees of freedom, less the error: τ² = 3; means −8 and −1 about −4.5, less (3 + 2)/2: 9.75 between.
    fn two_reporters(own: f64, shared: f64) -> Vec<WinterObservation> {
        [(0, 2020, -10.0), (0, 2021, -6.0), (1, 2020, -2.0), (1, 2021, 0.0)].map(|(r, w, t)| reading(r, w, t, own, shared)).to_vec()
    }

    // The first reporter's usual winter: −8 with precision 2/5, −4.5 with precision 1/9.75, so −51/7 with variance 97.5/49.
    #[test]
    fn moments_and_the_usual_winter_of_a_reporter_are_those_worked_by_hand() {
        let learned = Calibration::learn((2, 0), two_reporters(SQRT_2, 0.0).into_iter(), 0.0).unwrap();
        near(learned.within, 3.0);
        near(learned.between.mean, -4.5);
        near(learned.between.variance(), 9.75);
        near(learned.reporters[0].mean, -51.0 / 7.0);
        near(learned.reporters[0].variance(), 97.5 / 49.0);
        near(learned.reporters[1].mean, -9.0 + 51.0 / 7.0);
    }

    // ω = 3/5: three fifths of the reading, two of the usual winter; variance ω·2 + (1 − ω)²·97.5/49.
    #[test]
    fn a_reading_is_drawn_towards_the_reporters_usual_winter_by_its_error() {
        let reports = two_reporters(SQRT_2, 0.0);
        let learned = Calibration::learn((2, 0), reports.iter().copied(), 0.0).unwrap();
        let drawn = Calibration::apply(Some(&learned), &reports[0]);
        near(drawn.mean, 0.6 * -10.0 + 0.4 * (-51.0 / 7.0));
        near(drawn.own.powi(2), 1.2 + 0.16 * 97.5 / 49.0);
        near(drawn.shared, 0.0);
        // A reporter never seen before has the mean of all.
        let stranger = Calibration::apply(Some(&learned), &reading(7, 2022, -10.0, SQRT_2, 0.0));
        near(stranger.mean, 0.6 * -10.0 + 0.4 * -4.5);
        near(stranger.own.powi(2), 1.2 + 0.16 * 9.75);
    }

    // An error of 1 K that nobody stated, on top of a stated one of 1 K, is one of √2 K.
    #[test]
    fn an_unstated_error_counts_as_if_it_had_been_stated() {
        let reports = two_reporters(1.0, 0.0);
        let learned = Calibration::learn((2, 0), reports.iter().copied(), 1.0).unwrap();
        near(learned.within, 3.0);
        let drawn = Calibration::apply(Some(&learned), &reports[0]);
        near(drawn.mean, 0.6 * -10.0 + 0.4 * (-51.0 / 7.0));
        near(drawn.own.powi(2), 1.2 + 0.16 * 97.5 / 49.0);
    }

    // Three plants under one thermometer are one reading of it.
    #[test]
    fn plants_that_share_a_thermometer_count_as_one_reading() {
        let shared = two_reporters(0.5, SQRT_2);
        let thrice = [shared.clone(), shared.clone(), shared.clone()].concat();
        let learned = Calibration::learn((2, 0), thrice.into_iter(), 0.0).unwrap();
        near(learned.reporters[0].mean, Calibration::learn((2, 0), shared.iter().copied(), 0.0).unwrap().reporters[0].mean);
        near(learned.reporters[0].mean, -51.0 / 7.0);
        near(learned.within, 3.0);
        let drawn = Calibration::apply(Some(&learned), &shared[0]);
        near(drawn.own, 0.5);
        near(drawn.shared.powi(2), 1.2 + 0.16 * 97.5 / 49.0);
    }

    // Berkson error: the truth scatters about what was assigned, so the expectation is what was assigned.
    #[test]
    fn a_value_assigned_from_elsewhere_or_known_exactly_stays_as_it_is() {
        let reports = two_reporters(SQRT_2, 0.0);
        let learned = Calibration::learn((2, 0), reports.iter().copied(), 0.0).unwrap();
        let assigned = WinterObservation { exposure_error: ExposureError::Assigned, ..reports[0] };
        assert_eq!(Calibration::apply(Some(&learned), &assigned), Exposed { mean: -10.0, own: SQRT_2, shared: 0.0 });
        let exact = reading(0, 2020, -10.0, 0.0, 0.0);
        assert_eq!(Calibration::apply(Some(&learned), &exact), Exposed { mean: -10.0, own: 0.0, shared: 0.0 });
        assert_eq!(Calibration::learn((2, 0), [assigned, exact].into_iter(), 0.0), None);
    }

    // −10 and −2 °C: variance 16 about −6, half of it taken for winters, and no less than a quarter of a K² where all read the same.
    #[test]
    fn one_report_a_reporter_splits_the_spread_and_equal_readings_keep_the_least() {
        let learned =
            Calibration::learn((2, 0), [reading(0, 2020, -10.0, 1.0, 0.0), reading(1, 2020, -2.0, 1.0, 0.0)].into_iter(), 0.0).unwrap();
        near(learned.within, 8.0);
        near(learned.between.variance(), 16.0 - 9.0);
        let alike =
            Calibration::learn((2, 0), [reading(0, 2020, -5.0, 1.0, 0.0), reading(1, 2020, -5.0, 1.0, 0.0)].into_iter(), 0.0).unwrap();
        near(alike.within, 0.25);
        near(alike.between.variance(), 0.25);
    }
}
