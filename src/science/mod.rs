//! Pure calculation: values in, values out. No web framework, database, runtime, files, clock, environment or global randomness.
//!
//! One scale runs through everything: the **equivalent midwinter minimum**, °C. Every freeze a plant meets, at any date and under any
//! cover, is turned into the midwinter temperature that would do a fully hardened, uncovered, established plant in the ground the same
//! harm. Cultivars differ by where on that scale each level of damage becomes likely; sites by how often each point on it is reached.

pub mod climate;
pub mod cold_night;
pub mod cultivar;
pub mod exposure;
pub mod fruiting;
pub mod hardiness;
pub mod numeric;
pub mod priors;
pub mod propagation;
pub mod shelter;
pub mod shortlist;
pub mod site;
pub mod trials;
