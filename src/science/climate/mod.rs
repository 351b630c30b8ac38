//! What a site's winters and seasons are like: zones, the yearly minimum, the daily record, frost and heat.

pub mod degree_days;
pub mod kind;
pub mod season;
pub mod spring_nights;
pub mod winter_minimum;
pub mod zone;
