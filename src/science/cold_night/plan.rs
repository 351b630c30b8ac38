//! The plan that loses least: every plant gets one of its options, under room, covers and minutes.
//!
//! `min Σ loss(g,o)·n(g,o)` over whole numbers `n`, `Σ_o n(g,o) = count(g)` for each group of identical plants, `Σ use·n ≤ capacity` for each place
//! and cover, `Σ minutes·n ≤ minutes`. A generalised assignment problem, solved by branch and bound (microlp through good_lp).
//! Presolve drops options that another beats on everything, and a plan where every plant's best option fits needs no solver.
//! The solver's answer is not believed: it is rounded, checked against every limit and against two plans made by hand (greedy, and the relaxed
//! program with its few split plants dealt out), and the best is kept; the distance to the bound is part of the result. A solver that panics or runs
//! out of time leaves the best of those with its gap.

use std::collections::HashMap;
use std::panic::{AssertUnwindSafe, catch_unwind};

use good_lp::solvers::{SolutionStatus, WithTimeLimit};
use good_lp::{Expression, ProblemVariables, Solution, SolverModel, Variable, microlp, variable};

/// Slack in comparing sums with capacities.
const EPSILON: f64 = 1e-9;
/// A relative gap below this counts as proved optimal.
pub const PROVED_GAP: f64 = 1e-7;

/// Something that can be done with one plant.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// Expected loss, ≥ 0, in the units of the plants' values.
    pub loss: f64,
    /// Minutes it takes.
    pub minutes: f64,
    /// (limit, amount) it uses up.
    pub uses: Vec<(usize, f64)>,
}

/// A night's problem. Each plant's first choice must be feasible for all plants together with no minutes: leaving it.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// Choices per plant; none is empty.
    pub plants: Vec<Vec<Choice>>,
    /// Capacity of each limit (room in m², number of covers …).
    pub capacities: Vec<f64>,
    /// Minutes there are.
    pub minutes: f64,
}

/// A plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The choice of each plant, as an index into its choices.
    pub chosen: Vec<usize>,
    /// Expected loss.
    pub loss: f64,
    /// No plan can lose less than this.
    pub bound: f64,
    /// (loss − bound)/loss, 0 when nothing is lost.
    pub gap: f64,
    /// Minutes it takes.
    pub minutes: f64,
}

/// Plants with the same choices.
struct Group {
    members: Vec<usize>,
    /// (index among the plant's choices, choice), those worth considering.
    choices: Vec<(usize, Choice)>,
}

/// Solves within about `budget_s` seconds of solver time. An empty problem gives an empty plan.
pub fn solve(problem: &Problem, budget_s: f64) -> Plan {
    let groups = presolve(problem);
    let least: f64 = groups.iter().map(|g| g.members.len() as f64 * lowest(&g.choices)).sum();
    let greedy = improved(problem, &groups, vec![0; problem.plants.len()]);
    let greedy_loss = loss_of(problem, &greedy);
    // Everybody has the best there is: no program to solve.
    if greedy_loss <= least + EPSILON * least.max(1.0) {
        return finish(problem, greedy, least);
    }
    // The relaxed program first: its loss is a bound, and all but a few of its plants are whole.
    let Some((relaxed, whole)) = catch_unwind(AssertUnwindSafe(|| relax(problem, &groups))).ok().flatten() else {
        return finish(problem, greedy, least);
    };
    let rounded = improved(problem, &groups, whole);
    let start = better(problem, greedy, rounded);
    let bound = relaxed.max(least);
    match catch_unwind(AssertUnwindSafe(|| branch_and_bound(problem, &groups, &start, budget_s))).ok().flatten() {
        Some((chosen, proved)) => finish(problem, better(problem, start, chosen), proved.max(bound)),
        None => finish(problem, start, bound),
    }
}

/// The second plan where it is feasible and loses less, else the first.
fn better(problem: &Problem, first: Vec<usize>, second: Vec<usize>) -> Vec<usize> {
    if is_feasible(problem, &second) && loss_of(problem, &second) < loss_of(problem, &first) { second } else { first }
}

/// Whether a plan keeps every limit.
pub fn is_feasible(problem: &Problem, chosen: &[usize]) -> bool {
    let mut used = vec![0.0; problem.capacities.len()];
    let mut minutes = 0.0;
    for (choices, &index) in problem.plants.iter().zip(chosen) {
        let Some(choice) = choices.get(index) else { return false };
        minutes += choice.minutes;
        for &(limit, amount) in &choice.uses {
            match used.get_mut(limit) {
                Some(sum) => *sum += amount,
                None => return false,
            }
        }
    }
    let fits = |sum: f64, capacity: f64| sum <= capacity + EPSILON * capacity.abs().max(1.0);
    chosen.len() == problem.plants.len()
        && fits(minutes, problem.minutes)
        && used.iter().zip(&problem.capacities).all(|(u, c)| fits(*u, *c))
}

