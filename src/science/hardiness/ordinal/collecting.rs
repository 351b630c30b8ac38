//! Many records taken in at once: a stretch of them by each thread, the stretches put together in their order.

use super::builder::{ProblemBuilder, begun};
use super::parallel::run;
use super::spec::DataError;

/// Records of a stretch. Fixed, so that sums are taken in the same order by however many threads.
const STRETCH: usize = 2048;
/// Stretches for each thread between which nothing else is done.
const AT_ONCE: usize = 4;

impl ProblemBuilder {
    /// Takes records in as [`Self::push`] does one after the other; `put` pushes the record of one item. What is refused is given with its place
    /// among the items.
    pub fn push_all<T: Send>(
        &mut self,
        mut items: impl Iterator<Item = T>,
        put: impl Fn(&mut Self, &T) -> Result<(), DataError> + Sync,
    ) -> Result<(), (usize, DataError)> {
        let empty = Self::new(self.problem.spec.clone()).map_err(|error| (0, error))?;
        let mut first = 0;
        loop {
            let stretches: Vec<Vec<T>> = (0..self.threads.max(1) * AT_ONCE)
                .map(|_| items.by_ref().take(STRETCH).collect())
                .take_while(|stretch: &Vec<T>| !stretch.is_empty())
                .collect();
            if stretches.is_empty() {
                return Ok(());
            }
            let collected = run(self.threads, stretches, |stretch| {
                let mut own = empty.clone();
                own.expecting(stretch.len(), 1);
                stretch.iter().enumerate().try_for_each(|(nth, item)| put(&mut own, item).map_err(|error| (nth, error))).map(|()| own)
            });
            for own in collected {
                let own = own.map_err(|(nth, error)| (first + nth, error))?;
                let records = own.problem.records();
                self.append(own).map_err(|(nth, error)| (first + nth, error))?;
                first += records;
            }
        }
    }

    /// Takes in what another of the same specification collected, after what there is.
    fn append(&mut self, other: Self) -> Result<(), (usize, DataError)> {
        let Self { problem: from, crossed, nested, shared, patterns, .. } = other;
        let mut keys: Vec<(Vec<u64>, u32)> = patterns.into_iter().collect();
        keys.sort_unstable_by_key(|(_, index)| *index);
        let mut patterns = Vec::with_capacity(keys.len());
        for (key, index) in keys {
            let known = self.patterns.get(&key).copied().unwrap_or_else(|| {
                let fresh = self.problem.patterns.take(&from.patterns, index);
                self.patterns.insert(key, fresh);
                fresh
            });
            patterns.push(known);
        }
        let mut cells = Vec::with_capacity(from.cells.len());
        for (index, cell) in from.cells.iter().enumerate() {
            let nth = || from.cell.iter().position(|own| usize::from(*own) == index).unwrap_or_default();
            cells.push(self.known_cell(*cell).map_err(|error| (nth(), error))?);
        }
        let expected = self.expected;
        let p = &mut self.problem;
        let (before, more) = (p.cell.len(), from.cell.len());
        p.cell.extend(from.cell.iter().map(|own| cells[usize::from(*own)]));
        p.pattern.extend(from.pattern.iter().map(|own| patterns[*own as usize]));
        p.exposure.extend(from.exposure);
        p.group.extend(from.group);
        p.total_weight += from.total_weight;
        extend(&mut p.exposure_sd, from.exposure_sd, 0.0, (before, more, expected));
        extend(&mut p.weight, from.weight, 1.0, (before, more, expected));
        extend(&mut self.shared, shared, 0.0, (before, more, expected));
        self.crossed.extend(crossed);
        self.nested.extend(nested);
        Ok(())
    }
}

/// Puts one stretch of values after another, either of which may be missing where all of its values are the usual one.
fn extend<T: Clone>(to: &mut Option<Vec<T>>, from: Option<Vec<T>>, usual: T, (before, more, expected): (usize, usize, usize)) {
    match (to.as_mut(), from) {
        (Some(to), Some(from)) => to.extend(from),
        (Some(to), None) => to.resize(before + more, usual),
        (None, Some(from)) => {
            let mut values = begun(before, usual, expected);
            values.extend(from);
            *to = Some(values);
        }
        (None, None) => {}
    }
}

#[cfg(test)]
mod tests {
    use super::super::problem::Problem;
    use super::super::spec::{Observation, Spec};
    use super::*;

    fn builder() -> ProblemBuilder {
        let mut builder = Problem::builder(Spec { levels: 4, exposure: true, ..Spec::default() }).unwrap();
        builder.expecting(10_000, 2);
        builder
    }

    #[test]
    fn what_is_refused_is_named_by_its_place_among_all() {
        let put =
            |builder: &mut ProblemBuilder, exposure: &f64| builder.push(&Observation { exposure: *exposure, ..Observation::default() });
        let exposures = |wrong: usize| (0..10_000).map(move |n| if n >= wrong { f64::NAN } else { 0.0 });
        for wrong in [0, STRETCH - 1, STRETCH, 7_000] {
            let refused = builder().push_all(exposures(wrong), put);
            assert!(matches!(refused, Err((place, DataError::Number { field: "exposure", .. })) if place == wrong), "{wrong}: {refused:?}");
        }
    }

    #[test]
    fn the_record_whose_kind_of_outcome_is_one_too_many_is_named() {
        let put = |builder: &mut ProblemBuilder, nth: &u32| {
            builder.push(&Observation { low: 3, high: 3, top_shift: f64::from(*nth), ..Observation::default() })
        };
        let most = u32::from(u16::MAX) + 1;
        assert_eq!(builder().push_all(0..most, put), Ok(()));
        let refused = builder().push_all((0..most).chain([3, 5, most]), put);
        assert_eq!(refused, Err((most as usize + 2, DataError::TooManyCells(usize::from(u16::MAX)))));
    }
}
