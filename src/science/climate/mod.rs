//! What a site's winters and seasons are like: zones, the yearly minimum, the daily record, frost and heat.

pub mod chill;
pub mod degree_days;
mod doubts;
pub mod equivalent;
pub mod extreme_of_normal;
pub mod extremes;
pub mod frost;
pub mod gev;
pub mod gev_likelihood;
pub mod hourly;
pub mod kind;
pub mod lmoments;
pub mod night_curve;
pub mod own_thermometer;
pub mod periods;
pub mod profile;
pub mod record;
pub mod season;
pub mod site_climate;
pub mod site_estimate;
pub mod spells;
pub mod spring_nights;
pub mod trend;
pub mod usual_winter;
pub mod winter_minimum;
pub mod winters;
pub mod zone;
