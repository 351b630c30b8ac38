//! The order of changes by degrees for the money.
//!
//! Greedy: of the changes not yet made, the next is the one that warms the lowest inside most for what it costs, given those made before it, since
//! two changes on one surface are worth less together than apart. Changes without a price come after, by what they gain; what gains nothing is last.

/// Gains below this are nothing, K. DESIGN: a tenth of what a thermometer shows.
pub const NOTHING_K: f64 = 0.05;
/// A change that costs nothing is compared as if it cost this share of the dearest one. DESIGN.
const FREE_SHARE: f64 = 1e-6;

/// One change in the order.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rung {
    /// Index among the changes.
    pub change: usize,
    /// Warmer than with those before it, K.
    pub gain_k: f64,
    /// Warmer than with none, K.
    pub gain_so_far_k: f64,
    /// Spent so far; `None` once a change without a price is among them.
    pub cost_so_far: Option<f64>,
}

/// Orders changes with these prices (`None`: not known). `minimum_c` gives the lowest inside with a set of changes made, °C; it is asked at most
/// n(n + 1)/2 + 1 times.
pub fn by_degrees_for_money(prices: &[Option<f64>], minimum_c: impl Fn(&[usize]) -> f64) -> Vec<Rung> {
    let base = minimum_c(&[]);
    let least = prices.iter().flatten().fold(0.0f64, |most, p| most.max(*p)).max(1.0) * FREE_SHARE;
    let mut made: Vec<usize> = Vec::new();
    let mut rungs = Vec::with_capacity(prices.len());
    let (mut so_far, mut spent) = (base, Some(0.0));
    while made.len() < prices.len() {
        // (priced and useful first, degrees for the money or degrees), larger is better; the earlier of equals stays.
        let mut best: Option<((u8, f64), usize, f64)> = None;
        for (index, price) in prices.iter().enumerate().filter(|(i, _)| !made.contains(i)) {
            let mut set = made.clone();
            set.push(index);
            let reached = minimum_c(&set);
            let gain = reached - so_far;
            let rank = match price {
                _ if gain < NOTHING_K => (0, gain),
                None => (1, gain),
                Some(p) => (2, gain / p.max(least)),
            };
            if best.is_none_or(|(b, _, _)| rank > b) {
                best = Some((rank, index, reached));
            }
        }
        let Some((_, index, reached)) = best else { break };
        spent = spent.zip(prices.get(index).copied().flatten()).map(|(sum, p)| sum + p);
        rungs.push(Rung { change: index, gain_k: reached - so_far, gain_so_far_k: reached - base, cost_so_far: spent });
        so_far = reached;
        made.push(index);
    }
    rungs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cheap_degree_comes_first_and_the_unpriced_after() {
        // Worth 4, 6, 1 and 0 K whatever else is made; the second of them has no price.
        let worth = [4.0, 6.0, 1.0, 0.0];
        let order = by_degrees_for_money(&[Some(80.0), None, Some(5.0), Some(1.0)], |made| made.iter().map(|&i| worth[i]).sum());
        assert_eq!(order.iter().map(|r| r.change).collect::<Vec<_>>(), [2, 0, 1, 3]);
        assert_eq!(order[1].cost_so_far, Some(85.0));
        assert_eq!(order[2].cost_so_far, None);
        assert!((order[3].gain_so_far_k - 11.0).abs() < 1e-12);
    }

    #[test]
    fn a_change_that_another_makes_useless_falls_behind() {
        // Either of the first two gives 5 K, both together 5.5 K; the third gives 2 K always.
        let reach = |made: &[usize]| {
            let both = made.contains(&0) && made.contains(&1);
            let one = made.contains(&0) || made.contains(&1);
            f64::from(u8::from(one)) * 5.0 + f64::from(u8::from(both)) * 0.5 + f64::from(u8::from(made.contains(&2))) * 2.0
        };
        let order = by_degrees_for_money(&[Some(10.0), Some(11.0), Some(10.0)], reach);
        assert_eq!(order.iter().map(|r| r.change).collect::<Vec<_>>(), [0, 2, 1]);
        assert!(order.iter().all(|r| r.gain_k > 0.0));
    }
}
