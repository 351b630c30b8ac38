//! Who works on the packed reports of a process: one at a time, since they take most of its memory. A fit goes first; scores give way between
//! passes, begin the part that they were at anew after it, and end where nobody waits for them any more.

use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

use crate::science::hardiness::ordinal::Stop;

/// The turn of a fit or of scores.
#[derive(Debug, Default)]
pub struct Turns {
    /// What scores under way look at.
    scores_stop: Stop,
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Debug, Clone, Copy, Default)]
struct State {
    fits: usize,
    scores_are_over: bool,
}

/// Held by a fit.
#[derive(Debug)]
pub struct Fitting<'t>(&'t Turns);

/// Held by whoever waits for scores: they end when it goes.
#[derive(Debug)]
pub struct Scoring<'t>(&'t Turns);

impl Turns {
    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A fit begins: scores stand back until it is dropped.
    pub fn fit(&self) -> Fitting<'_> {
        self.state().fits += 1;
        self.scores_stop.tell();
        Fitting(self)
    }

    /// Scores begin, of which there are none under way.
    pub fn score(&self) -> Scoring<'_> {
        self.state().scores_are_over = false;
        Scoring(self)
    }

    /// What tells scores to stop.
    pub const fn scores_stop(&self) -> &Stop {
        &self.scores_stop
    }

    /// Waits until no fit is under way; whether scores go on then.
    pub fn scores_go_on(&self) -> bool {
        let waiting = |state: &mut State| state.fits > 0 && !state.scores_are_over;
        let state = self.changed.wait_while(self.state(), waiting).unwrap_or_else(PoisonError::into_inner);
        if !state.scores_are_over {
            self.scores_stop.take_back();
        }
        !state.scores_are_over
    }
}

impl Drop for Fitting<'_> {
    fn drop(&mut self) {
        self.0.state().fits -= 1;
        self.0.changed.notify_all();
    }
}

impl Drop for Scoring<'_> {
    fn drop(&mut self) {
        self.0.state().scores_are_over = true;
        self.0.scores_stop.tell();
        self.0.changed.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use super::*;

    #[test]
    fn scores_stand_back_for_a_fit_and_end_with_whoever_waits_for_them() {
        let turns = Arc::new(Turns::default());
        let waited_for = turns.score();
        assert!(turns.scores_go_on() && !turns.scores_stop().is_told());
        let fitting = turns.fit();
        assert!(turns.scores_stop().is_told(), "they are told to give way");
        let scores = {
            let turns = Arc::clone(&turns);
            std::thread::spawn(move || turns.scores_go_on())
        };
        drop(fitting);
        assert!(scores.join().unwrap() && !turns.scores_stop().is_told());
        drop(waited_for);
        assert!(!turns.scores_go_on() && turns.scores_stop().is_told());
    }
}
