//! Eight lists in ascending order at once: a network of comparisons that is the same whatever the values are, so that each of them is one
//! instruction for all eight lists. Batcher's merge exchange, algorithm M of Knuth, The Art of Computer Programming 3, 5.2.2, for lists of any length.
#![expect(
    clippy::inline_always,
    reason = "vector instructions are chosen for the whole body of a dispatch, so what it calls must be in it"
)]

use super::eight_numbers::{Eight, LANES};

/// Puts each of the eight lists in order; row `i` holds the `i`-th number of every list.
#[inline(always)]
pub(crate) fn sort_eights(rows: &mut [Eight]) {
    let count = rows.len();
    if count < 2 {
        return;
    }
    let first = count.next_power_of_two() / 2;
    let mut p = first;
    while p > 0 {
        let (mut q, mut r, mut d) = (first, 0, p);
        loop {
            // Runs of p rows, each beside the run d rows below it.
            for begin in (r..count - d).step_by(2 * p) {
                let (above, below) = rows.split_at_mut(begin + d);
                for (a, b) in above[begin..].iter_mut().take(p).zip(below) {
                    put_in_order(a, b);
                }
            }
            if q == p {
                break;
            }
            (d, r) = (q - p, p);
            q /= 2;
        }
        p /= 2;
    }
}

#[inline(always)]
fn put_in_order(above: &mut Eight, below: &mut Eight) {
    let (a, b) = (*above, *below);
    for i in 0..LANES {
        above[i] = if b[i] < a[i] { b[i] } else { a[i] };
        below[i] = if b[i] < a[i] { a[i] } else { b[i] };
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn every_list_is_in_order_and_holds_what_it_held(lists in (0..70usize).prop_flat_map(|n| proptest::collection::vec(proptest::array::uniform8(-1.0..1.0f64), n))) {
            let mut rows = lists.clone();
            sort_eights(&mut rows);
            for lane in 0..LANES {
                let of = |rows: &[Eight]| rows.iter().map(|row| row[lane]).collect::<Vec<_>>();
                let mut sorted = of(&lists);
                sorted.sort_by(f64::total_cmp);
                prop_assert_eq!(of(&rows), sorted);
            }
        }
    }
}
