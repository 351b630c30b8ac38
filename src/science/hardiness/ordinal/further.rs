//! One record more, answered at once: how it moves the border of a fit whose outer parameters stand.
//!
//! At the mode of the inner effects w (border, crossed levels r, nested levels t) the log-density of the fitted records is, to second order,
//! −½ Δ'HΔ with H the negative Hessian that the fit ends with. A further record adds ℓ(η + z'Δ), z holding the record's columns: x in the border,
//! 1 for its level. The sum depends on Δ in the one direction H⁻¹z alone. With δ = z'Δ and q = z'H⁻¹z,
//!
//! > Δ = H⁻¹z · δ/q,  where δ maximises ℓ(η + δ) − δ²/2q,
//!
//! and by Sherman and Morrison (1950) the inverse goes on to H⁻¹ − H⁻¹z z'H⁻¹ · W/(1 + Wq), W = −ℓ''. One step of Newton's method in δ gives
//! the rank-one update; here δ is found to the end, which costs nothing, since it is one number.
//!
//! Of H⁻¹ a fit keeps the border's part V = S⁻¹ ([`super::sweep`]). The rest is local to the record's crossed level j. Let L be the Hessian of
//! j and its nested levels, B their coupling to the border, and z = (x, e) with e in those; then
//!
//! > border part of H⁻¹z = V x̃,  x̃ = x − B'L⁻¹e,  q = e'L⁻¹e + x̃'V x̃.
//!
//! With p_g, W_g, N_g, D_g, D_j and M_j as in `sweep`, elimination of the nested levels gives
//!
//! | the record is of | e'L⁻¹e | B'L⁻¹e |
//! |---|---|---|
//! | a nested level g that has records | (1 + p_g u)/D_g, u = p_g/(D_g D_j) | N_g/D_g + u M_j |
//! | a new nested level of a crossed one that has records | 1/D_j + 1/p | M_j/D_j |
//! | a new crossed level | σ_r² + 1/p | 0 |
//!
//! so that the records of one crossed level are passed over, and no others. They are given again: a fit does not keep its records, and the levels
//! of one crossed level follow from them and the border. Records that may say nothing ([`super::robust`]) weigh their chance of being genuine
//! where δ ends. The outer parameters stay where they are: that is what a fit from here mends.

use super::fitted::Fitted;
use super::kernel::Lanes;
use super::patterns::Slot;
use super::point::{Mode, Point};
use super::problem::{ATTENUATION, Cell, Problem};
use super::record::{UNBOUNDED, terms};
use super::robust::{Contamination, levels_and_doubts};
use super::spec::{Observation, Spec};
use nalgebra::DVector;

/// Steps in which δ is sought.
const MOST_STEPS: usize = 60;
/// Move of δ at which they end, logits.
const SETTLED: f64 = 1e-10;

/// What the levels of a record bring: e'L⁻¹e, B'L⁻¹e, and the part of η that is theirs.
struct Local {
    variance: f64,
    coupled: DVector<f64>,
    offset: f64,
}

