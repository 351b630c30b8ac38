//! A word from outside that nobody waits for a fit any more.

use std::sync::atomic::{AtomicBool, Ordering};

/// Asked between passes over the records: a fit that is told ends without an answer after the pass at hand.
#[derive(Debug, Default)]
pub struct Stop(AtomicBool);

impl Stop {
    /// Tells whoever works to end.
    pub fn tell(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Whether it was told.
    pub fn is_told(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::AtomicUsize;

    use nalgebra::DMatrix;

    use super::super::fitted::FitOptions;
    use super::super::fitting::fit;
    use super::super::natural::{Free, Natural, Parameters};
    use super::super::robust::{Contamination, fit_robust};
    use super::super::tests::everything;
    use super::*;
    use crate::science::numeric::Gaussian;

    /// Tells a fit to stop when it looks at outer parameters for the so-many-th time; counts the looks.
    struct Telling<'s> {
        free: Free,
        stop: &'s Stop,
        at: usize,
        looks: AtomicUsize,
    }

    impl Parameters for Telling<'_> {
        fn len(&self) -> usize {
            self.free.len()
        }

        fn natural(&self, psi: &[f64]) -> Natural {
            if self.looks.fetch_add(1, Ordering::Relaxed) + 1 == self.at {
                self.stop.tell();
            }
            self.free.natural(psi)
        }

        fn jacobian(&self, psi: &[f64]) -> DMatrix<f64> {
            self.free.jacobian(psi)
        }

        fn log_prior(&self, psi: &[f64], gradient: &mut [f64]) -> f64 {
            self.free.log_prior(psi, gradient)
        }

        fn bounds(&self) -> Vec<(f64, f64)> {
            self.free.bounds()
        }

        fn start(&self) -> Vec<f64> {
            self.free.start()
        }

        fn spreads(&self) -> Vec<usize> {
            self.free.spreads()
        }

        fn scales(&self) -> Vec<usize> {
            self.free.scales()
        }
    }

    /// Passes and looks of a fit that is told at a look; with a share of records that say nothing or without.
    fn told(at: usize, robust: bool) -> (f64, usize) {
        let mut problem = everything(4, 600, false, true);
        let stop = Stop::default();
        let parameters = Telling { free: Free::new(&problem), stop: &stop, at, looks: AtomicUsize::new(0) };
        let effort = FitOptions { stop: Some(&stop), ..FitOptions::default() };
        let believed = Contamination { share: Gaussian::new(0.05, 0.03), levels: vec![0.25; 4] };
        let fitted =
            if robust { fit_robust(&mut problem, &parameters, effort, &believed, None) } else { fit(&problem, &parameters, effort) };
        assert_eq!(stop.is_told(), at != usize::MAX);
        (fitted.convergence.passes, parameters.looks.into_inner())
    }

    // A look at outer parameters is followed by two to ten passes. The one at which a fit is told costs one, those after it none; the weights of
    // records cost one more.
    #[test]
    fn a_fit_that_is_told_to_stop_passes_over_its_records_once_more_at_most() {
        for robust in [false, true] {
            let (whole, looks) = told(usize::MAX, robust);
            assert!(whole > 60.0 && looks > 30, "{whole} {looks}");
            let mut before = told(1, robust).0;
            assert!(before <= 2.0, "{before}");
            for at in 2..looks {
                let (passes, looked) = told(at, robust);
                assert!(looked <= at + 4, "{robust} {at}: {looked} looks");
                assert!((before - 2.0..=whole + 2.0).contains(&passes), "{robust} {at}: {passes} passes, {before} when told a look before");
                assert!(passes < before + 12.0, "{robust} {at}: {passes} passes, {before} when told a look before");
                before = passes;
            }
        }
    }
}
