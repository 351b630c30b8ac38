//! What each spot is worth, from the starting values that every other answer takes it from.

use crate::input::errors::FieldErrors;
use crate::jobs::station_record::thermometer_offset::NIGHT_SD_K;
use crate::model::snapshot::Snapshot;
use crate::science::climate::own_thermometer::half_width_k;
use crate::science::numeric::Gaussian;
use crate::science::priors::{NightGain, PriorRow};
use crate::science::site::{Setting, Settings};
use crate::vocabulary::vocabulary;

/// The parameter: words of settings, parted by commas or each by itself.
pub const PARAMETER: &str = "setting";
/// Nights of readings for which it is said how sure they make an offset.
const NIGHTS: [usize; 4] = [3, 6, 10, 20];

vocabulary! {
    /// Which sun a wall takes.
    pub enum WallFaces: "side that a wall faces" {
        /// South on the northern half.
        Sun = "sun" => "faces the midday sun",
        /// West.
        West = "west" => "faces west: afternoon sun",
        /// East.
        East = "east" => "faces east: morning sun",
        /// North on the northern half.
        Shade = "shade" => "faces away from the sun",
    }
}

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct SpotsQuestion {
    /// What holds of the reader's own spot, where that is said.
    pub own: Option<Settings>,
}

impl SpotsQuestion {
    /// Reads it; parameters that are not known are left alone.
    ///
    /// # Errors
    /// A word that is no setting, or settings that cannot hold together.
    pub fn parse(pairs: &[(String, String)]) -> Result<Self, FieldErrors> {
        let words: Vec<&str> =
            pairs.iter().filter(|(name, _)| name == PARAMETER).map(|(_, value)| value.trim()).filter(|value| !value.is_empty()).collect();
        if words.is_empty() {
            return Ok(Self::default());
        }
        let typed = words.join(",");
        let mut errors = FieldErrors::default();
        let own = errors.keep(PARAMETER, &typed, typed.parse::<Settings>());
        errors.into_result()?;
        Ok(Self { own })
    }
}

/// How a value is known.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Known {
    /// READ, MEMORY, DESIGN …
    pub provenance: String,
    /// Source or reason.
    pub note: String,
}

/// One spot.
#[derive(Debug, Clone, PartialEq)]
pub struct SpotRow {
    /// The setting.
    pub setting: Setting,
    /// What it is worth against the open, K.
    pub gain: NightGain,
    /// How that is known.
    pub known: Known,
}

/// A wall by the side that it faces.
#[derive(Debug, Clone, PartialEq)]
pub struct WallRow {
    /// Its side.
    pub faces: WallFaces,
    /// What it is worth against the open, K.
    pub gain: NightGain,
    /// How that is known.
    pub known: Known,
}

/// The answer.
#[derive(Debug, Clone, PartialEq)]
pub struct SpotsAnswer {
    /// Every setting, in the order of [`Setting::ALL`].
    pub spots: Vec<SpotRow>,
    /// Walls, the warmest first.
    pub walls: Vec<WallRow>,
    /// The reader's own: several settings together.
    pub own: Option<(Settings, NightGain)>,
    /// Nights of readings, and half the width of the 90 % interval that they leave, K.
    pub readings: Vec<(usize, f64)>,
}

/// What every spot is worth.
pub fn answer(question: SpotsQuestion, snapshot: &Snapshot) -> SpotsAnswer {
    let priors = &snapshot.priors;
    let spot = |setting: &Setting| SpotRow {
        setting: *setting,
        gain: priors.setting(*setting),
        known: known(&snapshot.prior_rows, &format!("setting_{setting}")),
    };
    let wall = |faces: &WallFaces| {
        let key = format!("wall_{faces}");
        WallRow {
            faces: *faces,
            gain: of_share(priors.setting(Setting::Wall), share(&snapshot.prior_rows, &key)),
            known: known(&snapshot.prior_rows, &key),
        }
    };
    SpotsAnswer {
        spots: Setting::ALL.iter().map(spot).collect(),
        walls: WallFaces::ALL.iter().map(wall).collect(),
        own: question.own.map(|settings| (settings, priors.settings(settings))),
        readings: NIGHTS.iter().filter_map(|&nights| Some((nights, half_width_k(nights, NIGHT_SD_K)?))).collect(),
    }
}

