//! The plan for a cold night held against brute force and a general-purpose solver.

use proptest::prelude::*;
use winterfig_core::science::cold_night::plan::{Choice, PROVED_GAP, Problem, is_feasible, loss_of, solve};

/// Solver time, s.
const BUDGET: f64 = 20.0;

/// Lehmer-like generator of the instances: x ← (1103515245 x + 12345) mod 2³¹, the number is x >> 8.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, n: u64) -> f64 {
        self.0 = (1_103_515_245 * self.0 + 12_345) % (1 << 31);
        ((self.0 >> 8) % n) as f64
    }
}

/// Plants with a value, three places with room, one kind of cover, minutes: every number differs.
fn instance(seed: u64, n: usize) -> Problem {
    let mut r = Numbers(seed);
    let plants = (0..n)
        .map(|_| {
            let stay = (1.0 + r.below(100)) / 10.0;
            let minutes = 1.0 + r.below(8);
            let footprint = (5.0 + r.below(40)) / 100.0;
            let mut choices = vec![Choice { loss: stay, minutes: 0.0, uses: vec![] }];
            choices.extend((0..3).map(|place| Choice { loss: stay * r.below(90) / 100.0, minutes, uses: vec![(place, footprint)] }));
            choices.push(Choice { loss: stay * (30.0 + r.below(70)) / 100.0, minutes: 3.0, uses: vec![(3, 1.0)] });
            choices
        })
        .collect();
    let n = n as f64;
    let round = |x: f64| (x * 100.0).round() / 100.0;
    Problem { plants, capacities: vec![round(n * 0.06), round(n * 0.03), round(n * 0.02), (n / 5.0).floor()], minutes: 2.0 * n }
}

/// Optima by scipy 1.17.1 `scipy.optimize.milp` (HiGHS), mip_rel_gap 0, on the instances above; agreement to 1e-6.
#[test]
fn the_plan_equals_a_general_purpose_solvers() {
    for (seed, n, optimum) in [(1, 12, 22.306), (2, 25, 35.701), (3, 40, 80.263)] {
        let problem = instance(seed, n);
        let plan = solve(&problem, BUDGET);
        assert!(is_feasible(&problem, &plan.chosen), "{n}");
        assert!((plan.loss - optimum).abs() < 1e-6 && plan.gap <= PROVED_GAP, "{n}: {} against {optimum}, gap {}", plan.loss, plan.gap);
    }
}

/// The same source for larger ones; where time runs out the gap must tell the truth.
#[test]
fn large_plans_are_feasible_and_their_gap_holds_the_true_optimum() {
    for (seed, n, optimum) in [(4, 60, 99.596), (5, 120, 211.909), (6, 300, 598.729), (7, 500, 978.221)] {
        let problem = instance(seed, n);
        let plan = solve(&problem, 0.0);
        assert!(is_feasible(&problem, &plan.chosen), "{n}");
        assert!((plan.loss - loss_of(&problem, &plan.chosen)).abs() < 1e-9);
        assert!(plan.bound <= optimum + 1e-6 && plan.loss >= optimum - 1e-6, "{n}: {} ≤ {optimum} ≤ {}", plan.bound, plan.loss);
        // Even without any time for branching: the relaxed program leaves only a few plants undecided.
        assert!(plan.gap < 0.03, "{n}: gap {}", plan.gap);
    }
}

fn brute_force(problem: &Problem) -> f64 {
    let mut chosen = vec![0; problem.plants.len()];
    let mut best = f64::INFINITY;
    loop {
        if is_feasible(problem, &chosen) {
            best = best.min(loss_of(problem, &chosen));
        }
        let Some(i) = (0..chosen.len()).find(|&i| chosen[i] + 1 < problem.plants[i].len()) else { return best };
        chosen[i] += 1;
        chosen[..i].fill(0);
    }
}

fn small_problem() -> impl Strategy<Value = Problem> {
    let choice = (0.0..1.0f64, 0..6u8, 0..3usize, 1..5u8)
        .prop_map(|(share, minutes, limit, use_)| (share, f64::from(minutes), limit, f64::from(use_)));
    let plant = (0.1..10.0f64, prop::collection::vec(choice, 0..3));
    (prop::collection::vec(plant, 1..6), prop::collection::vec(0..8u8, 3), 0..15u8, 1..3usize).prop_map(
        |(plants, room, minutes, copies)| {
            let plants = plants
                .into_iter()
                .flat_map(|(value, choices)| {
                    let mut all = vec![Choice { loss: value, minutes: 0.0, uses: vec![] }];
                    all.extend(choices.into_iter().map(|(s, minutes, limit, use_)| Choice {
                        loss: value * s,
                        minutes,
                        uses: vec![(limit, use_)],
                    }));
                    std::iter::repeat_n(all, copies)
                })
                .collect();
            Problem { plants, capacities: room.into_iter().map(f64::from).collect(), minutes: f64::from(minutes) }
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn small_plans_equal_trying_everything(problem in small_problem()) {
        let plan = solve(&problem, BUDGET);
        let best = brute_force(&problem);
        prop_assert!(is_feasible(&problem, &plan.chosen));
        prop_assert!((plan.loss - best).abs() < 1e-7, "{} against {best}", plan.loss);
        prop_assert!(plan.bound <= best + 1e-7 && plan.gap <= PROVED_GAP);
    }

    #[test]
    fn more_room_or_time_never_makes_a_plan_worse(problem in small_problem(), extra in 0..4u8) {
        let more = Problem {
            capacities: problem.capacities.iter().map(|c| c + f64::from(extra)).collect(),
            minutes: problem.minutes + f64::from(extra),
            ..problem.clone()
        };
        prop_assert!(solve(&more, BUDGET).loss <= solve(&problem, BUDGET).loss + 1e-7);
    }
}
