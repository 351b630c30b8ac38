//! What a record says of winters changing: the trend, and two periods side by side, in sentences.

use crate::jobs::station_record::periods;
use crate::science::climate::site_climate::SiteClimate;
use crate::units::{Celsius, TemperatureDelta};
use crate::web::frame::Frame;

/// The half-zones of the two periods that a record was asked for.
pub(super) fn zones_then_and_since(climate: &SiteClimate) -> Option<String> {
    let all = climate.periods.as_ref()?;
    periods::zones(&all.periods).map(|zones| format!("Half-zone at the station: {zones}."))
}

/// With a capital and a full stop.
pub(super) fn sentence(clause: &str) -> String {
    let mut letters = clause.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).chain(['.']).collect())
}

/// The trend, or that none is claimed.
pub(super) fn trend(climate: &SiteClimate, frame: &Frame) -> Option<String> {
    let trend = climate.yearly_minimum.trend.as_ref()?;
    let slope = frame.difference(TemperatureDelta::literal(trend.per_decade_k.abs()));
    let way = if trend.per_decade_k >= 0.0 { "milder" } else { "colder" };
    Some(match trend.as_of_now {
        Some(now) => format!(
            "Winters have been growing {way} by {slope} a decade ({}). As of {} one in ten falls below {}, not {}. The shortlist below keeps the whole record, which errs on the cold side.",
            p_words(trend.p_value),
            now.winter,
            frame.temperature(Celsius::literal(now.ten_year_level_c)),
            climate.yearly_minimum.quantiles_c.map_or_else(String::new, |q| frame.temperature(Celsius::literal(q.p10)))
        ),
        None if trend.counts => format!("Winters have been growing {way} by {slope} a decade ({}).", p_words(trend.p_value)),
        None => format!("No trend is claimed: {slope} a decade {way}, {}.", p_words(trend.p_value)),
    })
}

/// A p value, never as if it were nothing.
fn p_words(p: f64) -> String {
    match p {
        p if p < 0.001 => "p < 0.001".to_owned(),
        p if p < 0.1 => format!("p = {p:.3}"),
        p => format!("p = {p:.2}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_p_value_is_never_nothing() {
        assert_eq!([0.0, 0.000_2, 0.004, 0.25].map(p_words), ["p < 0.001", "p < 0.001", "p = 0.004", "p = 0.25"]);
    }
}