fn known(rows: &[PriorRow], key: &str) -> Known {
    rows.iter()
        .find(|row| row.key == key)
        .map(|row| Known { provenance: row.provenance.clone(), note: row.note.clone() })
        .unwrap_or_default()
}

/// A share of the sun-warmed wall's gain with its spread; the whole of it where the table does not say.
fn share(rows: &[PriorRow], key: &str) -> Gaussian {
    let number = |text: &str| text.trim().parse::<f64>().ok();
    let row = rows.iter().find(|row| row.key == key);
    row.and_then(|row| Some(Gaussian::new(number(&row.value)?, number(&row.spread)?))).unwrap_or(Gaussian::new(1.0, 0.0))
}

/// A wall with a share of the sun's gain: what is not known of the wall stays, what is not known of the share comes to it. In wind its shelter is
/// what counts, whichever side it faces.
fn of_share(wall: NightGain, share: Gaussian) -> NightGain {
    let clear = Gaussian::new(wall.clear.mean * share.mean, wall.clear.sd.hypot(wall.clear.mean * share.sd));
    NightGain { clear, windy: wall.windy }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::science::numeric::Z_90;

    fn answered(words: &str) -> SpotsAnswer {
        let question = SpotsQuestion::parse(&[(PARAMETER.to_owned(), words.to_owned())]).unwrap();
        answer(question, &Snapshot::from_seed().unwrap())
    }

    /// Read in abstracts: Chung, Seo and Yun 2003, Korean J. Agr. For. Meteorol. 5:43–47, a valley bottom against hilltops: 1.4 K colder on
    /// average, 6 K at most on clear nights; mid-size city, Salamanca 1996–98, up to 3.6 K as a yearly mean of nightly largest differences, none
    /// above some 6 m/s; Lake Superior's shore 1 K warmer in winter; De Frenne et al. 2019, forests about +1 K (their mean of minima, from memory).
    #[test]
    fn ranges_hold_what_was_measured_and_a_hollow_is_unlike_a_wall_and_a_slope() {
        let answer = answered("");
        let of = |setting| answer.spots.iter().find(|row| row.setting == setting).unwrap().gain;
        let holds = |gain: Gaussian, k: f64| (k - gain.mean).abs() <= Z_90 * gain.sd;
        assert!(holds(of(Setting::Hollow).clear, -1.4) && !holds(of(Setting::Hollow).clear, 1.0));
        assert!(of(Setting::Hollow).clear.mean - Z_90 * of(Setting::Hollow).clear.sd > -6.0, "six degrees is the most of a hilly orchard");
        assert!(of(Setting::Town).clear.mean < 3.6 && holds(of(Setting::Town).windy, 0.0));
        assert!(holds(of(Setting::Water).clear, 1.0) && holds(of(Setting::Trees).clear, 1.0));
        // On a windy night the low ground is sheltered and the slope exposed (FAO's text on advection nights).
        assert!(of(Setting::Hollow).windy.mean > 0.0 && of(Setting::Slope).windy.mean < 0.0 && of(Setting::Slope).clear.mean > 0.0);
    }

    #[test]
    fn walls_fall_from_the_sun_to_the_shade_and_in_wind_all_are_one() {
        let walls = answered("").walls;
        assert!(walls.windows(2).all(|w| w[0].gain.clear.mean > w[1].gain.clear.mean));
        assert!(walls.iter().all(|w| w.gain.windy == walls[0].gain.windy && w.known.provenance == "DESIGN"));
    }

    /// Student's t at 95 %, tables: 2.920 for 2, 2.015 for 5 degrees of freedom.
    #[test]
    fn nights_of_readings_narrow_an_offset_by_students_t() {
        let readings = answered("").readings;
        for (n, t) in [(3, 2.920), (6, 2.015)] {
            let half = readings.iter().find(|(nights, _)| *nights == n).unwrap().1;
            assert!((half - t * NIGHT_SD_K / (n as f64).sqrt()).abs() < 1e-3, "{n}: {half}");
        }
    }

    #[test]
    fn several_settings_add_up_as_in_a_shortlist_and_those_that_cannot_hold_together_are_refused() {
        let (settings, gain) = answered("town,wall").own.unwrap();
        assert_eq!(gain, Snapshot::from_seed().unwrap().priors.settings(settings));
        for wrong in ["hollow,slope", "moon"] {
            assert!(SpotsQuestion::parse(&[(PARAMETER.to_owned(), wrong.to_owned())]).unwrap_err().of(PARAMETER).is_some());
        }
    }
}