/// Expected loss of a plan.
pub fn loss_of(problem: &Problem, chosen: &[usize]) -> f64 {
    problem.plants.iter().zip(chosen).filter_map(|(choices, &i)| choices.get(i)).map(|c| c.loss).sum()
}

fn finish(problem: &Problem, chosen: Vec<usize>, bound: f64) -> Plan {
    let loss = loss_of(problem, &chosen);
    let minutes = problem.plants.iter().zip(&chosen).filter_map(|(choices, &i)| choices.get(i)).map(|c| c.minutes).sum();
    let bound = bound.min(loss);
    let gap = if loss > EPSILON { (loss - bound) / loss } else { 0.0 };
    Plan { chosen, loss, bound, gap, minutes }
}

fn lowest(choices: &[(usize, Choice)]) -> f64 {
    choices.iter().map(|(_, c)| c.loss).fold(f64::INFINITY, f64::min)
}

/// Whether `a` is at least as good as `b` on everything.
fn beats(a: &Choice, b: &Choice) -> bool {
    a.loss <= b.loss
        && a.minutes <= b.minutes
        && a.uses.iter().all(|(limit, amount)| b.uses.iter().any(|(other, more)| other == limit && amount <= more))
}

fn presolve(problem: &Problem) -> Vec<Group> {
    let mut groups: Vec<Group> = Vec::new();
    let mut known: HashMap<Vec<u64>, usize> = HashMap::new();
    for (plant, choices) in problem.plants.iter().enumerate() {
        let key = choices
            .iter()
            .flat_map(|c| {
                [c.loss.to_bits(), c.minutes.to_bits(), c.uses.len() as u64]
                    .into_iter()
                    .chain(c.uses.iter().flat_map(|(l, a)| [*l as u64, a.to_bits()]))
            })
            .collect();
        let index = *known.entry(key).or_insert_with(|| {
            groups.push(Group { members: Vec::new(), choices: worth_considering(problem, choices) });
            groups.len() - 1
        });
        if let Some(group) = groups.get_mut(index) {
            group.members.push(plant);
        }
    }
    groups
}

fn worth_considering(problem: &Problem, choices: &[Choice]) -> Vec<(usize, Choice)> {
    let possible = |c: &Choice| {
        c.minutes <= problem.minutes + EPSILON
            && c.uses.iter().all(|(l, a)| problem.capacities.get(*l).is_some_and(|cap| *a <= cap + EPSILON))
    };
    let beaten = |i: usize, c: &Choice| {
        // Of two that equal each other the earlier stays.
        choices.iter().enumerate().any(|(j, d)| j != i && beats(d, c) && (!beats(c, d) || j < i))
    };
    choices.iter().enumerate().filter(|(i, c)| *i == 0 || (possible(c) && !beaten(*i, c))).map(|(i, c)| (i, c.clone())).collect()
}

/// Room left while a plan is built by hand.
struct Left {
    minutes: f64,
    room: Vec<f64>,
}

impl Left {
    fn takes(&self, c: &Choice) -> bool {
        c.minutes <= self.minutes + EPSILON && c.uses.iter().all(|(l, a)| self.room.get(*l).is_some_and(|r| *a <= r + EPSILON))
    }

    fn book(&mut self, c: &Choice, sign: f64) {
        self.minutes -= sign * c.minutes;
        for (l, a) in &c.uses {
            if let Some(room) = self.room.get_mut(*l) {
                *room -= sign * a;
            }
        }
    }
}

/// From a feasible start, takes the step that avoids most per minute while any fits, then lets single plants step up as room allows.
fn improved(problem: &Problem, groups: &[Group], start: Vec<usize>) -> Vec<usize> {
    let mut chosen = start;
    let mut left = Left { minutes: problem.minutes, room: problem.capacities.clone() };
    for (choices, &index) in problem.plants.iter().zip(&chosen) {
        if let Some(now) = choices.get(index) {
            left.book(now, 1.0);
        }
    }
    let mut steps: Vec<(f64, usize, usize)> = Vec::new();
    for group in groups {
        let Some((_, stay)) = group.choices.first() else { continue };
        for (index, c) in &group.choices {
            let avoided = stay.loss - c.loss;
            if avoided > 0.0 {
                let rate = avoided / (c.minutes - stay.minutes).max(1e-6);
                steps.extend(group.members.iter().map(|&plant| (rate, plant, *index)));
            }
        }
    }
    steps.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)).then(a.2.cmp(&b.2)));
    // Twice: the second round lets a plant trade its first choice for a better one in what is left.
    for _ in 0..2 {
        for &(_, plant, index) in &steps {
            let (Some(choices), Some(slot)) = (problem.plants.get(plant), chosen.get_mut(plant)) else { continue };
            let (Some(now), Some(then)) = (choices.get(*slot), choices.get(index)) else { continue };
            if then.loss < now.loss {
                left.book(now, -1.0);
                if left.takes(then) {
                    left.book(then, 1.0);
                    *slot = index;
                } else {
                    left.book(now, 1.0);
                }
            }
        }
    }
    chosen
}

