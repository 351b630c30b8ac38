//! The temperatures at which roots in pots are lost, by age and state, as pages show them.

use crate::science::numeric::{Gaussian, Z_90};
use crate::science::priors::{PriorRow, RootPriors};
use crate::units::{Celsius, Interval};
use crate::web::frame::{Frame, provenance};

/// One line: a plant of an age in a state.
pub struct RootLimit {
    /// Which roots of which plant, and what is lost.
    pub what: &'static str,
    /// Root temperature at which half of such plants come to that.
    pub half: String,
    /// 90 % range of that temperature.
    pub range: String,
    /// Where it comes from, in words.
    pub source: String,
}

/// Every limit, mildest loss first, in the reader's scale.
pub fn root_limits(roots: &RootPriors, rows: &[PriorRow], frame: &Frame) -> Vec<RootLimit> {
    let line = |what, at: Gaussian, key: &str| {
        let end = |z: f64| Celsius::literal(at.mean + z * at.sd);
        let row = rows.iter().find(|row| row.key == key);
        RootLimit {
            what,
            half: frame.temperature(Celsius::literal(at.mean)),
            range: frame.range(Interval { low: end(-Z_90), high: end(Z_90) }),
            source: row.map_or_else(String::new, |row| format!("{}: {}", provenance(&row.provenance), row.note)),
        }
    };
    vec![
        line("In leaf or growth, any age: the plant dies", roots.death_growing, "root_death_growing"),
        line("Asleep: young roots are lost, growth is set back", roots.young_roots, "root_young"),
        line("Asleep, in its first three winters: the plant dies", roots.death_young, "root_death_young"),
        line("Asleep, fourth winter or later: the plant dies", roots.death, "root_death"),
    ]
}
