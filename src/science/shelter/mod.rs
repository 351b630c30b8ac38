//! The shelter: what warmth a greenhouse, hoop house or frame holds through a night, and what each change to it would gain.
//!
//! `T_in = T_out + (Q_heater + Q_ground + Q_store)/G`, G summed from parts, the edge of the floor and leaks ([`envelope`]), stepped through the
//! night with thermostat, heater limit and water drums ([`night`]). Readings of the grower's own correct G ([`readings`]); improvements are
//! predicted from the corrected value ([`assess`]). No sun is credited at night. Everything here is W, m, °C, h.
//! Not here: places known only by two readings (`cold_night::places`).

pub mod assess;
pub mod balance;
pub mod beside;
pub mod cautions;
pub mod condensation;
pub mod day;
pub mod envelope;
pub mod gains;
pub mod mats;
pub mod night;
pub mod order;
pub mod outage;
pub mod readings;
pub mod season;
pub mod shape;
pub mod small_heat;
pub mod states;
pub mod store;
pub mod sun;
pub mod venting;

pub use assess::{Assessment, Change, Shelter, ShelterError};
pub use beside::Beside;
pub use envelope::{Envelope, Layer, Part};
pub use night::Outside;
pub use readings::{Correction, Reading};