/// The program's variables: (group, choice index in the group, variable, cost).
struct Program {
    variables: ProblemVariables,
    columns: Vec<(usize, usize, Variable)>,
    objective: Expression,
}

fn program(groups: &[Group], whole: bool, start: &[usize]) -> Program {
    let mut variables = ProblemVariables::new();
    let mut columns = Vec::new();
    let mut objective = Expression::default();
    for (g, group) in groups.iter().enumerate() {
        for (c, (index, choice)) in group.choices.iter().enumerate() {
            let many = group.members.len() as f64;
            let definition = variable().min(0.0).max(many);
            let definition = if whole {
                let now = group.members.iter().filter(|m| start.get(**m) == Some(index)).count() as f64;
                definition.integer().initial(now)
            } else {
                definition
            };
            let column = variables.add(definition);
            objective.add_mul(choice.loss, column);
            columns.push((g, c, column));
        }
    }
    Program { variables, columns, objective }
}

/// Adds every row to a model: one plant one choice, limits, minutes. Rows that can never bind are left out.
fn constrain<M: SolverModel>(mut model: M, problem: &Problem, groups: &[Group], columns: &[(usize, usize, Variable)]) -> M {
    let mut once: Vec<Expression> = groups.iter().map(|_| Expression::default()).collect();
    let mut limits: Vec<(Expression, f64)> = problem.capacities.iter().map(|_| (Expression::default(), 0.0)).collect();
    let (mut minutes, mut most_minutes) = (Expression::default(), 0.0);
    for &(g, c, column) in columns {
        let (Some(group), Some(row)) = (groups.get(g), once.get_mut(g)) else { continue };
        let Some((_, choice)) = group.choices.get(c) else { continue };
        let many = group.members.len() as f64;
        row.add_mul(1.0, column);
        if choice.minutes > 0.0 {
            minutes.add_mul(choice.minutes, column);
            most_minutes += choice.minutes * many;
        }
        for (limit, amount) in &choice.uses {
            if let Some((row, most)) = limits.get_mut(*limit) {
                row.add_mul(*amount, column);
                *most += amount * many;
            }
        }
    }
    for (row, group) in once.into_iter().zip(groups) {
        model = model.with(row.eq(group.members.len() as f64));
    }
    for ((row, most), capacity) in limits.into_iter().zip(&problem.capacities) {
        if most > *capacity {
            model = model.with(row.leq(*capacity));
        }
    }
    if most_minutes > problem.minutes {
        model = model.with(minutes.leq(problem.minutes));
    }
    model
}

/// Loss of the relaxed program, which no plan of whole plants beats, and its plan with every plant that is not whole left where it is.
fn relax(problem: &Problem, groups: &[Group]) -> Option<(f64, Vec<usize>)> {
    let Program { variables, columns, objective } = program(groups, false, &[]);
    let cost = objective.clone();
    let model = constrain(variables.minimise(objective).using(microlp), problem, groups, &columns);
    let solution = model.solve().ok()?;
    let stay = vec![0; problem.plants.len()];
    // A hair below a whole number still counts as that number.
    let whole = assign(groups, &columns, &stay, |column| (solution.value(column) + 1e-6).floor() as usize);
    Some((solution.eval(cost), if is_feasible(problem, &whole) { whole } else { stay }))
}

/// Deals each column's count out to its group's plants; the rest keep what `start` gave them.
fn assign(groups: &[Group], columns: &[(usize, usize, Variable)], start: &[usize], count: impl Fn(Variable) -> usize) -> Vec<usize> {
    let mut chosen = start.to_vec();
    let mut waiting: Vec<std::slice::Iter<'_, usize>> = groups.iter().map(|g| g.members.iter()).collect();
    for &(g, c, column) in columns {
        let (Some(group), Some(members)) = (groups.get(g), waiting.get_mut(g)) else { continue };
        let Some((index, _)) = group.choices.get(c) else { continue };
        for member in members.by_ref().take(count(column)) {
            if let Some(slot) = chosen.get_mut(*member) {
                *slot = *index;
            }
        }
    }
    chosen
}

/// (plan, bound); `None` when the solver found nothing.
fn branch_and_bound(problem: &Problem, groups: &[Group], start: &[usize], budget_s: f64) -> Option<(Vec<usize>, f64)> {
    let Program { variables, columns, objective } = program(groups, true, start);
    let model = constrain(variables.minimise(objective).using(microlp).with_time_limit(budget_s), problem, groups, &columns);
    let solution = model.solve().ok()?;
    let optimal = matches!(solution.status(), SolutionStatus::Optimal);
    let chosen = assign(groups, &columns, start, |column| solution.value(column).round() as usize);
    let inner = solution.into_inner().stats().best_bound;
    let loss = loss_of(problem, &chosen);
    let bound = if optimal { loss } else { inner.unwrap_or(0.0) };
    Some((chosen, bound))
}
