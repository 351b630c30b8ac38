//! Ripe figs: what the season's heat allows, what winter damage takes away, and how long to wait in spring.
//!
//! Heat is counted in degree-days above 8 °C with a cap at 36 °C ([`super::climate::degree_days`]). A crop ripens when the heat from the
//! start of growth to the first night of −1 °C reaches what the crop needs; both have a spread. Damage makes growth start later, takes the
//! breba with the tips, and leaves only what shoots from the base can bear. Values and sources: `seed-data/fruit-priors.csv`.

pub mod asleep;
pub mod autumn;
pub mod crop;
pub mod curve;
pub mod cutting_back;
pub mod degree_days_of_record;
pub mod fig_size;
pub mod first_ripe;
pub mod learned;
pub mod priors;
pub mod recorded;
pub mod return_to_crop;
pub mod season_degree_days;
pub mod shoots;
pub mod shown;
pub mod wait;
pub mod year;

pub use crop::{CropChances, FruitTraits, LearnedNeeds, crop_chances, crops_by_regrowth, expected_crop};
pub use curve::{DegreeDayCurve, HeadStart};
pub use priors::FruitPriors;
pub use season_degree_days::SeasonDegreeDays;