impl Fitted {
    /// This fit, of a model of `spec`, one record further, as far as the border goes. `own` are the records of the fit that share its crossed
    /// level, none where the level is new. `None` where levels are not nested, or where a record names a group or an effect that the fit does not
    /// have.
    pub fn further(&self, spec: &Spec, o: &Observation<'_>, own: &[Observation<'_>], believed: Option<&Contamination>) -> Option<Self> {
        let doubt = believed.zip(self.contamination);
        let local = self.local(spec, o, own, doubt)?;
        let (x, fixed) = self.columns(spec, o)?;
        let beta = self.beta(spec);
        let mut moving = DVector::from_vec(x);
        let mut eta = local.offset + fixed - beta * o.exposure + moving.iter().zip(&self.mode.border).map(|(x, b)| x * b).sum::<f64>();
        moving -= &local.coupled;
        let along = &self.border_covariance * &moving;
        let q = local.variance + moving.dot(&along);
        let cell = cell(o, spec.levels);
        let (lower, upper) = self.bounds(&cell, spec.levels, beta);
        let inverse_c = 1.0 / (1.0 + ATTENUATION * (beta * o.exposure_sd).powi(2)).sqrt();
        let nothing = doubt.map(|(believed, share)| {
            (share, believed.levels.get(usize::from(o.low)..=usize::from(o.high)).map_or(0.0, |levels| levels.iter().sum()))
        });
        let (begin, mut curvature) = (eta, 0.0);
        for _ in 0..MOST_STEPS {
            let at = terms(lower, upper, eta, inverse_c);
            let weight = o.weight * nothing.map_or(1.0, |(share, any)| genuine(at.log_p.exp(), share, any));
            curvature = weight * at.weight;
            let step = (weight * at.score - (eta - begin) / q) / (1.0 / q + curvature);
            eta += step;
            if step.abs() < SETTLED {
                break;
            }
        }
        let mut next = self.clone();
        let share = (eta - begin) / q;
        next.mode.border.iter_mut().zip(along.iter()).for_each(|(b, a)| *b += share * a);
        next.border_covariance -= &along * along.transpose() * (curvature / (1.0 + curvature * q));
        Some(next)
    }

    /// Steepness; one where records have no exposure.
    fn beta(&self, spec: &Spec) -> f64 {
        if spec.exposure { self.natural.log_slope.exp() } else { 1.0 }
    }

    /// The record's columns in the border, and what its maximised effects add to η.
    fn columns(&self, spec: &Spec, o: &Observation<'_>) -> Option<(Vec<f64>, f64)> {
        let mut x = vec![0.0; self.mode.border.len()];
        let mut fixed = 0.0;
        for &(effect, value) in o.effects {
            match *self.slots.get(usize::from(effect))? {
                Slot::Border(k) => x[k] += value,
                Slot::Maximised(k) => fixed += value * self.natural.coefficients[k],
            }
        }
        if let Some(group) = &spec.group {
            let level = o.group as usize;
            *x.get_mut(self.group_slot(level))? += 1.0;
            if let Some(own) = group.own.get(level).copied().flatten()
                && let Slot::Border(k) = *self.slots.get(own)?
            {
                x[k] += 1.0;
            }
        }
        Some((x, fixed))
    }

    fn bounds(&self, cell: &Cell, levels: usize, beta: f64) -> (f64, f64) {
        let ((lower, upper), shift) = (cell.bounds(levels), cell.shifts(levels));
        let at = |place: Option<usize>, else_: f64| place.map_or(else_, |k| self.natural.thresholds[k]);
        (at(lower, -UNBOUNDED) + beta * shift.0, at(upper, UNBOUNDED) + beta * shift.1)
    }

    /// What is passed over for it: the records of its crossed level, at the levels that they have where the border stands.
    fn local(&self, spec: &Spec, o: &Observation<'_>, own: &[Observation<'_>], doubt: Option<(&Contamination, f64)>) -> Option<Local> {
        if !spec.nested {
            return None;
        }
        let none = DVector::zeros(self.mode.border.len());
        let beta = self.beta(spec);
        let own_variance = (2.0 * self.natural.log_sd_crossed).exp();
        let fresh = beta * beta * ((2.0 * self.natural.log_sd_nested).exp() + o.shared_sd * o.shared_sd);
        if own.is_empty() {
            return Some(Local { variance: own_variance + fresh, coupled: none, offset: 0.0 });
        }
        let (problem, mode) = self.levels_of(spec, own, doubt)?;
        let point = Point::new(&problem, &self.natural, &mode);
        let mut nested: Vec<u32> = own.iter().map(|record| record.nested).collect();
        nested.sort_unstable();
        nested.dedup();
        let nested = nested.binary_search(&o.nested).ok();
        let (mut curvature, mut all) = (1.0 / own_variance, none);
        let mut of_nested = None;
        let mut lanes = Lanes::default();
        point.fill(0..problem.blocks(), &mut lanes);
        lanes.terms(beta);
        for block in 0..problem.blocks() {
            let precision = point.block_precision(block);
            let mut coupling: DVector<f64> = DVector::zeros(self.mode.border.len());
            let mut records = 0.0;
            for i in problem.block(block) {
                let weight = lanes.curvature[i];
                records += weight;
                problem.design.add_record(problem.group[i], problem.pattern[i], weight, &mut coupling);
            }
            let d = records + precision;
            curvature += precision * records / d;
            all.axpy(precision / d, &coupling, 1.0);
            if Some(block) == nested {
                of_nested = Some((block, precision, d, coupling));
            }
        }
        if nested.is_none() {
            return Some(Local { variance: 1.0 / curvature + fresh, coupled: all / curvature, offset: mode.parents[0] });
        }
        let (block, precision, d, coupling) = of_nested?;
        let u = precision / (d * curvature);
        let coupled = coupling / d + all * u;
        Some(Local { variance: (1.0 + precision * u) / d, coupled, offset: mode.blocks[block] })
    }

    /// Records of one crossed level as a problem of their own, with the levels that they have where border and outer parameters stand.
    fn levels_of(&self, spec: &Spec, own: &[Observation<'_>], doubt: Option<(&Contamination, f64)>) -> Option<(Problem, Mode)> {
        let mut builder = Problem::builder(Spec { crossed: Some(1), ..spec.clone() }).ok()?;
        for record in own {
            builder.push(&Observation { crossed: 0, ..*record }).ok()?;
        }
        let mut problem = builder.finish().ok()?;
        let mode = levels_and_doubts(&mut problem, &self.natural, &self.mode.border, doubt);
        Some((problem, mode))
    }
}

/// Chance that a record of probability p says what happened, a share of all saying nothing.
fn genuine(p: f64, share: f64, any: f64) -> f64 {
    let likely = (1.0 - share) * p;
    likely / (likely + share * any)
}

