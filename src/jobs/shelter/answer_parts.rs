//! Parts of the answer that a shelter, its changes and its neighbour share.

use crate::jobs::shelter::output::{FromReadings, MatsAnswer};
use crate::science::shelter::mats::Mats;
use crate::science::shelter::readings::Correction;
use crate::units::Interval;

/// Ratio of readings to description beyond which they are said to disagree.
const DISAGREE: f64 = 1.35;

pub(super) fn pair(i: Interval<f64>) -> [f64; 2] {
    [i.low, i.high]
}

pub(super) fn mats_answer(mats: Mats, air_c: f64) -> MatsAnswer {
    let (medium_c, medium) = mats.medium_c(air_c);
    MatsAnswer { medium_c, medium_range_c: pair(medium), power_w: mats.power_w(air_c) }
}

/// What readings say of a shelter of so many W/K by its description.
pub(super) fn learned(c: &Correction, described: f64) -> Option<FromReadings> {
    (c.readings > 0).then(|| {
        let apart = c.factor_of_readings.max(1.0 / c.factor_of_readings);
        let remark = if c.scattered {
            Some("The readings differ from each other more than wind and thermometers explain: was a door open, or the heater on its thermostat rather than at full output?".to_owned())
        } else if apart > DISAGREE {
            Some(format!(
                "Your readings say it loses {:.1} times what the description says; they have the greater weight. Look for a missing part, a wrong cover or leaks.",
                c.factor_of_readings
            ))
        } else {
            None
        };
        let interval = c.interval();
        FromReadings {
            conductance_w_k: described * c.factor(),
            interval: [described * interval.low, described * interval.high],
            readings: c.readings,
            described_conductance_w_k: described,
            remark,
        }
    })
}
