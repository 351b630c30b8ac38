//! A forecast held against the usual year of its place: a value in °F that says °C is far milder than any night there. On the cold side nothing is
//! refused: a forecast that is too cold warns in vain, while a bitter night that is refused is the one that nobody is told of.

use crate::jobs::cold_night::forecast::hourly::{ComingNight, Hours, NotAForecast, nights_of};
use crate::jobs::places::winters::PlaceWinters;
use crate::jobs::season::dates::{days, turn_before};
use crate::records::HeldPoint;
use crate::units::{Celsius, both_scales};
use jiff::Timestamp;

/// Nights whose mean is held against the usual one: further ahead a forecast comes near it anyway.
const NIGHTS: usize = 3;
/// In spreads of a night above its usual value: so far off a forecast in °C is taken for one in °F, where in that it would lie within as much; and
/// so far off it is refused whatever else. DESIGN: with the tails of `science::climate::usual_nights` the mean of three nights lies beyond the first
/// in some three of a thousand, when no night harms, and beyond the second in none.
const OTHER_SCALE: f64 = 3.0;
const NO_NIGHT: f64 = 6.0;

/// Mean lowest of the next nights, °C.
fn mean(nights: &[ComingNight]) -> Option<f64> {
    let lows: Vec<f64> = nights.iter().take(NIGHTS).filter(|night| !night.coarse).map(|night| night.minimum.degrees()).collect();
    (!lows.is_empty()).then(|| lows.iter().sum::<f64>() / lows.len() as f64)
}

/// Refuses a forecast that no year of its place has; one of a place whose year is not known passes.
///
/// # Errors
/// Where it is refused, with the reason.
pub(super) fn fits(read: &Hours, at: HeldPoint, now: Timestamp) -> Result<(), NotAForecast> {
    let nights = nights_of(read, at.latitude(), at.longitude(), now)?;
    let Ok(winters) = PlaceWinters::of(&format!("{:.2}, {:.2}", at.latitude(), at.longitude())) else { return Ok(()) };
    let (Some(year), Some(first), Some(read_c)) = (winters.usual_nights(), nights.first(), mean(&nights)) else { return Ok(()) };
    let day = first.lowest_at.date();
    let usual_c = year.usual_c(days(turn_before(at.hemisphere(), day), day));
    let spreads = |c: f64| (c - usual_c) / year.spread_k();
    let said = |c: f64| Celsius::new(c).map_or_else(|_| format!("{c:.0} °C"), |c| c.to_string());
    let as_fahrenheit_c = (read_c - 32.0) / 1.8;
    if !read.in_fahrenheit && spreads(read_c) > OTHER_SCALE && spreads(as_fahrenheit_c).abs() <= OTHER_SCALE {
        return Err(NotAForecast::OtherScale { read: said(read_c), usual: said(usual_c) });
    }
    if spreads(read_c) > NO_NIGHT {
        return Err(NotAForecast::NoSuchNight { read: said(read_c), usual: said(usual_c), off: both_scales(read_c - usual_c) });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::jobs::cold_night::forecast::met_norway;

    fn read(low: f64, date: &str) -> Hours {
        let start: Timestamp = format!("{date}T14:00:00Z").parse().unwrap();
        let step = |hour: i64| {
            let of_day = (hour + 10) % 24;
            let degrees = low + (of_day - 1).abs().min(8) as f64;
            serde_json::json!({"time": (start + jiff::SignedDuration::from_hours(hour)).to_string(),
                "data": {"instant": {"details": {"air_temperature": degrees}}}})
        };
        let document = serde_json::json!({"geometry": {"coordinates": [15.44, 47.07, 350]},
            "properties": {"meta": {"units": {"air_temperature": "celsius"}}, "timeseries": (0..60).map(step).collect::<Vec<_>>()}});
        met_norway::read(document.to_string().as_bytes(), 47.07, 15.44).unwrap()
    }

    // 21 °F is −6 °C, a usual night of January at Graz; 14 °F is −10 °C.
    #[test]
    fn a_value_in_the_other_scale_is_told_by_the_place_and_a_mild_or_a_bitter_night_is_not_taken_for_one() {
        let graz = HeldPoint::new(47.07, 15.44).unwrap();
        let said = |low, date: &str| fits(&read(low, date), graz, format!("{date}T14:10:00Z").parse().unwrap());
        for low in [-30.0, -15.0, -6.0, 0.0, 5.0] {
            assert_eq!(said(low, "2027-01-20"), Ok(()), "{low}");
        }
        for low in [14.0, 21.0, 32.0] {
            let error = said(low, "2027-01-20").unwrap_err();
            assert!(matches!(error, NotAForecast::OtherScale { .. }) && error.to_string().contains("°F"), "{low}: {error}");
        }
        assert_eq!(said(17.0, "2027-07-20"), Ok(()));
        assert!(matches!(said(62.0, "2027-07-20"), Err(NotAForecast::OtherScale { .. })));
        assert!(matches!(said(70.0, "2027-07-20"), Err(NotAForecast::OtherScale { .. })));
        assert!(matches!(said(25.0, "2027-01-20").map_err(|error| error.to_string()), Err(words) if words.contains("°F")));
        // In °F already: no other scale to be taken for.
        let fahrenheit = Hours { in_fahrenheit: true, ..read(21.0, "2027-01-20") };
        let error = fits(&fahrenheit, graz, "2027-01-20T14:10:00Z".parse().unwrap()).unwrap_err();
        assert!(
            matches!(error, NotAForecast::NoSuchNight { .. }) && error.to_string().contains("from what nights of this season have there")
        );
        // Where no town is near nothing is known of the nights.
        assert_eq!(
            fits(&read(21.0, "2027-01-20"), HeldPoint::new(-60.0, -140.0).unwrap(), "2027-01-20T14:10:00Z".parse().unwrap()),
            Ok(())
        );
    }
}
