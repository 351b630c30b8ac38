//! The Laplace marginal likelihood as a function of the outer parameters.
//!
//! > L(ψ) = ℓ(ŵ, ψ) + log p(ŵ|ψ) − ½ log|−H| + ½ f log 2π + log p(ψ)
//!
//! with f the number of effects integrated under a flat prior (the 2π of proper priors cancel). Each evaluation starts the inner fit
//! where ∂ŵ/∂ν predicts the mode to be, so that two or three passes suffice.

use nalgebra::{DMatrix, DVector};

use super::curvature::profile;
use super::fitted::FitOptions;
pub(super) use super::gradient::Determinant;
use super::gradient::{OuterGradient, outer};
use super::inner::{self, InnerFit};
use super::natural::{Layout, Natural, Parameters};
use super::parallel::run;
use super::point::{Mode, Point};
use super::problem::Problem;
use super::spec::Role;
use super::stop::Stop;
use super::sweep::{Step, Work, follow};

/// Farthest move of an outer parameter, as a share of one and itself, over which the mode is extrapolated; beyond it the old mode is the start.
const FARTHEST_EXTRAPOLATION: f64 = 0.3;

/// How near the inner fit must come to the mode.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Nearness {
    /// To where L and its gradient are exact for the search.
    Exact,
    /// Within [`NEAR`]: the step that the last pass gives is taken unchecked, which leaves the mode in error by its square. Enough on the
    /// way, and for differences of the gradient, whose own error is larger.
    Near,
    /// Within [`FAR`], the value taken up to what the last step gains: enough where much is still to gain.
    Far,
}

/// Newton decrement, for each effect, at which a near mode is taken: three ten-thousandths of its standard deviation away.
const NEAR: f64 = 1e-7;
/// The same for a far one: a hundredth.
const FAR: f64 = 1e-4;

/// The tolerance of a sharp search, as a share of the usual one: what is left of the mode moves log|−H| by its first power, and over a million levels
/// that adds up to more than a step of the outer parameters gains where each level is told by one record.
const SHARP: f64 = 1e-4;

/// Range of the tolerance: beyond the least no rounded sum shows a difference.
const TOLERANCES: (f64, f64) = (1e-18, 1e-8);

/// Step of the differences that tell how the outer parameters bend, log units.
const BEND_STEP: f64 = 1e-5;

/// Records up to which gradients beside one another are taken on a thread each: more keep all threads at work in every pass.
const BESIDE: usize = 60_000;

/// Evaluates L and its gradient, keeping the last mode.
pub(super) struct Laplace<'a> {
    pub problem: &'a Problem,
    pub parameters: &'a dyn Parameters,
    pub layout: Layout,
    threads: usize,
    stop: Option<&'a Stop>,
    inner_tolerance: f64,
    /// Whether it is that of a sharp search.
    sharp: bool,
    effects: usize,
    work: Work,
    /// Whether gradients tell how the eliminated levels move: what a search needs, and a single step can do without.
    follows_levels: bool,
    last: Option<Last>,
    /// Passes over the records so far, gradients included.
    pub passes: usize,
    /// Passes over parts of them, in proportion.
    pub passes_of_parts: f64,
}

struct Last {
    psi: Vec<f64>,
    nearness: Nearness,
    natural: Natural,
    fit: InnerFit,
    inverse: Option<DMatrix<f64>>,
    gradient: Option<OuterGradient>,
}

impl Problem {
    /// Bytes held per record: the records themselves, patterns and block ends, and what a fit keeps of each record and block.
    pub fn bytes_per_record(&self) -> f64 {
        let n = self.records();
        let patterns = self.patterns.entries();
        let outer = Layout::new(&self.spec, self.maximised).len;
        let bytes = n * (2 + 4 + 4)
            + self.exposure.len() * 8
            + self.exposure_sd.as_ref().map_or(0, |v| v.len() * 4)
            + self.weight.as_ref().map_or(0, |v| v.len() * 8)
            + self.genuine.as_ref().map_or(0, |v| v.len() * 4)
            + self.block_variance.as_ref().map_or(0, |v| v.len() * 4)
            + patterns * 16
            + self.design.bytes()
            + self.patterns.len() * 8
            + (self.block_ends.len() + self.crossed_ends.len()) * 4;
        // The curvature of each record; mode, curvature and score of each block and crossed level, and how they move with the outer ones.
        let fit = n * 8 + if self.spec.crossed.is_some() { (self.blocks() + self.crossed_ends.len()) * (3 * 8 + outer * 4) } else { 0 };
        (bytes + fit) as f64 / n.max(1) as f64
    }
}

