//! The plan over a spell held against brute force and a general-purpose solver, and its behaviour as a grower meets it.

use winterfig_core::science::cold_night::plan::{Choice, PROVED_GAP, Problem, is_feasible, solve};
use winterfig_core::science::cold_night::risk::PlantTonight;
use winterfig_core::science::cold_night::spell::days::Spell;
use winterfig_core::science::cold_night::spell::felt::Follower;
use winterfig_core::science::cold_night::spell::plan::{Does, Known, Question, Ready, SpellCover, SpellPlace, SpellPlan, SpellPlant};
use winterfig_core::science::cold_night::spell::spots::{Course, Spot, SpotNight};
use winterfig_core::science::cold_night::stage::Stage;
use winterfig_core::science::exposure::{Age, AgeEffects};
use winterfig_core::science::numeric::Gaussian;

use super::spell::{potted, spell};
use super::{Seed, close};

/// Generator of the instances: x ← (1103515245 x + 12345) mod 2³¹, the number is x >> 8.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, n: u64) -> f64 {
        self.0 = (1_103_515_245 * self.0 + 12_345) % (1 << 31);
        ((self.0 >> 8) % n) as f64
    }
}

/// Plants in a spell of `nights`: two places and a cover with room on each night, minutes on each day; every number differs.
fn instance(seed: u64, plants: usize, nights: usize) -> Problem {
    let mut r = Numbers(seed);
    let danger: Vec<f64> = (0..nights).map(|_| r.below(90) / 100.0).collect();
    let ease = [1.0, 0.1, 0.4, 0.7];
    let minutes_limit = |n: usize| 3 * nights + n;
    let plant = |r: &mut Numbers| {
        let value = 1.0 + r.below(9);
        let footprint = (5.0 + r.below(40)) / 100.0;
        let minutes = 1.0 + r.below(8);
        let hurt = (50.0 + r.below(50)) / 100.0;
        let loss = |spot: usize, first: usize, last: usize| {
            let lives = |(k, d): (usize, &f64)| 1.0 - hurt * d * if (first..=last).contains(&k) { ease[spot] } else { 1.0 };
            value * (1.0 - danger.iter().enumerate().map(lives).product::<f64>())
        };
        let mut choices = vec![Choice { loss: loss(0, 0, 0), minutes: 0.0, uses: vec![] }];
        for spot in 1..=3 {
            for first in 0..nights {
                for last in first..nights {
                    let takes = if spot == 3 { 1.0 } else { footprint };
                    let mut uses: Vec<(usize, f64)> = (first..=last).map(|k| (3 * k + spot - 1, takes)).collect();
                    let work = if spot == 3 { 2.0 } else { minutes };
                    uses.push((minutes_limit(first), work));
                    if spot < 3 && last + 1 < nights {
                        uses.push((minutes_limit(last + 1), work));
                    }
                    choices.push(Choice { loss: loss(spot, first, last), minutes: work, uses });
                }
            }
        }
        choices
    };
    let all = (0..plants).map(|_| plant(&mut r)).collect();
    let n = plants as f64;
    let round = |x: f64| (x * 100.0).round() / 100.0;
    let night = [round(n * 0.06), round(n * 0.04), (n / 5.0).floor()];
    let mut capacities: Vec<f64> = std::iter::repeat_n(night, nights).flatten().collect();
    capacities.push(1.5 * n);
    capacities.extend(std::iter::repeat_n(0.5 * n, nights - 1));
    Problem { plants: all, capacities, minutes: f64::INFINITY }
}

/// Optima by scipy 1.17.1 `scipy.optimize.milp` (HiGHS), mip_rel_gap 0, on the instances above; it needed 0.03, 4.6 and 9.5 s for the first three and
/// 8.7 s for the last. Where our time runs out the gap must hold the true optimum.
#[test]
fn the_plan_of_a_spell_equals_a_general_purpose_solvers_or_says_how_far_it_may_be() {
    for (seed, plants, nights, optimum, budget) in
        [(1, 6, 3, 8.655_038, 20.0), (2, 15, 4, 26.114_293, 2.0), (3, 20, 5, 46.806_392, 1.0), (5, 60, 8, 143.555_293, 1.0)]
    {
        let problem = instance(seed, plants, nights);
        let plan = solve(&problem, budget);
        assert!(is_feasible(&problem, &plan.chosen), "{plants}");
        assert!(plan.bound <= optimum + 1e-5 && plan.loss >= optimum - 1e-5, "{plants}: {} ≤ {optimum} ≤ {}", plan.bound, plan.loss);
        assert!(plan.gap < 0.08, "{plants}: gap {}", plan.gap);
        if plan.gap <= PROVED_GAP {
            close(plan.loss, optimum, 1e-5, "optimum");
        }
    }
    assert!(solve(&instance(1, 6, 3), 20.0).gap <= PROVED_GAP);
}

