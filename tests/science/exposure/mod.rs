//! The one exposure function against the outside: independent computations, daily records, dated freezes, and laws.

mod doors;
mod freezes;
mod laws;
mod stations;
mod zone_only;