impl<'a> Laplace<'a> {
    pub fn new(problem: &'a Problem, parameters: &'a dyn Parameters, inner_tolerance: f64, effort: FitOptions<'a>) -> Self {
        let layout = Layout::new(&problem.spec, problem.maximised);
        let effects = problem.effects();
        Self {
            problem,
            effects,
            parameters,
            layout,
            threads: effort.threads,
            stop: effort.stop,
            inner_tolerance: inner_tolerance.clamp(TOLERANCES.0, TOLERANCES.1),
            sharp: false,
            work: Work::new(problem),
            follows_levels: true,
            last: None,
            passes: 0,
            passes_of_parts: 0.0,
        }
    }

    /// The same in less room: levels of the next outer parameters are looked for where they were.
    #[must_use]
    pub fn sparing(self) -> Self {
        Self { follows_levels: false, ..self }
    }

    /// Looks for the mode more exactly from now on.
    pub fn sharpen(&mut self) {
        if !self.sharp {
            (self.sharp, self.inner_tolerance) = (true, (self.inner_tolerance * SHARP).max(TOLERANCES.0));
        }
    }

    /// Whether it does.
    pub fn is_sharp(&self) -> bool {
        self.sharp
    }

    /// Whether the work was told to end: values and gradients then cost no pass and mean nothing.
    pub fn is_stopped(&self) -> bool {
        self.stop.is_some_and(Stop::is_told)
    }

    /// Newton decrement to which the inner fit goes.
    fn tolerance(&self, nearness: Nearness) -> f64 {
        match nearness {
            Nearness::Exact => self.inner_tolerance,
            Nearness::Near => self.inner_tolerance.max(NEAR * self.effects as f64),
            Nearness::Far => self.inner_tolerance.max(FAR * self.effects as f64),
        }
    }

    /// L at ψ; −∞ when it cannot be computed.
    pub fn value(&mut self, psi: &[f64], nearness: Nearness) -> f64 {
        if self.is_stopped() {
            return f64::NEG_INFINITY;
        }
        let tolerance = self.tolerance(nearness);
        let natural = self.parameters.natural(psi);
        let start = self.starting_mode(&natural);
        // What was found before goes before the rest comes.
        self.last = None;
        let fit = inner::fit(self.problem, &natural, start, &mut self.work, tolerance, (self.threads, self.stop));
        self.passes += fit.passes;
        let flat = self.problem.integrated.iter().filter(|&&e| matches!(self.problem.spec.effects[e], Role::Flat)).count();
        let prior = self.parameters.log_prior(psi, &mut vec![0.0; psi.len()]);
        let value = fit.value - 0.5 * fit.log_det + 0.5 * flat as f64 * std::f64::consts::TAU.ln() + prior;
        self.last = Some(Last { psi: psi.to_vec(), nearness, natural, fit, inverse: None, gradient: None });
        if value.is_finite() { value } else { f64::NEG_INFINITY }
    }

    /// Whether the gradient was last taken at ψ.
    pub fn gradient_is_of(&self, psi: &[f64]) -> bool {
        self.last.as_ref().is_some_and(|last| last.psi == psi && last.gradient.is_some())
    }

    /// Whether the value was last taken from afar.
    pub fn is_far(&self) -> bool {
        self.last.as_ref().is_some_and(|last| last.nearness == Nearness::Far)
    }

    /// How far values that are not exact may be off: the determinant is that of before the last step of the mode, and moves by its first power.
    pub fn blur(&self) -> f64 {
        (NEAR * self.effects as f64).sqrt()
    }

    /// Goes on to ψ, so near that what was found where the gradient was last taken holds there too; the mode moves as its derivative says.
    pub fn go_on_to(&mut self, psi: &[f64]) {
        let natural = self.parameters.natural(psi);
        let mode = self.starting_mode(&natural);
        if let Some(last) = &mut self.last {
            last.fit.mode = mode;
            last.natural = natural;
            last.psi = psi.to_vec();
        }
    }