fn place(nights: usize, a_c: f64, b: f64, room_m2: Option<f64>, spell: &Spell) -> SpellPlace {
    let night = SpotNight { a_c, b, own_sd_k: 1.2, evening_extra_k: 0.0, windy: false };
    SpellPlace { room_m2, air: Spot { nights: vec![night; nights], roofed: true, stores: None }.course(spell) }
}

fn cover(spell: &Spell, gain_k: f64, count: u32) -> SpellCover {
    let air = |share: f64| Spot::cover(&vec![Gaussian::new(gain_k * share, 1.0); spell.len()], &vec![1.0; spell.len()]).course(spell);
    SpellCover { count, area_m2: None, minutes: 4.0, over_soil: air(1.0), over_pot: air(0.5) }
}

fn first_winter(seed: &Seed) -> AgeEffects {
    Age { years: Some(0), wood_years: None }.effects(&seed.priors)
}

fn pot(state: PlantTonight, value: f64) -> SpellPlant {
    SpellPlant { state, tenant: None, value, footprint_m2: 0.1, minutes_to_move: 5.0, movable: true, at: None, nights_there: 0 }
}

fn question(spell: &Spell, plants: Vec<SpellPlant>) -> Question<'_> {
    Question {
        spell,
        from: 0,
        open: Spot::open(spell).course(spell),
        places: Vec::new(),
        covers: Vec::new(),
        plants,
        minutes: vec![None; spell.len()],
    }
}

fn planned(seed: &Seed, question: &Question<'_>) -> SpellPlan {
    Ready::new(question, &[], &mut Known::default(), seed.rules()).plan(5.0)
}

/// Every way of every plant tried against every other: three pots, three nights, one place, one cover, few minutes.
#[test]
fn a_small_spell_equals_trying_everything() {
    let seed = Seed::read();
    let cold = spell(&seed, &[(-6.0, 3.0), (-11.0, -1.0), (-8.0, 0.0)]);
    for (room, minutes) in [(0.1, Some(5.0)), (0.2, Some(5.0)), (0.1, None), (0.3, Some(10.0))] {
        let plants = vec![
            pot(potted(&seed, 10.0, None), 1.0),
            pot(PlantTonight { stage: Stage::LeavesDown, ..potted(&seed, 20.0, Some(-1.0)) }, 2.0),
            pot(PlantTonight { age: first_winter(&seed), ..potted(&seed, 5.0, None) }, 1.5),
        ];
        let mut q = question(&cold, plants);
        q.places = vec![place(3, 6.0, 0.7, Some(room), &cold)];
        q.covers = vec![cover(&cold, 4.0, 1)];
        q.minutes = vec![minutes; 3];
        let ready = Ready::new(&q, &[], &mut Known::default(), seed.rules());
        let plan = ready.plan(5.0);
        let problem = ready.problem();
        let mut best = f64::INFINITY;
        let counts: Vec<usize> = problem.plants.iter().map(Vec::len).collect();
        for i in 0..counts.iter().product() {
            let chosen = vec![i % counts[0], i / counts[0] % counts[1], i / counts[0] / counts[1]];
            if is_feasible(problem, &chosen) {
                best = best.min(chosen.iter().zip(&problem.plants).map(|(c, p)| p[*c].loss).sum());
            }
        }
        close(plan.plan.loss, best, 1e-9, "loss");
        assert!(plan.plan.gap <= PROVED_GAP);
    }
}

/// Whether the shelter is heated is asked one way after the other; what is known of the first way never changes the second.
#[test]
fn air_met_before_gives_the_same_plan_as_a_fresh_question() {
    let seed = Seed::read();
    let cold = spell(&seed, &[(-6.0, 3.0), (-11.0, -1.0), (-8.0, 0.0)]);
    let plants = || vec![pot(potted(&seed, 10.0, None), 1.0), SpellPlant { at: Some(1), ..pot(potted(&seed, 5.0, None), 2.0) }];
    let with = |first_c: f64, second_c: f64| {
        let mut q = question(&cold, plants());
        q.places = vec![place(3, first_c, 0.4, Some(0.3), &cold), place(3, second_c, 0.6, Some(0.2), &cold)];
        q.covers = vec![cover(&cold, 3.0, 2)];
        q
    };
    let mut known = Known::default();
    let mut losses = Vec::new();
    for other_air in [[false, false], [true, false], [false, true], [true, true]] {
        let q = with(if other_air[0] { -1.0 } else { 7.0 }, if other_air[1] { -3.0 } else { 5.0 });
        let kept = Ready::new(&q, &other_air, &mut known, seed.rules()).plan(5.0);
        let fresh = planned(&seed, &q);
        close(kept.plan.loss, fresh.plan.loss, 1e-12, "loss");
        assert_eq!(kept.plants, fresh.plants);
        losses.push(kept.plan.loss);
    }
    assert!(losses[3] > losses[0] + 0.01, "colder air costs more: {losses:?}");
}

