//! Units shared out over threads, with sums that do not depend on how many there are.

use std::cell::RefCell;
use std::ops::Range;
use std::rc::Rc;
use std::sync::{Mutex, PoisonError};

use rayon::{ThreadPool, ThreadPoolBuilder};

use super::problem::Problem;

/// Records per shard below which splitting costs more than it gains.
const SHARD: usize = 2048;
/// Most shards of one sweep; fixed so that sums are taken in the same order on every machine.
pub(super) const MOST_SHARDS: usize = 16;
/// Doubles that the Schur accumulators of all shards may take together.
const ACCUMULATORS: usize = 8_000_000;
/// Records laid out for the kernel at a time, unless a unit has more: they stay in the nearest cache.
const RUN: usize = 256;

/// Consecutive units with about equally many records.
pub(super) fn shards(problem: &Problem) -> Vec<Range<usize>> {
    let d = problem.border().max(1);
    let count = (problem.records() / SHARD).min(ACCUMULATORS / (d * d)).clamp(1, MOST_SHARDS);
    let mut shards = Vec::with_capacity(count);
    let (mut start, mut end) = (0, 0);
    for s in 1..=count {
        let goal = problem.records() * s / count;
        while end < problem.units() && (s == count || problem.records_of(&(start..end + 1)).end <= goal) {
            end += 1;
        }
        if end > start {
            shards.push(start..end);
        }
        start = end;
    }
    shards
}

/// Cuts a shard into runs of units that are laid out together.
pub(super) fn runs<'a>(problem: &'a Problem, units: &Range<usize>) -> impl Iterator<Item = Range<usize>> + use<'a> {
    let (mut start, last) = (units.start, units.end);
    std::iter::from_fn(move || {
        if start >= last {
            return None;
        }
        let mut end = start + 1;
        while end < last && problem.records_of(&(start..end)).len() < RUN {
            end += 1;
        }
        let run = start..end;
        start = end;
        Some(run)
    })
}

thread_local! {
    static HELPERS: RefCell<Option<Rc<ThreadPool>>> = const { RefCell::new(None) };
}

/// At least so many threads that help this one, as urgent as it is and kept as long as it lasts: to start them for each of the hundred passes of a fit takes
/// longer than a pass over few records. `None` where the system gives none.
fn helpers(count: usize) -> Option<Rc<ThreadPool>> {
    HELPERS.with_borrow_mut(|kept| {
        if kept.as_ref().is_none_or(|pool| pool.current_num_threads() < count) {
            *kept = ThreadPoolBuilder::new().num_threads(count).build().ok().map(Rc::new);
        }
        kept.clone()
    })
}

/// Runs `work` on every task, at most `threads` at a time, each thread taking the next task when it is done with one; gives the results in the
/// order of the tasks. This one takes its turns too: left to the library's own sharing out, it waits, and a fit of 10,000 reports took 49 ms for 43.
pub(super) fn run<T: Send, R: Send>(threads: usize, tasks: Vec<T>, work: impl Fn(T) -> R + Sync) -> Vec<R> {
    let threads = threads.min(tasks.len());
    if threads <= 1 {
        return tasks.into_iter().map(work).collect();
    }
    let queue = Mutex::new(tasks.into_iter().enumerate());
    let next = || queue.lock().unwrap_or_else(PoisonError::into_inner).next();
    let take_turns = || std::iter::from_fn(next).map(|(nth, task)| (nth, work(task))).collect::<Vec<(usize, R)>>();
    let done = Mutex::new(Vec::new());
    let add = |own| done.lock().unwrap_or_else(PoisonError::into_inner).extend(own);
    match helpers(threads - 1) {
        Some(pool) => pool.in_place_scope(|scope| {
            for _ in 1..threads {
                scope.spawn(|_| add(take_turns()));
            }
            add(take_turns());
        }),
        None => add(take_turns()),
    }
    let mut done: Vec<(usize, R)> = done.into_inner().unwrap_or_else(PoisonError::into_inner);
    done.sort_unstable_by_key(|(nth, _)| *nth);
    done.into_iter().map(|(_, result)| result).collect()
}

/// Does two things, beside each other where there are threads.
pub(super) fn both(threads: usize, one: impl FnOnce() + Send, other: impl FnOnce()) {
    std::thread::scope(|scope| {
        if threads > 1 {
            scope.spawn(one);
        } else {
            one();
        }
        other();
    });
}

/// Cuts `values` at the given ends, one piece per shard.
pub(super) fn cut<T>(mut values: &mut [T], ends: impl Iterator<Item = usize>) -> Vec<&mut [T]> {
    let mut pieces = Vec::new();
    let mut start = 0;
    for end in ends {
        let (piece, rest) = values.split_at_mut(end - start);
        pieces.push(piece);
        values = rest;
        start = end;
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn results_come_in_the_order_of_the_work_however_many_threads_there_are() {
        let work = |n: u64| (0..n % 7 * 1_000).fold(n, |sum, i| sum.wrapping_mul(31).wrapping_add(i));
        let alone: Vec<u64> = (0..100).map(work).collect();
        for threads in [0, 1, 2, 3, 200] {
            assert_eq!(run(threads, (0..100).collect(), work), alone, "{threads}");
        }
        assert!(run(4, Vec::new(), work).is_empty());
    }
}
