//! A kept shelter as an experiment: what it was from which date on, and which reading belongs to which of those states.

use jiff::civil::Date;

use super::readings::{Correction, Observed, ReadingError};

/// A state by name with the date from which it stands; `None`: since before the first reading, or not noted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// Its name.
    pub name: String,
    /// First night in this state.
    pub since: Option<Date>,
}

/// States or readings that do not go together.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StateError {
    /// Two states of one name.
    #[error("two states are called “{name}”; each needs a name of its own")]
    SameName {
        /// The name.
        name: String,
    },
    /// A state dated before the one it follows.
    #[error("“{name}” is dated {since}, not after “{before}” ({earlier}); give the states in the order in which they were made")]
    OutOfOrder {
        /// The state.
        name: String,
        /// Its date.
        since: Date,
        /// The state before.
        before: String,
        /// That one's date.
        earlier: Date,
    },
    /// A reading from before the change it is said to follow.
    #[error(
        "this reading of {date} is from before “{name}” was made ({since}); move it to the state before, or correct one of the two dates"
    )]
    BeforeTheChange {
        /// The reading's date.
        date: Date,
        /// The state.
        name: String,
        /// Its date.
        since: Date,
    },
    /// A reading from after the next change.
    #[error(
        "this reading of {date} is from after “{name}” had given way to “{next}” ({since}); move it there, or correct one of the two dates"
    )]
    AfterTheNext {
        /// The reading's date.
        date: Date,
        /// The state.
        name: String,
        /// The state after it.
        next: String,
        /// That one's date.
        since: Date,
    },
    /// Neither date nor state, or a date before every state.
    #[error("this reading belongs to no state; name one of: {accepted}, or give a date on or after the first of them")]
    NoState {
        /// Names of the states.
        accepted: String,
    },
}

/// Checks names and order of dates; the index of the state at fault comes with the error.
pub fn check(states: &[Standing]) -> Result<(), (usize, StateError)> {
    let mut last: Option<(&Standing, Date)> = None;
    for (index, state) in states.iter().enumerate() {
        if states.iter().take(index).any(|s| s.name == state.name) {
            return Err((index, StateError::SameName { name: state.name.clone() }));
        }
        if let Some(since) = state.since {
            if let Some((before, earlier)) = last.filter(|(_, earlier)| since <= *earlier) {
                let error = StateError::OutOfOrder { name: state.name.clone(), since, before: before.name.clone(), earlier };
                return Err((index, error));
            }
            last = Some((state, since));
        }
    }
    Ok(())
}

/// The state a reading belongs to: the named one when its dates allow, else the one that stood on its date.
pub fn state_of(states: &[Standing], named: Option<usize>, date: Option<Date>) -> Result<usize, StateError> {
    let nowhere = || StateError::NoState { accepted: states.iter().map(|s| s.name.as_str()).collect::<Vec<_>>().join(", ") };
    let Some(index) = named else {
        let date = date.ok_or_else(nowhere)?;
        // The last state whose date has come; an undated first state stands from the beginning.
        return states
            .iter()
            .enumerate()
            .rev()
            .find(|(i, s)| s.since.map_or(*i == 0, |since| since <= date))
            .map(|(i, _)| i)
            .ok_or_else(nowhere);
    };
    let state = states.get(index).ok_or_else(nowhere)?;
    if let (Some(date), Some(since)) = (date, state.since)
        && date < since
    {
        return Err(StateError::BeforeTheChange { date, name: state.name.clone(), since });
    }
    let next = states.iter().skip(index + 1).find_map(|s| s.since.map(|since| (s, since)));
    if let (Some(date), Some((next, since))) = (date, next)
        && date >= since
    {
        return Err(StateError::AfterTheNext { date, name: state.name.clone(), next: next.name.clone(), since });
    }
    Ok(index)
}

/// Which readings correct the state that stands now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Pooling {
    /// Those of the last state alone.
    #[default]
    LastAlone,
    /// Those of all states: one factor on what each description says.
    Together,
}

/// Whether the states' own factors agree, where two or more have readings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Agreement {
    /// Largest ratio of two states' factors.
    pub ratio: f64,
    /// Further apart than nine in ten such sets of readings would be if one factor were true for all.
    pub apart: bool,
}