/// Going in once and coming out once loses next to nothing against any order of in and out: all 3⁴ ways of one pot.
#[test]
fn one_journey_is_as_good_as_any_coming_and_going() {
    let seed = Seed::read();
    for lows in [[-12.0, -3.0, -12.0, -2.0], [-4.0, -11.0, -6.0, -9.0]] {
        let rows: Vec<(f64, f64)> = lows.iter().map(|l| (*l, 3.0)).collect();
        let cold = spell(&seed, &rows);
        let mut q = question(&cold, vec![pot(potted(&seed, 15.0, None), 1.0)]);
        q.places = vec![place(4, 7.0, 0.6, None, &cold)];
        q.covers = vec![cover(&cold, 4.0, 1)];
        let plan = planned(&seed, &q);
        let courses: [&Course; 3] = [&q.open, &q.places[0].air, &q.covers[0].over_pot];
        let mut follower = Follower::new(&q.plants[0].state, &courses, seed.rules());
        let all = (0..81u32).map(|i| [i % 3, i / 3 % 3, i / 9 % 3, i / 27].map(|s| s as u8));
        let best = all.map(|way| follower.felt(&way).risk.loss_share).fold(f64::INFINITY, f64::min);
        assert!(plan.plan.loss - best < 0.01, "{} against {best}", plan.plan.loss);
    }
}

#[test]
fn a_pot_goes_in_before_the_cold_and_may_come_out_when_it_is_over() {
    let seed = Seed::read();
    let cold = spell(&seed, &[(1.0, 8.0), (-11.0, 1.0), (-12.0, -3.0), (2.0, 5.0), (3.0, 9.0)]);
    let mut q = question(&cold, vec![pot(potted(&seed, 15.0, None), 1.0); 4]);
    q.places = vec![place(5, 9.0, 0.6, Some(0.25), &cold)];
    q.minutes = vec![Some(5.0); 5];
    let plan = planned(&seed, &q);
    // Room for two; five minutes a day carry one, so one goes in a day early.
    let mut inside: Vec<(usize, Option<usize>)> = plan
        .plants
        .iter()
        .filter_map(|p| if let Does::Place { first, .. } = p.does { Some((first, p.may_come_out)) } else { None })
        .collect();
    inside.sort_unstable();
    assert_eq!(inside, [(0, Some(3)), (1, Some(3))]);
    assert_eq!(&plan.minutes[..2], [5.0, 5.0]);
    assert!(plan.room_m2[0][..3].iter().zip([0.1, 0.2, 0.2]).all(|(a, b)| (a - b).abs() < 1e-9), "{:?}", plan.room_m2);
}

#[test]
fn planned_again_on_the_third_night_what_stands_inside_stays_and_what_is_over_counts() {
    let seed = Seed::read();
    let rows = [(-6.0, 2.0), (-10.0, -1.0), (-12.0, -3.0), (-9.0, -3.0), (2.0, 4.0)];
    let cold = spell(&seed, &rows);
    let inside = SpellPlant { at: Some(0), nights_there: 2, ..pot(potted(&seed, 15.0, None), 1.0) };
    let mut q = question(&cold, vec![inside, pot(potted(&seed, 15.0, None), 1.0)]);
    q.places = vec![place(5, 9.0, 0.6, Some(0.2), &cold)];
    q.from = 2;
    let plan = planned(&seed, &q);
    assert_eq!(plan.plants[0].does, Does::Stay);
    assert_eq!(plan.plants[0].may_come_out, Some(4));
    assert!(matches!(plan.plants[1].does, Does::Place { first: 2, .. }), "{:?}", plan.plants[1].does);
    // The one that stood out for two nights has had its cold.
    assert!(plan.plants[1].then.loss_share > plan.plants[0].then.loss_share);
}

#[test]
fn a_cover_that_gains_under_one_in_a_hundred_is_not_advised() {
    let seed = Seed::read();
    let cold = spell(&seed, &[(-3.0, 3.0), (-4.0, 2.0)]);
    let mut q = question(&cold, vec![pot(potted(&seed, 30.0, None), 1.0)]);
    q.covers = vec![cover(&cold, 0.4, 5)];
    assert_eq!(planned(&seed, &q).plants[0].does, Does::Stay);
}