    /// Whether value and gradient were last taken at ψ, exactly.
    pub fn stands_at(&self, psi: &[f64]) -> bool {
        self.gradient_is_of(psi) && self.last.as_ref().is_some_and(|last| last.nearness == Nearness::Exact)
    }

    /// dL/dψ where [`Self::value`] was last taken.
    pub fn gradient(&mut self) -> DVector<f64> {
        self.gradient_with(Determinant::Whole)
    }

    /// The same with as much of the determinant as is said; what follows is to ask for the whole again.
    pub fn gradient_with(&mut self, determinant: Determinant) -> DVector<f64> {
        let stopped = self.is_stopped();
        let Some(last) = self.last.as_mut().filter(|_| !stopped) else { return DVector::zeros(self.parameters.len()) };
        let inverse = last.fit.inverse();
        let point = Point::new(self.problem, &last.natural, &last.fit.mode);
        let natural = outer(&point, &self.layout, (&inverse, determinant), (&self.work, self.follows_levels), self.threads);
        self.passes += 1;
        let gradient = in_psi(self.parameters, &last.psi, &natural.natural);
        last.gradient = Some(natural);
        last.inverse = Some(inverse);
        gradient
    }

    /// dL/dψ at places near the one where the gradient was last taken, which stays the last: for each with as much of the determinant as is said, one
    /// after the other. Each begins there, so that they do not depend on one another; few records leave a thread to each.
    pub fn gradients_beside(&mut self, places: Vec<(Vec<f64>, &[Determinant])>, nearness: Nearness) -> Vec<Vec<DVector<f64>>> {
        let (at_once, of_each) = if self.problem.records() <= BESIDE { (self.threads, 1) } else { (1, self.threads) };
        let this = &*self;
        let found = run(at_once, places, |(psi, determinants)| this.gradients_at(&psi, determinants, nearness, of_each));
        let passes: usize = found.iter().map(|(_, passes)| passes).sum();
        let gradients = found.into_iter().map(|(gradients, _)| gradients).collect();
        self.passes += passes;
        gradients
    }

    /// Gradients at one place, and the passes that they took.
    fn gradients_at(&self, psi: &[f64], determinants: &[Determinant], nearness: Nearness, threads: usize) -> (Vec<DVector<f64>>, usize) {
        if self.is_stopped() {
            return (vec![DVector::zeros(psi.len()); determinants.len()], 0);
        }
        let natural = self.parameters.natural(psi);
        let mut work = Work::new(self.problem);
        let start = self.starting_mode_by(&natural, threads);
        let fit = inner::fit(self.problem, &natural, start, &mut work, self.tolerance(nearness), (threads, self.stop));
        let inverse = fit.inverse();
        let point = Point::new(self.problem, &natural, &fit.mode);
        let of = |determinant: &Determinant| {
            let natural = outer(&point, &self.layout, (&inverse, *determinant), (&work, false), threads);
            in_psi(self.parameters, psi, &natural.natural)
        };
        (determinants.iter().map(of).collect(), fit.passes + determinants.len())
    }

    /// −∂²f(ŵ(ψ), ψ)/∂ψ² of the joint density, the prior of ψ included, where the gradient was last taken: −L'' but for the determinant.
    pub fn profile_curvature(&mut self) -> Option<DMatrix<f64>> {
        let last = self.last.as_ref()?;
        let gradient = last.gradient.as_ref().filter(|_| self.follows_levels)?;
        let point = Point::new(self.problem, &last.natural, &last.fit.mode);
        let natural = profile(&point, &self.layout, gradient, &self.work, self.threads);
        self.passes += 1;
        let jacobian = self.parameters.jacobian(&last.psi);
        let mut curvature = jacobian.tr_mul(&(natural * &jacobian));
        // How the map from ψ bends, and the prior: no data in it, so differences cost nothing.
        let flat_gradient = |psi: &[f64]| in_psi(self.parameters, psi, &gradient.natural);
        for i in 0..last.psi.len() {
            let (mut up, mut down) = (last.psi.clone(), last.psi.clone());
            up[i] += BEND_STEP;
            down[i] -= BEND_STEP;
            let bend = (flat_gradient(&up) - flat_gradient(&down)) / (2.0 * BEND_STEP);
            curvature.set_column(i, &(curvature.column(i) - bend));
        }
        Some((&curvature + curvature.transpose()) * 0.5)
    }