/// The kind of outcome, its highest threshold left out where it does not bound it.
fn cell(o: &Observation<'_>, levels: usize) -> Cell {
    let bounded = usize::from(o.low) + 1 == levels || usize::from(o.high) + 2 == levels;
    let (top, top_shift) = if bounded { (o.top, o.top_shift) } else { (0, 0.0) };
    Cell { low: o.low, high: o.high, top, top_shift }
}

#[cfg(test)]
mod tests {
    use nalgebra::DMatrix;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::super::fitted::FitOptions;
    use super::super::fitting::fit;
    use super::super::laplace::{Laplace, Nearness};
    use super::super::natural::Free;
    use super::super::spec::{Group, Role, Spec};
    use super::*;

    const CROSSED: u32 = 24;

    /// A record of a cultivar, a reporter and a winter whose outcome follows from its exposure.
    fn record(rng: &mut ChaCha8Rng) -> Observation<'static> {
        let exposure = rng.random_range(-4.0..4.0);
        let low = (2.0 - exposure + rng.random_range(-1.5..1.5_f64)).clamp(0.0, 3.0) as u8;
        Observation {
            low,
            high: if rng.random_bool(0.2) { 3 } else { low },
            exposure,
            exposure_sd: rng.random_range(0.0..1.0),
            shared_sd: 0.5,
            weight: if rng.random_bool(0.3) { 1.5 } else { 1.0 },
            group: rng.random_range(0..5),
            // The last one is nobody's.
            crossed: rng.random_range(0..CROSSED - 1),
            nested: rng.random_range(0..4),
            effects: if rng.random_bool(0.5) { &[(0, 1.0), (1, 1.0)] } else { &[(0, 1.0)] },
            ..Observation::default()
        }
    }

    fn problem(records: &[Observation<'_>]) -> Problem {
        let spec = Spec {
            levels: 4,
            exposure: true,
            effects: vec![Role::Normal { mean: 0.0, sd: 1.0, scaled: true }, Role::Normal { mean: 0.5, sd: 0.5, scaled: true }],
            group: Some(Group { parents: vec![None; 5], own: Vec::new(), scaled: true }),
            crossed: Some(CROSSED as usize),
            nested: true,
            further_tops: 0,
        };
        let mut builder = Problem::builder(spec).unwrap();
        for record in records {
            builder.push(record).unwrap();
        }
        builder.finish().unwrap()
    }

    fn of_level<'a>(records: &[Observation<'a>], crossed: u32) -> Vec<Observation<'a>> {
        records.iter().filter(|record| record.crossed == crossed).copied().collect()
    }

    // Against Newton's method over all records from the start, slope and spreads the same: what differs is of second order in the move.
    #[test]
    fn one_record_more_moves_the_border_as_all_records_together_do() {
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        let records: Vec<Observation<'_>> = (0..500).map(|_| record(&mut rng)).collect();
        let before = problem(&records);
        let fitted = fit(&before, &Free::new(&before), FitOptions::default());
        for seed in 0..30_u64 {
            let mut further = Observation { weight: 1.0, ..record(&mut ChaCha8Rng::seed_from_u64(100 + seed)) };
            match seed % 3 {
                0 => further.crossed = CROSSED - 1,
                1 => further.nested = 9,
                _ => further.nested = records.iter().find(|r| r.crossed == further.crossed).unwrap().nested,
            }
            let own = of_level(&records, further.crossed);
            let moved = fitted.further(before.spec(), &further, &own, None).unwrap();
            let all = problem(&[records.as_slice(), &[further]].concat());
            let parameters = Free::new(&all);
            let mut laplace = Laplace::new(&all, &parameters, 1e-18, FitOptions::default());
            laplace.value(&fitted.psi, Nearness::Exact);
            laplace.gradient();
            let (fit, covariance, _) = laplace.into_mode().unwrap();
            let largest = |of: &[f64], than: &[f64]| of.iter().zip(than).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            let (whole, error) = (largest(&fit.mode.border, &fitted.mode.border), largest(&fit.mode.border, &moved.mode.border));
            assert!(error < 0.06 * whole + 1e-4, "{seed}: the border moves by {whole}, and {error} is left");
            let size = |matrix: DMatrix<f64>| matrix.amax();
            let (whole, error) = (size(&covariance - &fitted.border_covariance), size(&covariance - &moved.border_covariance));
            assert!(error < 0.25 * whole + 1e-4, "{seed}: the covariance changes by {whole}, and {error} is left");
        }
    }

    #[test]
    fn a_record_of_nothing_known_is_left_to_a_fit() {
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        let records: Vec<Observation<'_>> = (0..200).map(|_| record(&mut rng)).collect();
        let before = problem(&records);
        let fitted = fit(&before, &Free::new(&before), FitOptions::default());
        let (o, spec) = (record(&mut rng), before.spec());
        assert!(fitted.further(spec, &o, &[o], None).is_some());
        for unknown in [Observation { group: 5, ..o }, Observation { effects: &[(2, 1.0)], ..o }] {
            assert!(fitted.further(spec, &unknown, &[], None).is_none());
            assert!(fitted.further(spec, &o, &[unknown], None).is_none());
        }
    }
}
