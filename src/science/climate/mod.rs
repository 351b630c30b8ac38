//! What a site's winters and seasons are like: zones, the yearly minimum, the daily record, frost and heat.

pub mod gev;
pub mod lmoments;
pub mod record;
pub mod zone;