    /// Place in ψ of the spread of the group.
    pub fn place_of_group(&self) -> Option<usize> {
        self.layout.sd_group.and_then(|_| self.parameters.spreads().first().copied())
    }

    /// The same model of a part of the records.
    pub fn of_part<'b>(&self, part: &'b Problem) -> Laplace<'b>
    where
        'a: 'b,
    {
        let effort = FitOptions { threads: self.threads, stop: self.stop, ..FitOptions::default() };
        Laplace::new(part, self.parameters, self.inner_tolerance, effort)
    }

    /// Passes over the records, those over parts of them in proportion.
    pub fn all_passes(&self) -> f64 {
        self.passes as f64 + self.passes_of_parts
    }

    /// Counts the passes over a part of the records.
    pub fn count(&mut self, part: &Laplace<'_>) {
        self.passes_of_parts += part.passes as f64 * part.problem.records() as f64 / self.problem.records() as f64;
    }

    /// Gives the inner fit, S⁻¹ and ∂(border)/∂ψ where the gradient was last taken, and the curvatures of the crossed levels.
    pub fn into_mode(self) -> Option<(InnerFit, DMatrix<f64>, DMatrix<f64>)> {
        let last = self.last?;
        let border = last.gradient?.border * self.parameters.jacobian(&last.psi);
        Some((last.fit, last.inverse?, border))
    }

    /// The mode where L was last taken.
    pub fn mode(&self) -> Option<&Mode> {
        self.last.as_ref().map(|last| &last.fit.mode)
    }

    /// Begins from a mode known from elsewhere.
    pub fn warm(&mut self, psi: &[f64], mode: Mode) {
        let natural = self.parameters.natural(psi);
        let fit = InnerFit { mode, value: 0.0, factor: None, log_det: 0.0, passes: 0, converged: false, singular: false };
        self.last = Some(Last { psi: psi.to_vec(), nearness: Nearness::Near, natural, fit, inverse: None, gradient: None });
    }

    /// Where the mode of other outer parameters is looked for first: as far along as its derivative says.
    pub fn starting_mode(&self, natural: &Natural) -> Mode {
        self.starting_mode_by(natural, self.threads)
    }

    /// The same on so many threads.
    fn starting_mode_by(&self, natural: &Natural, threads: usize) -> Mode {
        let Some(last) = &self.last else { return Mode::at_prior(self.problem, natural) };
        let now = DVector::from_vec(self.layout.flatten(natural));
        let before = DVector::from_vec(self.layout.flatten(&last.natural));
        let step = &now - &before;
        let far = step.iter().zip(before.iter()).any(|(step, from)| step.abs() > FARTHEST_EXTRAPOLATION * (1.0 + from.abs()));
        let Some(gradient) = last.gradient.as_ref().filter(|_| !far) else {
            // In units of the exposure effects stay about where they are.
            return last.fit.mode.scaled((natural.log_slope - last.natural.log_slope).exp());
        };
        let mut mode = last.fit.mode.clone();
        let border = &gradient.border * &step;
        for (b, s) in mode.border.iter_mut().zip(border.iter()) {
            *b += s;
        }
        if !self.follows_levels {
            return mode;
        }
        let q = self.layout.len;
        let along = |rows: &[f32], k: usize| rows[k * q..(k + 1) * q].iter().zip(step.iter()).map(|(g, s)| f64::from(*g) * s).sum();
        let (blocks, parents) = (|g: usize| along(&gradient.blocks, g), |j: usize| along(&gradient.parents, j));
        let point = Point::new(self.problem, &last.natural, &last.fit.mode);
        let step = Step { border: &border, blocks, parents, fraction: 1.0 };
        let Mode { blocks, parents, .. } = &mut mode;
        follow(&point, &self.work, &step, blocks, parents, threads);
        mode
    }
}

/// A gradient in the flat outer parameters as one in ψ, its prior included.
fn in_psi(parameters: &dyn Parameters, psi: &[f64], natural: &DVector<f64>) -> DVector<f64> {
    let mut gradient = parameters.jacobian(psi).tr_mul(natural);
    parameters.log_prior(psi, gradient.as_mut_slice());
    gradient
}