/// The correction of the last state from readings by state, and whether the states agree. The reading at fault comes with its state and index.
pub fn correction(by_state: &[Vec<Observed>], pooling: Pooling) -> Result<(Correction, Option<Agreement>), (usize, usize, ReadingError)> {
    let mut means = Vec::new();
    for (state, observed) in by_state.iter().enumerate() {
        let own = Correction::learned_from(observed).map_err(|(index, error)| (state, index, error))?;
        if own.readings > 0 {
            means.push((own.factor_of_readings.ln(), own.variance_of_readings));
        }
    }
    let last = by_state.len().saturating_sub(1);
    let used: Vec<Observed> = match pooling {
        Pooling::LastAlone => by_state.last().cloned().unwrap_or_default(),
        Pooling::Together => by_state.iter().flatten().copied().collect(),
    };
    let correction = Correction::learned_from(&used).map_err(|(index, error)| (last, index, error))?;
    Ok((correction, agreement(&means)))
}

/// Cochran's test of homogeneity on the states' mean logarithms, at 10 %.
fn agreement(means: &[(f64, f64)]) -> Option<Agreement> {
    use statrs::distribution::{ChiSquared, ContinuousCDF};
    if means.len() < 2 {
        return None;
    }
    let precision: f64 = means.iter().map(|(_, v)| 1.0 / v).sum();
    let middle = means.iter().map(|(m, v)| m / v).sum::<f64>() / precision;
    let q: f64 = means.iter().map(|(m, v)| (m - middle).powi(2) / v).sum();
    let limit = ChiSquared::new((means.len() - 1) as f64).map_or(f64::INFINITY, |c| c.inverse_cdf(0.9));
    let (low, high) = means.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), (m, _)| (l.min(*m), h.max(*m)));
    Some(Agreement { ratio: (high - low).exp(), apart: q > limit })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::shelter::readings::Reading;
    use jiff::civil::date;

    fn states() -> Vec<Standing> {
        vec![
            Standing { name: "as bought".to_owned(), since: None },
            Standing { name: "second cover".to_owned(), since: Some(date(2026, 1, 10)) },
            Standing { name: "boards".to_owned(), since: Some(date(2026, 1, 20)) },
        ]
    }

    #[test]
    fn a_dated_reading_belongs_to_the_state_that_stood_that_night() {
        let states = states();
        for (day, wanted) in [(date(2026, 1, 2), 0), (date(2026, 1, 10), 1), (date(2026, 1, 19), 1), (date(2026, 2, 1), 2)] {
            assert_eq!(state_of(&states, None, Some(day)), Ok(wanted));
        }
        assert!(matches!(state_of(&states, None, None), Err(StateError::NoState { .. })));
    }

    #[test]
    fn a_reading_outside_the_dates_of_its_state_is_refused_with_both_dates() {
        let states = states();
        assert!(matches!(state_of(&states, Some(1), Some(date(2026, 1, 9))), Err(StateError::BeforeTheChange { .. })));
        assert!(matches!(state_of(&states, Some(1), Some(date(2026, 1, 20))), Err(StateError::AfterTheNext { .. })));
        assert_eq!(state_of(&states, Some(1), Some(date(2026, 1, 15))), Ok(1));
        assert_eq!(state_of(&states, Some(1), None), Ok(1));
    }

    #[test]
    fn names_and_dates_of_states_are_checked() {
        let mut same = states();
        same[2].name = "second cover".to_owned();
        assert!(matches!(check(&same), Err((2, StateError::SameName { .. }))));
        let mut early = states();
        early[2].since = Some(date(2026, 1, 10));
        assert!(matches!(check(&early), Err((2, StateError::OutOfOrder { .. }))));
        assert_eq!(check(&states()), Ok(()));
    }

    fn observed(difference: f64, described_w_k: f64) -> Observed {
        Observed { reading: Reading { outside_c: -6.0, inside_c: -6.0 + difference, heater_w: 1_500.0 }, other_heat_w: 0.0, described_w_k }
    }

    #[test]
    fn pooled_states_share_a_factor_and_disagreement_is_said() {
        // The first state loses what is described; the second 1.6 times that.
        let before = vec![observed(10.0, 150.0), observed(10.2, 150.0)];
        let after = vec![observed(12.5, 75.0), observed(12.3, 75.0)];
        let (alone, agreement) = correction(&[before.clone(), after.clone()], Pooling::LastAlone).unwrap();
        let (together, _) = correction(&[before.clone(), after], Pooling::Together).unwrap();
        assert!(alone.factor() > together.factor() && together.readings == 4 && alone.readings == 2);
        let said = agreement.unwrap();
        assert!(said.apart && (said.ratio - 1.61).abs() < 0.05, "{said:?}");
        let (_, fine) = correction(&[before, vec![observed(20.0, 75.0), observed(20.4, 75.0)]], Pooling::Together).unwrap();
        assert!(!fine.unwrap().apart);
    }
}
