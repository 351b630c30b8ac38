//! Which of several figs at one place bears in the most years: a chance for each.

use rayon::prelude::*;

use super::long_run::LongRun;

/// Shares of years nearer than this are a tie.
const TIE: f64 = 1e-9;
/// Chance of a state that is left to be won at which a race ends, 0..1. DESIGN: a thousandth of the percent in which chances are told.
const DECIDED: f64 = 1e-5;
/// What is left of a chance that is none but for rounding.
const NOTHING: f64 = 1e-12;
/// Lowest bits of a share that give way to the place of its point, so that points are put in order as whole numbers: shares below 1 then lie within
/// 3e-10 of where they belong, less than a tie. There is room for a million points, of 29,000 figs; a model takes 3,000.
const PLACE: u64 = (1 << 20) - 1;

/// For each of several figs at one place the chance that none of the others bears in more years; ties are split. Sums to 1.
pub fn chance_best(figs: &[&LongRun]) -> Vec<f64> {
    let states = figs.first().map_or(&[][..], |fig| fig.states());
    let race = || Race { points: Vec::new(), order: Vec::new(), below: vec![0.0; figs.len()], won: vec![0.0; figs.len()] };
    let won_in = |race: &mut Race, (state, weight): (usize, &f64)| -> Vec<f64> {
        race.begin(figs, state);
        race.run();
        let total: f64 = race.won.iter().sum();
        race.won.iter().map(|won| weight * if total > 0.0 { won / total } else { 0.0 }).collect()
    };
    let won: Vec<Vec<f64>> = states.par_iter().enumerate().map_init(race, won_in).collect();
    (0..figs.len()).map(|fig| won.iter().map(|won| won[fig]).sum()).collect()
}

/// A share that a fig may have.
#[derive(Clone, Copy)]
struct Point {
    share: f64,
    weight: f64,
    fig: usize,
}

/// Figs in one state of what they share: the highest of independent shares, each step of one times the chance that all others lie below; half of
/// a tie counts as below. The highest shares come first, and after few of them it is decided.
struct Race {
    /// Points at which somebody may win.
    points: Vec<Point>,
    /// Their shares with their places, see [`PLACE`].
    order: Vec<u64>,
    /// Chance of each fig to lie below the points looked at.
    below: Vec<f64>,
    /// Chance of each to be the highest, as far as these go.
    won: Vec<f64>,
}

impl Race {
    fn begin(&mut self, figs: &[&LongRun], state: usize) {
        self.points.clear();
        self.won.fill(0.0);
        self.below.fill(1.0);
        // Nobody wins below the point at which the last of them begins.
        let mut from = 0.0_f64;
        for (at, fig) in figs.iter().enumerate() {
            let mut least = f64::INFINITY;
            self.points.extend(fig.few(state).map(|(share, weight)| {
                least = least.min(share);
                Point { share, weight, fig: at }
            }));
            from = from.max(least);
        }
        from -= TIE;
        self.order.clear();
        let of_point = |(place, point): (u64, &Point)| (point.share >= from).then_some((point.share.to_bits() & !PLACE) | (place & PLACE));
        self.order.extend((0..).zip(&self.points).filter_map(of_point));
        self.order.sort_unstable();
    }

    fn run(&mut self) {
        let Self { points, order, below, won } = self;
        let mut all = Product::ONE;
        let mut tied: Vec<(usize, f64)> = Vec::new();
        let mut left = 1.0;
        let point = |key: &u64| points[(key & PLACE) as usize];
        for tie in order.chunk_by(|a, b| point(b).share - point(a).share < TIE).rev() {
            tied.clear();
            for point in tie.iter().map(point) {
                match tied.iter_mut().find(|(fig, _)| *fig == point.fig) {
                    Some((_, mass)) => *mass += point.weight,
                    None => tied.push((point.fig, point.weight)),
                }
            }
            let middle = |&(fig, mass): &(usize, f64)| rest(below[fig], mass) + 0.5 * mass;
            let others = tied.iter().fold(all, |all, (fig, _)| all.without(below[*fig]));
            let with_halves = tied.iter().fold(others, |all, one| all.with(middle(one)));
            for one in &tied {
                let chance = one.1 * with_halves.without(middle(one)).value();
                won[one.0] += chance;
                left -= chance;
            }
            all = others;
            for &(fig, mass) in &tied {
                below[fig] = rest(below[fig], mass);
                all = all.with(below[fig]);
            }
            if left < DECIDED {
                break;
            }
        }
    }
}

/// What is left of a chance without a part of it.
fn rest(chance: f64, part: f64) -> f64 {
    let rest = chance - part;
    if rest < NOTHING { 0.0 } else { rest }
}

/// A product of chances from which a factor can be taken out again.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Product {
    /// The product of the factors above 0, times 2^(512·`small`).
    scaled: f64,
    small: i32,
    /// How many factors are 0.
    zeros: usize,
}

/// 2^512 and its inverse: products are kept between it and 1, far from the smallest number there is.
const LARGE: f64 = 1.340_780_792_994_259_7e154;

impl Product {
    const ONE: Self = Self { scaled: 1.0, small: 0, zeros: 0 };

    fn with(self, p: f64) -> Self {
        if p <= 0.0 {
            return Self { zeros: self.zeros + 1, ..self };
        }
        let scaled = self.scaled * p;
        if scaled * LARGE < 1.0 { Self { scaled: scaled * LARGE, small: self.small + 1, ..self } } else { Self { scaled, ..self } }
    }

    fn without(self, p: f64) -> Self {
        if p <= 0.0 {
            return Self { zeros: self.zeros.saturating_sub(1), ..self };
        }
        let scaled = self.scaled / p;
        if self.small > 0 && scaled >= 1.0 {
            Self { scaled: scaled / LARGE, small: self.small - 1, ..self }
        } else {
            Self { scaled, ..self }
        }
    }

    fn value(self) -> f64 {
        if self.zeros == 0 && self.small == 0 { self.scaled } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_product_takes_factors_out_again_however_small_it_has_become() {
        let factors: Vec<f64> = (1..=400).map(|n| f64::from(n % 9 + 1) * 0.01).collect();
        let all = factors.iter().fold(Product::ONE, |all, p| all.with(*p)).with(0.0);
        assert_eq!(all.value(), 0.0);
        let back = factors.iter().fold(all.without(0.0).with(0.7), |all, p| all.without(*p));
        assert!((back.value() - 0.7).abs() < 1e-12, "{back:?}");
    }
}
