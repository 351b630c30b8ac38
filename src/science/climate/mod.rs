//! What a site's winters and seasons are like: zones, the yearly minimum, the daily record, frost and heat.

pub mod gev;
pub mod kind;
pub mod lmoments;
pub mod profile;
pub mod record;
pub mod season;
pub mod trend;
pub mod winter_minimum;
pub mod winters;
pub mod zone;
